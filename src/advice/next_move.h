// The next move: stance and target that bring the mean ball to the pocket.
//
// First form, by geometry alone: the lane read's miss at the pins is taken back with the feet by 3-1-2, target held. It
// leaves out that a new line meets other friction, so its doubt has a share of the move beside the spread's. Nothing is
// advised below three good shots, nor for a miss within the doubt, nor a stance off the approach.
#pragma once

#include <vector>

#include "advice/causes.h"
#include "model/advice.h"

namespace hookline::advice {

NextMove PlanNextMove(const std::vector<ShotVerdict>& verdicts, const LaneRead& read);

}  // namespace hookline::advice
