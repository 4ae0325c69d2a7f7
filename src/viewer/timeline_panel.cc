#include "viewer/timeline_panel.h"

#include <imgui.h>

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "viewer/panel_draw.h"

namespace hookline::viewer {
namespace {

// Each mark has a shape of its own, so that no colour is needed to tell them apart.
Marker ShapeOf(Mark mark) {
  switch (mark) {
    case Mark::kRelease:
      return Marker::kDisc;
    case Mark::kArrows:
      return Marker::kTriangle;
    case Mark::kBreakpoint:
      return Marker::kDiamond;
    default:
      return Marker::kSquare;
  }
}

}  // namespace

std::string TimeText(double time_s) {
  const long hundredths = std::lround(std::max(0.0, time_s) * 100);
  char text[32];
  std::snprintf(text, sizeof text, "%ld:%02ld.%02ld", hundredths / 6000, hundredths / 100 % 60, hundredths % 100);
  return text;
}

TimelineEvents TimelinePanel::Draw(const TimelineInputs& in) {
  TimelineEvents events;
  const Style& style = *in.style;
  const float em = style.em, width = ImGui::GetContentRegionAvail().x;
  const ImVec2 origin = ImGui::GetCursorScreenPos();
  const float left = origin.x + Inset(style), right = origin.x + width - Inset(style), bar_top = origin.y + 1.45f * em,
              bar_bottom = bar_top + 0.75f * em;
  const double length = std::max(1e-6, in.last_s - in.first_s);
  const auto x_of = [&](double t) {
    return left + static_cast<float>(std::clamp((t - in.first_s) / length, 0.0, 1.0)) * (right - left);
  };
  ImGui::InvisibleButton("timeline", {width, Height(style)});
  const bool hovered = ImGui::IsItemHovered();
  if (ImGui::IsItemActivated()) dragging_ = true;
  if (!ImGui::IsItemActive()) dragging_ = false;
  const float mouse = ImGui::GetIO().MousePos.x;
  if (dragging_) {
    double wish = in.first_s + std::clamp((mouse - left) / (right - left), 0.0f, 1.0f) * length;
    // A mark nearby is what is meant.
    for (const TimelineShot& shot : in.shots) {
      for (const TimelineMark& m : shot.marks) {
        if (std::abs(x_of(m.time_s) - mouse) < 0.3f * em && std::abs(x_of(wish) - x_of(m.time_s)) < 0.3f * em)
          wish = m.time_s;
      }
    }
    events.seek = wish;
  }
  ImDrawList* list = ImGui::GetWindowDrawList();
  list->AddRectFilled({left, bar_top}, {right, bar_bottom}, style.raised, 0.2f * em);
  if (in.loop) {
    list->AddRectFilled({x_of(in.loop->from_s), bar_bottom}, {x_of(in.loop->to_s), bar_bottom + 0.25f * em},
                        style.accent);
    for (const double t : {in.loop->from_s, in.loop->to_s})
      list->AddLine({x_of(t), bar_top}, {x_of(t), bar_bottom + 0.4f * em}, style.accent, 0.12f * em);
  }
  for (const TimelineShot& shot : in.shots) {
    const float a = x_of(shot.from_s), b = std::max(a + 0.3f * em, x_of(shot.to_s));
    list->AddRectFilled({a, bar_top}, {b, bar_bottom}, Faded(style.accent, shot.on_show ? 0.42 : 0.2), 0.2f * em);
    const std::string name = "Shot " + shot.name;
    const float text_width = ImGui::CalcTextSize(name.c_str()).x;
    const float text_at = std::clamp((a + b - text_width) / 2, left, std::max(left, right - text_width));
    list->AddText({text_at, origin.y}, shot.on_show ? style.text : style.quiet, name.c_str());
    if (hovered && ImGui::IsMouseClicked(0) && ImGui::GetIO().MousePos.y < bar_top && mouse >= text_at &&
        mouse <= text_at + text_width) {
      events.open = shot.id;
      events.seek.reset();
      dragging_ = false;
    }
    for (const TimelineMark& m : shot.marks) {
      const ImVec2 at{x_of(m.time_s), (bar_top + bar_bottom) / 2};
      DrawMarkerSign(list, at, ShapeOf(m.mark), 0.3f * em, m.by_hand ? style.by_hand : style.text, style.panel);
      if (hovered && std::abs(at.x - mouse) < 0.35f * em && !dragging_)
        ImGui::SetTooltip("%s%s, %s", std::string(MarkName(m.mark)).c_str(), m.by_hand ? ", set by hand" : "",
                          TimeText(m.time_s).c_str());
    }
  }
  const float now = x_of(in.position_s);
  list->AddRectFilled({now - 0.08f * em, bar_top - 0.25f * em}, {now + 0.08f * em, bar_bottom + 0.25f * em},
                      style.text);
  list->AddTriangleFilled({now - 0.35f * em, bar_top - 0.5f * em}, {now + 0.35f * em, bar_top - 0.5f * em},
                          {now, bar_top}, style.text);
  return events;
}

}  // namespace hookline::viewer
