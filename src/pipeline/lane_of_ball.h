// The friction map of the lane as one bowler's ball has met it of late.
#pragma once

#include <cstddef>
#include <vector>

#include "core/status.h"
#include "model/shot.h"
#include "motion/friction_map.h"

namespace hookline::pipeline {

// From the last `most` of `shots` (in the order they were rolled) with the bowler, ball and hand of `like`: the lane as
// it is now, and a map of a thousand shots is no better for the next ball. A path is taken a point a foot, between
// which it is straight to a hundredth of a board. kNotDetermined as motion::MapFriction().
Result<motion::FrictionMap> LaneOfBall(const std::vector<Shot>& shots, const Shot& like, std::size_t most);

}  // namespace hookline::pipeline
