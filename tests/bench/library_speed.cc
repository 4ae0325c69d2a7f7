// How quick the library is when it is full: 100,000 shots in 2,000 sessions are put in with paths as long as those of
// real clips, then every command of `hookline library` but import and export is run as a user runs it, and advice for a
// session of 2,000 shots. Prints the table of docs/library.md.

#include <sys/resource.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <vector>

#include "core/whole_file.h"
#include "pipeline/library_exchange.h"
#include "report/result_json.h"
#include "synth/session.h"

namespace {

using namespace hookline;
using Clock = std::chrono::steady_clock;

// Processor time of the programs that have ended, s: what is left of a run's time when others keep the machine busy.
double ChildrenCpu() {
  rusage use{};
  getrusage(RUSAGE_CHILDREN, &use);
  const auto s = [](const timeval& t) { return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec); };
  return s(use.ru_utime) + s(use.ru_stime);
}

double Since(Clock::time_point began) { return std::chrono::duration<double>(Clock::now() - began).count(); }

bool Fail(const Status& s) {
  if (!s.ok()) std::fprintf(stderr, "%s\n", s.sentence().c_str());
  return !s.ok();
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app("Speed of a full library");
  int shots = 100000, times = 5;
  std::string folder = "library-speed";
  app.add_option("--shots", shots, "How many shots")->check(CLI::Range(100, 10000000));
  app.add_option("--times", times, "Runs of each command")->check(CLI::Range(1, 100));
  app.add_option("--folder", folder, "Where the library is made; one that is there is used again");
  CLI11_PARSE(app, argc, argv);
  std::filesystem::create_directories(folder);
  const std::string file = folder + "/shots.db";

  synth::SessionOptions options;
  options.shots = 50;
  const auto session_text = [&](const synth::SessionOptions& o) {
    ClipResult result;
    result.shots = synth::MakeSession(o).shots;
    for (Shot& shot : result.shots) {
      // As long as a path of a clip with 60 pictures a second.
      shot.path.clear();
      for (int i = 0; i < 150; ++i) {
        PathPoint& point = shot.path.emplace_back();
        point.time_s = i / 60.0;
        point.x = 0.1 + i * 0.00123, point.y = i * 0.1219;
        point.sd_x = 0.00123, point.sd_y = 0.0123;
        point.seen = true;
        point.u_px = 960.123 + i, point.v_px = 540.456 + i;
      }
    }
    return report::ResultJson(result);
  };
  if (!std::filesystem::exists(file)) {
    auto made = library::Library::Open(file);
    if (!made.ok()) return Fail(made.status());
    const auto part = pipeline::ShotsFromResult(session_text(options), "made");
    if (!part.ok()) return Fail(part.status());
    options.shots = 2000;
    options.seed = 2;
    auto large = pipeline::ShotsFromResult(session_text(options), "made");
    if (!large.ok()) return Fail(large.status());
    const auto began = Clock::now();
    int put = 0;
    for (int i = 0; put < shots; ++i) {
      const std::string bowler = "bowler " + std::to_string(i % 40);
      auto session_shots = i == 0 ? *large : *part;
      for (std::size_t k = 0; k < session_shots.size(); ++k) {
        session_shots[k].clip = "clip " + std::to_string(i) + ".mp4";
        session_shots[k].clip_fingerprint = std::to_string(i) + " fingerprint";
        session_shots[k].result = k % 3 == 0 ? "strike" : "9 /";
      }
      const std::string day =
          std::to_string(2000 + i / 300) + "-0" + std::to_string(1 + i / 30 % 9) + "-" + std::to_string(10 + i % 20);
      const Status s = (*made)->Together([&]() -> Status {
        const auto id = (*made)->PutSession({0, bowler, "hall " + std::to_string(i % 7), std::to_string(i), day, 0});
        if (!id.ok()) return id.status();
        const auto kept = (*made)->Keep(*id, session_shots);
        return kept.ok() ? Status::Ok() : kept.status();
      });
      if (Fail(s)) return 1;
      put += static_cast<int>(session_shots.size());
    }
    std::printf("Put in: %d shots in %.1f s, file of %.0f MB\n\n", put, Since(began),
                static_cast<double>(std::filesystem::file_size(file)) / 1e6);
  }
  const std::string small = folder + "/small.json";
  options.shots = 10;
  options.seed = 3;
  if (!std::filesystem::exists(small) && Fail(WriteWholeFile(small, session_text(options)))) return 1;

  const std::vector<std::string> commands = {
      "--version",
      "library --library F list bowlers",
      "library --library F list balls",
      "library --library F list sessions",
      "library --library F list shots",
      "library --library F list shots --session 1000",
      "library --library F list shots --bowler 'bowler 7'",
      "library --library F list shots --ball 'ball B'",
      "library --library F list setups",
      "library --library F change 50000 --notes seen --ball 'ball C' --result '9 /'",
      "library --library F ball 'ball B' --bowler 'bowler 7' --weight 15",
      "library --library F bowler 'bowler 7' --speed 17",
      "library --library F add S --bowler 'bowler 9' --day 2030-01-01",
      "library --library F remove LAST --yes",
      "library --library F remove 100 --session --yes",
      "advise --library F --session 900",
      "advise --library F --session 1"};
  std::printf("| command | median, ms | slowest, ms | of it processor, ms |\n| --- | --- | --- | --- |\n");
  int last = shots;
  for (const std::string& command : commands) {
    std::vector<double> ms, cpu;
    for (int i = 0; i < times; ++i) {
      std::string run = "'" HOOKLINE_PROGRAM "' " + command + " >/dev/null";
      const auto put = [&](const std::string& word, const std::string& text) {
        if (const auto at = run.find(word); at != std::string::npos) run.replace(at, word.size(), text);
      };
      put("--library F", "--library '" + file + "'");
      put(" S ", " '" + small + "' ");
      put("LAST", std::to_string(last--));
      put("remove 100 ", "remove " + std::to_string(100 + i) + " ");
      const double cpu_before = ChildrenCpu();
      const auto began = Clock::now();
      const int status = std::system(run.c_str());
      ms.push_back(1000 * Since(began));
      cpu.push_back(1000 * (ChildrenCpu() - cpu_before));
      if (status != 0) {
        std::fprintf(stderr, "failed: %s\n", run.c_str());
        return 1;
      }
    }
    std::sort(ms.begin(), ms.end());
    std::sort(cpu.begin(), cpu.end());
    std::printf("| `%s` | %.0f | %.0f | %.0f |\n", command.c_str(), ms[ms.size() / 2], ms.back(), cpu[cpu.size() / 2]);
  }
}
