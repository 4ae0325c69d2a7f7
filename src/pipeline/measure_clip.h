// From a clip to its shots: the one place that knows the order. The command line and the viewer call the very same
// function.
//
//   pictures spread over the clip -> still background -> lane
//   every picture in order        -> camera's turn -> ball tracker
//   every track                   -> path -> measures -> shot
//
// Memory does not grow with the clip's length but for a few bytes a frame.
#pragma once

#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/progress.h"
#include "core/status.h"
#include "model/corrections.h"
#include "model/path.h"
#include "model/readout.h"
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
  // The sensor's readout, first row to last, s; empty: not known, taken for kUnknownReadout and doubted. Speeds and
  // what is told from them rest on it.
  std::optional<double> readout_s;
  // That of a clip: as told, or unknown with this sd.
  Readout ReadoutOf(const ClipInfo& clip, double unknown_sd_s = kUnknownReadoutSd) const {
    if (readout_s) return {*readout_s, kStatedReadoutSd, clip.rotation_deg};
    return {kUnknownReadout, unknown_sd_s, clip.rotation_deg};
  }
  Status Check() const;
};

// A measured clip with all that the numbers came from.
struct ClipRun {
  ClipResult result;
  std::vector<Track> tracks;          // one a shot, in the order of result.shots
  std::vector<Path> paths;            // likewise
  std::vector<double> frame_times_s;  // every frame of the clip
  std::vector<FrameMotion> motions;   // likewise
  // What pipeline/refit.h needs to measure again without the clip.
  std::vector<Track> left_out;                   // balls that were followed, but no path could be fitted
  std::vector<std::string> clip_warnings;        // those of result.warnings that speak of clip and lane, not of shots
  std::map<std::string, HandMark> lane_marks;    // the marks that the lane was fitted to; empty: found by itself
  std::shared_ptr<const Background> background;  // without its layers; null without a lane
};

// A clip without a lane or without a shot is a result too, with its reason. A Status only for what stops the run:
// kBadFile (clip or setup file), kBadUse, kStopped.
Result<ClipRun> MeasureClip(const std::string& file, const MeasureOptions& options, const ProgressFn& progress,
                            const StopToken& stop);

// The same on a lane that is known already.
Result<ClipRun> MeasureClipOnLane(const std::string& file, LaneInClip lane, const MeasureOptions& options,
                                  const ProgressFn& progress, const StopToken& stop);

}  // namespace hookline::pipeline
