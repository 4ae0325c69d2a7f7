// The built window on a screen of its own (Xvfb, software rendering), worked with real keys and a real mouse (xdotool).
// What it shows is told by --state and seen in screenshots (ffmpeg's x11grab).
#pragma once

#include <doctest/doctest.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <functional>
#include <nlohmann/json.hpp>
#include <opencv2/core.hpp>
#include <opencv2/imgcodecs.hpp>
#include <string>
#include <thread>
#include <vector>

#include "scratch_folder.h"

namespace hookline::viewer::test {

using Json = nlohmann::json;

inline pid_t Start(const std::vector<std::string>& command, const std::vector<std::pair<std::string, std::string>>& env,
                   const std::string& output) {
  fflush(nullptr);  // what is still to be written is ours alone
  const pid_t pid = fork();
  if (pid != 0) return pid;
  for (const auto& [key, value] : env) setenv(key.c_str(), value.c_str(), 1);
  if (!freopen(output.c_str(), "a", stdout) || !freopen(output.c_str(), "a", stderr)) _exit(126);
  std::vector<char*> arguments;
  for (const std::string& a : command) arguments.push_back(const_cast<char*>(a.c_str()));
  arguments.push_back(nullptr);
  execvp(arguments[0], arguments.data());
  _exit(127);
}

// A screen for as long as it lives.
class Screen {
 public:
  explicit Screen(int width = 1366, int height = 768) : width_(width), height_(height) {
    // The first number that nobody has.
    for (number_ = 90 + getpid() % 400; std::filesystem::exists("/tmp/.X" + std::to_string(number_) + "-lock");)
      ++number_;
    const std::string size = std::to_string(width) + "x" + std::to_string(height) + "x24";
    pid_ = Start({"Xvfb", name(), "-screen", "0", size, "-nolisten", "tcp"}, {}, folder_ / "screen.log");
    for (int i = 0; i < 200 && !std::filesystem::exists("/tmp/.X11-unix/X" + std::to_string(number_)); ++i)
      std::this_thread::sleep_for(std::chrono::milliseconds(50));
  }
  ~Screen() {
    kill(pid_, SIGTERM);
    waitpid(pid_, nullptr, 0);
  }
  Screen(const Screen&) = delete;
  Screen& operator=(const Screen&) = delete;
  std::string name() const { return ":" + std::to_string(number_); }
  int width() const { return width_; }
  int height() const { return height_; }
  // BGR.
  cv::Mat Shot(const std::string& keep_as = "") const {
    const std::string file = keep_as.empty() ? folder_ / "shot.png" : keep_as;
    const std::string size = std::to_string(width_) + "x" + std::to_string(height_);
    const std::string command = "ffmpeg -v error -y -f x11grab -draw_mouse 0 -video_size " + size + " -i " + name() +
                                " -frames:v 1 '" + file + "'";
    if (std::system(command.c_str()) != 0) return {};
    return cv::imread(file);
  }

 private:
  hookline::test::ScratchFolder folder_;
  int width_, height_, number_ = 0;
  pid_t pid_ = -1;
};

class LiveWindow {
 public:
  // `home` keeps settings and saved work; two windows one after the other may share it.
  LiveWindow(const Screen& screen, const std::string& home, const std::vector<std::string>& arguments)
      : screen_(screen), state_file_(home + "/state-" + std::to_string(++Count()) + ".json"), log_(home + "/log") {
    std::vector<std::string> command = {HOOKLINE_VIEWER, "--state", state_file_, "--size",
                                        std::to_string(screen.width()) + "x" + std::to_string(screen.height())};
    command.insert(command.end(), arguments.begin(), arguments.end());
    pid_ = Start(command,
                 {{"DISPLAY", screen.name()},
                  {"HOME", home},
                  {"XDG_CONFIG_HOME", home + "/config"},
                  {"XDG_STATE_HOME", home + "/state"},
                  {"XDG_DATA_HOME", home + "/data"},
                  {"LIBGL_ALWAYS_SOFTWARE", "1"}},
                 log_);
  }
  ~LiveWindow() {
    if (pid_ > 0) {
      kill(pid_, SIGKILL);
      waitpid(pid_, nullptr, 0);
    }
  }
  LiveWindow(const LiveWindow&) = delete;
  LiveWindow& operator=(const LiveWindow&) = delete;

  Json State() const {
    const Json j = Json::parse(hookline::test::Content(state_file_), nullptr, false);
    return j.is_object() ? j : Json::object();
  }
  bool Wait(const std::function<bool(const Json&)>& holds, double seconds = 60) const {
    const auto end = std::chrono::steady_clock::now() + std::chrono::duration<double>(seconds);
    do {
      try {
        if (holds(State())) return true;
      } catch (const Json::exception&) {
        // Not shown yet.
      }
      std::this_thread::sleep_for(std::chrono::milliseconds(20));
    } while (std::chrono::steady_clock::now() < end);
    return false;
  }
  void Do(const std::string& what) const {
    const std::string command = "DISPLAY=" + screen_.name() + " xdotool " + what + " >/dev/null 2>&1";
    CHECK(std::system(command.c_str()) == 0);
  }
  // Keys go to the window that has the focus; without a window manager somebody has to give it.
  void Focus() const { Do("search --sync --onlyvisible --name Hookline windowfocus --sync"); }
  void Key(const std::string& key) const { Do("key " + key); }
  void Click(double x, double y) const {
    Do("mousemove --sync " + Number(x) + " " + Number(y) + " sleep 0.2 mousedown 1 sleep 0.2 mouseup 1");
  }
  void Click(const std::string& place) const {
    const Json r = State().at("places").at(place);
    Click((r[0].get<double>() + r[2].get<double>()) / 2, (r[1].get<double>() + r[3].get<double>()) / 2);
  }
  void Drag(double x, double y, double to_x, double to_y) const {
    Do("mousemove --sync " + Number(x) + " " + Number(y) + " sleep 0.3 mousedown 1 sleep 0.3 mousemove --sync " +
       Number((x + to_x) / 2) + " " + Number((y + to_y) / 2) + " sleep 0.3 mousemove --sync " + Number(to_x) + " " +
       Number(to_y) + " sleep 0.3 mouseup 1");
  }
  // The exit code once it has ended by itself; -1 when it has not.
  int Ended(double seconds) {
    const auto end = std::chrono::steady_clock::now() + std::chrono::duration<double>(seconds);
    while (std::chrono::steady_clock::now() < end) {
      int status = 0;
      if (waitpid(pid_, &status, WNOHANG) == pid_) {
        pid_ = -1;
        return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
      }
      std::this_thread::sleep_for(std::chrono::milliseconds(20));
    }
    return -1;
  }
  void Kill() {
    kill(pid_, SIGKILL);
    waitpid(pid_, nullptr, 0);
    pid_ = -1;
  }
  std::string Log() const { return hookline::test::Content(log_); }
  pid_t pid() const { return pid_; }

 private:
  static int& Count() {
    static int count = 0;
    return count;
  }
  static std::string Number(double v) { return std::to_string(std::lround(v)); }
  const Screen& screen_;
  std::string state_file_, log_;
  pid_t pid_ = -1;
};

// A sheet takes its place over a few frames, which are slow on a busy machine.
inline void ClickWhenStill(const LiveWindow& window, const std::string& place) {
  const auto where = [&] { return window.State().value("places", Json::object()).value(place, Json()); };
  Json before;
  int same = 0;
  for (int i = 0; i < 300 && same < 8; ++i) {
    const Json now = where();
    same = !now.is_null() && now == before ? same + 1 : 0;
    before = now;
    std::this_thread::sleep_for(std::chrono::milliseconds(100));
  }
  window.Click(place);
}

inline int Shown(const Json& j) { return j.at("panes").at(0).at("shown"); }

// Where a place of the first picture is in the window, both in px.
inline cv::Point2d InWindow(const Json& j, const cv::Point2d& p_in_picture) {
  const Json &rect = j.at("panes").at(0).at("picture"), &scale = j.at("panes").at(0).at("scale");
  return {rect[0].get<double>() + (p_in_picture.x + 0.5) * scale.get<double>(),
          rect[1].get<double>() + (p_in_picture.y + 0.5) * scale.get<double>()};
}

// What is waited for comes, or what the window shows instead is told, and whether it was only a frame that did not
// come.
inline void Await(const LiveWindow& window, const std::string& what, const std::function<bool(const Json&)>& holds) {
  const bool came = window.Wait(holds, 20);
  if (!came) {
    MESSAGE("not there: " << what << " " << window.State().dump());
    window.Do("mousemove_relative 3 3");
    MESSAGE("after a move of the mouse: " << window.Wait(holds, 5) << "; log: " << window.Log());
  }
  REQUIRE(came);
}

inline bool AllMeasured(const Json& j) {
  for (const Json& clip : j.at("clips")) {
    if (clip.at("state") != "measured") return false;
  }
  return true;
}

}  // namespace hookline::viewer::test
