#include "viewer/lane_scene.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include "lane/units.h"
#include "report/number_text.h"
#include "viewer/panel_draw.h"
#include "viewer/shot_marks.h"

namespace hookline::viewer {

using Eigen::Vector2d;
using lane::MetresFromFeet;

Ink FrictionInk(double mu, double alpha) {
  const double t = std::clamp(std::log(mu / kLowFriction) / std::log(kHighFriction / kLowFriction), 0.0, 1.0);
  const auto mix = [t](int a, int b) { return static_cast<int>(std::lround(a + t * (b - a))); };
  return Faded(MakeInk(mix(20, 250), mix(52, 222), mix(104, 164)), alpha);
}

void DrawLaneFloor(const LaneScene& s, const FrictionGrid* friction, const FrictionGrid* balls) {
  const double half = s.lane.width / 2, out = s.view.half_width(), from = s.view.shown().from_y,
               to = s.view.shown().to_y, begin = std::max(from, 0.0), end = std::min(to, lane::kPitY);
  const auto area = [&](double x0, double y0, double x1, double y1, Ink ink) {
    const ImVec2 a = s.Px(x0, y0), b = s.Px(x1, y1);
    s.list->AddRectFilled({std::min(a.x, b.x), std::min(a.y, b.y)}, {std::max(a.x, b.x), std::max(a.y, b.y)}, ink);
  };
  if (from < 0) area(-out, from, out, std::min(0.0, to), s.style.raised);  // the approach
  area(-out, begin, out, end, s.style.gutter);
  area(-half, begin, half, end, s.style.lane);
  const PanelRect rim = s.view.lane_rect();
  s.list->AddRect(At({rim.left, rim.top}), At({rim.right, rim.bottom}), s.style.line);
  if (friction) {
    const FrictionGrid& grid = *friction;
    const double board = lane::BoardWidth(s.lane.width);
    const ImDrawListFlags before = s.list->Flags;
    s.list->Flags &= ~ImDrawListFlags_AntiAliasedFill;
    for (int i = 0; i < FrictionGrid::kAcross; ++i)
      for (int j = 0; j < FrictionGrid::kAlong; ++j) {
        const FrictionGrid::Cell& cell = grid.At(i, j);
        // Half the number's own size of doubt, or more, is a guess.
        const double sure = std::clamp(1.15 - 1.6 * cell.sd / cell.value, 0.15, 1.0);
        const double x = -half + i * board;
        area(x, MetresFromFeet(j), x + board, MetresFromFeet(j + 1), FrictionInk(cell.value, sure));
      }
    s.list->Flags = before;
  }
  if (balls && balls->most_balls > 0) {
    const double board = lane::BoardWidth(s.lane.width);
    for (int i = 0; i < FrictionGrid::kAcross; ++i)
      for (int j = 0; j < FrictionGrid::kAlong; ++j) {
        const double share = balls->At(i, j).balls / balls->most_balls;
        if (share <= 0) continue;
        // Size, not colour: friction may lie beneath.
        const double x = -half + (i + 0.5) * board, y = MetresFromFeet(j + 0.5), grow = 0.4 * std::sqrt(share);
        area(x - grow * board, y - grow * MetresFromFeet(1), x + grow * board, y + grow * MetresFromFeet(1),
             Faded(s.style.over_line, 0.45));
      }
  }
}

void DrawLaneRulers(const LaneScene& s) {
  const float em = s.style.em;
  const double half = s.lane.width / 2;
  const Ink faint = Faded(s.style.text, 0.13), strong = Faded(s.style.text, 0.32);
  const double begin = std::max(s.view.shown().from_y, 0.0), end = std::min(s.view.shown().to_y, lane::kPitY);
  const double board_px = lane::BoardWidth(s.lane.width) * s.view.across_px_per_m();
  for (int b = 0; b <= lane::kBoards; ++b) {
    const bool edge = b == 0 || b == lane::kBoards;
    if (!edge && board_px < 0.22 * em) continue;
    const double x = -half + b * lane::BoardWidth(s.lane.width);
    s.list->AddLine(s.Px(x, begin), s.Px(x, end), edge ? strong : faint, 1);
  }
  const PanelRect rect = s.view.lane_rect();
  const bool standing = s.view.standing();
  const auto text_at = [&](const std::string& text, ImVec2 at, float share_x, float share_y, Ink ink) {
    const ImVec2 size = ImGui::CalcTextSize(text.c_str());
    s.list->AddText({std::round(at.x - share_x * size.x), std::round(at.y - share_y * size.y)}, ink, text.c_str());
  };
  // Boards, at both ends where both are in sight.
  const float line_height = ImGui::GetTextLineHeight();
  int step = s.view.BoardStep(standing ? 1.9 * em : 1.05 * line_height);
  // 5 times that of a board may still be too narrow for a line of text.
  if (!standing && step == 10 && 10 * board_px < 1.05 * line_height) step = 20;
  for (int b = step; b <= lane::kBoards; b += step) {
    const double x = lane::XFromBoard(b, s.lane.width, s.hand);
    const Vector2d low = s.view.PanelFromLane({x, s.view.shown().from_y}),
                   high = s.view.PanelFromLane({x, s.view.shown().to_y});
    if (step > 1) s.list->AddLine(s.Px(x, begin), s.Px(x, end), strong, 1);
    const std::string text = std::to_string(b);
    if (standing) {
      text_at(text, At(low), 0.5f, -0.15f, s.style.quiet);
      text_at(text, At(high), 0.5f, 1.15f, s.style.quiet);
    } else {
      text_at(text, {static_cast<float>(low.x()) - 0.35f * em, static_cast<float>(low.y())}, 1, 0.5f, s.style.quiet);
      text_at(text, {static_cast<float>(high.x()) + 0.35f * em, static_cast<float>(high.y())}, 0, 0.5f, s.style.quiet);
    }
  }
  // Feet.
  const int feet = s.view.FootStep(standing ? 1.3 * line_height : 2.2 * em);
  for (int ft = 0; ft <= 60; ft += feet) {
    const double y = MetresFromFeet(ft);
    if (y < s.view.shown().from_y || y > s.view.shown().to_y) continue;
    if (ft > 0) s.list->AddLine(s.Px(-half, y), s.Px(half, y), faint, 1);
    const Vector2d side = s.view.PanelFromLane({standing ? -s.view.half_width() : s.view.half_width(), y});
    const std::string text = std::to_string(ft) + (ft == 60 || (standing && ft == 0) ? " ft" : "");
    if (standing)
      text_at(text, {static_cast<float>(rect.left) - 0.4f * em, static_cast<float>(side.y())}, 1, 0.5f, s.style.quiet);
    else
      text_at(text, {static_cast<float>(side.x()), static_cast<float>(rect.bottom) + 0.15f * em}, 0.5f, 0,
              s.style.quiet);
  }
  // Foul line, arrows, pins.
  if (s.view.shown().from_y <= 0) s.list->AddLine(s.Px(-half, 0), s.Px(half, 0), s.style.text, 0.12f * em);
  for (int i = 0; i < 7; ++i) {
    const double x = s.lane.ArrowX(i), tip = s.lane.arrow_tip_y[static_cast<std::size_t>(i)];
    if (tip < begin || tip > end) continue;
    const ImVec2 at = s.Px(x, tip);
    const float w = 0.22f * em, l = 0.75f * em;
    if (standing)
      s.list->AddTriangleFilled(at, {at.x + w, at.y + l}, {at.x - w, at.y + l}, Faded(s.style.text, 0.6));
    else
      s.list->AddTriangleFilled(at, {at.x - l, at.y - w}, {at.x - l, at.y + w}, Faded(s.style.text, 0.6));
  }
  const double pin = lane::kPinMaxDiameter / 2;
  const float wide = static_cast<float>(pin * s.view.across_px_per_m()),
              deep = static_cast<float>(pin * s.view.along_px_per_m());
  for (const lane::Point2& spot : lane::PinSpots()) {
    if (spot.y > s.view.shown().to_y || spot.y < s.view.shown().from_y) continue;
    const float half_x = std::max(standing ? wide : deep, 2.0f), half_y = std::max(standing ? deep : wide, 2.0f);
    DrawEllipse(s.list, s.Px(spot.x, spot.y), half_x, half_y, MakeInk(250, 250, 246));
    DrawEllipse(s.list, s.Px(spot.x, spot.y), half_x, half_y, Faded(MakeInk(24, 32, 40), 0.8), 1);
  }
}

void DrawShotOnLane(const LaneScene& s, const ShownShot& shown, bool doubt) {
  const Shot& shot = *shown.shot;
  const float em = s.style.em;
  const SeriesLook look = LookOfSeries(s.style, static_cast<std::size_t>(shown.look));
  // On a lane of another width a place keeps its board.
  const double scale = s.lane.width / LaneOf(shown).width;
  const auto board_px = [&](MeasureId board, double y) -> std::optional<ImVec2> {
    const Measure& m = shot.measures[board];
    if (!report::Given(m)) return std::nullopt;
    return s.Px(lane::XFromBoard(*m.value, s.lane.width, shot.hand), y);
  };
  const auto ft_of = [&](MeasureId id) -> std::optional<double> {
    const Measure& m = shot.measures[id];
    return report::Given(m) ? std::optional<double>(MetresFromFeet(*m.value)) : std::nullopt;
  };
  // Rim under the line, so that it stands off wood, oil and other lines alike.
  const Ink rim = s.style.theme == Theme::kDark ? MakeInk(18, 24, 32, 150) : MakeInk(255, 255, 255, 170);
  std::vector<ImVec2> line, left, right;
  for (const PathPoint& p : shot.path) {
    line.push_back(s.Px(p.x * scale, p.y));
    left.push_back(s.Px((p.x - p.sd_x) * scale, p.y));
    right.push_back(s.Px((p.x + p.sd_x) * scale, p.y));
  }
  if (line.size() < 2) {
    // Without a path the places that were measured are all there is; dots between them are not a path.
    const double arrows = s.lane.ArrowLineY(0);
    if (const auto p = board_px(MeasureId::kLaydownBoard, ft_of(MeasureId::kLaydownFt).value_or(MetresFromFeet(1))))
      line.push_back(*p);
    if (const Measure& m = shot.measures[MeasureId::kBoardAtArrows]; report::Given(m)) {
      const double x = lane::XFromBoard(*m.value, s.lane.width, shot.hand);
      line.push_back(s.Px(x, s.lane.ArrowLineY(x)));
    } else if (const auto at_15 = board_px(MeasureId::kBoardAt15Ft, arrows)) {
      line.push_back(*at_15);
    }
    const auto breakpoint = ft_of(MeasureId::kBreakpointFt);
    const auto at_40 = board_px(MeasureId::kBoardAt40Ft, MetresFromFeet(40));
    if (at_40 && breakpoint && *breakpoint > MetresFromFeet(40)) line.push_back(*at_40);
    if (breakpoint)
      if (const auto p = board_px(MeasureId::kBreakpointBoard, *breakpoint)) line.push_back(*p);
    if (at_40 && !(breakpoint && *breakpoint > MetresFromFeet(40))) line.push_back(*at_40);
    if (const auto p = board_px(MeasureId::kEntryBoard, lane::kEntryY)) line.push_back(*p);
    DrawDashedLine(s.list, line, Faded(look.colour, 0.8), Dash::kDots, 0.12f * em, em);
    for (const ImVec2& p : line) DrawMarkerSign(s.list, p, look.marker, 0.22f * em, look.colour, rim);
  } else {
    if (doubt) DrawBand(s.list, left, right, Faded(look.colour, 0.35));
    DrawDashedLine(s.list, line, rim, look.dash, 0.26f * em, em);
    DrawDashedLine(s.list, line, look.colour, look.dash, 0.14f * em, em);
    if (const auto p = PlaceAtArrows(shot, s.lane))
      DrawMarkerSign(s.list, s.Px(p->x * scale, p->y), look.marker, 0.22f * em, look.colour, rim);
  }
  // Breakpoint and entry with their own doubt: the bars are one standard deviation either way.
  const auto bar = [&](const Vector2d& a, const Vector2d& b) {
    if (!doubt) return;
    s.list->AddLine(s.Px(a.x(), a.y()), s.Px(b.x(), b.y()), rim, 0.24f * em);
    s.list->AddLine(s.Px(a.x(), a.y()), s.Px(b.x(), b.y()), look.colour, 0.12f * em);
  };
  const double board = lane::BoardWidth(s.lane.width);
  const Measure &bp = shot.measures[MeasureId::kBreakpointBoard], &bp_ft = shot.measures[MeasureId::kBreakpointFt];
  if (report::Given(bp) && report::Given(bp_ft)) {
    const double x = lane::XFromBoard(*bp.value, s.lane.width, shot.hand), y = MetresFromFeet(*bp_ft.value);
    bar({x, y - MetresFromFeet(bp_ft.sd)}, {x, y + MetresFromFeet(bp_ft.sd)});
    bar({x - bp.sd * board, y}, {x + bp.sd * board, y});
    DrawMarkerSign(s.list, s.Px(x, y), look.marker, 0.34f * em, look.colour, rim);
  }
  const Measure& entry = shot.measures[MeasureId::kEntryBoard];
  if (report::Given(entry)) {
    const double x = lane::XFromBoard(*entry.value, s.lane.width, shot.hand);
    bar({x - entry.sd * board, lane::kEntryY}, {x + entry.sd * board, lane::kEntryY});
    DrawMarkerSign(s.list, s.Px(x, lane::kEntryY), look.marker, 0.34f * em, look.colour, rim);
  }
}

void DrawQuietPath(const LaneScene& s, const ShownShot& shown) {
  const double scale = s.lane.width / LaneOf(shown).width;
  std::vector<ImVec2> line;
  for (const PathPoint& p : shown.shot->path) line.push_back(s.Px(p.x * scale, p.y));
  DrawDashedLine(s.list, line, Faded(s.style.text, 0.28), Dash::kSolid, 0.07f * s.style.em, s.style.em);
}

void DrawBallOnLane(const LaneScene& s, const ShownShot& shown, double time_s) {
  const auto place = PlaceAtTime(*shown.shot, time_s);
  if (!place) return;
  const double radius = lane::kBallDiameter / 2;
  const float wide = static_cast<float>(radius * s.view.across_px_per_m()),
              deep = static_cast<float>(radius * s.view.along_px_per_m()), least = 0.3f * s.style.em;
  const ImVec2 at = s.Px(place->x * s.lane.width / LaneOf(shown).width, place->y);
  const float half_x = std::max(s.view.standing() ? wide : deep, least),
              half_y = std::max(s.view.standing() ? deep : wide, least);
  DrawEllipse(s.list, at, half_x, half_y, s.style.over_rim, 0.3f * s.style.em);
  DrawEllipse(s.list, at, half_x, half_y, s.style.accent, 0.16f * s.style.em);
}

void DrawWhatIfPaths(const LaneScene& s, const motion::WhatIfAnswer& answer) {
  const float em = s.style.em;
  const auto draw = [&](const std::vector<Vector2d>& path, Ink ink, Dash dash, float width) {
    std::vector<ImVec2> line;
    for (const Vector2d& p : path) line.push_back(s.Px(p.x(), p.y()));
    DrawDashedLine(s.list, line, s.style.over_rim, dash, (width + 0.16f) * em, em);
    DrawDashedLine(s.list, line, ink, dash, width * em, em);
  };
  draw(answer.before.path, s.style.over_line, Dash::kSolid, 0.1f);
  draw(answer.after.path, s.style.over_line, Dash::kLong, 0.24f);
  const motion::ValueAndSd& entry = answer.after.entry_board;
  if (std::isfinite(entry.value) && std::isfinite(entry.sd)) {
    const double board = lane::BoardWidth(s.lane.width), x = lane::XFromBoard(entry.value, s.lane.width, s.hand);
    const ImVec2 a = s.Px(x - entry.sd * board, lane::kEntryY), b = s.Px(x + entry.sd * board, lane::kEntryY);
    s.list->AddLine(a, b, s.style.over_rim, 0.5f * em);
    s.list->AddLine(a, b, s.style.over_line, 0.3f * em);
  }
}

}  // namespace hookline::viewer
