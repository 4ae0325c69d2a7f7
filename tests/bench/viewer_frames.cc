// How fast the window is: shown pictures a second with drawings on, steps, jumps in a long clip, and what it costs when
// nothing moves. On a screen of its own with software rendering; prints a table (docs/viewer.md).
//
//   viewer_frames CLIP LONG_CLIP     CLIP: a few seconds of 1080p60 with a shot; LONG_CLIP: five minutes of it
#define DOCTEST_CONFIG_IMPLEMENT
#include <algorithm>
#include <cstdio>
#include <fstream>
#include <numeric>
#include <sstream>
#include <thread>

#include "viewer/live_window.h"

using namespace hookline::viewer::test;

namespace {

double CpuSeconds(pid_t pid) {
  std::ifstream in("/proc/" + std::to_string(pid) + "/stat");
  std::string line;
  std::getline(in, line);
  std::istringstream rest(line.substr(line.rfind(')') + 2));
  std::string word;
  double ticks = 0;
  for (int i = 3; rest >> word; ++i) {
    if (i == 14 || i == 15) ticks += std::stod(word);
  }
  return ticks / static_cast<double>(sysconf(_SC_CLK_TCK));
}

double Now() { return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count(); }

struct Times {
  std::vector<double> ms;
  void Print(const char* name, double bar) {
    std::sort(ms.begin(), ms.end());
    if (ms.empty()) {
      std::printf("| %s | not measured | | |\n", name);
      return;
    }
    std::printf("| %s | %.0f ms | %.0f ms | %.0f ms |\n", name, ms[ms.size() / 2], ms.back(), bar);
  }
};

// Does something and waits for the picture asked for; the window tells how long that took, from the event on.
void Timed(const LiveWindow& window, const std::function<void()>& act, Times* times) {
  const long before = window.State().value("settles", 0L);
  act();
  if (window.Wait([&](const Json& j) { return j.at("settles").get<long>() > before; }, 10))
    times->ms.push_back(window.State().at("settle_ms"));
}

}  // namespace

int main(int argc, char** argv) {
  doctest::Context quiet;  // live_window.h checks with doctest; here a failure just shows in the numbers
  quiet.setAsDefaultForAssertsOutOfTestCases();
  if (argc != 3) {
    std::fprintf(stderr, "viewer_frames CLIP LONG_CLIP\n");
    return 2;
  }
  const hookline::test::ScratchFolder home;
  const Screen screen(1920, 1080);
  std::printf(
      "%u cores, 1920x1080, software rendering\n\n| what | middle | slowest | bar |\n| --- | --- | --- | --- |\n",
      std::thread::hardware_concurrency());
  {
    LiveWindow window(screen, home / ".", {argv[1]});
    if (!window.Wait([](const Json& j) { return AllMeasured(j) && j.at("advice_made"); }, 600)) return 1;
    window.Focus();
    window.Key("l");
    window.Key("space");
    std::this_thread::sleep_for(std::chrono::seconds(2));
    std::vector<double> rates;
    for (int i = 0; i < 5; ++i) {
      const long from = window.State().at("panes").at(0).at("uploads");
      const double began = Now();
      std::this_thread::sleep_for(std::chrono::seconds(2));
      rates.push_back(static_cast<double>(window.State().at("panes").at(0).at("uploads").get<long>() - from) /
                      (Now() - began));
    }
    window.Key("space");
    std::sort(rates.begin(), rates.end());
    std::printf("| shown pictures a second | %.0f | %.0f | 30 |\n", rates[rates.size() / 2], rates.front());
    Times on, back;
    window.Key("1");
    std::this_thread::sleep_for(std::chrono::seconds(1));  // the jump is over before steps are timed
    for (int i = 0; i < 20; ++i)
      Timed(
          window, [&] { window.Key("Right"); }, &on);
    for (int i = 0; i < 20; ++i)
      Timed(
          window, [&] { window.Key("Left"); }, &back);
    on.Print("a picture on", 50);
    back.Print("a picture back", 50);
    std::this_thread::sleep_for(std::chrono::seconds(2));
    const double cpu = CpuSeconds(window.pid());
    std::this_thread::sleep_for(std::chrono::seconds(10));
    std::printf("| nothing moves | %.1f %% of a core | | 3 %% |\n", (CpuSeconds(window.pid()) - cpu) * 10);
  }
  {
    const hookline::test::ScratchFolder other;
    LiveWindow window(screen, other / ".", {argv[2]});
    if (!window.Wait([](const Json& j) { return j.at("panes").at(0).at("ready").get<bool>(); }, 120)) return 1;
    window.Focus();
    window.Click("Stop all");
    window.Wait([](const Json& j) { return j.at("clips").at(0).at("state") == "stopped"; }, 60);
    const Json bar = window.State().at("places").at("timeline");
    Times jumps;
    unsigned seed = 7;
    for (int i = 0; i < 20; ++i) {
      seed = seed * 1664525u + 1013904223u;
      const double part = 0.05 + 0.9 * (seed >> 8) / static_cast<double>(1u << 24);
      const double x = bar[0].get<double>() + part * (bar[2].get<double>() - bar[0].get<double>());
      const double y = bar[3].get<double>() - 0.3 * (bar[3].get<double>() - bar[1].get<double>());
      Timed(
          window, [&] { window.Click(x, y); }, &jumps);
    }
    jumps.Print("a jump in five minutes", 400);
  }
  return 0;
}
