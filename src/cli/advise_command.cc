// hookline advise FILE... : what changed from shot to shot, why, and what to try.

#include <memory>
#include <string>
#include <vector>

#include "advice/advise.h"
#include "cli/command.h"
#include "cli/exit_code.h"
#include "cli/outputs.h"
#include "cli/terminal.h"
#include "pipeline/plan_move.h"
#include "report/advice_json.h"
#include "report/read_result.h"

namespace hookline::cli {
namespace {

constexpr const char* kHelp =
    "The files are results of `hookline measure --json`, one session in order. Each shot is judged against the "
    "bowler's\n"
    "own base before it (docs/advice.md).\n"
    "\n"
    "Example:\n"
    "  hookline advise evening/*.json\n"
    "\n";

struct AdviseArguments {
  std::vector<std::string> files;
  std::string json, bowler;
  bool force = false;
};

int RunAdvise(const AdviseArguments& a) {
  const auto json = PlanOutput({"--json", a.json, ".json", {}, true}, a.files, a.force);
  if (!json.ok()) return Report(json.status());
  std::vector<Shot> shots;
  for (const std::string& file : a.files) {
    auto result = report::ReadResult(file);
    if (!result.ok()) return Report(result.status());
    for (Shot& shot : result->shots) {
      if (a.bowler.empty() || shot.bowler == a.bowler) shots.push_back(std::move(shot));
    }
  }
  Advice advice = advice::Advise(shots);
  pipeline::PlanMoveByPhysics(shots, advice);
  for (const std::string& warning : advice.warnings) Say(warning);
  if (!a.json.empty()) {
    if (const Status s = WriteOutput(*json, report::AdviceJson(advice)); !s.ok()) return Report(s);
  }
  if (a.json != "-") {
    if (const Status s = WriteOutput("-", report::AdviceText(advice)); !s.ok()) return Report(s);
  }
  return advice.shots.empty() ? kExitNoShot : 0;
}

}  // namespace

std::function<int()> InstallAdvise(CLI::App& app) {
  const auto a = std::make_shared<AdviseArguments>();
  app.add_option("FILE", a->files, "Result files of one session, in order")->required();
  app.add_option("--json", a->json, "Write the advice file; - is standard output, and then nothing else goes there");
  app.add_option("--bowler", a->bowler, "Only this bowler's shots");
  app.add_flag("--force", a->force, "Replace output files that are there already");
  app.footer(std::string(kHelp) + std::string(kExitCodeHelp));
  return [a] { return RunAdvise(*a); };
}

}  // namespace hookline::cli
