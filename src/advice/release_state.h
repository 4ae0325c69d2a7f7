// Speed, turn and revs of a release, each from all the measures that tell of it.
//
// Speed: the speed at release is measured, and the speed at the arrows less what friction took on the way tells it
// again, v0^2 = va^2 + 2 mu g d cos b (d from 2 to 15 ft, b the slip angle). Turn r: path_turn, and the slip angle b,
// for which w sin(r + b) = v sin b with w the surface speed of the spin. The slip angle saturates, so its say is
// weighed by db/dr, and it has an offset of its own (the path's turn rests on k), which the caller learns. So a slower
// ball, whose slip angle grows, is not taken for a turned one.
//
// Where the surface was read on most shots, axis_rotation_deg takes the place of path_turn (TurnSource): the two differ
// by an offset, and a base must not mix them.
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
  std::optional<Estimate> turn_by_slip_deg;  // before its offset is taken off
};

// Mean of two independent estimates, weighed by their doubt.
Estimate Combine(const Estimate& a, const Estimate& b);

// Empty without a value, or with a doubt that is no number.
std::optional<Estimate> Given(const Shot& shot, MeasureId id);

// Friction in the front part of the lane (middle of the zone before 30 ft) and at the back (beyond 42 ft).
std::optional<Estimate> FrontFriction(const Shot& shot);
std::optional<Estimate> BackFriction(const Shot& shot);

ReleaseState StateOf(const Shot& shot, TurnSource source);

// Where the slip ends, ft: friction `front` up to `skid_end_ft`, `back` beyond (textbook equations, facts of rigid-ball
// motion; launch along the lane, uniform sliding direction). k is (radius of gyration / radius)^2.
double RollStartFt(double speed_mph, double turn_deg, double rev_rpm, double front, double skid_end_ft, double back,
                   double k = 0.36);

}  // namespace hookline::advice
