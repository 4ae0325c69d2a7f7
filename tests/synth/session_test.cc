#include "synth/session.h"

#include <doctest/doctest.h>

#include <cmath>

#include "lane/units.h"
#include "synth/session_motion.h"

using namespace hookline;
using namespace hookline::synth;

namespace {

// 8.0 m/s, 416 rpm, rotation 45 deg, tilt 0, RG 2.5 in, launch 1.8 deg; 0.04 to 40 ft, then 0.20 (facts 2.4, derived
// from the textbook's equations). The lane's step is made as sharp as the time step allows.
LaneRun TextbookRun() {
  Friction lane;
  lane.oil = lane.outside = 0.04;
  lane.dry = 0.2;
  lane.oil_length = lane::MetresFromFeet(40);
  lane.transition = 0.01;
  return RunOnLane({.speed_mph = lane::MphFromMetresPerSecond(8.0),
                    .rev_rpm = 416,
                    .axis_rotation_deg = 45,
                    .axis_tilt_deg = 0,
                    .launch_deg = 1.8,
                    .laydown_board = 15},
                   {}, lane, 1, std::pow(2.5 / (8.55 / 2), 2), 0.001);
}

}  // namespace

TEST_CASE("a run's measures agree with the textbook's vectors") {
  const Measures m = TextbookRun().measures;
  CHECK(*m[MeasureId::kEntryAngleDeg].value == doctest::Approx(5.33).epsilon(0.01));
  CHECK(*m[MeasureId::kSpeedEntryMph].value == doctest::Approx(15.36).epsilon(0.002));
  // The ball starts 1 ft past the foul line here, and meets that foot of oil less.
  CHECK(lane::MetresFromFeet(*m[MeasureId::kRollStartFt].value) == doctest::Approx(15.28).epsilon(0.01));
  CHECK(*m[MeasureId::kPathTurnDeg].value == doctest::Approx(45).epsilon(0.001));
  CHECK(*m[MeasureId::kPathRevRpm].value == doctest::Approx(416).epsilon(0.005));
  CHECK(*m[MeasureId::kSkidEndFt].value == doctest::Approx(40).epsilon(0.005));
  const double w = 416 * 2 * lane::kPi / 60 * 0.1086, r = lane::RadiansFromDegrees(45);
  const double slip = std::atan2(w * std::sin(r), 8.0 - w * std::cos(r));
  CHECK(*m[MeasureId::kSlipAngleDeg].value == doctest::Approx(lane::DegreesFromRadians(slip)).epsilon(0.001));
}

TEST_CASE("a left-hander's run is the mirror image: the same boards and angles") {
  Release r;
  const LaneRun right = RunOnLane(r, {}, {}, 1, 0.36, 0.004);
  r.hand = lane::Hand::kLeft;
  const LaneRun left = RunOnLane(r, {}, {}, 1, 0.36, 0.004);
  for (const MeasureId id : {MeasureId::kBoardAtArrows, MeasureId::kLaunchAngleDeg, MeasureId::kEntryBoard,
                             MeasureId::kEntryAngleDeg, MeasureId::kSlipAngleDeg, MeasureId::kBreakpointBoard}) {
    REQUIRE(right.measures[id].value);
    CHECK(*left.measures[id].value == doctest::Approx(*right.measures[id].value).epsilon(1e-6));
  }
}

TEST_CASE("a ball in the gutter has no entry") {
  const LaneRun run = RunOnLane({.launch_deg = 6, .laydown_board = 8}, {}, {}, 1, 0.36, 0.004);
  REQUIRE(run.gutter_ft);
  CHECK(run.gutter_own_side);
  CHECK_FALSE(run.measures[MeasureId::kEntryBoard].value);
  CHECK_FALSE(run.entry_s);
}

TEST_CASE("a session is the same for the same seed, and keeps its promises") {
  int slower = 0, moved = 0;
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    SessionOptions o;
    o.seed = seed;
    const Session s = MakeSession(o), again = MakeSession(o);
    CHECK(SessionTruthJson(s) == SessionTruthJson(again));
    REQUIRE(s.shots.size() == s.truth.shots.size());
    CHECK(s.shots.size() >= 14);
    for (std::size_t i = 0; i < s.shots.size(); ++i) {
      const SessionShotTruth& t = s.truth.shots[i];
      const auto& c = t.causes[static_cast<std::size_t>(Cause::kSlower)];
      if (static_cast<int>(i) < o.base_shots) {
        CHECK(t.slower_mph == 0);
        CHECK(t.turn_deg == 0);
      }
      if (t.slower_mph > 0) CHECK(*c);
      slower += c && *c ? 1 : 0;
      moved += *t.causes[static_cast<std::size_t>(Cause::kMoved)] ? 1 : 0;
      CHECK(s.shots[i].number == static_cast<int>(i) + 1);
    }
  }
  CHECK(slower > 5);
  CHECK(moved > 5);
}

TEST_CASE("the measures' noise is what their sd says") {
  double squares = 0;
  int n = 0;
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    SessionOptions o;
    o.seed = seed;
    const Session s = MakeSession(o);
    for (std::size_t i = 0; i < s.shots.size(); ++i) {
      for (std::size_t k = 0; k < kMeasureCount; ++k) {
        const Measure &noisy = s.shots[i].measures.all[k], &exact = s.truth.shots[i].exact.all[k];
        if (!exact.value) continue;
        squares += std::pow((*noisy.value - *exact.value) / noisy.sd, 2);
        ++n;
      }
    }
  }
  CHECK(std::sqrt(squares / n) == doctest::Approx(1).epsilon(0.05));
}
