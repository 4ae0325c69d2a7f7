// accuracy: how far off the program's measures are, over clips made at random with exact truth.
//
// Makes clips (synth::RandomScenario) into a folder, those that are there already are kept; runs the program on each as
// a user would (a child process, `measure CLIP --hand HAND --json -`); prints what went wrong clip by clip, then the
// table of docs/accuracy.md.

#include <CLI/CLI.hpp>
#include <chrono>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "accuracy_table.h"
#include "core/whole_file.h"
#include "synth/make_clip.h"
#include "synth/random_scenario.h"
#include "synth/truth.h"

namespace {

namespace fs = std::filesystem;
using Json = nlohmann::json;
using hookline::Status;

struct Arguments {
  std::string program = HOOKLINE_PROGRAM, cache = "accuracy-clips", only, situation, format;
  int from = 0, to = 48, seed = 1, lines = 0;
  bool ball_known = false;     // the program is told the ball's radius of gyration
  bool readout_known = false;  // and how long the camera takes to read a picture
  bool make_only = false, no_hand = false, remake = false, listing = false;
  std::vector<std::string> more;
};

double Seconds(std::chrono::steady_clock::time_point from) {
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - from).count();
}

hookline::synth::Scenario ScenarioOf(const Arguments& a, int index) {
  using hookline::synth::PictureFormat;
  hookline::synth::RandomKind kind = hookline::synth::TableKind(index);
  using hookline::synth::Situation;
  for (int i = 0; i <= static_cast<int>(Situation::kLaneColoured); ++i)
    if (a.situation == hookline::synth::NameOf(static_cast<Situation>(i))) kind.situation = static_cast<Situation>(i);
  for (int i = 0; i <= static_cast<int>(PictureFormat::k2160p60); ++i)
    if (a.format == hookline::synth::NameOf(static_cast<PictureFormat>(i))) kind.format = static_cast<PictureFormat>(i);
  if (a.lines == 720) {
    if (kind.format == PictureFormat::k1080p60 || kind.format == PictureFormat::k1080p30)
      kind.format = PictureFormat::k720p60;
    if (kind.format == PictureFormat::kPortrait1080p60) kind.format = PictureFormat::kPortrait720p60;
  }
  return hookline::synth::RandomScenario(static_cast<std::uint64_t>(a.seed) * 1000 + static_cast<std::uint64_t>(index),
                                         kind);
}

// A name for the shell, whatever it holds.
std::string Quoted(const std::string& text) {
  std::string out = "'";
  for (char c : text) out += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return out + "'";
}

std::string Output(const std::string& command) {
  std::string out;
  FILE* pipe = popen(command.c_str(), "r");
  if (pipe == nullptr) return out;
  char block[65536];
  for (std::size_t n = 0; (n = std::fread(block, 1, sizeof block, pipe)) > 0;) out.append(block, n);
  pclose(pipe);
  return out;
}

Status Make(const Arguments& a, int index, std::string* clip) {
  const hookline::synth::Scenario s = ScenarioOf(a, index);
  const fs::path folder(a.cache), scenario_file = folder / (s.name + ".scenario.json");
  *clip = (folder / (s.name + ".mp4")).string();
  const std::string text = hookline::synth::JsonFromScenario(s);
  const auto old = hookline::ReadWholeFile(scenario_file.string());
  const bool there = old.ok() && *old == text && fs::exists(*clip) && fs::exists(hookline::synth::TruthFileOf(*clip));
  if (there && !a.remake) {
    // The truth costs little: made anew, so that it is never older than the program.
    const hookline::synth::Scene scene(s);
    const std::string truth = TruthJson(scene, FrameTimes(s), fs::path(*clip).filename().string());
    const auto kept = hookline::ReadWholeFile(hookline::synth::TruthFileOf(*clip));
    return kept.ok() && *kept == truth ? Status::Ok()
                                       : hookline::WriteWholeFile(hookline::synth::TruthFileOf(*clip), truth);
  }
  const auto made = hookline::synth::MakeClip(s, *clip);
  if (!made.ok()) return made.status();
  std::printf("made %s: %d frames, %.1f s\n", s.name.c_str(), made->frames,
              made->still_s + made->frames_s + made->truth_s);
  std::fflush(stdout);
  return hookline::WriteWholeFile(scenario_file.string(), text);
}

int Run(const Arguments& a) {
  std::error_code error;
  fs::create_directories(a.cache, error);
  hookline::bench::AccuracyTable table;
  double made_s = 0, measured_s = 0;
  int clips = 0;
  for (int index = a.from; index < a.to; ++index) {
    if (!a.only.empty() || a.listing) {
      const std::string name = ScenarioOf(a, index).name;
      if (name.find(a.only) == std::string::npos) continue;
      if (a.listing) {
        std::printf("%3d %s\n", index, name.c_str());
        continue;
      }
    }
    auto clock = std::chrono::steady_clock::now();
    std::string clip;
    const Status status = Make(a, index, &clip);
    made_s += Seconds(clock);
    if (!status.ok()) {
      std::fprintf(stderr, "%s\n", status.sentence().c_str());
      return 2;
    }
    ++clips;
    if (a.make_only) continue;
    const auto truth_text = hookline::ReadWholeFile(hookline::synth::TruthFileOf(clip));
    if (!truth_text.ok()) return 2;
    const Json truth = Json::parse(*truth_text);
    clock = std::chrono::steady_clock::now();
    std::string command = Quoted(a.program) + " measure " + Quoted(clip);
    if (truth["hand"].is_string() && !a.no_hand) command += " --hand " + truth["hand"].get<std::string>();
    if (a.ball_known && !truth["shots"].empty())
      command += " --ball-rg " + std::to_string(truth["shots"][0]["ball_rg_in"].get<double>());
    if (a.readout_known) command += " --readout " + std::to_string(1e3 * truth["readout_s"].get<double>());
    for (const std::string& m : a.more) command += " " + Quoted(m);
    const std::string text = Output(command + " --json - 2>/dev/null");
    const double took = Seconds(clock);
    measured_s += took;
    const Json result = Json::parse(text, nullptr, false);
    std::string line;
    if (result.is_discarded() || !result.is_object() || !result.contains("shots")) {
      table.AddFailedRun(truth);
      line = "FAILED: no result";
    } else {
      for (const std::string& note : table.Add(truth, result)) line += (line.empty() ? "" : "; ") + note;
    }
    std::printf("%3d %-34s %5.1f s  %s\n", index, fs::path(clip).stem().c_str(), took, line.c_str());
    std::fflush(stdout);
  }
  if (a.make_only || a.listing) return 0;
  bool passes = false;
  std::printf("\n%s", table.Text(&passes).c_str());
  std::printf("%d clips; made in %.0f s, measured in %.0f s\n", clips, made_s, measured_s);
  return passes ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
  Arguments a;
  CLI::App app(
      "Errors of the measures against exact truth, over clips made at random. Exit 0 when every bar of "
      "docs/measures.md holds, 1 when not.");
  app.add_option("--program", a.program, "The program that is judged")->capture_default_str();
  app.add_option("--cache", a.cache, "Folder for the clips; those already there are kept")->capture_default_str();
  app.add_option("--from", a.from, "First index of the set")->capture_default_str();
  app.add_option("--to", a.to, "One past the last index")->capture_default_str();
  app.add_option("--seed", a.seed, "Another number makes another set of clips")->capture_default_str();
  app.add_option("--lines", a.lines, "720: make no clip with more lines (faster; then all footage is hard)");
  app.add_option("--only", a.only, "Clips whose name holds this text, such as portrait");
  app.add_option("--situation", a.situation,
                 "All clips of this kind: hook, straight, backup, gutter, spare, noshot, twoballs, session, handheld, "
                 "knocked, drift, vfr, lanecoloured");
  app.add_option(
      "--format", a.format,
      "All clips in this format: 1080p60, 1080p30, 720p60, 720p120, portrait1080p60, portrait720p60, 2160p60");
  app.add_option("--more", a.more, "Further arguments for the program");
  app.add_flag("--ball-known", a.ball_known, "tell the program each ball's radius of gyration");
  app.add_flag("--readout-known", a.readout_known, "tell the program each camera's readout");
  app.add_flag("--make-only", a.make_only, "Make the clips and stop");
  app.add_flag("--no-hand", a.no_hand, "Do not tell the program the bowler's hand");
  app.add_flag("--remake", a.remake, "Make clips anew even when they are there");
  app.add_flag("--list", a.listing, "Print the names of the clips and stop");
  CLI11_PARSE(app, argc, argv);
  return Run(a);
}
