// hookline measure CLIP... : the main job.

#include <algorithm>
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "cli/command.h"
#include "cli/exit_code.h"
#include "cli/keep_shots.h"
#include "cli/outputs.h"
#include "cli/picture_exports.h"
#include "cli/terminal.h"
#include "pipeline/annotate_clip.h"
#include "pipeline/measure_clip.h"
#include "pipeline/refit.h"
#include "report/corrections_json.h"
#include "report/result_csv.h"
#include "report/result_json.h"
#include "report/result_table.h"

namespace hookline::cli {
namespace {

constexpr const char* kHelp =
    "A good clip: the phone on a tripod behind the approach, landscape, 60 frames a second or more, at eye height or\n"
    "higher, with the whole lane from the foul line to the pins in the picture; the camera stands still; the clip "
    "begins\n"
    "before the release and ends after the pins have fallen. Other clips are measured as well as they can be, with "
    "more\n"
    "doubt. Stay off the approach while others bowl, and never walk past the foul line.\n"
    "\n"
    "Boards count from the edge of the bowler's own hand; 20 is the centre. \"12.0 ±0.1\" is a value and one standard\n"
    "deviation of everything that made it. A dash has its reason below the table.\n"
    "\n"
    "--keep puts the shots into the library (`hookline library`), in the session of that bowler, place, lane and day; "
    "a\n"
    "clip that is measured again, wherever it lies by then, updates its shots.\n"
    "\n"
    "Several clips: --json and --overlay take a folder (results/), --csv one file for all.\n"
    "\n"
    "Examples:\n"
    "  hookline measure shot.mp4\n"
    "  hookline measure shot.mp4 --json - | jq '.shots[0].measures.board_at_arrows'\n"
    "  hookline measure shot.mp4 --lane-setup lane-12.json --overlay shot-drawn.mp4\n"
    "  hookline measure evening/*.mp4 --csv evening.csv --json results/\n"
    "  hookline measure evening/*.mp4 --keep --bowler Robin --place \"Maple Hall\" --on-lane 7 --lane-setup saved\n"
    "\n";

struct MeasureArguments {
  std::vector<std::string> clips;
  std::string hand, lane_setup, corrections, json, csv, overlay;
  std::vector<std::string> blur_boxes;
  pipeline::BlurOptions blur;
  std::optional<int> lane;
  std::optional<double> ball_rg_in, readout_ms;
  bool force = false;
  KeepArguments keep;
  std::string setup_text;  // of the library
};

struct MeasureFiles {
  std::vector<std::string> json, overlay;
  std::string csv;
};

Result<MeasureFiles> Plan(const MeasureArguments& a) {
  MeasureFiles files;
  auto json = PlanOutputs({"--json", a.json, ".json", {}, true}, a.clips, a.force);
  if (!json.ok()) return json.status();
  auto overlay =
      PlanOutputs({"--overlay", a.overlay, ".mp4", {".mp4", ".mov", ".mkv", ".avi", ".webm"}, false}, a.clips, a.force);
  if (!overlay.ok()) return overlay.status();
  auto csv = PlanOutput({"--csv", a.csv, ".csv", {}, true}, a.clips, a.force);
  if (!csv.ok()) return csv.status();
  if (a.json == "-" && a.csv == "-")
    return Status(StatusCode::kBadUse, "Standard output takes either --json or --csv, not both.");
  files.json = std::move(*json);
  files.overlay = std::move(*overlay);
  files.csv = std::move(*csv);
  return files;
}

Result<pipeline::ClipRun> Measured(const MeasureArguments& a, std::size_t i, const pipeline::MeasureOptions& options,
                                   const ProgressFn& progress) {
  if (a.corrections.empty()) return pipeline::MeasureClip(a.clips[i], options, progress, StopRequested());
  const auto corrections = report::ReadCorrections(a.corrections);
  if (!corrections.ok()) return corrections.status();
  auto both = pipeline::MeasureCorrected(a.clips[i], *corrections, options, progress, StopRequested());
  if (!both.ok()) return both.status();
  return std::move(both->run);
}

// Measures one clip and writes its own files. The exit code of this clip alone; a measured clip is added to `results`.
int MeasureOne(const MeasureArguments& a, const MeasureFiles& files, std::size_t i, Keeper* keeper,
               std::vector<ClipResult>* results) {
  pipeline::MeasureOptions options;
  if (!a.hand.empty()) options.hand = a.hand == "left" ? lane::Hand::kLeft : lane::Hand::kRight;
  options.lane.setup_file = a.lane_setup;
  options.lane.setup_text = a.setup_text;
  options.lane.lane_offset = a.lane;
  if (a.readout_ms) options.readout_s = 1e-3 * *a.readout_ms;
  if (a.ball_rg_in) options.ball_gyration = lane::MetresFromInches(*a.ball_rg_in);
  ProgressLine line(std::filesystem::path(a.clips[i]).filename().string());
  auto run = Measured(a, i, options, line.Function());
  if (!run.ok()) return Report(run.status());
  const ClipResult& result = run->result;
  if (!files.json[i].empty()) {
    if (Status s = WriteOutput(files.json[i], report::ResultJson(result)); !s.ok()) return Report(s);
  }
  if (!files.overlay[i].empty() && result.lane_setup) {
    if (i == 0) RemindOfConsent();
    if (Status s = pipeline::AnnotateClip(*run, a.blur, files.overlay[i], line.Function(), StopRequested()); !s.ok())
      return Report(s);
  }
  if (keeper) {
    if (Status s = keeper->Put(a.clips[i], result); !s.ok()) return Report(s);
  }
  results->push_back(result);
  return !result.lane_setup ? kExitLaneNotFound : result.shots.empty() ? kExitNoShot : kExitMeasured;
}

int RunMeasure(MeasureArguments a) {
  const auto files = Plan(a);
  if (!files.ok()) return Report(files.status());
  if (!a.corrections.empty()) {
    if (a.clips.size() > 1)
      return Report({StatusCode::kBadUse, "--corrections belongs to one clip; measure the clips one by one."});
    // Said before the clip is looked at, which takes a while.
    if (const auto c = report::ReadCorrections(a.corrections); !c.ok()) return Report(c.status());
  }
  for (const std::string& text : a.blur_boxes) {
    const auto box = BoxOf(text);
    if (!box.ok()) return Report(box.status());
    a.blur.boxes.push_back(*box);
  }
  if (a.blur.any() && a.overlay.empty())
    return Report({StatusCode::kBadUse, "What is blurred is blurred in a clip: say where it goes with --overlay."});
  if (Status s = a.blur.Check(); !s.ok()) return Report(s);
  if (Status s = CheckKeep(a.keep); !s.ok()) return Report(s);
  if (a.lane_setup == kSavedSetup) {
    const auto saved = SavedSetupOf(a.keep);
    if (!saved.ok()) return Report(saved.status());
    a.lane_setup = "The library's setup \"" + saved->name + "\" of " + saved->place + ", lane " + saved->lane + ",";
    a.setup_text = saved->document;
  }
  std::unique_ptr<Keeper> keeper;
  if (a.keep.wanted()) {
    auto opened = Keeper::Open(a.keep, a.hand);
    if (!opened.ok()) return Report(opened.status());
    keeper = std::move(*opened);
  }
  InstallStopSignals();
  std::vector<ClipResult> results;
  int code = kExitMeasured;
  for (std::size_t i = 0; i < a.clips.size(); ++i) {
    const int of_clip = MeasureOne(a, *files, i, keeper.get(), &results);
    if (of_clip == kExitStopped) return of_clip;
    code = std::max(code, of_clip);
  }
  if (!files->csv.empty()) {
    if (Status s = WriteOutput(files->csv, report::ResultCsv(results)); !s.ok()) return Report(s);
  }
  if (a.json == "-" || a.csv == "-") {
    // Standard output belongs to the file; what a person must know goes beside it.
    for (const ClipResult& result : results) {
      if (!result.lane_setup) Say(result.clip.file + ": lane not found: " + result.lane_reason);
      if (result.lane_setup && result.shots.empty()) Say(result.clip.file + ": no shot: " + result.no_shot_reason);
    }
  } else if (!results.empty()) {
    if (Status s = WriteOutput("-", report::ResultTable(results)); !s.ok()) return Report(s);
  }
  return code;
}

}  // namespace

std::function<int()> InstallMeasure(CLI::App& app) {
  const auto a = std::make_shared<MeasureArguments>();
  app.add_option("CLIP", a->clips, "Clips filmed from behind the approach")->required();
  app.add_option("--hand", a->hand, "The bowler's hand; told from the picture where it can be when not given")
      ->check(CLI::IsMember({"right", "left"}));
  app.add_option(
      "--lane-setup", a->lane_setup,
      "A lane saved by `hookline lane`, for a tripod that has not moved; \"saved\" takes the library's for --place "
      "and --on-lane");
  app.add_option("--corrections", a->corrections,
                 "What a person set by hand in this clip: lane marks, ball, release, impact (a corrections file)");
  app.add_option("--lane", a->lane, "The lane: 0 the one the camera aims at, 1 the next to its right, -1 to its left");
  app.add_option(
      "--ball-rg", a->ball_rg_in,
      "The ball's radius of gyration in inches, as its maker gives it (2.46 to 2.80): the spin told from the path "
      "rests on it");
  app.add_option(
      "--readout", a->readout_ms,
      "How long the camera takes to read a picture from the first row to the last, in ms, where it is known (0 for a "
      "global shutter): speeds and the spin told from the path get surer");
  app.add_option("--json", a->json, "Write the result file (- is standard output)");
  app.add_option("--csv", a->csv, "Write a row a shot for a spreadsheet (- is standard output)");
  app.add_option("--overlay", a->overlay, "Write the clip with path, boards, breakpoint and numbers drawn on it");
  app.add_flag(
      "--blur-others", a->blur.others,
      "In that clip, blur people other than the bowler where they can be found; look at it before you hand it on");
  app.add_option("--blur", a->blur_boxes,
                 "Blur this box of the picture too: X,Y,WIDTH,HEIGHT in px; may be given again");
  app.add_flag("--force", a->force, "Replace output files that are there already");
  AddKeepOptions(app, a->keep);
  app.footer(std::string(kHelp) + std::string(kExitCodeHelp));
  return [a] { return RunMeasure(*a); };
}

}  // namespace hookline::cli
