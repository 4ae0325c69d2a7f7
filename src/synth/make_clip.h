// The room's door: a scenario becomes a clip and its truth.
#pragma once

#include <string>

#include "core/progress.h"
#include "core/status.h"
#include "synth/scenario.h"

namespace hookline::synth {

struct MakeOptions {
  bool truth = true;  // also write the truth beside the clip
  int repeats = 1;    // the clip's frames are written this many times one after another (for speed runs; the truth then
                      // says nothing of the repeats)
  Status Check() const;
};

struct MakeReport {
  int frames = 0;
  double still_s = -1;   // wall time of casting what stands still
  double frames_s = -1;  // wall time of all frames with encoding
  double truth_s = -1;
  std::string truth_file;  // empty when not written
};

// Writes `clip_file` (container by its ending) and, unless told not to, the truth beside it: the same name with
// ".truth.json" for the ending. Both appear whole or not at all.
Result<MakeReport> MakeClip(const Scenario& scenario, const std::string& clip_file, const MakeOptions& options = {},
                            const ProgressFn& progress = {}, const StopToken* stop = nullptr);

// "x/clip.mp4" -> "x/clip.truth.json"
std::string TruthFileOf(const std::string& clip_file);

}  // namespace hookline::synth
