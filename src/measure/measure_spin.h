// The measures of a spin that was read off the ball's surface.
//
//   w = W (-cos r cos t right - h sin r cos t ahead + h sin t up),  h +1 for a right-hander, -1 for a left-hander
//
// W rev rate, r axis rotation (positive: the ball curves inward), t axis tilt, `ahead` the level direction of travel at
// release, `right` to its right (docs/measures.md). sd by a numeric gradient.
#pragma once

#include <Eigen/Core>

#include "lane/lane_spec.h"
#include "model/measures.h"
#include "model/spin.h"

namespace hookline::measure {

struct SpinMeasures {
  Measure rev_rate_rpm, axis_rotation_deg, axis_tilt_deg;
};

// Precondition: velocity (level, m/s, at release) is not zero.
SpinMeasures MeasureSpin(const SpinReading& reading, const Eigen::Vector2d& velocity, lane::Hand hand);

}  // namespace hookline::measure
