// The real window on screens of three sizes and in both themes: every panel and sheet, with a measured clip and
// without.
#include <algorithm>
#include <cstdlib>
#include <set>
#include <string>
#include <vector>

#include "live_window.h"

using namespace hookline::viewer::test;
using hookline::test::ScratchFolder;

namespace {

// HOOKLINE_PICTURES=FOLDER keeps a picture of everything that is looked at here, to be looked at by a person.
void Keep(const Screen& screen, const std::string& name) {
  const char* folder = std::getenv("HOOKLINE_PICTURES");
  if (!folder) return;
  cv::imwrite(std::string(folder) + "/" + std::to_string(screen.width()) + "-" + name + ".jpg", screen.Shot(),
              {cv::IMWRITE_JPEG_QUALITY, 88});
}

// Two frames later at the earliest: ImGui settles sizes over a few.
void Settle(const LiveWindow& window) {
  Json before;
  int still = 0;
  window.Wait(
      [&](const Json& j) {
        const Json now = {j.at("places"), j.at("cut")};
        still = now == before ? still + 1 : 0;
        before = now;
        return still > 15;
      },
      20);
}

// Nothing is cut off, and everything that can be pressed lies inside the window, not flush at its edge. Tables that are
// made to be scrolled sideways may have columns out of sight.
void LookAt(const Screen& screen, const LiveWindow& window, const std::string& name,
            const std::set<std::string>& scrolled = {}) {
  Settle(window);
  const Json j = window.State();
  const std::string what = std::to_string(screen.width()) + " " + j.at("theme").get<std::string>() + " " + name;
  CAPTURE(what);
  for (const auto& item : j.at("cut").items()) {
    CAPTURE(item.key());
    CAPTURE(item.value().get<double>());
    const bool may = std::any_of(scrolled.begin(), scrolled.end(),
                                 [&](const std::string& s) { return item.key().find(s) != std::string::npos; });
    CHECK(may);
  }
  for (const auto& item : j.at("places").items()) {
    CAPTURE(item.key());
    const Json& r = item.value();
    CHECK(r[0].get<double>() >= 4);
    CHECK(r[1].get<double>() >= 4);
    CHECK(r[2].get<double>() <= screen.width() - 4);
    CHECK(r[3].get<double>() <= screen.height() - 4);
    CHECK(r[2].get<double>() - r[0].get<double>() >= 8);
    CHECK(r[3].get<double>() - r[1].get<double>() >= 8);
  }
  Keep(screen, name + "-" + j.at("theme").get<std::string>());
}

void Turn(const LiveWindow& window, const std::string& theme) {
  window.Key("t");
  Await(window, theme, [&](const Json& j) { return j.at("theme") == theme; });
}

void InBothThemes(const Screen& screen, const LiveWindow& window, const std::string& name,
                  const std::set<std::string>& scrolled = {}) {
  for (const char* theme : {"light", "dark"}) {
    Turn(window, theme);
    LookAt(screen, window, name, scrolled);
  }
}

// A sheet lies over everything; keys do not reach the window beneath, so the theme is changed before.
void Sheet(const Screen& screen, const LiveWindow& window, const std::string& opener, const std::string& button) {
  for (const char* theme : {"light", "dark"}) {
    Turn(window, theme);
    ClickWhenStill(window, opener);
    Await(window, opener, [&](const Json& j) { return j.at("places").contains(button); });
    LookAt(screen, window, opener + " " + button);
    ClickWhenStill(window, "Close");
    REQUIRE(window.Wait([&](const Json& j) { return !j.at("places").contains(button); }));
  }
}

}  // namespace

TEST_CASE("nothing is cut off on screens of three sizes in both themes" * doctest::test_suite("slow")) {
  const ScratchFolder home;  // measured once, kept for the others
  for (const auto& size : {std::pair{1366, 768}, {1920, 1080}, {2560, 1440}}) {
    const int width = size.first, height = size.second;
    CAPTURE(width);
    const Screen screen(width, height);
    {
      const ScratchFolder empty;
      LiveWindow window(screen, empty / ".", {});
      REQUIRE(window.Wait([](const Json& j) { return j.at("places").contains("Open..."); }));
      window.Focus();
      InBothThemes(screen, window, "start");
      window.Key("F1");
      REQUIRE(window.Wait([](const Json& j) { return j.at("help").get<bool>(); }));
      InBothThemes(screen, window, "keys");
    }
    std::vector<std::string> clips;
    for (const char* name : {"gutter", "straight_spare", "two_balls", "left_portrait"})
      clips.push_back(std::string(HOOKLINE_SAMPLES "/") + name + ".mp4");
    LiveWindow window(screen, home / ".", clips);
    REQUIRE(window.Wait([](const Json& j) { return AllMeasured(j) && j.at("shots").size() == 4; }, 300));
    window.Focus();
    window.Key("4");
    const std::vector<std::string> tabs = {"shots", "lane", "plots", "advice", "compare", "clips"};
    for (std::size_t i = 0; i < tabs.size(); ++i) {
      window.Key("ctrl+" + std::to_string(i + 1));
      REQUIRE(window.Wait([&](const Json& j) { return j.at("tab") == tabs[i]; }));
      // All that is known of a shot is more than a screen is wide.
      InBothThemes(screen, window, tabs[i], i == 0 ? std::set<std::string>{"out of sight"} : std::set<std::string>{});
      if (tabs[i] == "compare") Sheet(screen, window, "As a clip...", "Write the clip");
    }
    window.Key("ctrl+2");
    Sheet(screen, window, "Page...", "Make the page");
    Sheet(screen, window, "Clip...", "Write the clip");
    Sheet(screen, window, "Library...", "Keep them");
    window.Key("c");
    REQUIRE(window.Wait([](const Json& j) { return j.at("places").contains("Add a shot"); }));
    InBothThemes(screen, window, "correcting");
    window.Click("Add a shot");
    REQUIRE(window.Wait([](const Json& j) { return j.at("adding").at("on").get<bool>(); }));
    InBothThemes(screen, window, "adding");
    window.Key("ctrl+q");
    CHECK(window.Ended(20) == 0);
  }
}
