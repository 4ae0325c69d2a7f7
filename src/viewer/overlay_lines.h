// What is drawn over a picture, in pixels of that very frame: the lane with its ruler, a shot's path with its band of
// doubt, its ball, and the places people look for. Geometry and words only; picture_panel.cc draws them.
//
// Everything goes through the lane setup's camera and the camera's turn in that frame, so drawings stay on the lane
// when the camera moves. Points behind the camera are empty and break a line.
#pragma once

#include <Eigen/Core>
#include <optional>
#include <string>
#include <vector>

#include "camera/frame_view.h"
#include "model/lane_setup.h"
#include "model/shot.h"

namespace hookline::viewer {

using camera::MaybePixel;
using PixelLine = std::vector<MaybePixel>;

struct RulerTick {
  Eigen::Vector2d at;
  int board = 0;        // counted from the own hand's edge
  double board_px = 0;  // a board's width there
};

struct LaneLines {
  std::vector<PixelLine> edges;   // lane's edges and the foul line
  std::vector<PixelLine> arrows;  // the seven, as drawn on lanes
  PixelLine ruler;                // the V through the arrow tips
  std::vector<RulerTick> ticks;   // every board, 1 to 39
};
LaneLines LinesOfLane(const LaneSetup& setup, const FrameMotion& motion, lane::Hand hand);

struct BallOutline {
  Eigen::Vector2d centre;
  double radius_px = 0;
  bool seen = true;  // the tracker saw it in this frame; otherwise it is where the path has it
};

struct LabelledPlace {
  Eigen::Vector2d at;
  std::string text;
  bool passed = false;  // by that time
};

struct ShotLines {
  PixelLine so_far, whole;          // the path up to now, and all of it
  PixelLine band_left, band_right;  // one sd to either side of all of it, as many points as `whole`
  std::optional<BallOutline> ball;
  std::optional<LabelledPlace> arrows, breakpoint;
  std::vector<LabelledPlace> speeds;  // every ten feet
};
// `time_s`: of the shot's own clip. `setup` is that of the picture, `shot_lane_width` that of the shot's lane, m.
ShotLines LinesOfShot(const Shot& shot, double shot_lane_width, const LaneSetup& setup, const FrameMotion& motion,
                      double time_s);
// Where only the numbers are there: the ball's centre as it was seen, frame by frame.
ShotLines LinesWithoutCamera(const Shot& shot, double time_s);

}  // namespace hookline::viewer
