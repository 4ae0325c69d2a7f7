// What a panel is told of a shot: plain data that the window owns and hands in anew for every picture it draws.
#pragma once

#include <string>
#include <vector>

#include "model/advice.h"
#include "model/shot.h"

namespace hookline::viewer {

struct ShownShot {
  int id = 0;                  // the window's own; stays the same while the shot is in the session, events name it
  const Shot* shot = nullptr;  // never null
  std::string name;            // for people, such as "7"
  std::string clip;            // the clip's file without its folders; empty: no clip is there
  bool chosen = false;         // drawn in full and compared; the others are drawn quietly or not at all
  int look = 0;                // of the chosen: which colour, dash and marker (style.h), counted from 0
  std::string result, notes;   // the person's own words
  const ShotAdvice* advice = nullptr;
  const LaneSetup* lane_setup = nullptr;  // null: measured elsewhere, no camera is known
  FrameMotion first_frame;
};

// The lane's own measures of a shot, or the rules' where its clip is not there.
inline lane::LaneSpec LaneOf(const ShownShot& s) { return s.lane_setup ? s.lane_setup->lane : lane::LaneSpec{}; }

}  // namespace hookline::viewer
