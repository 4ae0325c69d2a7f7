// hookline side-by-side FIRST SECOND : two shots as one clip, in step.

#include <memory>
#include <set>
#include <string>
#include <vector>

#include "cli/command.h"
#include "cli/exit_code.h"
#include "cli/outputs.h"
#include "cli/picture_exports.h"
#include "cli/terminal.h"
#include "pipeline/page_of_session.h"
#include "pipeline/side_by_side.h"
#include "report/read_result.h"

namespace hookline::cli {
namespace {

constexpr const char* kHelp =
    "FIRST and SECOND are result files of `hookline measure --json`, or one file that holds both shots. The clips "
    "must\n"
    "still be where they were measured, beside the result files, or in the folder that --clips names.\n"
    "\n"
    "The clip shows a person: before the first export the program asks once whether that person, for a minor a "
    "parent,\n"
    "has agreed, and remembers the answer (docs/report.md).\n"
    "\n"
    "Examples:\n"
    "  hookline side-by-side before.json after.json --out both.mp4\n"
    "  hookline side-by-side evening.json --shots 3 7 --from breakpoint --slower 4 --out both.mp4\n"
    "\n";

struct SideBySideArguments {
  std::vector<std::string> files, blur_first, blur_second;
  std::vector<int> shots;
  std::string out, from = "release", clips;
  pipeline::SideBySideOptions options;
  bool blur_others = false, no_path = false, consent = false, force = false;
};

pipeline::ShotMark MarkOf(const std::string& name) {
  return name == "arrows"       ? pipeline::ShotMark::kArrows
         : name == "breakpoint" ? pipeline::ShotMark::kBreakpoint
         : name == "pins"       ? pipeline::ShotMark::kPins
                                : pipeline::ShotMark::kRelease;
}

// The side's shot: that number of the file, or its only one.
Result<pipeline::ShotInClip> ShotOf(const std::string& file, const std::optional<int>& number,
                                    const std::string& clips) {
  auto result = report::ReadResult(file);
  if (!result.ok()) return result.status();
  pipeline::ShotInClip out;
  const std::size_t n = result->shots.size();
  std::size_t found = n;
  for (std::size_t i = 0; i < n; ++i)
    if (number ? result->shots[i].number == *number : n == 1) found = i;
  if (found == n)
    return Status(
        StatusCode::kBadUse,
        number   ? file + ": there is no shot " + std::to_string(*number) + "; it holds " + std::to_string(n) + "."
        : n == 0 ? file + ": there is no shot in it."
                 : file + ": it holds " + std::to_string(n) + " shots; say which with --shots, first and second.");
  out.shot = found;
  out.clip = pipeline::ClipOf({file, *result}, clips);
  if (out.clip.empty())
    return Status(StatusCode::kBadFile,
                  file + ": its clip " + result->clip.file + " is not there; say in which folder it is with --clips.");
  out.name = "Shot " + std::to_string(result->shots[found].number);
  out.result = std::move(*result);
  return out;
}

int RunSideBySide(SideBySideArguments a) {
  if (a.files.size() == 1) a.files.push_back(a.files.front());
  if (a.files.size() != 2)
    return Report({StatusCode::kBadUse, "Two shots stand side by side: give two result files, or one with --shots."});
  if (!a.shots.empty() && a.shots.size() != 2)
    return Report({StatusCode::kBadUse, "--shots takes two numbers, of the first and of the second file."});
  std::vector<pipeline::ShotInClip> shots;
  std::vector<std::string> inputs = a.files;
  for (std::size_t i = 0; i < 2; ++i) {
    auto shot = ShotOf(a.files[i], a.shots.empty() ? std::nullopt : std::optional(a.shots[i]), a.clips);
    if (!shot.ok()) return Report(shot.status());
    inputs.push_back(shot->clip);
    shots.push_back(std::move(*shot));
  }
  // Two files with a shot each: the numbers are both 1 and tell nothing.
  if (shots[0].name == shots[1].name) {
    shots[0].name = "First";
    shots[1].name = "Second";
  }
  const auto out =
      PlanOutput({"--out", a.out, ".mp4", {".mp4", ".mov", ".mkv", ".avi", ".webm"}, false}, inputs, a.force);
  if (!out.ok()) return Report(out.status());
  for (auto [texts, blur] :
       {std::pair{&a.blur_first, &a.options.blur_first}, {&a.blur_second, &a.options.blur_second}}) {
    blur->others = a.blur_others;
    for (const std::string& text : *texts) {
      const auto box = BoxOf(text);
      if (!box.ok()) return Report(box.status());
      blur->boxes.push_back(*box);
    }
  }
  a.options.mark = MarkOf(a.from);
  a.options.path = !a.no_path;
  if (Status s = a.options.Check(); !s.ok()) return Report(s);
  std::set<std::string> shown;
  for (const pipeline::ShotInClip& s : shots) shown.insert(s.result.shots[s.shot].bowler);
  if (Status s = SettleConsent(shown, a.consent); !s.ok()) return Report(s);
  InstallStopSignals();
  ProgressLine line("side by side");
  return Report(pipeline::SideBySide(shots[0], shots[1], a.options, *out, line.Function(), StopRequested()));
}

}  // namespace

std::function<int()> InstallSideBySide(CLI::App& app) {
  const auto a = std::make_shared<SideBySideArguments>();
  app.add_option("RESULT", a->files, "Result files of the two shots, or one file that holds both")->required();
  app.add_option("--out", a->out, "The clip to write")->required();
  app.add_option("--shots", a->shots, "Numbers of the two shots, where a file holds several")->expected(2);
  app.add_option("--from", a->from, "In step from here")
      ->check(CLI::IsMember({"release", "arrows", "breakpoint", "pins"}))
      ->capture_default_str();
  app.add_option("--slower", a->options.slower, "Times slower than life, 1 to 16")->capture_default_str();
  app.add_option("--clips", a->clips, "Folder of the clips");
  app.add_flag("--no-path", a->no_path, "The pictures alone, nothing drawn on them");
  app.add_flag("--blur-others", a->blur_others,
               "Blur people other than the bowlers where they can be found; look at the clip before you hand it on");
  app.add_option("--blur-first", a->blur_first, "Blur this box of the first clip: X,Y,WIDTH,HEIGHT in px");
  app.add_option("--blur-second", a->blur_second, "The same for the second clip");
  app.add_flag(kConsentOption, a->consent, kConsentHelp);
  app.add_flag("--force", a->force, "Replace an output file that is there already");
  app.footer(std::string(kHelp) + std::string(kExitCodeHelp));
  return [a] { return RunSideBySide(*a); };
}

}  // namespace hookline::cli
