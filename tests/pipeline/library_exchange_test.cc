#include "pipeline/library_exchange.h"

#include <doctest/doctest.h>

#include <nlohmann/json.hpp>

#include "pipeline/shot_table.h"
#include "report/fixture.h"
#include "report/read_result.h"
#include "report/result_json.h"
#include "scratch_folder.h"

using namespace hookline;
using namespace hookline::pipeline;
using hookline::library::Library;
using hookline::test::ScratchFolder;

namespace {

std::unique_ptr<Library> Opened(const std::string& file) {
  auto library = Library::Open(file);
  REQUIRE_MESSAGE(library.ok(), library.status().sentence());
  return std::move(*library);
}

// Two bowlers, two sessions, everything said that can be said.
void Fill(Library& library) {
  REQUIRE(library.PutBowler({0, "Robin", lane::Hand::kLeft, 2, 16.5, 310.0}).ok());
  REQUIRE(library.PutBall({0, "blue", "Robin", "strong", "dull", 0, 15.0, 2.48}).ok());
  REQUIRE(library.PutSetup({0, "Maple Hall", "7", "usual", "{\"format\": \"hookline-lane-setup\"}"}).ok());
  auto shots = ShotsFromResult(report::ResultJson(test::TwoShots()), "evening.json");
  REQUIRE_MESSAGE(shots.ok(), shots.status().sentence());
  REQUIRE(shots->size() == 2);
  library::StoredShot& first = shots->front();
  first.ball = "blue";
  first.plan = "a \"narrow\" line; board 12, or so\nbut wide";
  first.target = {12.0, 8.5, 25.0, 15.0};
  first.result = "7-10 split";
  first.notes = "Bogen für Kim, 3·2";
  first.clip_fingerprint = "0123456789abcdef0123456789abcdef";
  first.clip_size = 12345678;
  (*shots)[1].clip_fingerprint = first.clip_fingerprint;
  const auto a = library.PutSession({0, "Robin", "Maple Hall", "7", "2026-11-25", 0});
  REQUIRE(library.PutShots(*a, *shots).ok());
  const auto b = library.PutSession({0, "Kim", "Maple Hall", "8", "2026-11-26", 0});
  auto third = *shots;
  for (auto& s : third) {
    s.clip = "other.mp4";
    s.clip_fingerprint.clear();
    s.clip_size.reset();
    s.result.clear();
    s.ball.clear();
  }
  REQUIRE(library.PutShots(*b, third).ok());
}

}  // namespace

TEST_CASE("what is exported and imported gives the same shots, as JSON and as a table") {
  const ScratchFolder folder;
  const auto from = Opened(folder / "from.db");
  Fill(*from);
  const auto json = ExportJson(*from, std::nullopt), csv = ExportCsv(*from, std::nullopt);
  REQUIRE(json.ok());
  REQUIRE(csv.ok());
  for (const bool table : {false, true}) {
    CAPTURE(table);
    const auto to = Opened(folder / (table ? "csv.db" : "json.db"));
    const auto import = ReadImport(table ? *csv : *json, "file");
    REQUIRE_MESSAGE(import.ok(), import.status().sentence());
    CHECK(import->shots() == 4);
    CHECK(*WouldReplace(*to, *import) == 0);
    const auto kept = PutImport(*to, *import);
    REQUIRE(kept.ok());
    CHECK(kept->added == 4);
    CHECK(*ExportCsv(*to, std::nullopt) == *csv);
    if (table) continue;
    CHECK(*ExportJson(*to, std::nullopt) == *json);  // bowlers, balls and setups too
    // Taken in once more nothing is new and nothing is replaced; a change is.
    CHECK(*WouldReplace(*to, *import) == 0);
    CHECK(PutImport(*to, *import)->added == 0);
    CHECK(*ExportJson(*to, std::nullopt) == *json);
    library::ShotChange said;
    said.notes = "said since";
    REQUIRE(to->ChangeShot(1, said).ok());
    REQUIRE(to->PutBall({0, "blue", "Robin", "weak", "", std::nullopt, std::nullopt, std::nullopt}).ok());
    CHECK(*WouldReplace(*to, *import) == 2);
  }
}

TEST_CASE("an exported session is a result file as it was measured, with what was said") {
  const ScratchFolder folder;
  const auto library = Opened(folder / "shots.db");
  Fill(*library);
  const auto text = ExportJson(*library, 1);
  REQUIRE(text.ok());
  const auto result = report::ParseResult(*text, "export");
  REQUIRE(result.ok());
  REQUIRE(result->shots.size() == 2);
  CHECK(result->shots.front().bowler == "Robin");
  CHECK(result->shots.front().ball == "blue");
  CHECK(result->shots.front().target.stance_board == 25);
  CHECK(ResultsIn(*text) == std::vector<std::string>{"7-10 split", ""});
  const auto exported = nlohmann::json::parse(*text),
             measured = nlohmann::json::parse(report::ResultJson(test::TwoShots()));
  for (const char* key : {"measures", "path", "friction", "pins", "release_s", "hand"})
    for (std::size_t i = 0; i < 2; ++i) CHECK(exported["shots"][i][key] == measured["shots"][i][key]);
  CHECK(exported["library"]["bowlers"].size() == 1);
  CHECK_FALSE(ExportJson(*library, 99).ok());
  // For advice all but the last paths are left out, and nothing else.
  const auto as_result = [](std::vector<Shot> shots) {
    ClipResult r;
    r.shots = std::move(shots);
    return nlohmann::json::parse(report::ResultJson(r))["shots"];
  };
  CHECK(as_result(SessionForAdvice(*library, 1)->shots) == as_result(result->shots));
  CHECK(SessionForAdvice(*library, 1)->results == ResultsIn(*text));
  std::vector<library::StoredShot> many;
  for (std::size_t i = 0; i < kPathsForAdvice + 2; ++i) {
    many.push_back(library->Shots({})->front());
    many.back().number = 0;
    many.back().clip_fingerprint.clear();
    many.back().clip = std::to_string(i) + ".mp4";
  }
  const auto long_one = library->PutSession({0, "Lee", "Maple Hall", "7", "2026-11-27", 0});
  REQUIRE(library->PutShots(*long_one, many).ok());
  auto all = as_result(report::ParseResult(*ExportJson(*library, *long_one), "export")->shots);
  const auto cut = as_result(SessionForAdvice(*library, *long_one)->shots);
  REQUIRE(cut.size() == all.size());
  for (std::size_t i = 0; i < 2; ++i) all[i]["path"] = nlohmann::json::array();
  CHECK(cut == all);
}

TEST_CASE("a table from a spreadsheet is read: semicolons, decimal commas, columns moved or missing") {
  const auto rows = ReadShotTable(
      "\xEF\xBB\xBF"
      "day;bowler;clip;clip_shot;entry_board;entry_board_sd;result\n2026-11-25;Robin;\"a;b.mp4\";3;17,25;0,1;"
      "strike\n\n",
      "t.csv");
  REQUIRE_MESSAGE(rows.ok(), rows.status().sentence());
  REQUIRE(rows->size() == 1);
  CHECK(rows->front().clip == "a;b.mp4");
  CHECK(rows->front().shot["measures"]["entry_board"]["value"] == 17.25);
  CHECK(rows->front().shot["result"] == "strike");
  CHECK(rows->front().session.day == "2026-11-25");
}

TEST_CASE("what is no export is said with its place") {
  const auto sentence = [](const std::string& text) {
    const auto import = ReadImport(text, "t.csv");
    REQUIRE_FALSE(import.ok());
    CHECK(import.status().code() == StatusCode::kBadFile);
    return import.status().sentence();
  };
  CHECK(sentence("").find("t.csv") != std::string::npos);
  CHECK(sentence("a,b\n1,2\n").find("bowler") != std::string::npos);
  CHECK(sentence("bowler,day,clip,clip_shot\nRobin,2026-11-25,a.mp4,two\n").find("row 2") != std::string::npos);
  CHECK(sentence("bowler,day,clip,clip_shot\n,2026-11-25,a.mp4,2\n").find("bowler") != std::string::npos);
  CHECK(sentence("{").find("export") != std::string::npos);
  CHECK(sentence(report::ResultJson(test::TwoShots())).find("library add") != std::string::npos);
  CHECK(sentence("bowler,day,clip,clip_shot,rest\nR,2026-11-25,a.mp4,2,{\n").find("damaged") != std::string::npos);
}
