// hookline synth-session OUT : a practice session with exact truth, without pictures.

#include <memory>
#include <string>

#include "cli/command.h"
#include "cli/exit_code.h"
#include "cli/outputs.h"
#include "cli/terminal.h"
#include "report/result_json.h"
#include "synth/make_clip.h"
#include "synth/session.h"

namespace hookline::cli {
namespace {

constexpr const char* kHelp =
    "The session has the form of a result file, so that `hookline advise` reads it; the truth is written beside it: "
    "OUT\n"
    "with .truth.json for its ending (docs/advice.md). Same seed, same session.\n"
    "\n"
    "Example:\n"
    "  hookline synth-session evening.json --seed 7 && hookline advise evening.json\n"
    "\n";

struct SessionArguments {
  std::string out;
  synth::SessionOptions options;
  bool force = false;
};

int RunSession(const SessionArguments& a) {
  if (const Status s = a.options.Check(); !s.ok()) return Report(s);
  const auto out = PlanOutput({"OUT", a.out, ".json", {".json"}, false}, {}, a.force);
  if (!out.ok()) return Report(out.status());
  const auto truth = PlanOutput({"OUT", synth::TruthFileOf(a.out), ".json", {}, false}, {}, a.force);
  if (!truth.ok()) return Report(truth.status());
  const synth::Session session = synth::MakeSession(a.options);
  ClipResult result;
  result.clip.file = "session " + std::to_string(a.options.seed);
  result.lane_reason = "A session without pictures.";
  result.shots = session.shots;
  if (const Status s = WriteOutput(*out, report::ResultJson(result)); !s.ok()) return Report(s);
  return Report(WriteOutput(*truth, synth::SessionTruthJson(session)));
}

}  // namespace

std::function<int()> InstallSession(CLI::App& app) {
  const auto a = std::make_shared<SessionArguments>();
  app.add_option("OUT", a->out, "The session to make, .json")->required();
  app.add_option("--seed", a->options.seed, "Another seed, another session");
  app.add_option("--shots", a->options.shots, "How many shots; 0: 14 to 28 at random")->check(CLI::Range(0, 100000));
  app.add_option("--base-shots", a->options.base_shots, "Nothing happens in the first shots")
      ->check(CLI::Range(1, 100));
  app.add_flag("--force", a->force, "Replace output files that are there already");
  app.footer(std::string(kHelp) + std::string(kExitCodeHelp));
  return [a] { return RunSession(*a); };
}

}  // namespace hookline::cli
