// friction and what-if on a session of simulated shots, as a user runs them.
#include <doctest/doctest.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <random>
#include <regex>

#include "cli/program.h"
#include "motion/simulated_session.h"
#include "report/result_json.h"

using namespace hookline;
using namespace hookline::test;
using Json = nlohmann::json;

namespace {

std::string SessionFile(const ScratchFolder& folder, int shots) {
  std::mt19937 random(3);
  simulated::Bowler bowler;
  bowler.mean.k = 0.352;
  ClipResult result;
  for (int i = 0; i < shots; ++i) {
    result.shots.push_back(simulated::MeasuredShot(simulated::OneOf(bowler, random), i + 1, 1, random));
    result.shots.back().ball = i == 0 ? "spare ball" : "blue";
  }
  const std::string file = folder / "session.json";
  WriteContent(file, report::ResultJson(result));
  return file;
}

}  // namespace

TEST_CASE("the friction map of a session: a table for people, numbers, a picture") {
  const ScratchFolder folder;
  const std::string file = SessionFile(folder, 9);
  const Run table = Hookline("friction '" + file + "' --picture '" + (folder / "map.png") + "'");
  CHECK(table.code == 0);
  CHECK(table.out.find("boards from the right edge") != std::string::npos);
  CHECK(table.err.find("1 of other balls are left out") != std::string::npos);
  CHECK_FALSE(std::regex_search(table.out, std::regex("\\)\\d")));  // cells keep apart
  CHECK(Content(folder / "map.png").rfind("\x89PNG", 0) == 0);
  const Run numbers = Hookline("friction '" + file + "' --ball blue --json -");
  CHECK(numbers.code == 0);
  const Json j = Json::parse(numbers.out);
  CHECK(j["shots"] == 8);
  int oil = 0;
  for (const Json& cell : j["cells"])
    if (cell["board"] == 17 && cell["ft"] == 20) {
      CHECK(cell["value"].get<double>() > 0.03);
      CHECK(cell["value"].get<double>() < 0.055);
      ++oil;
    }
  CHECK(oil == 1);
  const Run few = Hookline("friction '" + file + "' --ball 'spare ball'");
  CHECK(few.out.find("Only 1 shot tells the friction") != std::string::npos);
}

TEST_CASE("what if: a table, the same numbers as JSON, a picture, and nothing overwritten") {
  const ScratchFolder folder;
  const std::string file = SessionFile(folder, 9);
  const Run json = Hookline("what-if '" + file + "' --feet 3 --eyes 2 --json -");
  REQUIRE(json.code == 0);
  const Json j = Json::parse(json.out);
  const double before = j["before"]["entry_board"]["value"].get<double>(),
               after = j["after"]["entry_board"]["value"].get<double>(),
               change = j["entry_board_change"]["value"].get<double>();
  CHECK(std::abs(after - before - change) < 1e-5);
  CHECK(j["after"]["entry_board"]["sd"].get<double>() > 0);
  const Run table = Hookline("what-if '" + file + "' --feet 3 --eyes 2 --picture '" + (folder / "p.png") + "'");
  CHECK(table.code == 0);
  char text[32];
  std::snprintf(text, sizeof text, "%.1f ±", after);
  CHECK(table.out.find(text) != std::string::npos);
  CHECK_FALSE(std::regex_search(table.out, std::regex("±[0.]+(?![0-9.])")));  // a doubt is never nothing
  CHECK(Hookline("what-if '" + file + "' --picture '" + (folder / "p.png") + "'").code == 2);
  CHECK(Hookline("what-if '" + file + "' --shot 40").code == 2);
  CHECK(Hookline("what-if '" + file + "' --ball none").code == 2);
  CHECK(Hookline("what-if '" + (folder / "no.json") + "'").code == 5);
  CHECK(Hookline("friction '" + (folder / "no.json") + "'").code == 5);
}

// The rule book's worked game (universal playing rules 2.1.2) and the chance of a perfect game from nine strikes.
TEST_CASE("score: frames as written down, the expected score, the chance of a score and the choice that serves it") {
  CHECK(Hookline("score 10 10 10 7 2 8 2 0 9 10 7 3 9 0 10 10 8").out.find("frame 10   180") != std::string::npos);
  const Run run = Hookline("score 10 10 10 10 10 10 10 10 10 --choice a:0.4:0.8 --choice b:50:60 --need 300 --json -");
  REQUIRE(run.code == 0);
  const Json j = Json::parse(run.out);
  CHECK(j["choices"][0]["chance"].get<double>() == doctest::Approx(0.064));
  CHECK(j["choices"][1]["chance"].get<double>() == doctest::Approx(0.125));
  CHECK(j["next_choice"] == "b");
  CHECK(Hookline("score 7 4").code == 2);
  CHECK(Hookline("score 7 --choice a:x:1").code == 2);
  CHECK(Hookline("score 7 --choice a:0.5").code == 2);
}
