// The camera's turn in the frame on show, out of a measured clip's list, by time stamp.
#pragma once

#include <algorithm>

#include "pipeline/measure_clip.h"

namespace hookline::viewer {

// No turn where the clip has no frame at that time.
inline FrameMotion MotionAt(const pipeline::ClipRun& run, double time_s) {
  const auto& times = run.frame_times_s;
  const auto at = std::lower_bound(times.begin(), times.end(), time_s - 1e-4);
  const auto i = static_cast<std::size_t>(at - times.begin());
  return i < run.motions.size() ? run.motions[i] : FrameMotion{};
}

}  // namespace hookline::viewer
