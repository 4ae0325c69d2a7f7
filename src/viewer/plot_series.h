// Speed, board and direction of a shot over the distance from the foul line, with their doubt; and the axes they are
// drawn on.
//
//   board(y)  = board of the path's x;            sd = hypot(sd_x, dx/dy sd_y) / board width
//   speed(y)  = |d(x, y)/dt|, mph
//   angle(y)  = atan(dx/dy), inward positive, deg
//
// A path of this program keeps speed and angle with their doubt at each place, and those are taken. Where a file lacks
// them they are slopes of a parabola over 0.08 s either way, which takes the roughness out of paths that others wrote;
// their doubt is then that of the measures, straight between the places where those are read: speed at 2, 15 and 59 ft,
// launch angle at 6.5 ft, entry angle at 59.5 ft.
#pragma once

#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "model/shot.h"

namespace hookline::viewer {

enum class PlotKind { kSpeed, kBoard, kAngle };

// "Speed (mph)", "Board", "Angle, inward (deg)".
std::string_view PlotTitle(PlotKind kind);

struct PlotPoint {
  double ft = 0, value = 0;
  double sd = std::numeric_limits<double>::quiet_NaN();  // NaN: not known
};

struct PlotSeries {
  std::vector<PlotPoint> points;  // by distance, ascending
  std::string reason;             // why there are none
};

PlotSeries SeriesOf(const Shot& shot, PlotKind kind, double lane_width);

// Straight between points; nullopt beyond the ends.
std::optional<PlotPoint> PointAt(const PlotSeries& series, double ft);
// "12.4 ±0.1 mph", as the measure of that kind would be written; empty where the series is not.
std::string PointText(const PlotSeries& series, PlotKind kind, double ft);

// A scale with round steps that holds [low, high], at most `most_steps` steps of it; a reading of no width is widened.
struct PlotAxis {
  double low = 0, high = 1, step = 1;
  int decimals = 0;
  std::string Text(double value) const;
};
PlotAxis AxisFor(double low, double high, int most_steps);
// Over every series with its band of one sd.
PlotAxis AxisFor(const std::vector<PlotSeries>& series, int most_steps);

}  // namespace hookline::viewer
