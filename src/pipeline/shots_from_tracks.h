// Tracks to shots: fits each path, measures it, and settles the hand. Part of MeasureClip, apart so that it can be
// tested without a clip.
#pragma once

#include <optional>
#include <vector>

#include "pipeline/measure_clip.h"

namespace hookline::pipeline {

// Fills run->result.shots (numbers from 1), paths, no_shot_reason and warnings from `tracks`; run holds the lane setup,
// the frames' times and the camera's turns. A track without a path is left out with a warning and goes to
// run->left_out. run->tracks keeps the tracks of the shots.
void ShotsFromTracks(const std::vector<Track>& tracks, const MeasureOptions& options, ClipRun* run);

}  // namespace hookline::pipeline
