#include "advice/causes.h"

#include <doctest/doctest.h>

#include "advice/shots.h"

using namespace hookline;
using namespace hookline::advice;
using test::HandShot;
using test::MakeShot;
using test::Steady;

namespace {

CauseChances LastOf(const std::vector<Shot>& shots) { return JudgeShots(shots).back().causes; }

// Ten steady shots and one more.
CauseChances After(const HandShot& h) {
  auto shots = Steady(10);
  shots.push_back(MakeShot(11, h));
  return LastOf(shots);
}

}  // namespace

TEST_CASE("a steady session has no cause") {
  for (const ShotVerdict& v : JudgeShots(Steady(24))) {
    for (double p : v.causes.all) CHECK(p < 0.4);
  }
}

TEST_CASE("a slower ball is slower, though its slip angle and roll change too") {
  HandShot h;
  h.speed = 15.6;
  h.roll = 47;  // 1 mph slower rolls 2 ft earlier (facts 2.4)
  h.entry = 23;
  auto shots = Steady(10);
  shots.push_back(MakeShot(11, h));
  shots.back().measures[MeasureId::kSlipAngleDeg] = Measure::Of(SlipAngleDeg(15.6, 45, 300), 1);
  const auto c = LastOf(shots);
  CHECK(c[Cause::kSlower] > 0.9);
  CHECK(c[Cause::kMoreTurn] < 0.3);
  CHECK(c[Cause::kLaneHooksMore] < 0.3);
}

TEST_CASE("a wider launch is evidence for turn, and alone it is a miss") {
  HandShot turned;
  turned.turn = 53;
  HandShot both = turned, wide;
  both.launch = wide.launch = 2.6;
  both.arrows = wide.arrows = 12.3;
  CHECK(After(both)[Cause::kMoreTurn] > After(turned)[Cause::kMoreTurn]);
  CHECK(After(both)[Cause::kMoreTurn] > 0.7);
  CHECK(After(wide)[Cause::kMoreTurn] < 0.5);
  CHECK(After(wide)[Cause::kMissedOut] > 0.9);
  CHECK(After(wide)[Cause::kMissedIn] < 0.01);
}

TEST_CASE("a miss is told against the target, or against the own mean where no target was said") {
  HandShot in;
  in.arrows = 17.5;
  CHECK(After(in)[Cause::kMissedIn] > 0.9);
  auto shots = Steady(10);
  shots.push_back(MakeShot(11, in));
  for (Shot& s : shots) s.target = {};
  CHECK(LastOf(shots)[Cause::kMissedIn] > 0.9);
  shots.erase(shots.begin() + 2, shots.end() - 1);  // too few to know the own mean
  CHECK(LastOf(shots)[Cause::kMissedIn] < 0.01);
}

TEST_CASE("friction that rises and stays is the lane, and after some shots the base") {
  auto shots = Steady(10);
  HandShot more;
  more.front = 0.052;
  more.skid = 37;
  more.roll = 46.5;
  for (int i = 11; i <= 22; ++i) shots.push_back(MakeShot(i, more));
  const auto v = JudgeShots(shots);
  CHECK(v[12].causes[Cause::kLaneHooksMore] > 0.9);
  CHECK(v[12].causes[Cause::kLaneHooksLess] < 0.05);
  REQUIRE(v[12].lane.front_change);
  CHECK(v[12].lane.front_change->value == doctest::Approx(0.3).epsilon(0.3));
  CHECK(v.back().causes[Cause::kLaneHooksMore] < 0.2);
}

TEST_CASE("friction that falls is the lane hooking less") {
  auto shots = Steady(10, {.front = 0.05});
  HandShot less{.front = 0.036, .skid = 43, .roll = 54};
  for (int i = 11; i <= 14; ++i) shots.push_back(MakeShot(i, less));
  CHECK(JudgeShots(shots).back().causes[Cause::kLaneHooksLess] > 0.8);
}

TEST_CASE("another ball that grips more explains the friction, and going back is not the lane hooking less") {
  auto shots = Steady(10);
  HandShot grip{.front = 0.051, .skid = 40, .roll = 46, .ball = "ball C"};
  for (int i = 11; i <= 14; ++i) {
    shots.push_back(MakeShot(i, grip));
    shots.back().friction[1].value *= 1.27;
  }
  for (int i = 15; i <= 18; ++i) shots.push_back(MakeShot(i, {}));
  const auto v = JudgeShots(shots);
  CHECK(v[10].causes[Cause::kNewBall] == 1);
  CHECK(v[11].causes[Cause::kNewBall] == 0);
  CHECK(v[14].causes[Cause::kNewBall] == 1);
  for (std::size_t i = 10; i < v.size(); ++i) {
    CHECK(v[i].causes[Cause::kLaneHooksMore] < 0.35);
    CHECK(v[i].causes[Cause::kLaneHooksLess] < 0.35);
  }
}

TEST_CASE("a move is what the user wrote, and a new line is not a lane that changed") {
  auto shots = Steady(10);
  for (int i = 11; i <= 14; ++i) {
    shots.push_back(MakeShot(i, {.arrows = 16}));
    shots.back().target.stance_board = 27;
    shots.back().target.arrows_board = 16;
  }
  const auto v = JudgeShots(shots);
  CHECK(v[10].causes[Cause::kMoved] == 1);
  CHECK(v[11].causes[Cause::kMoved] == 0);
  CHECK(*v[10].stance_shift == doctest::Approx(2));
  CHECK(v[12].causes[Cause::kMissedIn] < 0.1);
}

TEST_CASE("a judgement does not change when later shots come in") {
  auto shots = Steady(20);
  shots[14] = MakeShot(15, {.speed = 15.8});
  const auto all = JudgeShots(shots);
  shots.resize(15);
  // The source of the turn is chosen once a session; here it is the path throughout.
  const auto some = JudgeShots(shots);
  for (std::size_t i = 0; i < some.size(); ++i) {
    for (std::size_t c = 0; c < kCauseCount; ++c) CHECK(some[i].causes.all[c] == all[i].causes.all[c]);
  }
}

TEST_CASE("two bowlers on one lane have bases of their own") {
  std::vector<Shot> shots;
  for (int i = 1; i <= 12; ++i) {
    shots.push_back(MakeShot(2 * i - 1, {}));
    shots.push_back(MakeShot(2 * i, {.speed = 14.5, .turn = 20}));
    shots.back().bowler = "another";
  }
  for (const ShotVerdict& v : JudgeShots(shots)) {
    CHECK(v.causes[Cause::kSlower] < 0.4);
    CHECK(v.causes[Cause::kNewBall] == 0);
  }
}

TEST_CASE("shots without any measure are judged by the priors alone") {
  std::vector<Shot> shots(6);
  for (std::size_t i = 0; i < shots.size(); ++i) shots[i].number = static_cast<int>(i) + 1;
  for (const ShotVerdict& v : JudgeShots(shots)) {
    for (double p : v.causes.all) CHECK(p < 0.2);
  }
}
