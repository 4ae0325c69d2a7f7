// The lane from above on a panel: from metres of the lane frame to pixels of the panel and back.
//
// Lying (foul line left, pins right, the bowler's right hand side below) or standing (foul line below, pins above,
// right is right); either is a turn of the real lane, never a mirror image. A lane is 18 times as long as wide, so the
// two directions have each their own scale: `stretch` is how many times wider the lane is drawn than it is long. Along,
// a stretch of the lane can be chosen; across, the whole lane with its gutters is always there.
#pragma once

#include <Eigen/Core>
#include <string>
#include <vector>

#include "lane/lane_spec.h"
#include "lane/units.h"

namespace hookline::viewer {

// px of the panel, y down.
struct PanelRect {
  double left = 0, top = 0, right = 0, bottom = 0;
  double width() const { return right - left; }
  double height() const { return bottom - top; }
};

// The stretch of the lane that is drawn, m past the foul line.
struct LaneStretch {
  static constexpr double kLeast = lane::MetresFromFeet(-3), kMost = lane::MetresFromFeet(63.5),
                          kShortest = lane::MetresFromFeet(6);
  double from_y = kLeast, to_y = kMost;
  // Closer by `factor` (below 1: further away), the place under the pointer staying there; within the lane.
  LaneStretch Zoomed(double factor, double at_y) const;
  LaneStretch Moved(double by_y) const;
  bool whole() const { return from_y <= kLeast && to_y >= kMost; }
};

class LaneView {
 public:
  // stretch_wanted: 1 true to scale, 0 as wide as the panel allows; more than fits is cut back to what fits.
  static LaneView Fit(const PanelRect& area, bool standing, const LaneStretch& stretch, double stretch_wanted,
                      double lane_width);

  Eigen::Vector2d PanelFromLane(const Eigen::Vector2d& p_in_lane) const;
  Eigen::Vector2d LaneFromPanel(const Eigen::Vector2d& p_in_panel) const;
  double along_px_per_m() const { return along_; }
  double across_px_per_m() const { return across_; }
  double stretch() const { return across_ / along_; }
  bool standing() const { return standing_; }
  double lane_width() const { return lane_width_; }
  const LaneStretch& shown() const { return shown_; }
  // Half of what is drawn across: lane and gutter, m.
  double half_width() const { return lane_width_ / 2 + lane::kGutterWidth; }
  PanelRect lane_rect() const;  // lane and gutters, over the stretch that is shown

  // "Across is drawn 6.4 times as wide as along." or "True to scale."
  std::string ScaleText() const;
  // Steps of the two rulers so that their numbers stand at least `least_px` apart: boards 1, 5 or 10; feet 1, 5 or 10.
  int BoardStep(double least_px) const;
  int FootStep(double least_px) const;

 private:
  PanelRect area_;
  bool standing_ = false;
  LaneStretch shown_;
  double lane_width_ = lane::kNominalWidth, along_ = 1, across_ = 1;
};

// Distance of a place from the nearest piece of a line, px; a very large number for a line of less than two points.
double DistanceToLine(const Eigen::Vector2d& place, const std::vector<Eigen::Vector2d>& line);

}  // namespace hookline::viewer
