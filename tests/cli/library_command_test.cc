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

TEST_CASE("a library goes into a new one by files; what is there is not replaced unasked") {
  const ScratchFolder folder;
  const std::string file = folder / "evening.json";
  const std::string from = "library --library '" + (folder / "from.db") + "' ";
  const std::string to = "library --library '" + (folder / "to.db") + "' ";
  WriteContent(file, report::ResultJson(TwoShots()));
  REQUIRE(Hookline(from + "add '" + file + "' --bowler Robin --day 2026-11-25 --ball blue").code == 0);
  CHECK(Hookline(from + "add '" + file + "' --bowler Robin --day 25.11.2026").code == 2);
  const std::string json = folder / "out.json", csv = folder / "out.csv";
  REQUIRE(Hookline(from + "export --json '" + json + "' --csv '" + csv + "'").code == 0);
  CHECK(Hookline(from + "export --json '" + json + "'").code == 2);
  CHECK(Hookline(to + "import '" + json + "'").out.find("2 shots added, 0 updated") != std::string::npos);
  CHECK(Hookline(to + "export").out == Content(json));
  CHECK(Hookline(to + "import '" + csv + "'").out.find("0 shots added, 2 updated") != std::string::npos);
  REQUIRE(Hookline(to + "change 1 --notes 'said since'").code == 0);
  CHECK(Hookline(to + "import '" + csv + "'").code == 0);  // the file says nothing of notes
  REQUIRE(Hookline(to + "change 1 --ball red").code == 0);
  const Run refused = Hookline(to + "import '" + json + "'");
  CHECK(refused.code == 2);
  CHECK(refused.err.find("--yes") != std::string::npos);
  CHECK(Hookline(to + "list shots").out.find("red") != std::string::npos);
  CHECK(Hookline(to + "import '" + json + "' --yes").code == 0);
  CHECK(Hookline(to + "list shots").out.find("red") == std::string::npos);
  CHECK(Hookline(to + "import '" + file + "'").code == 5);
}

TEST_CASE("lane setups of places and lanes") {
  const ScratchFolder folder;
  const std::string db = "library --library '" + (folder / "shots.db") + "' ", setup = folder / "lane.json";
  const std::string of = " --place 'Maple Hall' --lane 7";
  REQUIRE(Hookline("lane '" HOOKLINE_SAMPLES "/straight_spare.mp4' --save '" + setup + "'").code == 0);
  CHECK(Hookline(db + "setup add '" + (folder / "none.json") + "'" + of).code == 5);
  CHECK(Hookline(db + "setup add '" HOOKLINE_PROGRAM "'" + of).code == 5);
  REQUIRE(Hookline(db + "setup add '" + setup + "'" + of).code == 0);
  CHECK(Hookline(db + "list setups").out.find("Maple Hall") != std::string::npos);
  CHECK(Hookline(db + "setup export" + of).out == Content(setup));
  CHECK(Hookline(db + "setup export --place Nowhere --lane 7").code == 2);
  WriteContent(folder / "other.json", Content(setup) + "\n");
  CHECK(Hookline(db + "setup add '" + (folder / "other.json") + "'" + of).code == 2);
  CHECK(Hookline(db + "setup add '" + (folder / "other.json") + "'" + of + " --yes").code == 0);
  CHECK(Hookline(db + "remove 1 --setup").code == 2);
  CHECK(Hookline(db + "remove 1 --setup --yes").code == 0);
}

// The whole way of a clip: measured with the library's lane, kept, measured again from elsewhere.
TEST_CASE("a measured clip is kept, and measured again after it was moved it updates its shots" *
          doctest::test_suite("slow")) {
  const ScratchFolder folder;
  const std::string library = " --library '" + (folder / "shots.db") + "'", clip = folder / "clip.mp4";
  std::filesystem::copy_file(HOOKLINE_SAMPLES "/straight_spare.mp4", clip);
  const std::string of = " --place 'Maple Hall' --on-lane 7 --bowler Robin --day 2026-11-25";
  CHECK(Hookline("measure '" + clip + "' --bowler Robin").code == 2);  // kept where?
  CHECK(Hookline("measure '" + clip + "' --lane-setup saved" + library + of).code == 2);
  REQUIRE(Hookline("lane '" + clip + "' --save '" + (folder / "lane.json") + "'").code == 0);
  REQUIRE(Hookline("library" + library + " setup add '" + (folder / "lane.json") + "' --place 'Maple Hall' --lane 7")
              .code == 0);
  const Run first = Hookline("measure '" + clip + "' --lane-setup saved --ball blue --json -" + library + of);
  REQUIRE(first.code == 0);
  CHECK(first.err.find("1 shots added") != std::string::npos);
  CHECK(nlohmann::json::parse(first.out)["lane_setup"]["source"] == "file");
  std::filesystem::rename(clip, folder / "moved.mp4");
  const Run again = Hookline("measure '" + (folder / "moved.mp4") + "' --lane-setup saved --json -" + library +
                             " --place 'Maple Hall' --on-lane 7");
  CHECK(again.err.find("0 shots added, 1 updated") != std::string::npos);
  const auto kept = nlohmann::json::parse(Hookline("library" + library + " export").out);
  REQUIRE(kept["shots"].size() == 1);
  CHECK(kept["shots"][0]["ball"] == "blue");
  CHECK(kept["shots"][0]["bowler"] == "Robin");
  CHECK(kept["shots"][0]["session"]["day"] == "2026-11-25");
  CHECK(kept["shots"][0]["clip"]["file"].get<std::string>().ends_with("moved.mp4"));
  CHECK(kept["shots"][0]["measures"] == nlohmann::json::parse(first.out)["shots"][0]["measures"]);
}
