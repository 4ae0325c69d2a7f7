#include "viewer/damage.h"

#include <doctest/doctest.h>

#include <functional>

using namespace hookline::viewer;

namespace {

struct Context {
  Context() : context(ImGui::CreateContext()) {
    ImGuiIO& io = ImGui::GetIO();
    io.IniFilename = nullptr;
    io.DisplaySize = {400, 300};
    io.DeltaTime = 1.0f / 60;
    unsigned char* pixels = nullptr;
    int w = 0, h = 0;
    io.Fonts->GetTexDataAsRGBA32(&pixels, &w, &h);
  }
  ~Context() { ImGui::DestroyContext(context); }
  ImGuiContext* context;
};

// Two child windows beside each other: 0..200 and 200..400 wide.
const ImDrawData& Frame(const std::function<void()>& left, const std::function<void()>& right) {
  ImGui::NewFrame();
  ImGui::SetNextWindowPos({0, 0});
  ImGui::SetNextWindowSize({400, 300});
  ImGui::PushStyleVar(ImGuiStyleVar_WindowPadding, {0, 0});
  ImGui::PushStyleVar(ImGuiStyleVar_WindowBorderSize, 0);
  ImGui::Begin("all", nullptr, ImGuiWindowFlags_NoDecoration | ImGuiWindowFlags_NoMove);
  ImGui::BeginChild("left", {200, 300});
  left();
  ImGui::EndChild();
  ImGui::SameLine(0, 0);
  ImGui::BeginChild("right", {200, 300});
  right();
  ImGui::EndChild();
  ImGui::End();
  ImGui::PopStyleVar(2);
  ImGui::Render();
  return *ImGui::GetDrawData();
}

void Text(const char* text) { ImGui::GetWindowDrawList()->AddText(ImGui::GetWindowPos(), 0xffffffffU, text); }
void Nothing(const ImDrawList*, const ImDrawCmd*) {}

}  // namespace

TEST_CASE("only what has changed is damaged") {
  const Context context;
  Damage damage;
  const auto one = [] { Text("one"); };
  const auto two = [] { Text("two"); };
  auto all = damage.Take(Frame(one, one));
  REQUIRE(all.size() == 1);
  CHECK(all[0].z - all[0].x == 400);
  damage.Take(Frame(one, one));  // the first frames of a window still settle
  CHECK(damage.Take(Frame(one, one)).empty());
  const auto right = damage.Take(Frame(one, two));
  REQUIRE(right.size() == 1);
  CHECK(right[0].x >= 199);
  CHECK(right[0].z <= 400);
  CHECK(damage.Take(Frame(one, two)).empty());
  // What is not drawn any more leaves its place behind.
  const auto gone = damage.Take(Frame([] {}, two));
  REQUIRE(gone.size() == 1);
  CHECK(gone[0].z <= 201);
  damage.All();
  CHECK(damage.Take(Frame([] {}, two)).size() == 1);
}

TEST_CASE("a picture drawn by a callback counts by its stamp") {
  const Context context;
  Damage damage;
  Stamped picture;
  const auto draw = [&] { ImGui::GetWindowDrawList()->AddCallback(Nothing, &picture); };
  const auto none = [] {};
  for (int i = 0; i < 3; ++i) damage.Take(Frame(draw, none));
  CHECK(damage.Take(Frame(draw, none)).empty());
  picture.stamp = 7;
  const auto left = damage.Take(Frame(draw, none));
  REQUIRE(left.size() == 1);
  CHECK(left[0].z <= 201);
}
