#include <algorithm>
#include <cmath>
#include <functional>
#include <optional>

#include "lane/units.h"
#include "report/number_text.h"
#include "report/page.h"

namespace hookline::report {
namespace {

using Eigen::Vector2d;
using lane::FeetFromMetres;
using lane::MetresFromFeet;

FigureShape Line(std::vector<Vector2d> points, Ink ink, double width) {
  FigureShape s;
  s.points = std::move(points);
  s.ink = ink;
  s.width = width;
  return s;
}

FigureShape Area(std::vector<Vector2d> points, Ink ink, double opacity) {
  FigureShape s;
  s.kind = FigureShape::Kind::kArea;
  s.points = std::move(points);
  s.ink = ink;
  s.opacity = opacity;
  return s;
}

FigureShape Text(const Vector2d& at, std::string text, int align, double size = 12, Ink ink = Ink::kQuiet) {
  FigureShape s;
  s.kind = FigureShape::Kind::kText;
  s.points = {at};
  s.text = std::move(text);
  s.align = align;
  s.size = size;
  s.ink = ink;
  return s;
}

FigureShape OfShot(FigureShape s, int shot_ink) {
  s.ink = Ink::kShot;
  s.shot_ink = shot_ink;
  return s;
}

FigureShape Marker(const Vector2d& at, int shot_ink, double size) {
  FigureShape s;
  s.kind = FigureShape::Kind::kMarker;
  s.points = {at};
  s.size = size;
  return OfShot(std::move(s), shot_ink);
}

// A band of so many sd each way about a line, as an area.
std::vector<Vector2d> Band(const std::vector<Vector2d>& upper, const std::vector<Vector2d>& lower) {
  std::vector<Vector2d> out = upper;
  out.insert(out.end(), lower.rbegin(), lower.rend());
  return out;
}

double BoardOf(const PathPoint& p, double lane_width, lane::Hand hand) {
  return lane::BoardFromX(p.x, lane_width, hand);
}

// ---- plots against distance

constexpr double kPlotLeft = 40, kPlotRight = 348, kPlotTop = 14, kPlotBottom = 168, kPlotHeight = 204;

struct Series {
  std::vector<double> ft, value, sd;
};

// A measured number of the shot that lies on the curve.
struct OnCurve {
  double ft;
  MeasureId id;
};

// The curve's value at a distance, at its nearest point.
double CurveAt(const Series& s, double ft) {
  std::size_t best = 0;
  for (std::size_t i = 1; i < s.ft.size(); ++i)
    if (std::abs(s.ft[i] - ft) < std::abs(s.ft[best] - ft)) best = i;
  return s.value[best];
}

// A step of 1, 2 or 5 times a power of ten that gives at most `most` ticks.
double NiceStep(double span, int most) {
  double step = std::pow(10.0, std::floor(std::log10(span / most)));
  for (const double f : {1.0, 2.0, 5.0, 10.0})
    if (span / (step * f) <= most) return step * f;
  return 10 * step;
}

PageFigure Plot(const std::string& title, const std::string& unit, const Series& s, const std::vector<OnCurve>& on,
                const Shot& shot, double least_span) {
  PageFigure f;
  f.height = kPlotHeight;
  f.title = unit.empty() ? title : title + ", " + unit;
  if (s.ft.size() < 2) return f;
  double low = 1e9, high = -1e9;
  for (std::size_t i = 0; i < s.value.size(); ++i) {
    low = std::min(low, s.value[i] - 2 * s.sd[i]);
    high = std::max(high, s.value[i] + 2 * s.sd[i]);
  }
  const double grow = std::max(0.0, least_span - (high - low)) / 2 + 0.06 * std::max(high - low, least_span);
  const double step = NiceStep(high - low + 2 * grow, 6);
  low = std::floor((low - grow) / step) * step;
  high = std::ceil((high + grow) / step) * step;
  const auto at = [&](double ft, double v) {
    return Vector2d(kPlotLeft + ft / 62 * (kPlotRight - kPlotLeft),
                    kPlotBottom - (v - low) / (high - low) * (kPlotBottom - kPlotTop));
  };
  const int decimals = step < 1 ? 1 : 0;
  for (double v = low; v <= high + step / 2; v += step) {
    f.shapes.push_back(Line({at(0, v), at(62, v)}, Ink::kGrid, std::abs(v) < step / 4 ? 1.6 : 0.8));
    f.shapes.push_back(Text(at(0, v) + Vector2d(-5, 0), FixedText(v, decimals), 1, 11));
  }
  for (int ft = 0; ft <= 60; ft += 10) {
    f.shapes.push_back(Line({at(ft, low), at(ft, low) + Vector2d(0, 4)}, Ink::kQuiet, 1));
    f.shapes.push_back(Text(at(ft, low) + Vector2d(0, 13), std::to_string(ft), 0, 11));
  }
  f.shapes.push_back(Text({(kPlotLeft + kPlotRight) / 2, kPlotBottom + 28}, "feet past the foul line", 0, 11));
  std::vector<Vector2d> line;
  for (const double sds : {2.0, 1.0}) {
    std::vector<Vector2d> upper, lower;
    for (std::size_t i = 0; i < s.ft.size(); ++i) {
      upper.push_back(at(s.ft[i], s.value[i] + sds * s.sd[i]));
      lower.push_back(at(s.ft[i], s.value[i] - sds * s.sd[i]));
    }
    f.shapes.push_back(OfShot(Area(Band(upper, lower), Ink::kShot, 0.22), 0));
  }
  for (std::size_t i = 0; i < s.ft.size(); ++i) line.push_back(at(s.ft[i], s.value[i]));
  f.shapes.push_back(OfShot(Line(std::move(line), Ink::kShot, 2), 0));
  for (const OnCurve& p : on) {
    const Measure& m = shot.measures[p.id];
    if (!Given(m)) continue;
    const Vector2d place = at(p.ft, *m.value);
    if (p.ft < 0 || p.ft > 62 || *m.value < low || *m.value > high) continue;
    f.shapes.push_back(Marker(place, 0, 8));
    // Beside the curve on the side it leaves free: behind a falling one, before a rising one, above a level one.
    const double before = CurveAt(s, p.ft - 4), after = CurveAt(s, p.ft + 4), level = 0.02 * (high - low);
    const int align = after < before - level ? -1 : after > before + level ? 1 : place.x() > kPlotRight - 40 ? 1 : 0;
    f.shapes.push_back(Text(place + Vector2d(-6.0 * align, -11), MeasureText(p.id, m), align, 11.5, Ink::kText));
  }
  return f;
}

}  // namespace

std::vector<PageFigure> PlotsOf(const Shot& shot, double lane_width) {
  Series speed, board, angle;
  // Where the ball lands its speed takes a step, and its doubt there is that of the step's time: such a point says
  // nothing of the curve.
  const auto at_step = [&](std::size_t i) {
    const auto& path = shot.path;
    const double sd = path[i].sd_speed;
    return (i > 0 && sd > 4 * path[i - 1].sd_speed && path[i - 1].sd_speed > 0) ||
           (i + 1 < path.size() && sd > 4 * path[i + 1].sd_speed && path[i + 1].sd_speed > 0);
  };
  const double inward = shot.hand == lane::Hand::kRight ? -1 : 1;
  for (std::size_t i = 0; i < shot.path.size(); ++i) {
    const PathPoint& p = shot.path[i];
    const double ft = FeetFromMetres(p.y);
    if (ft < 0 || ft > 61.5) continue;
    board.ft.push_back(ft);
    board.value.push_back(BoardOf(p, lane_width, shot.hand));
    board.sd.push_back(p.sd_x / lane::BoardWidth(lane_width));
    if (!p.speed || !p.angle || at_step(i)) continue;
    speed.ft.push_back(ft);
    speed.value.push_back(lane::MphFromMetresPerSecond(*p.speed));
    speed.sd.push_back(lane::MphFromMetresPerSecond(p.sd_speed));
    angle.ft.push_back(ft);
    angle.value.push_back(inward * lane::DegreesFromRadians(*p.angle));
    angle.sd.push_back(lane::DegreesFromRadians(p.sd_angle));
  }
  std::vector<OnCurve> boards = {{15, MeasureId::kBoardAt15Ft}, {59.5, MeasureId::kEntryBoard}};
  if (const Measure& ft = shot.measures[MeasureId::kBreakpointFt]; Given(ft))
    boards.push_back({*ft.value, MeasureId::kBreakpointBoard});
  std::vector<PageFigure> plots;
  plots.push_back(Plot(
      "Speed", "mph", speed,
      {{2, MeasureId::kSpeedReleaseMph}, {15, MeasureId::kSpeedArrowsMph}, {59, MeasureId::kSpeedEntryMph}}, shot, 2));
  plots.back().caption = "The ball loses speed while it skids, and keeps it once it rolls.";
  plots.push_back(Plot("Board", "", board, boards, shot, 4));
  plots.back().caption = "Low boards are at the edge of the bowler's own hand, board 20 is the middle.";
  plots.push_back(Plot("Direction", "degrees", angle, {{59.5, MeasureId::kEntryAngleDeg}}, shot, 4));
  plots.back().caption = "Above 0 the ball runs inward, below 0 outward, towards the edge of the bowler's own hand.";
  std::erase_if(plots, [](const PageFigure& f) { return f.empty(); });
  return plots;
}

PageFigure LaneFigure(const std::vector<const Shot*>& shots, const std::vector<double>& lane_width, bool strong_last) {
  PageFigure f;
  f.width = 360;
  f.height = 560;
  f.title = "The lane from above";
  if (shots.empty()) return f;
  constexpr double kLeft = 44, kRight = 308, kTop = 34, kBottom = 516, kFar = 63;
  const lane::Hand hand = shots.front()->hand;
  // The lane is drawn with its nominal width: each shot's boards on its own lane stay the boards they are.
  const auto at_board = [&](double board, double ft) {
    const double x = lane::XFromBoard(board, lane::kNominalWidth, hand);
    return Vector2d((kLeft + kRight) / 2 + x / lane::kNominalWidth * (kRight - kLeft),
                    kBottom - ft / kFar * (kBottom - kTop));
  };
  const double first = 0.5, last = lane::kBoards + 0.5;
  f.shapes.push_back(
      Area({at_board(first, 0), at_board(last, 0), at_board(last, kFar), at_board(first, kFar)}, Ink::kWood, 1));
  for (int b = 5; b < lane::kBoards; b += 5) {
    f.shapes.push_back(Line({at_board(b, 0), at_board(b, kFar)}, Ink::kGrid, b == 20 ? 1.6 : 0.8));
    f.shapes.push_back(Text(at_board(b, 0) + Vector2d(0, 12), std::to_string(b), 0, 11));
  }
  f.shapes.push_back(Text({(kLeft + kRight) / 2, kBottom + 30}, "board, counted from the own hand's edge", 0, 11));
  for (int ft = 0; ft <= 60; ft += 10) {
    f.shapes.push_back(
        Line({at_board(first, ft), at_board(last, ft)}, ft == 0 ? Ink::kText : Ink::kGrid, ft == 0 ? 2 : 0.8));
    const double left = std::min(at_board(first, ft).x(), at_board(last, ft).x());
    f.shapes.push_back(Text({left - 6, at_board(20, ft).y()}, std::to_string(ft) + " ft", 1, 11));
  }
  const lane::LaneSpec spec;
  for (int i = 0; i < 7; ++i) {
    const double board = lane::BoardFromX(spec.ArrowX(i), spec.width, hand);
    const Vector2d tip = at_board(board, FeetFromMetres(spec.arrow_tip_y[static_cast<std::size_t>(i)]));
    f.shapes.push_back(Area({tip, tip + Vector2d(-4, 12), tip + Vector2d(4, 12)}, Ink::kQuiet, 0.8));
  }
  for (const lane::Point2& pin : lane::PinSpots()) {
    const Vector2d p = at_board(lane::BoardFromX(pin.x, lane::kNominalWidth, hand), FeetFromMetres(pin.y));
    f.shapes.push_back(Area(MarkerOutline(0, p, 9), Ink::kQuiet, 1));
  }
  // Two labels of ends never stand on each other.
  std::vector<double> taken;
  const std::size_t pale = shots.size() > kShotInks ? shots.size() - kShotInks : 0;
  for (std::size_t i = 0; i < shots.size(); ++i) {
    const Shot& shot = *shots[i];
    const int ink = static_cast<int>((i - std::min(i, pale)) % kShotInks);
    std::vector<Vector2d> line, right, left;
    for (const PathPoint& p : shot.path) {
      const double ft = FeetFromMetres(p.y);
      if (ft < 0 || ft > kFar) continue;
      const double board = BoardOf(p, lane_width[i], shot.hand), sd = p.sd_x / lane::BoardWidth(lane_width[i]);
      line.push_back(at_board(board, ft));
      right.push_back(at_board(board - 2 * sd, ft));
      left.push_back(at_board(board + 2 * sd, ft));
    }
    if (line.size() < 2) continue;
    if (i < pale) {
      f.shapes.push_back(Line(std::move(line), Ink::kQuiet, 1));
      continue;
    }
    const bool strong = shots.size() == 1 || (strong_last && i + 1 == shots.size());
    f.shapes.push_back(OfShot(Area(Band(right, left), Ink::kShot, 0.3), ink));
    const Vector2d end = line.back();
    FigureShape path = OfShot(Line(std::move(line), Ink::kShot, strong ? 3 : 1.8), ink);
    path.dashed = true;
    f.shapes.push_back(std::move(path));
    const Measure &far = shot.measures[MeasureId::kBreakpointFt], &out = shot.measures[MeasureId::kBreakpointBoard];
    const bool one = shots.size() == 1;
    if (Given(far) && Given(out)) {
      const Vector2d p = at_board(*out.value, *far.value);
      f.shapes.push_back(Marker(p, ink, 9));
      if (one) {
        const Vector2d text(kRight + 6, p.y());
        f.shapes.push_back(Line({p, {kRight + 4, p.y()}}, Ink::kQuiet, 0.8));
        f.shapes.push_back(Text(text, ValueText(MeasureId::kBreakpointBoard, out), -1, 12, Ink::kText));
      }
    }
    const Measure& arrows = shot.measures[MeasureId::kBoardAtArrows];
    if (Given(arrows)) {
      const double y = spec.ArrowLineY(lane::XFromBoard(*arrows.value, spec.width, hand));
      const Vector2d p = at_board(*arrows.value, FeetFromMetres(y));
      f.shapes.push_back(Marker(p, ink, 9));
      if (one) {
        f.shapes.push_back(Line({p, {kRight + 4, p.y()}}, Ink::kQuiet, 0.8));
        f.shapes.push_back(Text({kRight + 6, p.y()}, ValueText(MeasureId::kBoardAtArrows, arrows), -1, 12, Ink::kText));
      }
    }
    if (shot.target.arrows_board) {
      const double y = spec.ArrowLineY(lane::XFromBoard(*shot.target.arrows_board, spec.width, hand));
      const Vector2d p = at_board(*shot.target.arrows_board, FeetFromMetres(y));
      for (const double s : {-1.0, 1.0})
        f.shapes.push_back(Line({p + Vector2d(-5, -5 * s), p + Vector2d(5, 5 * s)}, Ink::kText, 1.6));
    }
    if (one) {
      const Measure& entry = shot.measures[MeasureId::kEntryBoard];
      if (Given(entry)) {
        f.shapes.push_back(Line({end, {kRight + 4, end.y()}}, Ink::kQuiet, 0.8));
        f.shapes.push_back(Text({kRight + 6, end.y()}, ValueText(MeasureId::kEntryBoard, entry), -1, 12, Ink::kText));
      }
      continue;
    }
    // The nearest free place to the path's end, left or right of it.
    const auto is_free = [&](double x) {
      return x >= 10 && x <= f.width - 10 &&
             std::none_of(taken.begin(), taken.end(), [&](double t) { return std::abs(t - x) < 15; });
    };
    double x = end.x();
    for (double off = 0; off < f.width && !is_free(x); off += 1)
      x = is_free(end.x() + off) ? end.x() + off : end.x() - off;
    taken.push_back(x);
    f.shapes.push_back(Marker({x, 12}, ink, 8));
    f.shapes.push_back(Text({x, 25}, std::to_string(shot.number), 0, 11, Ink::kText));
    f.shapes.push_back(OfShot(Line({{x, 17}, {x, 19}}, Ink::kShot, 1), ink));
  }
  const bool target =
      std::any_of(shots.begin(), shots.end(), [](const Shot* s) { return bool(s->target.arrows_board); });
  f.caption =
      shots.size() == 1
          ? "Seen as the bowler sees it, pins at the top; boards are drawn wider than they are. The shade about "
            "the path is its doubt, two standard deviations each way. Marks: the board at the arrows, the "
            "breakpoint; at the top the board at the pins."
          : "The numbers at the top are the shots, each with its own colour, dash and mark; marks on a path are "
            "the board at the arrows and the breakpoint.";
  if (pale > 0) f.caption += " The last " + std::to_string(kShotInks) + " shots are strong, those before them grey.";
  if (target) f.caption += " A cross is the target at the arrows.";
  return f;
}

}  // namespace hookline::report
