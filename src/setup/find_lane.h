// Finds the lane in the picture: automatically, or from points a person marked.
#pragma once

#include <map>
#include <optional>
#include <string>

#include "core/status.h"
#include "model/lane_setup.h"
#include "model/picture.h"

namespace hookline::setup {

struct FindLaneOptions {
  int lane_offset = 0;  // 0: the lane the camera aims at; +1 the next one to the right of it, -1 to the left
  std::optional<double> lane_width;  // m, when known
  Status Check() const;
};

// kLaneNotFound with a sentence that names what was missing. Never a guess.
Result<LaneSetup> FindLane(const Background& background, const FindLaneOptions& options = {});

// How far a lane with its centre line at centre_x (m, in the setup's frame; 0 is its own) lies beside where the camera
// aims, in lane widths: mean over the foul line and a third of the way down the lane.
double OffAim(const LaneSetup& setup, double centre_x);

}  // namespace hookline::setup
