#include "viewer/plots_panel.h"

#include <imgui.h>

#include <algorithm>
#include <cmath>

#include "lane/units.h"
#include "report/number_text.h"
#include "viewer/panel_draw.h"
#include "viewer/shot_marks.h"

namespace hookline::viewer {
namespace {

constexpr PlotKind kKinds[] = {PlotKind::kSpeed, PlotKind::kBoard, PlotKind::kAngle};
constexpr const char* kShowLabels[] = {"Speed", "Board", "Angle"};
constexpr double kMostFt = 60;

std::optional<double> PlayedFt(const PlotsInputs& in) {
  if (!in.playing || !in.time_s) return std::nullopt;
  for (const ShownShot& s : in.shots)
    if (s.id == *in.playing)
      if (const auto place = PlaceAtTime(*s.shot, *in.time_s)) return lane::FeetFromMetres(place->y);
  return std::nullopt;
}

}  // namespace

const std::vector<PlotSeries>& PlotsPanel::SeriesFor(const ShownShot& shown) {
  const Shot& shot = *shown.shot;
  // What a series is made of: places at both ends and in the middle stand for the path, which is fitted as a whole.
  std::vector<double> key = {LaneOf(shown).width, shot.hand == lane::Hand::kRight ? 0.0 : 1.0,
                             static_cast<double>(shot.path.size())};
  if (!shot.path.empty())
    for (const std::size_t i : {std::size_t{0}, shot.path.size() / 3, shot.path.size() / 2, shot.path.size() - 1})
      key.insert(key.end(), {shot.path[i].time_s, shot.path[i].x, shot.path[i].y, shot.path[i].sd_x,
                             shot.path[i].speed.value_or(-1), shot.path[i].sd_speed, shot.path[i].sd_angle});
  for (const MeasureId id : {MeasureId::kSpeedReleaseMph, MeasureId::kSpeedArrowsMph, MeasureId::kSpeedEntryMph,
                             MeasureId::kLaunchAngleDeg, MeasureId::kEntryAngleDeg})
    key.push_back(report::Given(shot.measures[id]) ? shot.measures[id].sd : -1.0);
  auto kept = std::find_if(kept_.begin(), kept_.end(), [&](const Kept& k) { return k.id == shown.id; });
  if (kept == kept_.end()) kept = kept_.insert(kept_.end(), Kept{shown.id, {}, {}, true});
  kept->used = true;
  if (kept->key != key) {
    kept->series.clear();
    for (const PlotKind kind : kKinds) kept->series.push_back(SeriesOf(shot, kind, LaneOf(shown).width));
    kept->key = std::move(key);
  }
  return kept->series;
}

void PlotsPanel::DrawPlot(const PlotsInputs& in, PlotKind kind, const std::vector<Plotted>& plotted, float height,
                          PlotsEvents* events) {
  const Style& style = *in.style;
  const float em = style.em, line_height = ImGui::GetTextLineHeight();
  const std::size_t k = static_cast<std::size_t>(kind);
  std::vector<PlotSeries> all;
  for (const Plotted& p : plotted) all.push_back(p.series[k]);
  const ImVec2 corner = ImGui::GetCursorScreenPos();
  const float width = ImGui::GetContentRegionAvail().x;
  ImGui::PushID(static_cast<int>(k));
  ImGui::InvisibleButton("plot", {std::max(width, 1.0f), std::max(height, 1.0f)});
  ImGui::PopID();
  const bool hovered = ImGui::IsItemHovered(), clicked = ImGui::IsItemClicked();
  ImDrawList* list = ImGui::GetWindowDrawList();
  const float left = corner.x + 2.6f * em, right = corner.x + width - 0.8f * em,
              top = corner.y + line_height + 0.5f * em, bottom = corner.y + height - line_height - 0.4f * em;
  if (right - left < 4 * em || bottom - top < 2 * em) return;
  const int steps = std::clamp(static_cast<int>((bottom - top) / (1.6f * line_height)), 2, 8);
  const PlotAxis axis = AxisFor(all, steps);
  const auto x_of = [&](double ft) { return left + static_cast<float>(ft / kMostFt) * (right - left); };
  // Boards rise towards the other hand, upwards; the other readings rise upwards too.
  const auto y_of = [&](double v) {
    return bottom - static_cast<float>((v - axis.low) / (axis.high - axis.low)) * (bottom - top);
  };
  list->AddText({corner.x, corner.y}, style.text, std::string(PlotTitle(kind)).c_str());
  for (double v = axis.low; v <= axis.high + 0.5 * axis.step; v += axis.step) {
    const std::string text = axis.Text(v);
    const ImVec2 size = ImGui::CalcTextSize(text.c_str());
    list->AddLine({left, y_of(v)}, {right, y_of(v)}, Faded(style.line, 0.6), 1);
    list->AddText({left - size.x - 0.4f * em, y_of(v) - size.y / 2}, style.quiet, text.c_str());
  }
  const int foot_step = right - left > 30 * em ? 5 : 10;
  for (int ft = 0; ft <= static_cast<int>(kMostFt); ft += foot_step) {
    const std::string text = std::to_string(ft) + (ft == static_cast<int>(kMostFt) ? " ft" : "");
    const ImVec2 size = ImGui::CalcTextSize(text.c_str());
    list->AddLine({x_of(ft), top}, {x_of(ft), bottom}, Faded(style.line, 0.35), 1);
    list->AddText({std::min(x_of(ft) - size.x / 2, corner.x + width - size.x), bottom + 0.2f * em}, style.quiet,
                  text.c_str());
  }
  list->AddRect({left, top}, {right, bottom}, style.line);
  list->PushClipRect({left, top}, {right, bottom}, true);
  for (std::size_t i = 0; i < plotted.size(); ++i) {
    const SeriesLook look = LookOfSeries(style, static_cast<std::size_t>(plotted[i].shot->look));
    std::vector<ImVec2> line, over, under;
    for (const PlotPoint& p : all[i].points) {
      line.push_back({x_of(p.ft), y_of(p.value)});
      const double sd = std::isfinite(p.sd) ? p.sd : 0;
      over.push_back({x_of(p.ft), y_of(p.value + sd)});
      under.push_back({x_of(p.ft), y_of(p.value - sd)});
    }
    if (bands_) DrawBand(list, over, under, Faded(look.colour, 0.25));
    DrawDashedLine(list, line, look.colour, look.dash, 0.12f * em, em);
    // Markers set off from plot to plot and shot to shot, so that those of lines close together do not hide each other.
    for (double ft = 6 + 3 * static_cast<double>(i % 4); ft < kMostFt; ft += 15)
      if (const auto p = PointAt(all[i], ft))
        DrawMarkerSign(list, {x_of(ft), y_of(p->value)}, look.marker, 0.25f * em, look.colour, style.panel);
  }
  const auto cursor = [&](double ft, Ink ink, float cursor_width) {
    list->AddLine({x_of(ft), top}, {x_of(ft), bottom}, ink, cursor_width);
  };
  if (const auto ft = PlayedFt(in)) cursor(*ft, style.accent, 0.12f * em);
  if (hover_ft_) cursor(*hover_ft_, Faded(style.text, 0.6), 1);
  list->PopClipRect();
  if (!hovered) return;
  const double ft = std::clamp((ImGui::GetIO().MousePos.x - left) / (right - left), 0.0f, 1.0f) * kMostFt;
  next_hover_ft_ = ft;
  ImGui::BeginTooltip();
  ImGui::TextUnformatted((std::string(PlotTitle(kind)) + " at " + report::FixedText(ft, 1) + " ft").c_str());
  for (std::size_t i = 0; i < plotted.size(); ++i) {
    const std::string text = PointText(all[i], kind, ft);
    LookSample(style, static_cast<std::size_t>(plotted[i].shot->look));
    ImGui::SameLine();
    ImGui::TextUnformatted(("shot " + plotted[i].shot->name + "  " + (text.empty() ? "–" : text)).c_str());
  }
  ImGui::EndTooltip();
  if (!clicked) return;
  const ShownShot* to = plotted.front().shot;
  for (const Plotted& p : plotted)
    if (in.playing && p.shot->id == *in.playing) to = p.shot;
  if (const auto place = PlaceAtY(*to->shot, lane::MetresFromFeet(ft))) events->seek = SeekWish{to->id, place->time_s};
}

PlotsEvents PlotsPanel::Draw(const PlotsInputs& in) {
  PlotsEvents events;
  const Style& style = *in.style;
  hover_ft_ = next_hover_ft_;
  next_hover_ft_.reset();
  std::erase_if(kept_, [](const Kept& k) { return !k.used; });
  for (Kept& k : kept_) k.used = false;
  std::vector<Plotted> plotted;
  std::string without;
  bool any_chosen = false;
  for (const ShownShot& s : in.shots) {
    if (!s.chosen) continue;
    any_chosen = true;
    Plotted p{&s, SeriesFor(s)};
    if (p.series.front().points.empty())
      without += (without.empty() ? "" : ", ") + s.name;
    else
      plotted.push_back(std::move(p));
  }
  if (plotted.empty()) {
    if (in.shots.empty())
      EmptyState(style, "No shots yet", "Open a clip or a result file; its shots are plotted here over the distance.");
    else if (!any_chosen)
      EmptyState(style, "No shot is chosen", "Choose one shot or several in the table; they are plotted together.");
    else
      EmptyState(style, "These shots have no path",
                 "Their numbers came without the path. Measure their clips to see it.");
    return events;
  }
  for (int i = 0; i < 3; ++i) {
    if (i > 0) SameLineIfFits(CheckboxWidth(kShowLabels[i]));
    ImGui::Checkbox(kShowLabels[i], &show_[i]);
  }
  SameLineIfFits(CheckboxWidth("Doubt"));
  ImGui::Checkbox("Doubt", &bands_);
  TipForItem(style, "Bands of one standard deviation.");
  for (const Plotted& p : plotted) {
    const std::string label = "shot " + p.shot->name;
    const float gap = ImGui::GetStyle().ItemSpacing.x;
    SameLineIfFits(LookSampleWidth(style) + gap + ImGui::CalcTextSize(label.c_str()).x);
    LookSample(style, static_cast<std::size_t>(p.shot->look));
    ImGui::SameLine();
    ImGui::TextUnformatted(label.c_str());
  }
  if (!without.empty()) QuietText(style, "Without a path: shot " + without + ".");
  const int shown = static_cast<int>(std::count(std::begin(show_), std::end(show_), true));
  if (shown == 0) {
    EmptyState(style, "No plot is switched on", "Tick speed, board or angle above.");
    return events;
  }
  const float spacing = ImGui::GetStyle().ItemSpacing.y, least = 5.6f * style.em;
  const float height = std::max(
      least, (ImGui::GetContentRegionAvail().y - spacing * static_cast<float>(shown - 1)) / static_cast<float>(shown));
  for (std::size_t i = 0; i < 3; ++i)
    if (show_[i]) DrawPlot(in, kKinds[i], plotted, height, &events);
  return events;
}

}  // namespace hookline::viewer
