#include "viewer/play_clock.h"

#include <doctest/doctest.h>

using namespace hookline::viewer;

TEST_CASE("the clock moves with the time handed in, at its rate, and stops at the end") {
  PlayClock clock;
  clock.SetRange(0, 10);
  CHECK(clock.PositionAt(100) == 0);
  clock.Play(100);
  CHECK(clock.PositionAt(102) == doctest::Approx(2));
  clock.SetRate(0.25, 102);
  CHECK(clock.PositionAt(106) == doctest::Approx(3));
  clock.Pause(106);
  CHECK(clock.PositionAt(200) == doctest::Approx(3));
  clock.Play(200);
  clock.SetRate(1, 200);
  CHECK_FALSE(clock.StopAtEnd(206));
  CHECK(clock.StopAtEnd(207.5));
  CHECK_FALSE(clock.playing());
  CHECK(clock.PositionAt(300) == 10);
  clock.Play(300);  // from the beginning again
  CHECK(clock.PositionAt(301) == doctest::Approx(1));
}

TEST_CASE("a loop goes round without drifting") {
  PlayClock clock;
  clock.SetRange(0, 10);
  CHECK_FALSE(clock.SetLoop(Stretch{4, 4}, 0));
  CHECK_FALSE(clock.SetLoop(Stretch{12, 15}, 0));
  CHECK(clock.SetLoop(Stretch{2, 4}, 0));
  clock.Play(0);  // outside: it begins at the loop's start
  CHECK(clock.PositionAt(1) == doctest::Approx(3));
  CHECK(clock.PositionAt(2.5) == doctest::Approx(2.5));
  CHECK(clock.PositionAt(2000001) == doctest::Approx(3));
  CHECK_FALSE(clock.StopAtEnd(2000001));
  clock.SetLoop(std::nullopt, 1);
  CHECK(clock.PositionAt(8) == doctest::Approx(10));
}

TEST_CASE("seeking is kept within the clip") {
  PlayClock clock;
  clock.SetRange(0.5, 3);
  clock.Seek(-1, 0);
  CHECK(clock.PositionAt(0) == 0.5);
  clock.Seek(99, 0);
  CHECK(clock.PositionAt(0) == 3);
}
