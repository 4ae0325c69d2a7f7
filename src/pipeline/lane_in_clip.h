// The lane of a clip: its still background from pictures spread over the clip, then the lane in it, found, from marked
// points or from a file.
#pragma once

#include <Eigen/Core>
#include <functional>
#include <map>
#include <optional>
#include <string>

#include "core/progress.h"
#include "core/status.h"
#include "model/lane_setup.h"
#include "model/picture.h"

namespace hookline::pipeline {

struct LaneOptions {
  std::string setup_file;                         // a saved lane setup, used instead of searching; empty: none
  std::string setup_text;                         // its content, where it is no file: setup_file names it then
  std::map<std::string, Eigen::Vector2d> points;  // marked points by name (docs/lane-setup-file.md), px; empty: none
  // 0: the lane the camera aims at; +1 the next one to its right, -1 to its left; empty: the one aimed at, or the next
  // one when the camera aims between two and only there a ball rolls.
  std::optional<int> lane_offset;
  int background_pictures = 18;  // 5 to 60; memory and the time of the search grow with it
  Status Check() const;
};

struct LaneInClip {
  ClipInfo clip;  // as the container says it
  LaneSetup setup;
  Background background;
  std::vector<std::string> warnings;  // a saved setup that does not fit this clip any more
};

// kBadFile: the clip or the setup file; kLaneNotFound with what was missing; kStopped. `seen`, if any, is called once
// the pictures are decoded, unless none can be: from then on a core is free for other work.
Result<LaneInClip> FindLaneInClip(const std::string& file, const LaneOptions& options, const ProgressFn& progress,
                                  const StopToken& stop, const std::function<void()>& seen = {});

}  // namespace hookline::pipeline
