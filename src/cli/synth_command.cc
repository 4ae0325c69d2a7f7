// hookline synth SCENARIO OUT : a clip with exact truth.

#include <cstdio>
#include <filesystem>
#include <memory>
#include <string>

#include "cli/command.h"
#include "cli/exit_code.h"
#include "cli/outputs.h"
#include "cli/terminal.h"
#include "report/number_text.h"
#include "synth/make_clip.h"
#include "synth/scenario.h"

namespace hookline::cli {
namespace {

constexpr const char* kHelp =
    "A scenario says what a clip holds: lane, hall, camera, bowler, ball, release, friction (docs/scenario-file.md). "
    "The\n"
    "truth is written beside the clip: OUT with .truth.json for its ending. Same scenario, same clip.\n"
    "\n"
    "Example:\n"
    "  hookline synth sample-clips-synthetic/hook.scenario.json hook.mp4\n"
    "\n";

struct SynthArguments {
  std::string scenario, out;
  int repeats = 1;
  bool no_truth = false, force = false;
};

int RunSynth(const SynthArguments& a) {
  const auto out =
      PlanOutput({"OUT", a.out, ".mp4", {".mp4", ".mov", ".mkv", ".avi", ".webm"}, false}, {a.scenario}, a.force);
  if (!out.ok()) return Report(out.status());
  synth::MakeOptions options;
  options.truth = !a.no_truth;
  options.repeats = a.repeats;
  if (options.truth) {
    const auto truth = PlanOutput({"OUT", synth::TruthFileOf(a.out), ".json", {}, false}, {a.scenario}, a.force);
    if (!truth.ok()) return Report(truth.status());
  }
  const auto scenario = synth::ReadScenario(a.scenario);
  if (!scenario.ok()) return Report(scenario.status());
  InstallStopSignals();
  const auto made = [&] {
    ProgressLine line(std::filesystem::path(a.out).filename().string());
    return synth::MakeClip(*scenario, *out, options, line.Function(), &StopRequested());
  }();
  if (!made.ok()) return Report(made.status());
  std::string text = *out + ": " + std::to_string(made->frames) + " frames";
  if (made->frames_s > 0) text += ", " + report::FixedText(made->frames / made->frames_s, 1) + " a second";
  if (!made->truth_file.empty()) text += "; truth in " + made->truth_file;
  return Report(WriteOutput("-", text + "\n"));
}

}  // namespace

std::function<int()> InstallSynth(CLI::App& app) {
  const auto a = std::make_shared<SynthArguments>();
  app.add_option("SCENARIO", a->scenario, "A scenario file")->required();
  app.add_option("OUT", a->out, "The clip to make: .mp4, .mov, .mkv, .avi or .webm")->required();
  app.add_option("--repeats", a->repeats, "Write the clip's frames this many times one after another, for speed runs")
      ->check(CLI::Range(1, 1000));
  app.add_flag("--no-truth", a->no_truth, "Do not write the truth");
  app.add_flag("--force", a->force, "Replace output files that are there already");
  app.footer(std::string(kHelp) + std::string(kExitCodeHelp));
  return [a] { return RunSynth(*a); };
}

}  // namespace hookline::cli
