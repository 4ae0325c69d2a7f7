// Reads the ball's spin off its surface for every shot of a clip. Part of MeasureClip.
#pragma once

#include "pipeline/measure_clip.h"

namespace hookline::pipeline {

// Sets rev rate, axis rotation and axis tilt of run->result.shots from run->tracks and run->paths (parallel lists),
// each with its sd or why not.
void ReadSpins(const MeasureOptions& options, ClipRun* run);

}  // namespace hookline::pipeline
