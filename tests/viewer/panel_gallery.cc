// All panels in one window, fed with the sample session or with result files: to look at them, and for screenshots.
//   panel_gallery [--page NAME] [--light] [--font-scale S] [--width W --height H] [--seconds T] [FILE...]
// Pages: session, compare, what-if, layers, standing, few, empty. It ends after T seconds when T is given.

#include <imgui.h>

#include <CLI/CLI.hpp>
#include <chrono>
#include <cstdio>
#include <map>
#include <string>
#include <vector>

#include "report/read_result.h"
#include "viewer/advice_panel.h"
#include "viewer/compare_panel.h"
#include "viewer/lane_panel.h"
#include "viewer/plots_panel.h"
#include "viewer/sample_session.h"
#include "viewer/shots_panel.h"
#include "viewer/window.h"

namespace {

using namespace hookline;
using namespace hookline::viewer;

struct Gallery {
  test::SampleSession session;
  std::vector<std::size_t> chosen;
  LanePanel lane;
  ShotsPanel shots;
  PlotsPanel plots;
  AdvicePanel advice;
  ComparePanel compare;
  double time_s = 3.6;
  explicit Gallery(std::function<void()> wake) : lane(std::move(wake)) {}
};

void Choose(Gallery& g, const std::vector<ShownShot>& shown, const std::vector<int>& ids) {
  g.chosen.clear();
  for (std::size_t i = 0; i < shown.size(); ++i)
    if (std::find(ids.begin(), ids.end(), shown[i].id) != ids.end()) g.chosen.push_back(i);
}

void Tag(Gallery& g, const std::vector<ShownShot>& shown, const TagChange& change) {
  for (std::size_t i = 0; i < shown.size(); ++i) {
    if (std::find(change.shots.begin(), change.shots.end(), shown[i].id) == change.shots.end()) continue;
    Shot& shot = g.session.shots[i];
    if (change.field == TagField::kBall) shot.ball = change.text;
    if (change.field == TagField::kPlan) shot.plan = change.text;
    if (change.field == TagField::kResult) g.session.results[i] = change.text;
    if (change.field == TagField::kStance) shot.target.stance_board = change.board;
    if (change.field == TagField::kArrowsTarget) shot.target.arrows_board = change.board;
  }
}

void DrawPage(Gallery& g, const std::string& page, const Style& style) {
  const std::vector<ShownShot> shown = g.session.Shown(g.chosen);
  const std::optional<int> playing = shown.empty() ? std::nullopt : std::optional<int>(shown.front().id);
  const std::optional<double> time = shown.empty() ? std::nullopt : std::optional<double>(g.time_s);
  const ImVec2 room = ImGui::GetContentRegionAvail();
  const float gap = ImGui::GetStyle().ItemSpacing.x;
  const auto panel = [&](const char* name, ImVec2 size, const auto& draw) {
    ImGui::BeginChild(name, size, true, ImGuiWindowFlags_AlwaysUseWindowPadding);
    draw();
    ImGui::EndChild();
  };
  const auto lane = [&] {
    const LaneEvents e = g.lane.Draw({&style, shown, playing, time});
    if (e.clicked) Choose(g, shown, {*e.clicked});
    if (e.seek) g.time_s = e.seek->time_s;
  };
  const auto plots = [&] {
    if (const PlotsEvents e = g.plots.Draw({&style, shown, playing, time}); e.seek) g.time_s = e.seek->time_s;
  };
  const auto shots = [&] {
    const ShotsEvents e = g.shots.Draw({&style, shown, playing});
    if (e.chosen) Choose(g, shown, *e.chosen);
    for (const TagChange& change : e.tags) Tag(g, shown, change);
  };
  const auto advice = [&] {
    const AdviceEvents e = g.advice.Draw({&style, shown, shown.size() > 1 ? &g.session.advice : nullptr, false});
    if (e.show) Choose(g, shown, e.show->shots);
  };
  const auto compare = [&] { g.compare.Draw({&style, shown}); };
  const float top = 0.52f * room.y, right = std::min(24 * style.em, 0.34f * room.x), left = room.x - right - gap,
              bottom = room.y - top - ImGui::GetStyle().ItemSpacing.y;
  if (page == "standing") {
    panel("lane", {0.3f * room.x, room.y}, lane);
    ImGui::SameLine();
    panel("plots", {0, room.y}, plots);
  } else if (page == "compare") {
    panel("lane", {left, top}, lane);
    ImGui::SameLine();
    panel("plots", {0, top}, plots);
    panel("compare", {room.x, bottom}, compare);
  } else if (page == "what-if" || page == "layers") {
    panel("lane", room, lane);
  } else if (page == "empty") {
    const float third = (room.x - 2 * gap) / 3;
    panel("lane", {third, top}, lane);
    ImGui::SameLine();
    panel("plots", {third, top}, plots);
    ImGui::SameLine();
    panel("advice", {0, top}, advice);
    panel("shots", {left, bottom}, shots);
    ImGui::SameLine();
    panel("compare", {0, bottom}, compare);
  } else {
    panel("lane", {left, top}, lane);
    ImGui::SameLine();
    panel("advice", {0, top}, advice);
    panel("shots", {left, bottom}, shots);
    ImGui::SameLine();
    panel("plots", {0, bottom}, plots);
  }
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app("All panels, fed with the sample session or with result files.", "panel_gallery");
  std::string page = "session";
  WindowOptions options;
  options.title = "Hookline panels";
  bool light = false;
  double seconds = 0;
  std::vector<std::string> files;
  app.add_option("--page", page);
  app.add_flag("--light", light);
  app.add_option("--font-scale", options.font_scale);
  app.add_option("--width", options.width);
  app.add_option("--height", options.height);
  app.add_option("--seconds", seconds);
  app.add_option("FILE", files, "Result files");
  CLI11_PARSE(app, argc, argv);
  options.theme = light ? Theme::kLight : Theme::kDark;
  auto window = Window::Open(options);
  if (!window.ok()) {
    std::fprintf(stderr, "panel_gallery: %s\n", window.status().sentence().c_str());
    return 1;
  }
  Gallery gallery([&] { (*window)->Post([] {}); });
  if (files.empty() && page != "empty") gallery.session = test::MakeSampleSession(page == "few" ? 1 : 14);
  for (const std::string& file : files) {
    auto result = report::ReadResult(file);
    if (!result.ok()) {
      std::fprintf(stderr, "panel_gallery: %s\n", result.status().sentence().c_str());
      return 1;
    }
    for (Shot& shot : result->shots) {
      shot.number = static_cast<int>(gallery.session.shots.size()) + 1;
      gallery.session.shots.push_back(std::move(shot));
      gallery.session.results.emplace_back();
    }
    gallery.session.advice = advice::Advise(gallery.session.shots);
    pipeline::PlanMoveByPhysics(gallery.session.shots, gallery.session.advice);
  }
  const std::size_t count = gallery.session.shots.size();
  if (count > 0) gallery.chosen = {0};
  if (count > 7) gallery.chosen = {3, 6, 8};
  if (page == "what-if") {
    gallery.lane.layers().what_if = true;
    if (count > 7) gallery.chosen = {2, 3};
  }
  if (page == "layers") gallery.lane.layers().friction = gallery.lane.layers().balls = true;
  const auto start = std::chrono::steady_clock::now();
  while ((*window)->Wait(seconds > 0 ? 0.1 : -1)) {
    (*window)->BeginFrame();
    const ImGuiViewport* viewport = ImGui::GetMainViewport();
    ImGui::SetNextWindowPos(viewport->WorkPos);
    ImGui::SetNextWindowSize(viewport->WorkSize);
    ImGui::Begin("gallery", nullptr,
                 ImGuiWindowFlags_NoDecoration | ImGuiWindowFlags_NoMove | ImGuiWindowFlags_NoBringToFrontOnFocus |
                     ImGuiWindowFlags_NoScrollWithMouse);
    DrawPage(gallery, page, (*window)->style());
    ImGui::End();
    (*window)->EndFrame();
    if (seconds > 0 && std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count() > seconds) break;
  }
  return 0;
}
