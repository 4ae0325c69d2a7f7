// The whole job in a real window, with real keys and a real mouse.
#include "live_window.h"

#include <cmath>
#include <cstdlib>
#include <fstream>
#include <map>

using namespace hookline::viewer::test;
using hookline::test::ScratchFolder;

namespace {

const std::string kClip = HOOKLINE_SAMPLES "/straight_spare.mp4";

// Pixels within a rectangle whose colour is near one of the look's, BGR.
int Near(const cv::Mat& shot, const Json& rect, cv::Vec3b colour, int within) {
  int count = 0;
  for (int y = static_cast<int>(rect[1]); y < std::min(shot.rows, static_cast<int>(rect[3])); ++y) {
    for (int x = static_cast<int>(rect[0]); x < std::min(shot.cols, static_cast<int>(rect[2])); ++x) {
      const cv::Vec3b p = shot.at<cv::Vec3b>(y, x);
      int off = 0;
      for (int c = 0; c < 3; ++c) off = std::max(off, std::abs(p[c] - colour[c]));
      count += off <= within;
    }
  }
  return count;
}

// The pictures of docs/walk.md are made here: HOOKLINE_WALK=FOLDER keeps them.
void KeepForWalk(const Screen& screen, const std::string& name) {
  const char* folder = std::getenv("HOOKLINE_WALK");
  if (!folder) return;
  std::this_thread::sleep_for(std::chrono::seconds(1));
  cv::imwrite(std::string(folder) + "/walk-" + name + ".jpg", screen.Shot(), {cv::IMWRITE_JPEG_QUALITY, 82});
}

}  // namespace

TEST_CASE("open, measure, step, play, correct, and take it back, with keys and mouse" * doctest::test_suite("slow")) {
  const ScratchFolder home;
  const Screen screen;
  LiveWindow window(screen, home / ".", {kClip});
  REQUIRE(window.Wait([](const Json& j) { return j.at("panes").at(0).at("picture").size() == 4 && Shown(j) == 0; }));
  window.Focus();
  // Long before it is measured the picture is there: the sample's wooden lanes and its bowler, not an empty panel.
  const Json place = window.State().at("panes").at(0).at("picture");
  CHECK(Near(screen.Shot(), place, {90, 150, 200}, 60) > 5000);
  REQUIRE(window.Wait(AllMeasured, 300));
  const Json measured = window.State();
  REQUIRE(measured.at("shots").size() == 1);

  // The command line gives the very same numbers.
  const std::string command = std::string("'" HOOKLINE_PROGRAM "' measure '") + kClip + "' --json '" +
                              (home / "cli.json") + "' >/dev/null 2>&1";
  REQUIRE(std::system(command.c_str()) == 0);
  const Json told = Json::parse(hookline::test::Content(home / "cli.json")).at("shots").at(0);
  int compared = 0;
  for (const auto& item : told.at("measures").items()) {
    const std::string& key = item.key();
    const Json& m = item.value();
    CAPTURE(key);
    const Json& mine = measured.at("shots").at(0).at(key);
    CHECK(mine.is_null() == m.at("value").is_null());
    if (mine.is_null()) continue;
    CHECK(mine.get<double>() == doctest::Approx(m.at("value").get<double>()).epsilon(1e-6));  // the file's decimals
    ++compared;
  }
  CHECK(compared > 8);

  // To the release by its time stamp, a picture on, a picture back.
  window.Key("1");
  const double release = told.at("release_s");
  REQUIRE(window.Wait([&](const Json& j) {
    const double at = j.at("panes").at(0).at("position_s");
    return std::abs(at - release) < 1e-3 && Shown(j) == j.at("panes").at(0).at("wanted");
  }));
  const int there = Shown(window.State());
  window.Key("Right");
  CHECK(window.Wait([&](const Json& j) { return Shown(j) == there + 1; }));
  window.Key("Left");
  CHECK(window.Wait([&](const Json& j) { return Shown(j) == there; }));
  window.Key("space");
  CHECK(window.Wait([&](const Json& j) { return j.at("panes").at(0).at("playing") && Shown(j) > there + 3; }));
  window.Key("space");
  CHECK(window.Wait([&](const Json& j) { return !j.at("panes").at(0).at("playing"); }));

  // The path lies on the picture in the first look's colour.
  window.Key("4");
  REQUIRE(window.Wait([](const Json& j) { return Shown(j) == j.at("panes").at(0).at("wanted"); }));
  std::this_thread::sleep_for(std::chrono::seconds(1));
  const Json picture = window.State().at("panes").at(0).at("picture");
  KeepForWalk(screen, "measured");
  const int with = Near(screen.Shot(), picture, {40, 166, 240}, 30);
  window.Key("d");
  std::this_thread::sleep_for(std::chrono::seconds(1));
  const int without = Near(screen.Shot(), picture, {40, 166, 240}, 30);
  CHECK(with > without + 60);
  window.Key("d");

  // A jump with the mouse on the timeline.
  const Json bar = window.State().at("places").at("timeline");
  const int frames = window.State().at("panes").at(0).at("frames");
  window.Click(bar[0].get<double>() + 0.9 * (bar[2].get<double>() - bar[0].get<double>()),
               bar[3].get<double>() - 0.3 * (bar[3].get<double>() - bar[1].get<double>()));
  CHECK(window.Wait([&](const Json& j) { return std::abs(Shown(j) - 0.9 * frames) < 0.05 * frames; }));

  // A corner of the lane is dragged: the shot is measured again, and undo gives exactly what was there.
  window.Key("c");
  REQUIRE(window.Wait([](const Json& j) { return j.at("correcting") && j.at("handles").contains("foul_right"); }));
  std::this_thread::sleep_for(std::chrono::seconds(1));  // the row of buttons moves the picture
  const Json handle = window.State().at("handles").at("foul_right");
  const double x = handle[0], y = handle[1];
  const double board = measured.at("shots").at(0).at("board_at_arrows");
  window.Drag(x, y, x + 12, y);
  CHECK(window.Wait([&](const Json& j) {
    return j.at("clips").at(0).at("corrections") == 1 &&
           std::abs(j.at("shots").at(0).at("board_at_arrows").get<double>() - board) > 0.05;
  }));
  KeepForWalk(screen, "corrected");
  window.Key("ctrl+z");
  CHECK(window.Wait([&](const Json& j) {
    return j.at("clips").at(0).at("corrections") == 0 && j.at("shots") == measured.at("shots");
  }));

  // A page for the student: consent is asked before the first picture, and not again.
  window.Key("c");
  window.Key("ctrl+e");
  REQUIRE(window.Wait([](const Json& j) { return j.at("places").contains("Make the page"); }));
  std::this_thread::sleep_for(std::chrono::seconds(1));
  window.Click("Make the page");
  REQUIRE(window.Wait([](const Json& j) { return j.at("places").contains("Yes, they agreed"); }));
  CHECK_FALSE(std::filesystem::exists(home / "shots.html"));
  std::this_thread::sleep_for(std::chrono::seconds(1));
  window.Click("Yes, they agreed");
  REQUIRE(window.Wait([](const Json& j) { return j.at("export").at("done").get<bool>(); }, 120));
  CHECK(window.State().at("export").at("ok").get<bool>());
  const std::string page = hookline::test::Content(home / "shots.html");
  CHECK(page.size() > 20000);
  CHECK(page.find("<html") != std::string::npos);
  CHECK(page.find("<img") != std::string::npos);
  std::this_thread::sleep_for(std::chrono::seconds(1));
  window.Click("Close");
  CHECK(window.Wait([](const Json& j) { return !j.at("export").at("open"); }));

  // The other theme is really another.
  window.Key("t");
  CHECK(window.Wait([](const Json& j) { return j.at("theme") == "light"; }));
  std::this_thread::sleep_for(std::chrono::seconds(1));
  const cv::Mat light = screen.Shot();
  CHECK(light.at<cv::Vec3b>(screen.height() - 4, screen.width() / 2)[0] > 180);
  window.Key("ctrl+q");
  CHECK(window.Ended(20) == 0);
}

TEST_CASE("a clip is written with its drawings, others blurred" * doctest::test_suite("slow")) {
  const ScratchFolder home;
  const Screen screen;
  LiveWindow window(screen, home / ".", {HOOKLINE_SAMPLES "/two_balls.mp4"});
  REQUIRE(window.Wait([](const Json& j) { return AllMeasured(j) && j.at("shots").size() == 1; }, 300));
  window.Focus();
  const auto write = [&](bool blur) {
    ClickWhenStill(window, "Clip...");
    REQUIRE(window.Wait([](const Json& j) { return j.at("places").contains("Write the clip"); }));
    if (blur) {
      ClickWhenStill(window, "Blur other people where they can be found");
      ClickWhenStill(window, "Name");
      window.Key("End");
      window.Do("type --delay 120 ' blurred'");
    }
    ClickWhenStill(window, "Write the clip");
    if (!blur) {
      REQUIRE(window.Wait([](const Json& j) { return j.at("places").contains("Yes, they agreed"); }));
      CHECK_FALSE(std::filesystem::exists(home / "two_balls drawn.mp4"));
      ClickWhenStill(window, "Yes, they agreed");
    }
    const std::string file = home / (blur ? "two_balls drawn blurred.mp4" : "two_balls drawn.mp4");
    REQUIRE(window.Wait(
        [&](const Json& j) { return j.at("clip").at("ok").get<bool>() && std::filesystem::exists(file); }, 300));
    ClickWhenStill(window, "Close");
    REQUIRE(window.Wait([](const Json& j) { return !j.at("clip").at("open").get<bool>(); }));
    const std::string picture = home / "picture.png";
    REQUIRE(std::system(("ffmpeg -v error -y -ss 1.3 -i '" + file + "' -frames:v 1 '" + picture + "'").c_str()) == 0);
    return cv::imread(picture);
  };
  const cv::Mat plain = write(false), blurred = write(true);
  REQUIRE(plain.size() == cv::Size(1280, 720));
  REQUIRE(blurred.size() == plain.size());
  // The neighbour in the right half is another picture; the bowler in the left half is not.
  const auto change = [&](const cv::Rect& part) {
    return cv::norm(plain(part), blurred(part), cv::NORM_L1) / (3.0 * part.area());
  };
  CHECK(change({870, 310, 110, 180}) > 10);
  CHECK(change({470, 310, 90, 160}) < 4);  // coded anew, no more
}

TEST_CASE("two shots are played in step and written as one clip; a hand is said, and kept" *
          doctest::test_suite("slow")) {
  const ScratchFolder home;
  const Screen screen;
  const std::string other = HOOKLINE_SAMPLES "/gutter.mp4";
  {
    LiveWindow window(screen, home / ".", {});
    REQUIRE(window.Wait([](const Json& j) { return j.at("places").contains("Open..."); }));
    KeepForWalk(screen, "start");
  }
  LiveWindow window(screen, home / ".", {kClip, other});
  REQUIRE(window.Wait([](const Json& j) { return AllMeasured(j) && j.at("shots").size() == 2; }, 600));
  window.Focus();
  window.Key("ctrl+5");
  const auto both = [](const Json& j) {
    const Json& panes = j.at("panes");
    for (const Json& p : panes) {
      if (!p.at("ready").get<bool>() || p.at("shown") != p.at("wanted")) return false;
    }
    return panes.size() == 2;
  };
  REQUIRE(window.Wait(both));
  // At the mark each shows its own time; from there on they go the same way.
  window.Key("1");
  std::this_thread::sleep_for(std::chrono::seconds(1));
  REQUIRE(window.Wait(both));
  const auto at = [](const Json& j, std::size_t pane) { return j.at("panes").at(pane).at("position_s").get<double>(); };
  const Json release = window.State();
  const double apart = at(release, 1) - at(release, 0);
  window.Key("shift+Right");
  CHECK(window.Wait([&](const Json& j) {
    return both(j) && at(j, 0) > at(release, 0) + 0.1 && std::abs(at(j, 1) - at(j, 0) - apart) < 1e-3;
  }));
  for (int i = 0; i < 4; ++i) window.Key("shift+Right");
  REQUIRE(window.Wait(both));
  KeepForWalk(screen, "compared");

  ClickWhenStill(window, "As a clip...");
  REQUIRE(window.Wait([](const Json& j) { return j.at("places").contains("Write the clip"); }));
  ClickWhenStill(window, "Write the clip");
  REQUIRE(window.Wait([](const Json& j) { return j.at("places").contains("Yes, they agreed"); }));
  CHECK_FALSE(std::filesystem::exists(home / "two shots.mp4"));
  ClickWhenStill(window, "Yes, they agreed");
  REQUIRE(window.Wait([](const Json& j) { return j.at("pair").at("ok").get<bool>(); }, 300));
  CHECK(std::filesystem::file_size(home / "two shots.mp4") > 50000);
  // Written once, it is not written over.
  ClickWhenStill(window, "Write the clip");
  std::this_thread::sleep_for(std::chrono::seconds(1));
  CHECK_FALSE(window.State().at("pair").at("busy").get<bool>());
  ClickWhenStill(window, "Close");
  CHECK(window.Wait([](const Json& j) { return !j.at("pair").at("open"); }));

  // Boards count from the other side for the other hand, and the next start knows it.
  window.Key("ctrl+6");
  REQUIRE(window.Wait([](const Json& j) { return j.at("places").contains("hand straight_spare.mp4"); }));
  const double board = window.State().at("shots").at(0).at("board_at_arrows");
  ClickWhenStill(window, "hand straight_spare.mp4");
  REQUIRE(window.Wait([](const Json& j) { return j.at("places").contains("left hand"); }));
  ClickWhenStill(window, "left hand");
  CHECK(window.Wait([&](const Json& j) {
    return j.at("clips").at(0).at("hand") == "left" && AllMeasured(j) &&
           std::abs(j.at("shots").at(0).at("board_at_arrows").get<double>() - (40 - board)) < 0.2;
  }));
  window.Key("ctrl+q");
  CHECK(window.Ended(20) == 0);
  LiveWindow again(screen, home / ".", {});
  CHECK(again.Wait([](const Json& j) { return AllMeasured(j) && j.at("clips").at(0).at("hand") == "left"; }, 120));
}

TEST_CASE("a missed shot is added by clicks on its ball, and the library keeps it" * doctest::test_suite("slow")) {
  const ScratchFolder home;
  const Screen screen;
  LiveWindow window(screen, home / ".", {kClip});
  REQUIRE(window.Wait([](const Json& j) { return AllMeasured(j) && j.at("shots").size() == 1; }, 300));
  window.Focus();
  const Json found = window.State().at("shots").at(0);
  window.Key("1");
  REQUIRE(window.Wait([](const Json& j) { return Shown(j) > 0 && Shown(j) == j.at("panes").at(0).at("wanted"); }));

  const int release = Shown(window.State());
  window.Key("shift+Right");
  REQUIRE(window.Wait([&](const Json& j) { return Shown(j) == release + 10; }));

  // Nothing was found, as far as the person is concerned.
  window.Key("c");
  REQUIRE(window.Wait([](const Json& j) { return j.at("places").contains("No shot"); }));
  ClickWhenStill(window, "No shot");
  REQUIRE(window.Wait([](const Json& j) { return !j.contains("shots"); }));
  ClickWhenStill(window, "Add a shot");
  REQUIRE(window.Wait([](const Json& j) { return j.at("adding").at("on").get<bool>(); }));
  std::this_thread::sleep_for(std::chrono::seconds(1));  // the row of words moves the picture

  // Where the ball truly is, by the file beside the sample. After each click the clip goes on by itself.
  std::map<int, cv::Point2d> ball;
  const Json truth = Json::parse(hookline::test::Content(HOOKLINE_SAMPLES "/straight_spare.truth.json"));
  for (const Json& s : truth.at("shots").at(0).at("samples"))
    ball[s.at("frame")] = {s.at("center_px").at(0), s.at("center_px").at(1)};
  for (int clicks = 1; clicks <= 12; ++clicks) {
    CAPTURE(clicks);
    const Json before = window.State();
    REQUIRE(ball.count(Shown(before)) == 1);
    const cv::Point2d at = InWindow(before, ball.at(Shown(before)));
    window.Click(at.x, at.y);
    REQUIRE(window.Wait([&](const Json& j) {
      return j.at("adding").at("places") == clicks && Shown(j) == Shown(before) + 5 &&
             Shown(j) == j.at("panes").at(0).at("wanted");
    }));
    // From the sixth on it is a shot.
    if (clicks < 6) CHECK_FALSE(window.State().contains("shots"));
    if (clicks >= 6) REQUIRE(window.Wait([](const Json& j) { return j.at("shots").size() == 1; }));
  }
  ClickWhenStill(window, "Shot added");
  REQUIRE(window.Wait([](const Json& j) { return !j.at("adding").at("on").get<bool>(); }));
  const auto near = [&](const char* key, double within) {
    CAPTURE(key);
    CHECK(window.Wait([&](const Json& j) {
      return std::abs(j.at("shots").at(0).at(key).get<double>() - found.at(key).get<double>()) < within;
    }));
  };
  near("board_at_arrows", 0.5);
  near("board_at_15ft", 0.5);
  near("speed_arrows_mph", 0.7);
  CHECK(window.State().at("clips").at(0).at("corrections") == 2);  // one taken out, one added

  // The library: first what is missing is said, then the shot is kept and stands in its session.
  window.Key("c");
  ClickWhenStill(window, "Library...");
  ClickWhenStill(window, "Keep them");
  Await(window, "who", [](const Json& j) { return j.at("library").at("said") == "Say who bowled."; });
  CHECK(window.State().at("library").at("sessions") == 0);
  for (const auto& [field, text] : {std::pair{"Bowler", "Robin"}, {"Place", "Lanternhaus"}, {"Lane", "7"}}) {
    ClickWhenStill(window, field);
    window.Do(std::string("type --delay 120 ") + text);
  }
  ClickWhenStill(window, "Keep them");
  Await(window, "kept", [](const Json& j) { return j.at("library").at("said") == "1 shot added, 0 updated."; });
  CHECK(window.State().at("library").at("sessions") == 1);
  REQUIRE(window.State().at("library").at("shots").size() == 1);
  const Json kept = window.State().at("library").at("shots").at(0);
  const Json now = window.State().at("shots").at(0);
  CHECK(kept.at("arrows_board").get<double>() ==
        doctest::Approx(now.at("board_at_arrows").get<double>()).epsilon(1e-6));
  // Kept again it is the same shot.
  ClickWhenStill(window, "Keep them");
  CHECK(window.Wait([](const Json& j) { return j.at("library").at("said") == "0 shots added, 1 updated."; }));
  ClickWhenStill(window, "Close");
  REQUIRE(window.Wait([](const Json& j) { return !j.at("library").at("open").get<bool>(); }));
  window.Key("ctrl+q");
  CHECK(window.Ended(20) == 0);

  // The command line knows it too; and the added shot lies on the desk at the next start.
  const std::string command = "XDG_DATA_HOME='" + (home / "data") +
                              "' '" HOOKLINE_PROGRAM "' library list sessions >'" + (home / "out") + "' 2>&1";
  CHECK(std::system(command.c_str()) == 0);
  CHECK(hookline::test::Content(home / "out").find("Robin") != std::string::npos);
  LiveWindow again(screen, home / ".", {});
  CHECK(again.Wait(
      [&](const Json& j) {
        return j.at("shots").size() == 1 && j.at("shots").at(0).at("board_at_arrows") == now.at("board_at_arrows");
      },
      120));
}

TEST_CASE("closed or killed in the midst of measuring, the desk comes back and nothing hangs" *
          doctest::test_suite("slow")) {
  const ScratchFolder home;
  const Screen screen;
  const auto measuring = [](const Json& j) { return j.at("clips").at(0).at("state") == "measuring"; };
  {
    LiveWindow window(screen, home / ".", {kClip});
    REQUIRE(window.Wait(measuring));
    window.Focus();
    window.Key("ctrl+q");
    CHECK(window.Ended(20) == 0);
  }
  {
    // Without a file: what lay on the desk lies there again, and is measured on.
    LiveWindow window(screen, home / ".", {});
    REQUIRE(window.Wait(measuring));
    window.Kill();
  }
  LiveWindow window(screen, home / ".", {});
  REQUIRE(window.Wait([](const Json& j) { return j.at("clips").size() == 1; }));
  CHECK(window.State().at("notice") == "");
  CHECK(window.Wait(AllMeasured, 300));
}

TEST_CASE("bad use is one sentence and an exit code" * doctest::test_suite("slow")) {
  const ScratchFolder home;
  const auto run = [&](const std::string& arguments) {
    const std::string command = "HOME='" + (home / ".") + "' DISPLAY=:none '" HOOKLINE_VIEWER "' " + arguments + " >'" +
                                (home / "out") + "' 2>&1";
    const int status = std::system(command.c_str());
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  };
  CHECK(run("--help") == 0);
  CHECK(hookline::test::Content(home / "out").find("FILE") != std::string::npos);
  CHECK(run("--size 12") == 2);
  CHECK(run("--theme pink") == 2);
  CHECK(run("") == 1);  // no display
  CHECK(hookline::test::Content(home / "out").find("display") != std::string::npos);
}
