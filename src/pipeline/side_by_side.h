// Two shots beside each other as one clip, in step from a mark (release, arrows, breakpoint, pins): each cut to its
// lane, with the path so far drawn and the numbers below. Where one shot has not begun yet, or is over, its first or
// last picture stands still. The clip has a clock of its own; each picture shown is the one nearest in time.
#pragma once

#include <string>

#include "core/progress.h"
#include "core/status.h"
#include "model/shot.h"
#include "pipeline/blur_people.h"
#include "pipeline/shot_view.h"

namespace hookline::pipeline {

// A shot of a measured clip.
struct ShotInClip {
  std::string clip;      // the clip's file
  ClipResult result;     // with its lane setup
  std::size_t shot = 0;  // place in result.shots
  std::string name;      // above the picture, "Shot 3"
};

struct SideBySideOptions {
  ShotMark mark = ShotMark::kRelease;
  double before_s = 1.5;                // shown before the release, 0 to 10
  double after_s = 0.8;                 // shown after the path's end, 0 to 10
  double slower = 1;                    // 2: half the speed; 1 to 16
  double rate = 60;                     // pictures a second of the clip that is written, 10 to 120
  int height = 720;                     // of the pictures, px, 240 to 2160
  bool path = true;                     // draw on the pictures
  BlurOptions blur_first, blur_second;  // each clip has its own boxes
  Status Check() const;
};

// `out` appears whole or not at all. kBadUse: an option, or a mark that a shot does not have (the sentence says which);
// kBadFile; kStopped.
Status SideBySide(const ShotInClip& first, const ShotInClip& second, const SideBySideOptions& options,
                  const std::string& out, const ProgressFn& progress, const StopToken& stop);

}  // namespace hookline::pipeline
