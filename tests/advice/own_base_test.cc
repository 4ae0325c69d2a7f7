#include "advice/own_base.h"

#include <doctest/doctest.h>

#include <cmath>

using namespace hookline::advice;

namespace {

OwnBase Learned(int shots) {
  static constexpr double kSwings[] = {0.3, -0.2, 0.1, -0.4, 0.2, 0.4, -0.3, -0.1};
  OwnBase base(SpeedBase());
  for (int i = 0; i < shots; ++i) base.Learn(17 + kSwings[i % 8], 0.1);
  return base;
}

}  // namespace

TEST_CASE("a base settles on the bowler's mean and spread") {
  const OwnBase base = Learned(40);
  CHECK(base.mean() == doctest::Approx(17).epsilon(0.005));
  // The sd of the swings is 0.27; the measure's doubt of 0.1 is taken off.
  CHECK(base.spread() > 0.2);
  CHECK(base.spread() < 0.33);
}

TEST_CASE("a let-up stands out more after more shots, and a swing does not") {
  const double after3 = Learned(3).Judge(15.9, 0.1).change, after8 = Learned(8).Judge(15.9, 0.1).change;
  const double after24 = Learned(24).Judge(15.9, 0.1).change;
  CHECK(after3 < after8);
  CHECK(after8 < after24);
  CHECK(after24 > 0.95);
  CHECK(Learned(24).Judge(16.8, 0.1).change < 0.05);
  CHECK(Learned(24).Judge(18.2, 0.1).change < 0.05);  // faster is not slower
}

TEST_CASE("one shot before tells nothing of the own spread, so no difference from it is sure") {
  for (double slower : {0.8, 1.2, 1.6, 2.5, 4.0}) CHECK(Learned(1).Judge(17.3 - slower, 0.1).change < 0.75);
  OwnBase turn(TurnBase());
  turn.Learn(45, 2);
  for (double more : {6., 10., 15., 20., 30.}) CHECK(turn.Judge(45 + more, 2).change < 0.75);
  // With the usual bowler's spread alone the largest would be the surest.
  CHECK(turn.Judge(75, 2).change < turn.Judge(65, 2).change);
}

TEST_CASE("a worse measure says less") {
  CHECK(Learned(24).Judge(16.1, 0.6).change < Learned(24).Judge(16.1, 0.1).change);
}

TEST_CASE("without any shot only the prior chance is left") {
  const OwnBase none(SpeedBase());
  CHECK(none.Blind() == doctest::Approx(SpeedBase().change_chance).epsilon(0.01));
  CHECK(none.Judge(17, 0.1).change < 0.2);
}

TEST_CASE("one let-up neither pulls the base nor widens the spread much") {
  OwnBase base = Learned(16);
  const double mean = base.mean(), spread = base.spread();
  base.Learn(15.4, 0.1);
  CHECK(std::abs(base.mean() - mean) < 0.05);
  CHECK(std::abs(base.spread() - spread) < 0.05);
}

TEST_CASE("a slower speed that stays becomes the base") {
  OwnBase base = Learned(16);
  for (int i = 0; i < SpeedBase().adopt_after; ++i) base.Learn(15.5 + 0.1 * (i % 2), 0.1);
  CHECK(base.mean() == doctest::Approx(15.5).epsilon(0.01));
  CHECK(base.Judge(15.6, 0.1).change < 0.2);
}

TEST_CASE("far outliers leave numbers that are finite") {
  OwnBase base = Learned(30);
  for (double v : {1000.0, -1000.0, 17.0}) base.Learn(v, 0.1);
  CHECK(std::isfinite(base.mean()));
  CHECK(std::isfinite(base.Judge(16, 0.1).change));
}

TEST_CASE("options that make no sense are named") {
  BaseOptions o = SpeedBase();
  o.spread = 0;
  CHECK_FALSE(o.Check().ok());
  o = SpeedBase();
  o.change_chance = 1;
  CHECK_FALSE(o.Check().ok());
  CHECK(SpeedBase().Check().ok());
  CHECK(TurnBase().Check().ok());
  CHECK(LaunchBase().Check().ok());
}
