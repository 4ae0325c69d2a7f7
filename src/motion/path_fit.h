// Batch fit of the ball's path over its whole flight to a track, in image space, with a robust loss and a covariance.
#pragma once

#include "core/status.h"
#include "model/lane_setup.h"
#include "model/path.h"
#include "model/track.h"

namespace hookline::motion {

struct PathFitOptions {
  Status Check() const { return Status::Ok(); }
};

// kNotDetermined with a sentence when the track holds too little (fewer than 8 usable sights on the lane).
Result<Path> FitPath(const Track& track, const LaneSetup& setup, const PathFitOptions& options = {});

}  // namespace hookline::motion
