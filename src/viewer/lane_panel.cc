#include "viewer/lane_panel.h"

#include <imgui.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "lane/units.h"
#include "report/number_text.h"
#include "viewer/lane_scene.h"
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
constexpr double kArrowsY = MetresFromFeet(14.5);  // of a what-if's handle, where motion/what_if.h turns the line

double InwardSign(lane::Hand hand) { return hand == lane::Hand::kRight ? -1 : 1; }

}  // namespace

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
      "What the lane's friction is by all shots of this ball: dark is slick, bright grips, faded is a guess.");
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

void LanePanel::DragWhatIf(const LaneScene& s, bool hovered) {
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
  // The sentence beneath may need two lines; how far the scales differ is known only when the room for them is.
  const auto caption_of = [&](const LaneView& v) {
    return WrappedAtBlanks(
        v.ScaleText() + "; boards from the " + (hand == lane::Hand::kRight ? "right" : "left") + " edge.", room.x);
  };
  const auto area_of = [&](double caption_lines) {
    const double bottom = corner.y + room.y - (caption_lines + (standing ? 1.5 : 1.35)) * line_height;
    return standing
               ? PanelRect{corner.x + 3.2 * em, corner.y + 1.3 * line_height, corner.x + room.x - 0.5 * em, bottom}
               : PanelRect{corner.x + 1.9 * em, corner.y + 0.2 * line_height, corner.x + room.x - 2.2 * em, bottom};
  };
  const auto fit = [&](const PanelRect& a) {
    return LaneView::Fit(a, standing, stretch_, kAcross[across_choice_].stretch, spec.width);
  };
  const auto lines_of = [](const std::string& text) {
    return 1.0 + static_cast<double>(std::count(text.begin(), text.end(), '\n'));
  };
  const PanelRect area = area_of(lines_of(caption_of(fit(area_of(1)))));
  const LaneView view = fit(area);
  const LaneScene scene{style, view, ImGui::GetWindowDrawList(), spec, hand};
  const ImVec2 low(static_cast<float>(area.left), static_cast<float>(area.top)),
      high(static_cast<float>(area.right), static_cast<float>(area.bottom));
  scene.list->PushClipRect(low, high, true);
  DrawLaneFloor(scene, layers_.friction ? news_.grid.get() : nullptr, layers_.balls ? news_.grid.get() : nullptr);
  scene.list->PopClipRect();
  DrawLaneRulers(scene);
  scene.list->PushClipRect(low, high, true);
  if (layers_.others)
    for (const ShownShot& s : in.shots)
      if (!s.chosen) DrawQuietPath(scene, s);
  for (const ShownShot& s : in.shots)
    if (s.chosen) DrawShotOnLane(scene, s, layers_.doubt);
  for (const ShownShot& s : in.shots)
    if (in.playing && in.time_s && s.id == *in.playing) DrawBallOnLane(scene, s, *in.time_s);
  if (layers_.what_if && news_.answer) DrawWhatIfPaths(scene, *news_.answer);
  scene.list->PopClipRect();
  DragWhatIf(scene, hovered);
  const std::string caption = caption_of(view);
  const ImVec2 size = ImGui::CalcTextSize(caption.c_str());
  scene.list->AddText({corner.x + std::max(0.0f, std::round((room.x - size.x) / 2)), corner.y + room.y - size.y},
                      style.quiet, caption.c_str());
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
    const std::string rests = "from " + std::to_string(news_.grid->shots) +
                              (news_.grid->shots == 1 ? " shot" : " shots") + "; faded: a guess";
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
  const auto slider = [&](const char* what, const char* unit, double* value, double most, int decimals,
                          const char* tip) {
    float v = static_cast<float>(*value);
    ImGui::PushID(what);
    ImGui::SetNextItemWidth(std::clamp(ImGui::GetContentRegionAvail().x - 11 * em, 4 * em, 9 * em));
    // The number stands beside it: on it the grip would hide it.
    if (ImGui::SliderFloat("##slider", &v, static_cast<float>(-most), static_cast<float>(most), "")) {
      const double steps = decimals > 0 ? 10 : 1;
      *value = std::round(static_cast<double>(v) * steps) / steps;
      changed = true;
    }
    TipForItem(style, tip);
    ImGui::SameLine();
    const std::string number = (*value > 0 ? "+" : "") + report::FixedText(*value, decimals);
    ImGui::TextUnformatted((std::string(what) + " " + number + " " + unit).c_str());
    ImGui::PopID();
  };
  slider("feet", "boards in", &feet_, 10, 1,
         "Boards inward with the feet; below 0 outward. Or drag the dot in the lane.");
  slider("eyes", "boards in", &eyes_, 10, 1,
         "Boards inward with the target at the arrows; below 0 outward. Or drag the dot in the lane.");
  slider("speed", "mph", &faster_mph_, 3, 1, "Faster off the hand; below 0 slower.");
  slider("turn", "deg", &turn_deg_, 30, 0, "More turn of the spin; below 0 less.");
  slider("revs", "rpm", &revs_rpm_, 100, 0, "More revs; below 0 less.");
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
