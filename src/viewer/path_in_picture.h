// A shot's path laid over a picture: its own, or that of another clip through the other clip's camera.
//
// On another lane a place keeps its board: x scales with the lane's width, y stays. Either hand's path keeps its side
// of the lane; nothing is mirrored.
#pragma once

#include <Eigen/Core>
#include <optional>
#include <vector>

#include "model/lane_setup.h"
#include "model/shot.h"

namespace hookline::viewer {

// px of the frame whose camera turn is `motion`, one for each point of the path from the start up to `until_s` of the
// shot's own time, and the place at that time itself as the last; empty where a point lies behind the camera.
// `sideways` shifts by that many sd across the lane, for the two edges of the band of doubt.
std::vector<std::optional<Eigen::Vector2d>> PathInPicture(const Shot& shot, double shot_lane_width,
                                                          const LaneSetup& picture_lane, const FrameMotion& motion,
                                                          double until_s, double sideways = 0);

}  // namespace hookline::viewer
