// The library from the command line, as a user keeps an evening's shots.
#include <doctest/doctest.h>

#include <nlohmann/json.hpp>

#include "cli/program.h"
#include "report/fixture.h"
#include "report/result_json.h"

using namespace hookline;
using namespace hookline::test;

TEST_CASE("an evening goes in, is listed, changed, written out again; nothing is removed unasked") {
  const ScratchFolder folder;
  const std::string file = folder / "evening.json", db = "library --library '" + (folder / "shots.db") + "' ";
  WriteContent(file, report::ResultJson(TwoShots()));
  const Run first =
      Hookline(db + "add '" + file + "' --bowler Robin --place Hall --lane 7 --day 2026-11-25 --ball blue");
  CHECK(first.code == 0);
  CHECK(first.out.find("2 shots added, 0 updated") != std::string::npos);
  CHECK(Hookline(db + "add '" + file + "' --bowler Robin --place Hall --lane 7 --day 2026-11-25")
            .out.find("0 shots added, 2 updated") != std::string::npos);
  CHECK(Hookline(db + "list sessions").out.find("2026-11-25") != std::string::npos);
  CHECK(Hookline(db + "list balls").out.find("blue") != std::string::npos);
  CHECK(Hookline(db + "change 1 --result strike --plan narrow --arrows 12").code == 0);
  const Run list = Hookline(db + "list shots --session 1");
  CHECK(list.out.find("strike") != std::string::npos);
  CHECK(list.out.find("narrow") != std::string::npos);
  const Run out = Hookline(db + "export --session 1");
  REQUIRE(out.code == 0);
  const auto j = nlohmann::json::parse(out.out);
  REQUIRE(j["shots"].size() == 2);
  CHECK(j["shots"][0]["plan"] == "narrow");
  CHECK(j["shots"][0]["ball"] == "blue");
  CHECK(j["shots"][0]["bowler"] == "Robin");
  CHECK(j["shots"][0]["target"]["arrows_board"] == 12);
  const auto original = nlohmann::json::parse(report::ResultJson(TwoShots()));
  CHECK(j["shots"][0]["measures"] == original["shots"][0]["measures"]);
  CHECK(Hookline(db + "remove 1").code == 2);
  CHECK(Hookline(db + "list shots").out.find("strike") != std::string::npos);
  CHECK(Hookline(db + "remove 1 --yes").code == 0);
  CHECK(Hookline(db + "list shots").out.find("strike") == std::string::npos);
  CHECK(Hookline(db + "change 99 --plan x").code == 2);
  CHECK(Hookline(db + "add '" + (folder / "none.json") + "' --bowler Robin").code == 5);
  CHECK(Hookline("library --library '" + file + "' list shots").code == 5);
  CHECK(Hookline("library").code == 2);
}
