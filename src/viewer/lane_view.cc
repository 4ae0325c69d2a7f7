#include "viewer/lane_view.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "report/number_text.h"

namespace hookline::viewer {

LaneStretch LaneStretch::Zoomed(double factor, double at_y) const {
  const double length = std::clamp((to_y - from_y) / factor, kShortest, kMost - kLeast);
  const double share = std::clamp((at_y - from_y) / (to_y - from_y), 0.0, 1.0);
  const double from = std::clamp(at_y - share * length, kLeast, kMost - length);
  return {from, from + length};
}

LaneStretch LaneStretch::Moved(double by_y) const {
  const double length = to_y - from_y, from = std::clamp(from_y + by_y, kLeast, kMost - length);
  return {from, from + length};
}

LaneView LaneView::Fit(const PanelRect& area, bool standing, const LaneStretch& stretch, double stretch_wanted,
                       double lane_width) {
  LaneView view;
  view.area_ = area;
  view.standing_ = standing;
  view.shown_ = stretch;
  view.lane_width_ = lane_width;
  const double along = std::max(standing ? area.height() : area.width(), 1.0),
               across = std::max(standing ? area.width() : area.height(), 1.0);
  view.along_ = along / (stretch.to_y - stretch.from_y);
  const double widest = across / (2 * view.half_width());
  view.across_ = stretch_wanted > 0 ? std::min(stretch_wanted * view.along_, widest) : widest;
  return view;
}

Eigen::Vector2d LaneView::PanelFromLane(const Eigen::Vector2d& p) const {
  const double along = (p.y() - shown_.from_y) * along_, across = p.x() * across_;
  if (standing_) return {(area_.left + area_.right) / 2 + across, area_.bottom - along};
  return {area_.left + along, (area_.top + area_.bottom) / 2 + across};
}

Eigen::Vector2d LaneView::LaneFromPanel(const Eigen::Vector2d& p) const {
  if (standing_)
    return {(p.x() - (area_.left + area_.right) / 2) / across_, shown_.from_y + (area_.bottom - p.y()) / along_};
  return {(p.y() - (area_.top + area_.bottom) / 2) / across_, shown_.from_y + (p.x() - area_.left) / along_};
}

PanelRect LaneView::lane_rect() const {
  const Eigen::Vector2d a = PanelFromLane({-half_width(), shown_.from_y}),
                        b = PanelFromLane({half_width(), shown_.to_y});
  return {std::min(a.x(), b.x()), std::min(a.y(), b.y()), std::max(a.x(), b.x()), std::max(a.y(), b.y())};
}

std::string LaneView::ScaleText() const {
  if (std::abs(stretch() - 1) < 0.005) return "True to scale";
  return "Across is drawn " + report::FixedText(stretch(), 1) + " times as wide as along";
}

int LaneView::BoardStep(double least_px) const {
  const double board = lane::BoardWidth(lane_width_) * across_;
  return board >= least_px ? 1 : 5 * board >= least_px ? 5 : 10;
}

int LaneView::FootStep(double least_px) const {
  const double foot = lane::MetresFromFeet(1) * along_;
  return foot >= least_px ? 1 : 5 * foot >= least_px ? 5 : 10;
}

double DistanceToLine(const Eigen::Vector2d& place, const std::vector<Eigen::Vector2d>& line) {
  double nearest = std::numeric_limits<double>::max();
  for (std::size_t i = 1; i < line.size(); ++i) {
    const Eigen::Vector2d way = line[i] - line[i - 1];
    const double length = way.squaredNorm();
    const double f = length > 0 ? std::clamp((place - line[i - 1]).dot(way) / length, 0.0, 1.0) : 0.0;
    nearest = std::min(nearest, (place - line[i - 1] - f * way).norm());
  }
  return nearest;
}

}  // namespace hookline::viewer
