#include "viewer/lane_panel.h"

#include <imgui.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "lane/units.h"
#include "report/number_text.h"
#include "viewer/panel_draw.h"
#include "viewer/shot_marks.h"
#include "viewer/what_if_table.h"

namespace hookline::viewer {

using Eigen::Vector2d;
using lane::MetresFromFeet;

namespace {

struct AcrossChoice {
  const char* label;
  double stretch;
};
constexpr AcrossChoice kAcross[] = {
    {"As wide as fits", 0}, {"True to scale", 1}, {"2 times", 2}, {"5 times", 5}, {"10 times", 10}};
constexpr double kLowFriction = 0.03, kHighFriction = 0.25;
constexpr double kArrowsY = MetresFromFeet(14.5);  // of a what-if's handle, where motion/what_if.h turns the line

// Low friction is dark and blue, high is bright and sandy: brightness alone tells them apart.
Ink FrictionInk(double mu, double alpha) {
  const double t = std::clamp(std::log(mu / kLowFriction) / std::log(kHighFriction / kLowFriction), 0.0, 1.0);
  const auto mix = [t](int a, int b) { return static_cast<int>(std::lround(a + t * (b - a))); };
  return Faded(MakeInk(mix(20, 250), mix(52, 222), mix(104, 164)), alpha);
}

double InwardSign(lane::Hand hand) { return hand == lane::Hand::kRight ? -1 : 1; }

}  // namespace

struct LanePanel::Scene {
  const Style& style;
  const LaneView& view;
  ImDrawList* list;
  lane::LaneSpec lane;
  lane::Hand hand;
  ImVec2 Px(double x, double y) const { return At(view.PanelFromLane({x, y})); }
};

LanePanel::LanePanel(std::function<void()> wake) : wake_(std::move(wake)) {}

void LanePanel::AskAgain() {
  motion::Change change;
  change.feet_boards = feet_;
  change.eyes_boards = eyes_;
  change.speed = lane::MetresPerSecondFromMph(faster_mph_);
  change.turn = lane::RadiansFromDegrees(turn_deg_);
  change.revs = revs_rpm_ * lane::kPi / 30;
  runner_->Ask(change);
}

void LanePanel::DrawToolbar(const LaneInputs& in) {
  const Style& style = *in.style;
  const auto box = [&](const char* label, bool* on, const char* tip, bool first = false) {
    if (!first) SameLineIfFits(CheckboxWidth(label));
    ImGui::Checkbox(label, on);
    TipForItem(style, tip);
  };
  box("Other shots", &layers_.others, "Paths of the shots that are not chosen, drawn quietly.", true);
  box("Doubt", &layers_.doubt, "Bands of one standard deviation.");
  box("Friction", &layers_.friction,
      "What the lane's friction is by all shots of this ball: dark is slick, bright grips, pale is a guess.");
  box("Balls rolled", &layers_.balls, "How many balls have rolled within two boards of each place.");
  box("What if", &layers_.what_if, "Roll the chosen shots again with feet, eyes, speed or turn changed.");
  const float width = 9 * style.em;
  SameLineIfFits(width);
  ImGui::SetNextItemWidth(width);
  if (ImGui::BeginCombo("##across", kAcross[across_choice_].label)) {
    for (int i = 0; i < static_cast<int>(std::size(kAcross)); ++i)
      if (ImGui::Selectable(kAcross[i].label, i == across_choice_)) across_choice_ = i;
    ImGui::EndCombo();
  }
  TipForItem(style, "How wide the lane is drawn against its length.");
  if (!stretch_.whole()) {
    SameLineIfFits(ButtonWidth("Whole lane"));
    if (ImGui::Button("Whole lane")) stretch_ = LaneStretch{};
  }
}

void LanePanel::DrawLegend(const LaneInputs& in, LaneEvents* events) {
  const Style& style = *in.style;
  constexpr int kMost = 10;
  int count = 0, more = 0;
  for (const ShownShot& s : in.shots) {
    if (!s.chosen) continue;
    if (count >= kMost) {
      ++more;
      continue;
    }
    const std::string label = "shot " + s.name + (s.shot->ball.empty() ? "" : ", " + s.shot->ball);
    const float width =
        LookSampleWidth(style) + ImGui::GetStyle().ItemSpacing.x + ImGui::CalcTextSize(label.c_str()).x + style.em;
    if (count > 0) SameLineIfFits(width);
    LookSample(style, static_cast<std::size_t>(s.look));
    ImGui::SameLine();
    ImGui::PushID(s.id);
    ImGui::TextUnformatted(label.c_str());
    if (ImGui::IsItemClicked()) events->clicked = s.id;
    ImGui::PopID();
    ++count;
  }
  if (more > 0) {
    ImGui::SameLine();
    ImGui::TextUnformatted(("and " + std::to_string(more) + " more").c_str());
  }
}

void LanePanel::DrawFloor(const Scene& s) const {
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
  if (layers_.friction && news_.grid) {
    const FrictionGrid& grid = *news_.grid;
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
  if (layers_.balls && news_.grid && news_.grid->most_balls > 0) {
    const double board = lane::BoardWidth(s.lane.width);
    for (int i = 0; i < FrictionGrid::kAcross; ++i)
      for (int j = 0; j < FrictionGrid::kAlong; ++j) {
        const double share = news_.grid->At(i, j).balls / news_.grid->most_balls;
        if (share <= 0) continue;
        // Size, not colour: friction may lie beneath.
        const double x = -half + (i + 0.5) * board, y = MetresFromFeet(j + 0.5), grow = 0.48 * std::sqrt(share);
        area(x - grow * board, y - grow * MetresFromFeet(1), x + grow * board, y + grow * MetresFromFeet(1),
             Faded(s.style.theme == Theme::kDark ? s.style.text : s.style.ground, 0.55));
      }
  }
}

void LanePanel::DrawRulers(const Scene& s) const {
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

void LanePanel::DrawShot(const Scene& s, const ShownShot& shown) const {
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
    if (layers_.doubt) DrawBand(s.list, left, right, Faded(look.colour, 0.35));
    DrawDashedLine(s.list, line, rim, look.dash, 0.26f * em, em);
    DrawDashedLine(s.list, line, look.colour, look.dash, 0.14f * em, em);
    if (const auto p = PlaceAtArrows(shot, s.lane))
      DrawMarkerSign(s.list, s.Px(p->x * scale, p->y), look.marker, 0.22f * em, look.colour, rim);
  }
  // Breakpoint and entry with their own doubt: the bars are one standard deviation either way.
  const auto bar = [&](const Vector2d& a, const Vector2d& b) {
    if (!layers_.doubt) return;
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

void LanePanel::DrawShots(const Scene& s, const LaneInputs& in) const {
  if (layers_.others)
    for (const ShownShot& shown : in.shots) {
      if (shown.chosen) continue;
      const double scale = s.lane.width / LaneOf(shown).width;
      std::vector<ImVec2> line;
      for (const PathPoint& p : shown.shot->path) line.push_back(s.Px(p.x * scale, p.y));
      DrawDashedLine(s.list, line, Faded(s.style.text, 0.28), Dash::kSolid, 0.07f * s.style.em, s.style.em);
    }
  for (const ShownShot& shown : in.shots)
    if (shown.chosen) DrawShot(s, shown);
  if (!in.playing || !in.time_s) return;
  for (const ShownShot& shown : in.shots) {
    if (shown.id != *in.playing) continue;
    const auto place = PlaceAtTime(*shown.shot, *in.time_s);
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
}

void LanePanel::DrawWhatIfPaths(const Scene& s) {
  if (!layers_.what_if || !news_.answer) return;
  const float em = s.style.em;
  const auto draw = [&](const std::vector<Vector2d>& path, Ink ink, Dash dash) {
    std::vector<ImVec2> line;
    for (const Vector2d& p : path) line.push_back(s.Px(p.x(), p.y()));
    DrawDashedLine(s.list, line, s.style.over_rim, dash, 0.34f * em, em);
    DrawDashedLine(s.list, line, ink, dash, 0.18f * em, em);
  };
  draw(news_.answer->before.path, s.style.over_line, Dash::kSolid);
  draw(news_.answer->after.path, s.style.accent, Dash::kLong);
  const motion::ValueAndSd& entry = news_.answer->after.entry_board;
  if (std::isfinite(entry.value) && std::isfinite(entry.sd)) {
    const double board = lane::BoardWidth(s.lane.width), x = lane::XFromBoard(entry.value, s.lane.width, s.hand);
    const ImVec2 a = s.Px(x - entry.sd * board, lane::kEntryY), b = s.Px(x + entry.sd * board, lane::kEntryY);
    s.list->AddLine(a, b, s.style.over_rim, 0.5f * em);
    s.list->AddLine(a, b, s.style.accent, 0.3f * em);
  }
}

void LanePanel::DragWhatIf(const Scene& s, bool hovered) {
  const float em = s.style.em;
  const ImVec2 mouse = ImGui::GetIO().MousePos;
  const Vector2d place = s.view.LaneFromPanel({mouse.x, mouse.y});
  const bool pressed = hovered && ImGui::IsMouseClicked(ImGuiMouseButton_Left);
  if (dragging_ != Handle::kNone && !ImGui::IsMouseDown(ImGuiMouseButton_Left)) dragging_ = Handle::kNone;
  if (layers_.what_if && news_.answer && news_.answer->after.path.size() > 1) {
    const std::vector<Vector2d>& path = news_.answer->after.path;
    const auto at_y = [&](double y) {
      for (std::size_t i = 1; i < path.size(); ++i)
        if (path[i].y() >= y) {
          const double f = std::clamp((y - path[i - 1].y()) / std::max(path[i].y() - path[i - 1].y(), 1e-9), 0.0, 1.0);
          return Vector2d(path[i - 1] + f * (path[i] - path[i - 1]));
        }
      return path.back();
    };
    const struct {
      Handle handle;
      Vector2d at;
      const char* name;
      double* boards;
    } handles[] = {{Handle::kFeet, path.front(), "feet", &feet_}, {Handle::kEyes, at_y(kArrowsY), "eyes", &eyes_}};
    for (const auto& h : handles) {
      const ImVec2 at = At(s.view.PanelFromLane(h.at));
      const bool near = std::hypot(mouse.x - at.x, mouse.y - at.y) < 0.9f * em;
      const bool lit = dragging_ == h.handle || (dragging_ == Handle::kNone && hovered && near);
      s.list->AddCircleFilled(at, 0.5f * em, s.style.over_rim, 24);
      s.list->AddCircleFilled(at, 0.4f * em, s.style.accent, 24);
      s.list->AddCircleFilled(at, lit ? 0.26f * em : 0.18f * em, s.style.accent_text, 24);
      const ImVec2 size = ImGui::CalcTextSize(h.name);
      const ImVec2 label(at.x - size.x / 2, at.y - 0.7f * em - size.y);
      s.list->AddRectFilled({label.x - 0.2f * em, label.y}, {label.x + size.x + 0.2f * em, label.y + size.y},
                            Faded(s.style.panel, 0.85), 0.2f * em);
      s.list->AddText(label, s.style.text, h.name);
      if (lit) ImGui::SetMouseCursor(s.view.standing() ? ImGuiMouseCursor_ResizeEW : ImGuiMouseCursor_ResizeNS);
      if (pressed && near && dragging_ == Handle::kNone) {
        dragging_ = h.handle;
        drag_start_ = place.x();
        drag_value_ = *h.boards;
      }
      if (dragging_ == h.handle) {
        const double moved = InwardSign(s.hand) * (place.x() - drag_start_) / lane::BoardWidth(s.lane.width);
        // Tenths of a board: finer than anybody can stand.
        const double boards = std::clamp(std::round((drag_value_ + moved) * 10) / 10, -15.0, 15.0);
        if (boards != *h.boards) {
          *h.boards = boards;
          AskAgain();
        }
      }
    }
  }
  // The empty lane is dragged along itself; the wheel goes closer.
  if (pressed && dragging_ == Handle::kNone && !stretch_.whole()) {
    dragging_ = Handle::kLane;
    drag_start_ = place.y();
  }
  if (dragging_ == Handle::kLane) stretch_ = stretch_.Moved(drag_start_ - place.y());
  if (hovered && ImGui::GetIO().MouseWheel != 0)
    stretch_ = stretch_.Zoomed(std::pow(1.15, static_cast<double>(ImGui::GetIO().MouseWheel)), place.y());
}

void LanePanel::DrawLane(const LaneInputs& in, LaneEvents* events) {
  const Style& style = *in.style;
  const float em = style.em, line_height = ImGui::GetTextLineHeight();
  const ImVec2 corner = ImGui::GetCursorScreenPos(), room = ImGui::GetContentRegionAvail();
  if (room.x < 8 * em || room.y < 5 * em) return;
  ImGui::InvisibleButton("lane", room);
  const bool hovered = ImGui::IsItemHovered();
  const bool standing = room.y > 1.3f * room.x;
  const ShownShot* like = nullptr;
  for (const ShownShot& s : in.shots)
    if (s.chosen && !like) like = &s;
  if (!like && !in.shots.empty()) like = &in.shots.front();
  const lane::LaneSpec spec = like ? LaneOf(*like) : lane::LaneSpec{};
  const lane::Hand hand = like ? like->shot->hand : lane::Hand::kRight;
  const PanelRect area = standing ? PanelRect{corner.x + 3.2 * em, corner.y + 1.3 * line_height,
                                              corner.x + room.x - 0.5 * em, corner.y + room.y - 2.6 * line_height}
                                  : PanelRect{corner.x + 1.9 * em, corner.y + 0.2 * line_height,
                                              corner.x + room.x - 2.2 * em, corner.y + room.y - 2.5 * line_height};
  const LaneView view = LaneView::Fit(area, standing, stretch_, kAcross[across_choice_].stretch, spec.width);
  const Scene scene{style, view, ImGui::GetWindowDrawList(), spec, hand};
  const ImVec2 low(static_cast<float>(area.left), static_cast<float>(area.top)),
      high(static_cast<float>(area.right), static_cast<float>(area.bottom));
  scene.list->PushClipRect(low, high, true);
  DrawFloor(scene);
  scene.list->PopClipRect();
  DrawRulers(scene);
  scene.list->PushClipRect(low, high, true);
  DrawShots(scene, in);
  DrawWhatIfPaths(scene);
  scene.list->PopClipRect();
  DragWhatIf(scene, hovered);
  const std::string scale =
      view.ScaleText() + "; boards from the " + (hand == lane::Hand::kRight ? "right" : "left") + " edge.";
  const ImVec2 size = ImGui::CalcTextSize(scale.c_str());
  // Where the panel is too narrow for it the sentence is cut at a word by the tooltip's width below.
  scene.list->AddText({corner.x + std::max(0.0f, (room.x - size.x) / 2), corner.y + room.y - 1.1f * line_height},
                      style.quiet, scale.c_str());
  if (!hovered || dragging_ != Handle::kNone) return;
  // What is under the pointer.
  const ImVec2 mouse = ImGui::GetIO().MousePos;
  const ShownShot* nearest = nullptr;
  double least = 0.6 * em;
  for (const ShownShot& s : in.shots) {
    if (!s.chosen && !layers_.others) continue;
    const double keep = s.lane_setup ? spec.width / LaneOf(s).width : 1.0;
    std::vector<Vector2d> line;
    for (const PathPoint& p : s.shot->path) line.push_back(view.PanelFromLane({p.x * keep, p.y}));
    const double away = DistanceToLine({mouse.x, mouse.y}, line);
    if (away < least) {
      least = away;
      nearest = &s;
    }
  }
  const Vector2d place = view.LaneFromPanel({mouse.x, mouse.y});
  const double ft = lane::FeetFromMetres(place.y());
  if (nearest) {
    const Shot& shot = *nearest->shot;
    const double width = LaneOf(*nearest).width;
    ImGui::BeginTooltip();
    ImGui::TextUnformatted(("Shot " + nearest->name + " at " + report::FixedText(ft, 1) + " ft").c_str());
    for (const PlotKind kind : {PlotKind::kBoard, PlotKind::kSpeed, PlotKind::kAngle})
      if (const std::string text = PointText(SeriesOf(shot, kind, width), kind, ft); !text.empty())
        ImGui::TextUnformatted((kind == PlotKind::kAngle ? "inward " + text : text).c_str());
    ImGui::EndTooltip();
    if (ImGui::IsMouseClicked(ImGuiMouseButton_Left)) {
      events->clicked = nearest->id;
      if (const auto at = PlaceAtY(shot, place.y())) events->seek = SeekWish{nearest->id, at->time_s};
    }
  } else if (std::abs(place.x()) <= spec.width / 2 && ft >= 0 && ft <= 60 && (layers_.friction || layers_.balls) &&
             news_.grid) {
    const int i = std::clamp(static_cast<int>((place.x() + spec.width / 2) / lane::BoardWidth(spec.width)), 0,
                             FrictionGrid::kAcross - 1),
              j = std::clamp(static_cast<int>(ft), 0, FrictionGrid::kAlong - 1);
    const FrictionGrid::Cell& cell = news_.grid->At(i, j);
    ImGui::BeginTooltip();
    ImGui::TextUnformatted(("Board " + report::FixedText(lane::BoardFromX(place.x(), spec.width, hand), 0) + ", " +
                            report::FixedText(ft, 0) + " ft")
                               .c_str());
    ImGui::TextUnformatted(FrictionText(cell.value, cell.sd).c_str());
    ImGui::TextUnformatted(("balls rolled here: " + report::FixedText(cell.balls, 0)).c_str());
    ImGui::EndTooltip();
  }
}

void LanePanel::DrawLayerKey(const LaneInputs& in) {
  const Style& style = *in.style;
  const float em = style.em;
  if (!layers_.friction && !layers_.balls) return;
  if (!news_.grid) {
    QuietText(style, news_.busy              ? "The lane's friction is being worked out …"
                     : news_.missing.empty() ? "Choose a shot to see the lane by its ball."
                                             : news_.missing);
    return;
  }
  if (layers_.friction) {
    const std::string low = "slick " + report::FixedText(kLowFriction, 2),
                      high = report::FixedText(kHighFriction, 2) + " grips";
    ImGui::TextUnformatted(low.c_str());
    ImGui::SameLine();
    const ImVec2 corner = ImGui::GetCursorScreenPos();
    const float width = 6 * em, height = ImGui::GetTextLineHeight();
    ImGui::Dummy({width, height});
    constexpr int kSteps = 24;
    for (int i = 0; i < kSteps; ++i) {
      const float x = corner.x + width * static_cast<float>(i) / kSteps;
      const double mu = kLowFriction * std::pow(kHighFriction / kLowFriction, (i + 0.5) / kSteps);
      ImGui::GetWindowDrawList()->AddRectFilled({x, corner.y}, {x + width / kSteps + 1, corner.y + height},
                                                FrictionInk(mu, 1));
    }
    ImGui::SameLine();
    ImGui::TextUnformatted(high.c_str());
    const std::string rests =
        "from " + std::to_string(news_.grid->shots) + (news_.grid->shots == 1 ? " shot" : " shots") + "; pale: a guess";
    SameLineIfFits(ImGui::CalcTextSize(rests.c_str()).x);
    QuietText(style, rests);
  }
  if (layers_.balls) {
    const std::string text = "Balls rolled: larger squares, up to " + report::FixedText(news_.grid->most_balls, 0);
    if (layers_.friction) SameLineIfFits(ImGui::CalcTextSize(text.c_str()).x);
    QuietText(style, text);
  }
}

void LanePanel::DrawWhatIfControls(const LaneInputs& in) {
  const Style& style = *in.style;
  const float em = style.em;
  if (!news_.missing.empty()) {
    EmptyState(style, "Nothing to roll again", news_.missing);
    return;
  }
  QuietText(style, news_.about);
  bool changed = false;
  const auto slider = [&](const char* label, double* value, double most, const char* format, const char* tip) {
    float v = static_cast<float>(*value);
    ImGui::SetNextItemWidth(std::min(8 * em, ImGui::GetContentRegionAvail().x - 8 * em));
    if (ImGui::SliderFloat(label, &v, static_cast<float>(-most), static_cast<float>(most), format)) {
      *value = std::round(static_cast<double>(v) * 10) / 10;
      changed = true;
    }
    TipForItem(style, tip);
  };
  slider("feet, boards in", &feet_, 10, "%.1f",
         "Boards inward with the feet; below 0 outward. Or drag the dot in the lane.");
  slider("eyes, boards in", &eyes_, 10, "%.1f",
         "Boards inward with the target at the arrows. Or drag the dot in the lane.");
  slider("faster, mph", &faster_mph_, 3, "%.1f", "Off the hand; below 0 slower.");
  slider("more turn, deg", &turn_deg_, 30, "%.0f", "Of the spin's direction; below 0 less.");
  slider("more revs, rpm", &revs_rpm_, 100, "%.0f", "Below 0 less.");
  if (ImGui::Button("As it was")) {
    feet_ = eyes_ = faster_mph_ = turn_deg_ = revs_rpm_ = 0;
    changed = true;
  }
  if (changed) AskAgain();
  if (news_.busy && !news_.answer) {
    QuietText(style, "Working …");
    return;
  }
  if (!news_.answer) return;
  constexpr ImGuiTableFlags kFlags = ImGuiTableFlags_RowBg | ImGuiTableFlags_SizingFixedFit;
  if (ImGui::BeginTable("what-if", 3, kFlags)) {
    ImGui::TableSetupColumn("");
    ImGui::TableSetupColumn("rolled");
    ImGui::TableSetupColumn("changed");
    ImGui::TableHeadersRow();
    for (const WhatIfRow& row : WhatIfTable(*news_.answer)) {
      ImGui::TableNextRow();
      for (const std::string* text : {&row.label, &row.before, &row.after}) {
        ImGui::TableNextColumn();
        ImGui::TextUnformatted(text->c_str());
      }
    }
    ImGui::EndTable();
  }
  for (const std::string& note : WhatIfNotes(*news_.answer, news_.grid ? news_.grid->shots : 0,
                                             faster_mph_ != 0 || turn_deg_ != 0 || revs_rpm_ != 0))
    QuietText(style, note);
}

LaneEvents LanePanel::Draw(const LaneInputs& in) {
  LaneEvents events;
  const Style& style = *in.style;
  if (in.shots.empty()) {
    EmptyState(style, "The lane from above", "Open a clip or a result file; the paths of its shots are drawn here.");
    return events;
  }
  if (layers_.what_if || layers_.friction || layers_.balls) {
    if (!runner_) runner_ = std::make_unique<WhatIfRunner>(wake_);
    WhatIfChoice choice = ChooseForWhatIf(in.shots);
    const std::uint64_t key = choice.key;
    runner_->SetShots(std::move(choice));
    if (layers_.what_if && (!asked_ || asked_key_ != key)) {
      asked_ = true;
      asked_key_ = key;
      AskAgain();
    }
    news_ = runner_->Look();
  }
  DrawToolbar(in);
  DrawLegend(in, &events);
  DrawLayerKey(in);
  const float em = style.em;
  const ImVec2 room = ImGui::GetContentRegionAvail();
  if (!layers_.what_if) {
    DrawLane(in, &events);
    return events;
  }
  const bool beside = room.x >= 44 * em || room.y < 30 * em;
  const float controls_width = std::min(22 * em, 0.45f * room.x), controls_height = std::min(20 * em, 0.5f * room.y);
  const ImVec2 lane_size = beside ? ImVec2(room.x - controls_width - ImGui::GetStyle().ItemSpacing.x, room.y)
                                  : ImVec2(room.x, room.y - controls_height - ImGui::GetStyle().ItemSpacing.y);
  ImGui::BeginChild("lane area", lane_size, false, ImGuiWindowFlags_NoScrollbar | ImGuiWindowFlags_NoScrollWithMouse);
  DrawLane(in, &events);
  ImGui::EndChild();
  if (beside) ImGui::SameLine();
  ImGui::BeginChild("what-if controls", beside ? ImVec2(0, room.y) : ImVec2(0, controls_height));
  DrawWhatIfControls(in);
  ImGui::EndChild();
  return events;
}

}  // namespace hookline::viewer
