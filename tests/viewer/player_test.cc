// The player on clips whose pictures tell their number: what is shown is what was asked for, whatever the way there.
#include "viewer/player.h"

#include <algorithm>

#include "clips.h"
#include "scratch_folder.h"

using namespace hookline;
using namespace hookline::viewer;
using namespace hookline::viewer::test;

namespace {

struct Rig {
  explicit Rig(const std::string& file, const FrameServerOptions& options = {})
      : player(
            file, [] {}, options) {
    REQUIRE(WaitFor([&] {
      player.Tick(now);
      return player.phase() == ClipPhase::kReady && player.settled();
    }));
  }
  // Waits until the picture asked for is shown and gives the number drawn in it.
  int Settle() {
    player.Tick(now);
    REQUIRE(WaitFor([&] {
      player.Tick(now);
      return player.settled();
    }));
    return NumberIn(*player.shown());
  }
  double now = 50;
  Player player;
};

}  // namespace

TEST_CASE("seeks and steps show exactly the picture of that time stamp") {
  const hookline::test::ScratchFolder folder;
  const std::vector<double> times = UnevenTimes(140);
  WriteNumbered(folder / "a.mp4", times);
  Rig rig(folder / "a.mp4");
  CHECK(rig.Settle() == 0);
  for (const int wanted : {70, 12, 139, 61, 59, 60, 0, 41, 40}) {
    CAPTURE(wanted);
    rig.player.Seek(times[static_cast<std::size_t>(wanted)], rig.now);
    CHECK(rig.Settle() == wanted);
    CHECK(rig.player.shown()->time_s == doctest::Approx(times[static_cast<std::size_t>(wanted)]).epsilon(1e-6));
  }
  // Between two pictures the earlier one is on show, and a step goes on from there; picture 41 comes after a gap.
  rig.player.Seek(times[40] + 0.2, rig.now);
  CHECK(rig.Settle() == 40);
  rig.player.Step(1, rig.now);
  CHECK(rig.Settle() == 41);
  rig.player.Step(-1, rig.now);
  CHECK(rig.Settle() == 40);
  for (int i = 39; i >= 20; --i) {
    rig.player.Step(-1, rig.now);
    CHECK(rig.Settle() == i);
  }
  rig.player.Step(-1000, rig.now);
  CHECK(rig.Settle() == 0);
  rig.player.Step(1000, rig.now);
  CHECK(rig.Settle() == 139);
}

TEST_CASE("a store smaller than the way between key frames still steps exactly") {
  const hookline::test::ScratchFolder folder;
  WriteNumbered(folder / "a.mp4", UnevenTimes(120), 120);
  FrameServerOptions options;
  options.store_mb = 0;  // sixteen pictures
  Rig rig(folder / "a.mp4", options);
  rig.player.Step(100, rig.now);
  CHECK(rig.Settle() == 100);
  for (int i = 99; i >= 70; --i) {
    rig.player.Step(-1, rig.now);
    CHECK(rig.Settle() == i);
  }
  for (int i = 71; i <= 110; ++i) {
    rig.player.Step(1, rig.now);
    CHECK(rig.Settle() == i);
  }
}

TEST_CASE("playing shows every picture in its own time and stops at the last") {
  const hookline::test::ScratchFolder folder;
  const std::vector<double> times = UnevenTimes(60);
  WriteNumbered(folder / "a.mp4", times);
  Rig rig(folder / "a.mp4");
  rig.player.Play(rig.now);
  std::vector<int> seen;
  double began = rig.now;
  // The test's clock goes on to the next picture only when this one is there.
  while (rig.player.playing()) {
    seen.push_back(rig.Settle());
    const double position = rig.player.position_s();
    CHECK(position >= times[static_cast<std::size_t>(seen.back())] - 1e-6);
    const auto next = rig.player.NextTick(rig.now);
    REQUIRE(next);
    CHECK(*next <= 0.3);  // the gap in the clip
    rig.now += *next + 1e-6;
    rig.player.Tick(rig.now);
  }
  seen.push_back(rig.Settle());
  for (std::size_t i = 0; i < seen.size(); ++i) CHECK(seen[i] == static_cast<int>(i));
  CHECK(seen.size() == 60);
  CHECK(rig.now - began == doctest::Approx(times.back()).epsilon(0.01));
  CHECK_FALSE(rig.player.NextTick(rig.now).has_value());
}

TEST_CASE("a loop at half speed comes round to its first picture") {
  const hookline::test::ScratchFolder folder;
  std::vector<double> times;
  for (int i = 0; i < 90; ++i) times.push_back(i / 30.0);
  WriteNumbered(folder / "a.mp4", times);
  Rig rig(folder / "a.mp4");
  rig.player.SetRate(0.5, rig.now);
  REQUIRE(rig.player.SetLoop(Stretch{1, 2}, rig.now));
  rig.player.Play(rig.now);
  CHECK(rig.Settle() == 30);
  const auto run_on = [&](double seconds) {
    for (const double end = rig.now + seconds; rig.now < end - 1e-9;) {
      rig.now = std::min(end, rig.now + 0.02);
      rig.Settle();
    }
    return rig.Settle();
  };
  CHECK(run_on(1.01) == 45);
  CHECK(run_on(1.06) == 31);
  CHECK(run_on(2) == 31);  // once round
}

TEST_CASE("a window that stood still for a while goes on where it was, and leaves nothing out") {
  const hookline::test::ScratchFolder folder;
  WriteNumbered(folder / "a.mp4", UnevenTimes(200), 60);
  Rig rig(folder / "a.mp4");
  rig.player.Play(rig.now);
  const int before = rig.Settle();
  rig.now += 5;
  rig.player.Tick(rig.now);
  CHECK(static_cast<int>(rig.player.wanted()) <= before + 20);
}

TEST_CASE("one player follows another") {
  const hookline::test::ScratchFolder folder;
  WriteNumbered(folder / "a.mp4", UnevenTimes(90));
  Rig rig(folder / "a.mp4");
  rig.player.Follow(UnevenTimes(90)[33] + 0.001, true, rig.now);
  CHECK(rig.Settle() == 33);
  rig.player.Follow(-5, false, rig.now);
  CHECK(rig.Settle() == 0);
}

TEST_CASE("a file that is no clip fails with its sentence, and a cut one plays what it holds") {
  const hookline::test::ScratchFolder folder;
  Player none("/nowhere/clip.mp4", [] {});
  REQUIRE(WaitFor([&] { return none.phase() == ClipPhase::kFailed; }));
  CHECK(none.failure().find("does not exist") != std::string::npos);
  none.Tick(0);
  none.Step(1, 0);
  none.Play(0);
  CHECK_FALSE(none.shown());

  WriteNumbered(folder / "a.mkv", UnevenTimes(90));
  const std::string bytes = hookline::test::Content(folder / "a.mkv");
  hookline::test::WriteContent(folder / "cut.mkv", bytes.substr(0, bytes.size() * 2 / 3));
  Rig rig(folder / "cut.mkv");
  CHECK(rig.player.times_s().size() < 90);
  rig.player.Step(1000, rig.now);
  REQUIRE(WaitFor([&] {
    rig.player.Tick(rig.now);
    return rig.player.shown() && rig.player.shown()->index > 10;
  }));
}

TEST_CASE("going away in the midst of decoding is quick and clean") {
  const hookline::test::ScratchFolder folder;
  WriteNumbered(folder / "a.mp4", UnevenTimes(200), 200);
  for (int i = 0; i < 10; ++i) {
    Player player(folder / "a.mp4", [] {});
    player.Seek(5.5, 0);
    player.Tick(0);
    if (i % 2) WaitFor([&] { return player.phase() == ClipPhase::kReady; });
    player.Tick(0);
  }
}
