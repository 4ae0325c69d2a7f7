// Everything known of a clip after it was measured: the content of the result file (docs/result-file.md).
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "lane/lane_spec.h"
#include "model/lane_setup.h"
#include "model/measures.h"
#include "model/path.h"
#include "model/picture.h"
#include "model/track.h"

namespace hookline {

enum class HandSource { kGiven, kSeen, kAssumed };

// One time stamp of the fitted path, as drawn and as written to the result file.
struct PathPoint {
  double time_s = 0;
  double x = 0, y = 0;        // m, lane frame, contact point
  double sd_x = 0, sd_y = 0;  // m
  bool seen = false;          // the ball itself was seen in this frame
  double u_px = 0, v_px = 0;  // ball's centre in that frame as displayed
  bool set_by_hand = false;   // seen by a person who put it there
  // Speed, m/s, and direction of travel against the lane's axis, rad, to the right positive; empty: not known.
  std::optional<double> speed, angle;
  double sd_speed = 0, sd_angle = 0;
};

// What the bowler meant, in boards of the own hand; empty where it was not said.
struct ShotTarget {
  std::optional<double> arrows_board, breakpoint_board;
  std::optional<double> stance_board;  // inner edge of the slide-side shoe at the start
  std::optional<double> target_board;  // looked at
};

struct Shot {
  int number = 0;  // 1 first
  int lane = 0;
  lane::Hand hand = lane::Hand::kRight;
  HandSource hand_source = HandSource::kAssumed;
  std::string bowler, ball, plan;  // in the bowler's own words; empty: not said
  ShotTarget target;
  std::optional<double> start_s, release_s, pin_contact_s, gutter_ft;
  bool gutter_own_side = false;  // meaningful with gutter_ft
  Measures measures;
  std::vector<FrictionZone> friction;  // ascending, by the path alone
  std::string path_model;              // Path::model
  std::vector<PathPoint> path;
  std::optional<std::vector<int>> pins_before, pins_after;  // standing, 1 to 10; empty: not known
  std::string pins_reason;                                  // why the pin deck was not read
  ByHand by_hand;
};

struct ClipResult {
  ClipInfo clip;
  std::optional<LaneSetup> lane_setup;
  std::string lane_reason;     // when not found
  FrameMotion first_frame;     // camera turn of the first frame used, against the setup's reference frame
  double camera_moved_px = 0;  // largest shift of the picture against its first used frame
  std::vector<Shot> shots;
  std::string no_shot_reason;  // when there is no shot
  std::vector<std::string> warnings;
};

}  // namespace hookline
