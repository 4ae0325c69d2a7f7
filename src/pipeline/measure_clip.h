// From a clip to its shots: the one place that knows the order. The command line and the viewer call the very same
// function.
//
//   pictures spread over the clip -> still background -> lane
//   every picture in order        -> camera's turn -> ball tracker
//   every track                   -> path -> measures -> shot
//
// Memory does not grow with the clip's length but for a few bytes a frame.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/progress.h"
#include "core/status.h"
#include "model/path.h"
#include "model/shot.h"
#include "model/track.h"
#include "pipeline/lane_in_clip.h"

namespace hookline::pipeline {

struct MeasureOptions {
  std::optional<lane::Hand> hand;  // as told by the user; empty: from the picture where it tells
  LaneOptions lane;
  // The ball's radius of gyration as its maker gives it, m; empty: a usual ball's, doubted. The spin told from the path
  // rests on it.
  std::optional<double> ball_gyration;
  Status Check() const;
};

// A measured clip with all that the numbers came from.
struct ClipRun {
  ClipResult result;
  std::vector<Track> tracks;          // one a shot, in the order of result.shots
  std::vector<Path> paths;            // likewise
  std::vector<double> frame_times_s;  // every frame of the clip
  std::vector<FrameMotion> motions;   // likewise
};

// A clip without a lane or without a shot is a result too, with its reason. A Status only for what stops the run:
// kBadFile (clip or setup file), kBadUse, kStopped.
Result<ClipRun> MeasureClip(const std::string& file, const MeasureOptions& options, const ProgressFn& progress,
                            const StopToken& stop);

}  // namespace hookline::pipeline
