#include "advice/release_state.h"

#include <doctest/doctest.h>

#include <cmath>

#include "advice/shots.h"
#include "lane/units.h"

using namespace hookline;
using namespace hookline::advice;

namespace {

// Inputs of the path test vectors (facts 2.4, derived from the textbook's equations): 8.0 m/s, 416 rpm, RG 2.5 in,
// D 8.55 in.
const double kSpeed = lane::MphFromMetresPerSecond(8.0);
const double kK = std::pow(2.5 / (8.55 / 2), 2);
double RollM(double speed_mph, double turn, double rev, double front, double length_ft, double back) {
  return lane::MetresFromFeet(RollStartFt(speed_mph, turn, rev, front, length_ft, back, kK));
}

}  // namespace

TEST_CASE("where the roll begins agrees with the textbook's vectors") {
  // One friction 0.10, rotation 45 deg: 11.047 m. The launch of 1.8 deg, which is left out here, turns the friction
  // against the lane and is worth 0.014 m.
  CHECK(RollM(kSpeed, 45, 416, 0.10, 100, 0.10) == doctest::Approx(11.047).epsilon(0.002));
  // 0.04 to 40 ft, then 0.20.
  CHECK(RollM(kSpeed, 45, 416, 0.04, 40, 0.2) == doctest::Approx(15.28).epsilon(0.002));
  CHECK(RollM(kSpeed - 1, 45, 416, 0.04, 40, 0.2) == doctest::Approx(14.66).epsilon(0.002));
  CHECK(RollM(kSpeed, 60, 416, 0.04, 40, 0.2) == doctest::Approx(16.36).epsilon(0.002));
  CHECK(RollM(kSpeed, 45, 300, 0.04, 40, 0.2) == doctest::Approx(15.52).epsilon(0.002));
  CHECK(RollM(kSpeed, 45, 416, 0.04, 42, 0.2) == doctest::Approx(15.76).epsilon(0.002));
}

TEST_CASE("the slip angle grows with the turn, with revs and with less speed") {
  const double base = SlipAngleDeg(17, 45, 300);
  CHECK(SlipAngleDeg(17, 55, 300) > base);
  CHECK(SlipAngleDeg(17, 45, 350) > base);
  CHECK(SlipAngleDeg(16, 45, 300) > base);
  CHECK(SlipAngleDeg(17, 0, 300) == doctest::Approx(0));
}

TEST_CASE("speed at the arrows sharpens the speed at release and agrees with it") {
  test::HandShot h;
  const Shot s = test::MakeShot(8, h);
  const auto state = StateOf(s, TurnSource::kPath);
  REQUIRE(state.speed_mph);
  CHECK(state.speed_mph->sd < 0.12);
  CHECK(std::abs(state.speed_mph->value - *s.measures[MeasureId::kSpeedReleaseMph].value) < 0.1);
}

TEST_CASE("a slip angle that fits sharpens the turn, a larger one draws it inward") {
  const Estimate turn{45, 4}, none{0, 0.5};
  const double slip = SlipAngleDeg(17, 45, 300);
  const Estimate same = TurnWithSlip(turn, {slip, 1}, {17, 0.1}, {300, 5}, none);
  CHECK(same.value == doctest::Approx(45));
  CHECK(same.sd < 4);
  const Estimate drawn = TurnWithSlip(turn, {slip + 3, 1}, {17, 0.1}, {300, 5}, none);
  CHECK(drawn.value > 46);
  // Revs that are badly known leave the slip angle little to say.
  const Estimate loose = TurnWithSlip(turn, {slip + 3, 1}, {17, 0.1}, {300, 60}, none);
  CHECK(loose.value < drawn.value);
  CHECK(loose.sd > drawn.sd);
  // The same larger slip angle is what a slower ball has: then the turn is not drawn.
  const double slower = SlipAngleDeg(15.5, 45, 300);
  CHECK(TurnWithSlip(turn, {slower, 1}, {15.5, 0.1}, {300, 5}, none).value == doctest::Approx(45));
}

TEST_CASE("a roll that is not seen is evidence of turn only where the roll is usually late") {
  const TurnPrior prior{45, 3, 10, 3.5, 49.5};
  TurnEvidence e;
  e.speed_mph = 17;
  e.rev_rpm = {300, 15};
  e.no_roll = true;
  e.roll_start_ft = Estimate{55, 2};
  const double late = TurnOdds(e, prior);
  CHECK(late > 0.3);
  e.roll_start_ft.reset();
  CHECK(std::abs(TurnOdds(e, prior)) < 0.3);
}

TEST_CASE("friction in front and at the back comes from the zones there") {
  Shot s;
  s.friction = {{1, 11, 0.03, 0.002}, {11, 21, 0.05, 0.002}, {33, 40, 0.1, 0.01}, {45, 57, 0.18, 0.02}};
  CHECK(FrontFriction(s)->value == doctest::Approx(0.04));
  CHECK(BackFriction(s)->value == doctest::Approx(0.18));
  s.friction.clear();
  CHECK_FALSE(FrontFriction(s));
}
