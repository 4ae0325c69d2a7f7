#include "viewer/plot_series.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>

#include "lane/units.h"
#include "report/number_text.h"

namespace hookline::viewer {
namespace {

// s; a path of this program is smooth in itself, one of another may not be.
constexpr double kWindow = 0.08;

// The measure whose form of number a reading takes.
MeasureId FormOf(PlotKind kind) {
  switch (kind) {
    case PlotKind::kSpeed:
      return MeasureId::kSpeedArrowsMph;
    case PlotKind::kBoard:
      return MeasureId::kBoardAt40Ft;
    default:
      return MeasureId::kEntryAngleDeg;
  }
}

struct KnownDoubt {
  double ft, sd;
};

std::vector<KnownDoubt> DoubtsOf(const Shot& shot, PlotKind kind) {
  struct Place {
    MeasureId id;
    double ft;
  };
  static constexpr std::array<Place, 3> kSpeeds = {
      {{MeasureId::kSpeedReleaseMph, 2}, {MeasureId::kSpeedArrowsMph, 15}, {MeasureId::kSpeedEntryMph, 59}}};
  static constexpr std::array<Place, 2> kAngles = {
      {{MeasureId::kLaunchAngleDeg, 6.5}, {MeasureId::kEntryAngleDeg, 59.5}}};
  std::vector<KnownDoubt> known;
  const auto add = [&](const Place& p) {
    if (report::Given(shot.measures[p.id])) known.push_back({p.ft, shot.measures[p.id].sd});
  };
  if (kind == PlotKind::kSpeed)
    for (const Place& p : kSpeeds) add(p);
  if (kind == PlotKind::kAngle)
    for (const Place& p : kAngles) add(p);
  return known;
}

double DoubtAt(const std::vector<KnownDoubt>& known, double ft) {
  if (known.empty()) return std::numeric_limits<double>::quiet_NaN();
  if (ft <= known.front().ft) return known.front().sd;
  for (std::size_t i = 1; i < known.size(); ++i)
    if (ft <= known[i].ft)
      return known[i - 1].sd +
             (known[i].sd - known[i - 1].sd) * (ft - known[i - 1].ft) / (known[i].ft - known[i - 1].ft);
  return known.back().sd;
}

struct Velocity {
  double x = 0, y = 0;
};

// Slope at point i of the parabola that fits x and y best over kWindow either way, or over the nearest three points.
// nullopt when their times do not differ.
std::optional<Velocity> VelocityAt(const std::vector<PathPoint>& path, std::size_t i) {
  std::size_t from = i, to = i;
  while (from > 0 && path[i].time_s - path[from - 1].time_s <= kWindow) --from;
  while (to + 1 < path.size() && path[to + 1].time_s - path[i].time_s <= kWindow) ++to;
  if (to - from < 2) {
    from = std::min(i > 0 ? i - 1 : 0, path.size() - 3);
    to = from + 2;
  }
  Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
  Eigen::Matrix<double, 3, 2> right = Eigen::Matrix<double, 3, 2>::Zero();
  const double scale = std::max(path[to].time_s - path[from].time_s, 1e-12);
  for (std::size_t k = from; k <= to; ++k) {
    const double t = (path[k].time_s - path[i].time_s) / scale;
    const Eigen::Vector3d by(1, t, t * t);
    normal += by * by.transpose();
    right += by * Eigen::RowVector2d(path[k].x, path[k].y);
  }
  const Eigen::FullPivLU<Eigen::Matrix3d> lu(normal);
  if (!lu.isInvertible()) return std::nullopt;
  const Eigen::Matrix<double, 3, 2> fit = lu.solve(right);
  return Velocity{fit(1, 0) / scale, fit(1, 1) / scale};
}

}  // namespace

std::string_view PlotTitle(PlotKind kind) {
  switch (kind) {
    case PlotKind::kSpeed:
      return "Speed (mph)";
    case PlotKind::kBoard:
      return "Board";
    default:
      return "Angle, inward (deg)";
  }
}

PlotSeries SeriesOf(const Shot& shot, PlotKind kind, double lane_width) {
  PlotSeries series;
  const std::vector<PathPoint>& path = shot.path;
  if (path.size() < 3) {
    series.reason = "The path of this shot was not kept; measure its clip to see it here.";
    return series;
  }
  const std::vector<KnownDoubt> known = DoubtsOf(shot, kind);
  const double inward = shot.hand == lane::Hand::kRight ? -1 : 1;
  for (std::size_t i = 0; i < path.size(); ++i) {
    const auto velocity = VelocityAt(path, i);
    if (!velocity) continue;
    const double vx = velocity->x, vy = velocity->y;
    PlotPoint point;
    point.ft = lane::FeetFromMetres(path[i].y);
    point.sd = DoubtAt(known, point.ft);
    switch (kind) {
      case PlotKind::kSpeed:
        point.value = lane::MphFromMetresPerSecond(path[i].speed.value_or(std::hypot(vx, vy)));
        if (path[i].speed) point.sd = lane::MphFromMetresPerSecond(path[i].sd_speed);
        break;
      case PlotKind::kBoard:
        point.value = lane::BoardFromX(path[i].x, lane_width, shot.hand);
        point.sd = std::hypot(path[i].sd_x, vy > 0 ? vx / vy * path[i].sd_y : 0.0) / lane::BoardWidth(lane_width);
        break;
      case PlotKind::kAngle:
        point.value = inward * lane::DegreesFromRadians(path[i].angle.value_or(std::atan2(vx, vy)));
        if (path[i].angle) point.sd = lane::DegreesFromRadians(path[i].sd_angle);
        break;
    }
    if (series.points.empty() || point.ft > series.points.back().ft) series.points.push_back(point);
  }
  if (series.points.empty()) series.reason = "The path of this shot has no times; measure its clip again.";
  return series;
}

std::optional<PlotPoint> PointAt(const PlotSeries& series, double ft) {
  for (std::size_t i = 1; i < series.points.size(); ++i) {
    const PlotPoint &a = series.points[i - 1], &b = series.points[i];
    if (ft < a.ft || ft > b.ft) continue;
    const double f = (ft - a.ft) / (b.ft - a.ft);
    return PlotPoint{ft, a.value + f * (b.value - a.value), a.sd + f * (b.sd - a.sd)};
  }
  return std::nullopt;
}

std::string PointText(const PlotSeries& series, PlotKind kind, double ft) {
  const auto point = PointAt(series, ft);
  if (!point) return {};
  const MeasureId form = FormOf(kind);
  const std::string number = std::isfinite(point->sd)
                                 ? report::MeasureText(form, Measure::Of(point->value, point->sd))
                                 : report::FixedText(point->value, report::DecimalsShown(form, point->sd));
  switch (kind) {
    case PlotKind::kSpeed:
      return number + " mph";
    case PlotKind::kBoard:
      return "board " + number;
    default:
      return number + " deg";
  }
}

std::string PlotAxis::Text(double value) const { return report::FixedText(value, decimals); }

PlotAxis AxisFor(double low, double high, int most_steps) {
  if (!(high > low)) {
    const double more = std::max(0.5, 0.05 * std::abs(low));
    low -= more;
    high += more;
  }
  PlotAxis axis;
  double tenth = std::pow(10.0, std::floor(std::log10((high - low) / most_steps)));
  for (;; tenth *= 10) {
    for (const double times : {1.0, 2.0, 5.0}) {
      axis.step = times * tenth;
      axis.low = axis.step * std::floor(low / axis.step + 1e-9);
      axis.high = axis.step * std::ceil(high / axis.step - 1e-9);
      if (axis.high - axis.low <= axis.step * (most_steps + 0.5)) {
        axis.decimals = std::max(0, static_cast<int>(-std::floor(std::log10(axis.step) + 1e-9)));
        return axis;
      }
    }
  }
}

PlotAxis AxisFor(const std::vector<PlotSeries>& series, int most_steps) {
  double low = std::numeric_limits<double>::infinity(), high = -low;
  for (const PlotSeries& s : series)
    for (const PlotPoint& p : s.points) {
      const double sd = std::isfinite(p.sd) ? p.sd : 0.0;
      low = std::min(low, p.value - sd);
      high = std::max(high, p.value + sd);
    }
  return std::isfinite(low) ? AxisFor(low, high, most_steps) : PlotAxis{};
}

}  // namespace hookline::viewer
