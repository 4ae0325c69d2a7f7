// Reads the ball's spin off its surface. Part of MeasureClip.
#pragma once

#include "pipeline/measure_clip.h"

namespace hookline::pipeline {

// Sets rev rate, axis rotation and axis tilt of a shot, each with its sd or why not. `shot` has the measures of its
// path.
void ReadSpin(const MeasureOptions& options, const ClipResult& clip, const Track& track, const Path& path, Shot* shot);

}  // namespace hookline::pipeline
