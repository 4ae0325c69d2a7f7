// The panels drawn without a window: an ImGui context whose pictures nobody sees, fed with mouse and keys.
#include <doctest/doctest.h>
#include <imgui.h>

#include <algorithm>
#include <functional>
#include <memory>

#include "viewer/advice_panel.h"
#include "viewer/compare_panel.h"
#include "viewer/lane_panel.h"
#include "viewer/plots_panel.h"
#include "viewer/sample_session.h"
#include "viewer/shots_panel.h"

using namespace hookline;
using namespace hookline::viewer;

namespace {

class Stage {
 public:
  Stage(float width, float height, Theme theme = Theme::kDark, float em = 13) : style_(MakeStyle(theme, em)) {
    context_ = ImGui::CreateContext();
    ImGuiIO& io = ImGui::GetIO();
    io.IniFilename = nullptr;
    io.DisplaySize = {width, height};
    io.DeltaTime = 1.0f / 60;
    unsigned char* pixels = nullptr;
    int w = 0, h = 0;
    io.Fonts->GetTexDataAsRGBA32(&pixels, &w, &h);
    ApplyStyle(style_);
  }
  ~Stage() { ImGui::DestroyContext(context_); }
  const Style& style() const { return style_; }
  // One picture; what was drawn, as a number of corners.
  int Draw(const std::function<void()>& panel) {
    ImGui::NewFrame();
    ImGui::SetNextWindowPos({0, 0});
    ImGui::SetNextWindowSize(ImGui::GetIO().DisplaySize);
    ImGui::Begin("stage", nullptr, ImGuiWindowFlags_NoDecoration | ImGuiWindowFlags_NoMove);
    panel();
    ImGui::End();
    ImGui::Render();
    return ImGui::GetDrawData()->TotalVtxCount;
  }
  void MouseTo(float x, float y) { ImGui::GetIO().MousePos = {x, y}; }
  void Button(bool down) { ImGui::GetIO().MouseDown[0] = down; }

 private:
  ImGuiContext* context_ = nullptr;
  Style style_;
};

// Presses at every place of a grid until the panel answers; how a person finds a button without knowing where it is.
template <typename Draw>
bool ClickUntil(Stage& stage, float width, float height, Draw draw) {
  for (float y = 8; y < height; y += 7)
    for (float x = 8; x < width; x += 11) {
      stage.MouseTo(x, y);
      stage.Button(false);
      if (draw()) return true;
      stage.Button(true);
      if (draw()) return true;
      stage.Button(false);
      if (draw()) return true;
    }
  return false;
}

}  // namespace

TEST_CASE("every panel draws in every state, size and theme, and never nothing") {
  const test::SampleSession full = test::MakeSampleSession(), one = test::MakeSampleSession(1);
  test::SampleSession bare = full;
  for (Shot& shot : bare.shots) shot.path.clear();
  const test::SampleSession none;
  const test::SampleSession* sessions[] = {&full, &one, &bare, &none};
  struct Size {
    float width, height;
  };
  for (const Size size : {Size{1366, 768}, Size{360, 700}, Size{900, 220}, Size{60, 40}})
    for (const Theme theme : {Theme::kDark, Theme::kLight})
      for (const test::SampleSession* session : sessions) {
        Stage stage(size.width, size.height, theme);
        const std::vector<ShownShot> shown = session->Shown({0, 3, 4});
        const std::optional<int> playing = shown.empty() ? std::nullopt : std::optional<int>(shown[0].id);
        LanePanel lane([] {});
        ShotsPanel shots;
        PlotsPanel plots;
        AdvicePanel advice;
        ComparePanel compare;
        const std::function<void()> panels[] = {
            [&] {
              lane.Draw({&stage.style(), shown, playing, 3.4});
            },
            [&] {
              shots.Draw({&stage.style(), shown, playing});
            },
            [&] {
              plots.Draw({&stage.style(), shown, playing, 3.4});
            },
            [&] {
              advice.Draw({&stage.style(), shown, shown.size() > 1 ? &session->advice : nullptr, false});
            },
            [&] {
              compare.Draw({&stage.style(), shown});
            }};
        const int empty = stage.Draw([] {});
        for (const auto& panel : panels) {
          stage.Draw(panel);
          stage.MouseTo(size.width / 2, size.height / 2);
          const int corners = stage.Draw(panel);
          // In a place too small for a line of text there may be nothing.
          if (size.width > 100) CHECK(corners > empty);
        }
      }
}

TEST_CASE("a click on a finding's evidence names its shots and place") {
  const test::SampleSession session = test::MakeSampleSession();
  const std::vector<ShownShot> shown = session.Shown({});
  Stage stage(420, 760);
  AdvicePanel panel;
  std::optional<Evidence> shown_evidence;
  CHECK(ClickUntil(stage, 200, 760, [&] {
    AdviceEvents events;
    stage.Draw([&] { events = panel.Draw({&stage.style(), shown, &session.advice, false}); });
    shown_evidence = events.show;
    return events.show.has_value();
  }));
  REQUIRE(shown_evidence);
  CHECK_FALSE(shown_evidence->shots.empty());
  CHECK(shown_evidence->measure == "entry_board");  // the first that can be met is the next move's
}

TEST_CASE("a click on a path chooses its shot and goes to the place") {
  const test::SampleSession session = test::MakeSampleSession();
  const std::vector<ShownShot> shown = session.Shown({8});
  Stage stage(900, 300);
  LanePanel panel([] {});
  panel.layers().others = false;
  LaneEvents last;
  CHECK(ClickUntil(stage, 900, 280, [&] {
    LaneEvents events;
    stage.Draw([&] { events = panel.Draw({&stage.style(), shown, std::nullopt, std::nullopt}); });
    last = events;
    return events.seek.has_value();
  }));
  REQUIRE(last.seek);
  CHECK(last.clicked == shown[8].id);
  CHECK(last.seek->shot == shown[8].id);
  CHECK(last.seek->time_s >= session.shots[8].path.front().time_s);
  CHECK(last.seek->time_s <= session.shots[8].path.back().time_s);
}

TEST_CASE("a click in a plot goes to that place of the shot that plays") {
  const test::SampleSession session = test::MakeSampleSession();
  const std::vector<ShownShot> shown = session.Shown({2, 7});
  Stage stage(800, 500);
  PlotsPanel panel;
  PlotsEvents events;
  const auto draw = [&] { stage.Draw([&] { events = panel.Draw({&stage.style(), shown, shown[7].id, 3.0}); }); };
  draw();
  stage.MouseTo(400, 300);
  draw();
  stage.Button(true);
  draw();
  REQUIRE(events.seek);
  CHECK(events.seek->shot == shown[7].id);
}

TEST_CASE("the wheel goes closer in the lane and back") {
  const test::SampleSession session = test::MakeSampleSession();
  const std::vector<ShownShot> shown = session.Shown({2});
  Stage stage(900, 300);
  LanePanel panel([] {});
  const auto draw = [&] {
    return stage.Draw([&] { panel.Draw({&stage.style(), shown, std::nullopt, std::nullopt}); });
  };
  draw();
  stage.MouseTo(450, 180);
  draw();
  const int before = draw();
  ImGui::GetIO().MouseWheel = 6;
  draw();
  ImGui::GetIO().MouseWheel = 0;
  CHECK(draw() != before);
  ImGui::GetIO().MouseWheel = -20;
  draw();
  ImGui::GetIO().MouseWheel = 0;
  CHECK(draw() == before);
}

TEST_CASE("the two that are compared follow the choice") {
  const test::SampleSession session = test::MakeSampleSession();
  Stage stage(900, 500);
  ComparePanel panel;
  CompareEvents events;
  const auto draw = [&](const std::vector<std::size_t>& chosen) {
    const auto shown = session.Shown(chosen);
    stage.Draw([&] { events = panel.Draw({&stage.style(), shown}); });
    return shown;
  };
  const auto shown = draw({});
  CHECK(panel.state().first == shown[12].id);  // nothing chosen: the last two
  CHECK(panel.state().second == shown[13].id);
  draw({3, 8});
  CHECK(events.changed);
  CHECK(panel.state().first == shown[3].id);
  CHECK(panel.state().second == shown[8].id);
  draw({3, 8});
  CHECK_FALSE(events.changed);
}

TEST_CASE("a click on a row chooses that shot at once, with Ctrl one more; a tick takes it away") {
  const test::SampleSession session = test::MakeSampleSession();
  std::vector<std::size_t> chosen;
  Stage stage(1300, 700);
  ShotsPanel panel;
  const auto draw = [&] {
    const auto shown = session.Shown(chosen);
    ShotsEvents events;
    stage.Draw([&] { events = panel.Draw({&stage.style(), shown, std::nullopt}); });
    if (events.chosen) {
      chosen.clear();
      for (std::size_t i = 0; i < shown.size(); ++i)
        if (std::count(events.chosen->begin(), events.chosen->end(), shown[i].id) > 0) chosen.push_back(i);
    }
    return events;
  };
  const auto click = [&](float x, float y) {
    stage.MouseTo(x, y);
    draw();
    draw();
    stage.Button(true);
    draw();
    stage.Button(false);
    draw();
    // Far apart in time: two clicks are no double click.
    ImGui::GetIO().DeltaTime = 1;
    draw();
    ImGui::GetIO().DeltaTime = 1.0f / 60;
  };
  draw();
  click(300, 300);
  REQUIRE(chosen.size() == 1);
  const std::size_t first = chosen.front();
  ImGui::GetIO().KeyCtrl = true;
  click(300, 200);
  CHECK(chosen.size() == 2);
  ImGui::GetIO().KeyCtrl = false;
  click(300, 300);
  CHECK(chosen == std::vector<std::size_t>{first});
}

TEST_CASE("a cell is written by a click in a chosen row") {
  const test::SampleSession session = test::MakeSampleSession();
  const auto shown = session.Shown({2});
  Stage stage(1300, 700);
  // The keys a text field asks for by name.
  ImGui::GetIO().KeyMap[ImGuiKey_Enter] = 257;
  ImGui::GetIO().KeyMap[ImGuiKey_Escape] = 256;
  ShotsPanel panel;
  std::vector<TagChange> tags;
  const auto draw = [&] {
    stage.Draw([&] {
      const ShotsEvents events = panel.Draw({&stage.style(), shown, std::nullopt});
      tags.insert(tags.end(), events.tags.begin(), events.tags.end());
    });
  };
  const auto type = [&](const char* text) {
    ImGui::GetIO().AddInputCharactersUTF8(text);
    draw();
    ImGui::GetIO().KeysDown[257] = true;
    draw();
    ImGui::GetIO().KeysDown[257] = false;
    draw();
    draw();
  };
  // The chosen row's ball lies somewhere in the third row; go down until the field opens.
  draw();
  for (float y = 100; y < 260 && !ImGui::GetIO().WantTextInput; y += 5) {
    stage.MouseTo(170, y);
    draw();
    stage.Button(true);
    draw();
    stage.Button(false);
    for (int i = 0; i < 4; ++i) draw();
  }
  REQUIRE(ImGui::GetIO().WantTextInput);
  type(" and blue");
  REQUIRE(tags.size() == 1);
  CHECK(tags[0].shots == std::vector<int>{shown[2].id});
  CHECK(tags[0].field == TagField::kBall);
  CHECK(tags[0].text.find("and blue") != std::string::npos);
}
