// Speed, turn and revs of a release, each from all the measures that tell of it.
//
// Speed: the speed at release is measured, and the speed at the arrows less what friction took on the way tells it
// again, v0^2 = va^2 + 2 mu g d cos b (d from 2 to 15 ft, b the slip angle).
//
// Turn r: path_turn (or axis_rotation_deg where the surface was read on most shots: the two differ by an offset, and a
// base must not mix them), and the slip angle, tan b = w sin r / (v - w cos r) with w the surface speed of the spin and
// v the ball's. So a slower ball, whose slip angle grows, is not taken for a turned one. The slip angle saturates and
// tilt bends the relation, so it has an offset that the caller learns from shots that have both, and a doubt of its
// own. Where no roll was seen path_turn is missing; then the slip angle and the missing roll itself still tell
// (TurnEvidence).
#pragma once

#include <optional>

#include "model/shot.h"

namespace hookline::advice {

struct Estimate {
  double value = 0, sd = 0;
};

enum class TurnSource { kPath, kSurface };

struct ReleaseState {
  std::optional<Estimate> speed_mph, turn_deg, rev_rpm;
};

// Mean of two independent estimates, weighed by their doubt.
Estimate Combine(const Estimate& a, const Estimate& b);

// Empty without a value, or with a doubt that is no number.
std::optional<Estimate> Given(const Shot& shot, MeasureId id);

// Friction in the front part of the lane (middle of the zone before 30 ft) and at the back (beyond 42 ft).
std::optional<Estimate> FrontFriction(const Shot& shot);
std::optional<Estimate> BackFriction(const Shot& shot);

ReleaseState StateOf(const Shot& shot, TurnSource source);

// The slip angle of a release, deg, and its change with the turn.
double SlipAngleDeg(double speed_mph, double turn_deg, double rev_rpm);

// A turn with the slip angle's say added: `offset` is the slip angle measured less that of the formula.
// The doubt of speed and revs, with which the formula is asked, is in the weight that the slip angle gets.
Estimate TurnWithSlip(const Estimate& turn, const Estimate& slip, const Estimate& speed_mph, const Estimate& rev_rpm,
                      const Estimate& offset);

// Where path_turn is missing: log of how much likelier what was seen is with a turn of N(mean + change, sd^2 +
// change_sd^2) than with N(mean, sd^2) below `bound`.
struct TurnPrior {
  double mean = 0, sd = 1, change = 10, change_sd = 4, bound = 0;
};
struct TurnEvidence {
  std::optional<Estimate> slip;  // offset taken off
  double speed_mph = 0;
  Estimate rev_rpm;
  // The ball reached the pins and no roll was seen. roll_start_ft is the bowler's usual one.
  bool no_roll = false;
  std::optional<Estimate> roll_start_ft;
};
double TurnOdds(const TurnEvidence& evidence, const TurnPrior& prior);

// Where the slip ends, ft: friction `front` up to `skid_end_ft`, `back` beyond (textbook equations, facts of rigid-ball
// motion; launch along the lane, uniform sliding direction). k is (radius of gyration / radius)^2.
double RollStartFt(double speed_mph, double turn_deg, double rev_rpm, double front, double skid_end_ft, double back,
                   double k = 0.36);

}  // namespace hookline::advice
