// Writes a measured clip back with path, ruler, breakpoint and numbers drawn on it: a second pass over the file, as
// displayed, with the clip's own time stamps. Sound is not copied. Others are blurred before anything is drawn.
#pragma once

#include <string>

#include "core/progress.h"
#include "core/status.h"
#include "pipeline/blur_people.h"
#include "pipeline/measure_clip.h"

namespace hookline::pipeline {

// `out` appears whole or not at all. kStopped, kBadFile (either file), kBadUse (the blur's options), kLaneNotFound when
// there is nothing to draw.
Status AnnotateClip(const ClipRun& run, const BlurOptions& blur, const std::string& out, const ProgressFn& progress,
                    const StopToken& stop);

}  // namespace hookline::pipeline
