// hookline advise FILE... : what changed from shot to shot, why, and what to try.

#include <memory>
#include <string>
#include <vector>

#include "advice/advise.h"
#include "cli/command.h"
#include "cli/exit_code.h"
#include "cli/outputs.h"
#include "cli/terminal.h"
#include "core/whole_file.h"
#include "library/library.h"
#include "pipeline/compare_lines.h"
#include "pipeline/library_exchange.h"
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
    "Where results are known (`hookline library change 12 --result \"9 /\"`) the rest of the game is worked out: "
    "--game\n"
    "says what was bowled, --need what is wanted.\n"
    "\n"
    "Examples:\n"
    "  hookline advise evening/*.json\n"
    "  hookline advise --session 3 --game 10 9 1 7 2 --need 180\n"
    "\n";

struct AdviseArguments {
  std::vector<std::string> files;
  std::string json, bowler, library;
  std::optional<std::int64_t> session;
  std::vector<int> game;
  std::optional<int> need;
  bool force = false;
};

int RunAdvise(const AdviseArguments& a) {
  const auto json = PlanOutput({"--json", a.json, ".json", {}, true}, a.files, a.force);
  if (!json.ok()) return Report(json.status());
  advice::AdviceOptions options;
  options.outlook.balls = a.game;
  options.outlook.need = a.need;
  if (const Status s = options.Check(); !s.ok()) return Report(s);
  if (a.files.empty() == !a.session)
    return Report(
        Status(StatusCode::kBadUse, "Give result files, or --session with the id of a session of the library."));
  std::vector<Shot> shots;
  const auto take = [&](std::vector<Shot>&& some, const std::vector<std::string>& results) {
    for (std::size_t i = 0; i < some.size(); ++i) {
      if (!a.bowler.empty() && some[i].bowler != a.bowler) continue;
      shots.push_back(std::move(some[i]));
      options.outlook.results.push_back(i < results.size() ? results[i] : "");
    }
  };
  if (a.session) {
    const auto library = library::Library::Open(a.library.empty() ? library::DefaultFile() : a.library);
    if (!library.ok()) return Report(library.status());
    auto session = pipeline::SessionForAdvice(**library, *a.session);
    if (!session.ok()) return Report(session.status());
    take(std::move(session->shots), session->results);
  }
  for (const std::string& file : a.files) {
    const auto text = ReadWholeFile(file);
    if (!text.ok()) return Report(text.status());
    auto result = report::ParseResult(*text, file);
    if (!result.ok()) return Report(result.status());
    take(std::move(result->shots), pipeline::ResultsIn(*text));
  }
  Advice advice = advice::Advise(shots, options);
  pipeline::PlanMoveByPhysics(shots, advice);
  pipeline::CompareLines(shots, advice);
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
  app.add_option("FILE", a->files, "Result files of one session, in order");
  app.add_option("--session", a->session, "A session of the library, by its id in `hookline library list sessions`");
  app.add_option("--library", a->library, "The library's file, another than the usual one")->needs("--session");
  app.add_option("--game", a->game, "Pins of each ball of the game so far, as for `hookline score`")->expected(0, 21);
  app.add_option("--need", a->need, "A score to reach");
  app.add_option("--json", a->json, "Write the advice file; - is standard output, and then nothing else goes there");
  app.add_option("--bowler", a->bowler, "Only this bowler's shots");
  app.add_flag("--force", a->force, "Replace output files that are there already");
  app.footer(std::string(kHelp) + std::string(kExitCodeHelp));
  return [a] { return RunAdvise(*a); };
}

}  // namespace hookline::cli
