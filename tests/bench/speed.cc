// speed: wall time of `hookline measure` against `ffmpeg -i CLIP -f null -` on the same clip in the same run, in pairs,
// and peak memory, also on a clip ten times as long.
//
// The clip is made by synth: 1080p60 H.264, one shot of four seconds written three times over (12 s) at 12 Mbit/s. Made
// once, then kept.

#include <fcntl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <filesystem>
#include <string>
#include <thread>
#include <vector>

#include "synth/make_clip.h"

namespace {

namespace fs = std::filesystem;

struct Cost {
  double wall_s = -1, cpu_s = -1, peak_mb = -1;
  int code = -1;
};

// Runs a program with its output thrown away.
Cost RunProgram(std::vector<std::string> words) {
  std::vector<char*> argv;
  for (std::string& w : words) argv.push_back(w.data());
  argv.push_back(nullptr);
  const auto began = std::chrono::steady_clock::now();
  const pid_t child = fork();
  if (child == 0) {
    const int nowhere = open("/dev/null", O_RDWR);
    for (int fd : {0, 1, 2}) dup2(nowhere, fd);
    execvp(argv[0], argv.data());
    _exit(127);
  }
  int status = 0;
  rusage used = {};
  if (child < 0 || wait4(child, &status, 0, &used) != child) return {};
  const auto seconds = [](const timeval& t) {
    return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec);
  };
  Cost cost;
  cost.wall_s = std::chrono::duration<double>(std::chrono::steady_clock::now() - began).count();
  cost.cpu_s = seconds(used.ru_utime) + seconds(used.ru_stime);
  cost.peak_mb = static_cast<double>(used.ru_maxrss) / 1024;
  cost.code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  return cost;
}

double Median(std::vector<double> v) {
  std::sort(v.begin(), v.end());
  return v[v.size() / 2];
}

// Four seconds with one shot, filmed as the README says: a little to the side and above eye height, so that the bowler
// does not stand before the lane most of the time. Everything else as a scenario has it by itself.
bool MakeClipOnce(const std::string& file, int repeats) {
  if (fs::exists(file)) return true;
  hookline::synth::Scenario scenario;
  scenario.name = "speed";
  scenario.video.width = 1920;
  scenario.video.height = 1080;
  scenario.video.bit_rate_kbps = 12000;
  scenario.camera.position_ft = {2.5, -16, 6};
  scenario.camera.yaw_deg = -6;
  scenario.camera.pitch_deg = 8;
  scenario.camera.focal_px = 1500;
  scenario.lanes.centres_in = {-66, 0, 66};
  scenario.shots.emplace_back();
  hookline::synth::MakeOptions options;
  options.truth = false;
  options.repeats = repeats;
  const auto made = hookline::synth::MakeClip(scenario, file, options);
  if (!made.ok()) std::fprintf(stderr, "%s\n", made.status().sentence().c_str());
  return made.ok();
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app("Wall time of measuring against decoding alone, and peak memory", "speed");
  std::string program = HOOKLINE_PROGRAM, cache = "speed-clips";
  int pairs = 5;
  bool skip_long = false;
  app.add_option("--program", program, "The program to time");
  app.add_option("--cache", cache, "Folder of the clips, kept from run to run");
  app.add_option("--pairs", pairs, "Pairs of runs")->check(CLI::Range(1, 99));
  app.add_flag("--short", skip_long, "Leave out the clip of two minutes");
  CLI11_PARSE(app, argc, argv);

  fs::create_directories(cache);
  const std::string clip = (fs::path(cache) / "12s.mp4").string(), long_clip = (fs::path(cache) / "120s.mp4").string();
  if (!MakeClipOnce(clip, 3) || (!skip_long && !MakeClipOnce(long_clip, 30))) return 2;

  std::printf("1080p60 H.264, 12 s, %.1f Mbit/s, %u cores\n", 8e-6 * static_cast<double>(fs::file_size(clip)) / 12,
              std::thread::hardware_concurrency());
  std::printf("pair   ffmpeg s   measure s   ratio   measure CPU s   peak MB   exit\n");
  std::vector<double> ratios;
  for (int i = 1; i <= pairs; ++i) {
    const Cost decode = RunProgram({"ffmpeg", "-v", "error", "-nostdin", "-i", clip, "-f", "null", "-"});
    const Cost measure = RunProgram({program, "measure", clip, "--json", "-"});
    if (decode.code != 0 || measure.code < 0 || measure.code == 127) {
      std::fprintf(stderr, "ffmpeg ended with %d, %s with %d\n", decode.code, program.c_str(), measure.code);
      return 2;
    }
    ratios.push_back(measure.wall_s / decode.wall_s);
    std::printf("%4d %10.2f %11.2f %7.2f %15.2f %9.0f %6d\n", i, decode.wall_s, measure.wall_s, ratios.back(),
                measure.cpu_s, measure.peak_mb, measure.code);
  }
  std::printf("median ratio %.2f (lowest %.2f, highest %.2f)\n", Median(ratios),
              *std::min_element(ratios.begin(), ratios.end()), *std::max_element(ratios.begin(), ratios.end()));
  if (!skip_long) {
    const Cost cost = RunProgram({program, "measure", long_clip, "--json", "-"});
    std::printf("120 s clip: %.2f s, peak %.0f MB, exit %d\n", cost.wall_s, cost.peak_mb, cost.code);
  }
  return 0;
}
