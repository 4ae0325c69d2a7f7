#include "viewer/picture_panel.h"

#include <imgui.h>

#include <algorithm>
#include <cmath>

#include "viewer/panel_draw.h"

namespace hookline::viewer {
namespace {

// The pieces of a line between points that are empty.
template <typename F>
void Pieces(const PixelLine& line, const PictureMap& map, F draw) {
  std::vector<ImVec2> piece;
  const auto flush = [&] {
    if (piece.size() > 1) draw(piece);
    piece.clear();
  };
  for (const MaybePixel& p : line) {
    if (p) {
      piece.push_back(At(map.WindowFromPicture(*p)));
    } else {
      flush();
    }
  }
  flush();
}

void Rimmed(ImDrawList* list, const std::vector<ImVec2>& line, Ink ink, Ink rim, float width) {
  const int n = static_cast<int>(line.size());
  list->AddPolyline(line.data(), n, rim, 0, width * 2.1f);
  list->AddPolyline(line.data(), n, ink, 0, width);
}

void RimmedText(ImDrawList* list, ImVec2 at, Ink ink, Ink rim, const std::string& text, float em) {
  const float r = std::max(1.0f, em / 14);
  for (const ImVec2 d : {ImVec2(-r, 0), ImVec2(r, 0), ImVec2(0, -r), ImVec2(0, r)})
    list->AddText({at.x + d.x, at.y + d.y}, rim | 0xff000000U, text.c_str());
  list->AddText(at, ink, text.c_str());
}

}  // namespace

void PicturePanel::ZoomBy(double factor) {
  if (!map_) return;
  const Eigen::Vector4d r = map_->window_rect();
  zoom_ = PictureMap::Zoomed(*map_, zoom_, factor, {(r[0] + r[2]) / 2, (r[1] + r[3]) / 2});
}

PictureEvents PicturePanel::Draw(const PictureInputs& in) {
  PictureEvents events;
  const Style& style = *in.style;
  const ImVec2 origin = ImGui::GetCursorScreenPos(), room = ImGui::GetContentRegionAvail();
  if (room.x < 2 * style.em || room.y < 2 * style.em) return events;
  ImDrawList* list = ImGui::GetWindowDrawList();
  const ImVec2 end(origin.x + room.x, origin.y + room.y);
  constexpr Ink kAround = MakeInk(12, 14, 17);
  if (!in.video || in.width <= 0) {
    map_.reset();
    list->AddRectFilled(origin, end, kAround);
    if (!in.waiting.empty()) EmptyState(style, in.waiting, "");
    return events;
  }
  ImGui::InvisibleButton("picture", room, ImGuiButtonFlags_MouseButtonLeft | ImGuiButtonFlags_MouseButtonMiddle);
  const bool hovered = ImGui::IsItemHovered(), active = ImGui::IsItemActive();
  events.focused = ImGui::IsItemActivated();
  std::optional<CameraModel> lens;
  if (in.straighten && in.setup) lens = in.setup->camera;
  map_.emplace(origin.x, origin.y, room.x, room.y, in.width, in.height, zoom_, lens);
  const ImGuiIO& io = ImGui::GetIO();
  const Eigen::Vector2d mouse(io.MousePos.x, io.MousePos.y);
  if (hovered && io.MouseWheel != 0) zoom_ = PictureMap::Zoomed(*map_, zoom_, std::pow(1.2, io.MouseWheel), mouse);
  if (active && dragged_.empty() && (io.MouseDelta.x != 0 || io.MouseDelta.y != 0)) {
    zoom_ = PictureMap::Moved(*map_, zoom_, {io.MouseDelta.x, io.MouseDelta.y});
    moved_ = true;
  }
  list->PushClipRect(origin, end, true);
  in.video->Draw(*list, *map_, kAround);
  const Rows ruler = in.setup ? DrawLane(in, *map_) : Rows();
  for (const PictureShot& shot : in.shots) DrawShot(in, *map_, shot, ruler);
  Handles(in, *map_, hovered, &events);
  const float em = style.em;
  RimmedText(list, {origin.x + 0.6f * em, origin.y + 0.4f * em}, style.over_line, style.over_rim, in.caption, em);
  if (!in.note.empty())
    RimmedText(list, {origin.x + 0.6f * em, origin.y + 1.6f * em}, style.over_line, style.over_rim, in.note, em);
  list->PopClipRect();
  return events;
}

PicturePanel::Rows PicturePanel::DrawLane(const PictureInputs& in, const PictureMap& map) const {
  const Style& style = *in.style;
  ImDrawList* list = ImGui::GetWindowDrawList();
  const LaneLines lines = LinesOfLane(*in.setup, in.motion, in.hand);
  const float em = style.em;
  if (in.drawn.lane) {
    for (const PixelLine& edge : lines.edges) {
      Pieces(edge, map, [&](const std::vector<ImVec2>& p) {
        list->AddPolyline(p.data(), static_cast<int>(p.size()), Faded(style.over_line, 0.7), 0, em / 14);
      });
    }
    for (const PixelLine& arrow : lines.arrows) {
      Pieces(arrow, map,
             [&](const std::vector<ImVec2>& p) { Rimmed(list, p, style.over_line, style.over_rim, em / 12); });
    }
  }
  if (!in.drawn.ruler) return {};
  Pieces(lines.ruler, map,
         [&](const std::vector<ImVec2>& p) { Rimmed(list, p, style.over_line, style.over_rim, em / 14); });
  if (lines.ticks.empty()) return {};
  Rows rows{1e9f, 0};
  const double board = lines.ticks[lines.ticks.size() / 2].board_px * map.scale();
  const auto apart = [&](int boards) { return boards * board > 1.7 * em; };
  const int numbered = apart(5) ? 5 : apart(10) ? 10 : 20;
  for (const RulerTick& tick : lines.ticks) {
    const bool fifth = tick.board % 5 == 0;
    if (!fifth && board < em / 4) continue;
    const ImVec2 at = At(map.WindowFromPicture(tick.at));
    const float length = (fifth ? 0.45f : 0.2f) * em;
    list->AddLine(at, {at.x, at.y + length}, style.over_line, em / 14);
    if (tick.board % numbered != 0) continue;
    const std::string text = std::to_string(tick.board);
    RimmedText(list, {at.x - ImGui::CalcTextSize(text.c_str()).x / 2, at.y + length}, style.over_line, style.over_rim,
               text, em);
    rows = {std::min(rows.top, at.y), std::max(rows.bottom, at.y + length + em)};
  }
  return rows;
}

void PicturePanel::DrawShot(const PictureInputs& in, const PictureMap& map, const PictureShot& shot,
                            const Rows& ruler) const {
  const Style& style = *in.style;
  ImDrawList* list = ImGui::GetWindowDrawList();
  const float em = style.em, width = (shot.on_show ? 0.2f : 0.13f) * em;
  const Ink ink = shot.look.colour;
  const ShotLines lines = in.setup ? LinesOfShot(*shot.shot, shot.lane_width, *in.setup, in.motion, shot.time_s)
                                   : LinesWithoutCamera(*shot.shot, shot.time_s);
  if (in.drawn.band && lines.band_left.size() == lines.band_right.size()) {
    std::vector<ImVec2> left, right;
    for (std::size_t i = 0; i < lines.band_left.size(); ++i) {
      if (!lines.band_left[i] || !lines.band_right[i]) continue;
      left.push_back(At(map.WindowFromPicture(*lines.band_left[i])));
      right.push_back(At(map.WindowFromPicture(*lines.band_right[i])));
    }
    DrawBand(list, left, right, Faded(ink, 0.35));
  }
  if (in.drawn.path) {
    // What is still to come is thin; what has been is strong and in the shot's own dash.
    Pieces(lines.whole, map, [&](const std::vector<ImVec2>& p) {
      list->AddPolyline(p.data(), static_cast<int>(p.size()), Faded(ink, 0.65), 0, 0.08f * em);
    });
    Pieces(lines.so_far, map, [&](const std::vector<ImVec2>& p) {
      list->AddPolyline(p.data(), static_cast<int>(p.size()), style.over_rim, 0, 1.8f * width);
      DrawDashedLine(list, p, ink, shot.look.dash, width, em);
    });
  }
  const auto sign = [&](const LabelledPlace& place, Marker marker, float side) {
    const ImVec2 at = At(map.WindowFromPicture(place.at));
    DrawMarkerSign(list, at, marker, 0.36f * em, place.passed ? ink : Faded(ink, 0.55), style.over_rim);
    if (!shot.on_show || !place.passed) return;
    const float text = ImGui::CalcTextSize(place.text.c_str()).x;
    RimmedText(list, {side > 0 ? at.x + 0.7f * em : at.x - 0.7f * em - text, at.y - 0.5f * em}, style.over_line,
               style.over_rim, place.text, em);
  };
  const float outward = shot.shot->hand == lane::Hand::kRight ? 1.0f : -1.0f;
  if (in.drawn.places) {
    if (lines.arrows) sign(*lines.arrows, Marker::kTriangle, outward);
    if (lines.breakpoint) sign(*lines.breakpoint, Marker::kDiamond, outward);
  }
  if (in.drawn.speed && shot.on_show) {
    float last_y = 1e9f;
    for (const LabelledPlace& place : lines.speeds) {
      const ImVec2 at = At(map.WindowFromPicture(place.at));
      // Far down the lane the labels would lie on each other.
      if (!place.passed || last_y - at.y < 1.2f * em) continue;
      if (at.y + 0.6f * em > ruler.top && at.y - 0.6f * em < ruler.bottom) continue;
      last_y = at.y;
      const float text = ImGui::CalcTextSize(place.text.c_str()).x;
      list->AddLine({at.x - outward * 0.4f * em, at.y}, {at.x - outward * 1.2f * em, at.y}, style.over_line, em / 12);
      RimmedText(list, {outward > 0 ? at.x - 1.4f * em - text : at.x + 1.4f * em, at.y - 0.5f * em}, style.over_line,
                 style.over_rim, place.text, em);
    }
  }
  if (in.drawn.ball && lines.ball) {
    const ImVec2 at = At(map.WindowFromPicture(lines.ball->centre));
    const auto radius = static_cast<float>(lines.ball->radius_px * map.scale());
    list->AddCircle(at, radius, style.over_rim, 0, 0.2f * em);
    list->AddCircle(at, radius, lines.ball->seen ? style.over_line : Faded(style.over_line, 0.6), 0, 0.1f * em);
  }
}

void PicturePanel::Handles(const PictureInputs& in, const PictureMap& map, bool hovered, PictureEvents* events) {
  const Style& style = *in.style;
  const float em = style.em;
  const ImGuiIO& io = ImGui::GetIO();
  const Eigen::Vector2d mouse(io.MousePos.x, io.MousePos.y);
  ImDrawList* list = ImGui::GetWindowDrawList();
  const PictureHandle* under = nullptr;
  double nearest = 0.9 * em;
  for (const PictureHandle& h : in.handles) {
    const double away = (map.WindowFromPicture(h.at) - mouse).norm();
    if (hovered && away < nearest) nearest = away, under = &h;
  }
  if (ImGui::IsItemActivated()) moved_ = false;
  if (under && ImGui::IsItemActivated()) {
    dragged_ = under->name;
    // Where it was gripped beside its middle, it does not jump.
    grip_ = map.WindowFromPicture(under->at) - mouse;
    events->drag = HandleDrag{dragged_, under->at, true, false};
  } else if (!dragged_.empty()) {
    const bool ended = !ImGui::IsItemActive();
    if (ended || io.MouseDelta.x != 0 || io.MouseDelta.y != 0)
      events->drag = HandleDrag{dragged_, map.PictureFromWindow(mouse + grip_), false, ended};
    if (ended) dragged_.clear();
  } else if (ImGui::IsItemDeactivated() && !moved_) {
    events->clicked = map.PictureFromWindow(mouse);
  }
  for (const PictureHandle& h : in.handles) {
    const ImVec2 at = At(map.WindowFromPicture(h.at));
    const bool live = h.name == dragged_ || (dragged_.empty() && under == &h);
    const Ink ink = h.by_hand ? style.by_hand : style.over_line;
    const float size = (live ? 0.75f : 0.55f) * em;
    list->AddCircle(at, size, style.over_rim, 0, 0.24f * em);
    list->AddCircle(at, size, ink, 0, 0.12f * em);
    list->AddLine({at.x - size, at.y}, {at.x - size / 3, at.y}, ink, 0.1f * em);
    list->AddLine({at.x + size / 3, at.y}, {at.x + size, at.y}, ink, 0.1f * em);
    list->AddLine({at.x, at.y - size}, {at.x, at.y - size / 3}, ink, 0.1f * em);
    list->AddLine({at.x, at.y + size / 3}, {at.x, at.y + size}, ink, 0.1f * em);
    const std::string text = h.label + (h.by_hand ? ", by hand" : "");
    if (live || h.by_hand) RimmedText(list, {at.x + size + 0.2f * em, at.y - 0.5f * em}, ink, style.over_rim, text, em);
  }
}

}  // namespace hookline::viewer
