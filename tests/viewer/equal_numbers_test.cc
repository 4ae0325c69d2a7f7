// Numbers on the panels, in the table of `hookline measure` and in the result file are the same.
#include <doctest/doctest.h>

#include <algorithm>
#include <map>
#include <nlohmann/json.hpp>
#include <random>
#include <sstream>
#include <string>
#include <vector>

#include "cli/program.h"
#include "report/fixture.h"
#include "report/number_text.h"
#include "report/read_result.h"
#include "report/result_json.h"
#include "report/result_table.h"
#include "viewer/compare_table.h"
#include "viewer/shot_table.h"

using namespace hookline;
using namespace hookline::viewer;

namespace {

ShownShot Of(const Shot& shot) {
  ShownShot s;
  s.id = 1;
  s.shot = &shot;
  s.name = std::to_string(shot.number);
  return s;
}

// All "12.0 ±0.1" of a text, with how often each stands there.
std::map<std::string, int> NumbersWithDoubt(const std::string& text) {
  std::map<std::string, int> found;
  std::istringstream words(text);
  std::string before, word;
  while (words >> word) {
    if (word.size() > 2 && word.starts_with("±") && !before.empty()) ++found[before + " " + word];
    before = word;
  }
  return found;
}

std::map<std::string, int> PanelNumbers(const std::vector<Shot>& shots) {
  std::map<std::string, int> shown;
  for (const Shot& shot : shots)
    for (const TableColumn& c : TableColumns())
      if (c.kind == ColumnKind::kMeasure)
        if (const std::string text = CellText(Of(shot), c); text != "–") ++shown[text];
  return shown;
}

// Each measure of the document, rounded as it is shown.
void CheckAgainstDocument(const std::vector<Shot>& shots, const nlohmann::json& document) {
  REQUIRE(document.at("shots").size() == shots.size());
  for (std::size_t i = 0; i < shots.size(); ++i)
    for (const TableColumn& c : TableColumns()) {
      if (c.kind != ColumnKind::kMeasure) continue;
      const MeasureInfo& info = kMeasureTable[static_cast<std::size_t>(c.measure)];
      const auto& m = document["shots"][i]["measures"].at(std::string(info.key));
      CAPTURE(info.key);
      const std::string text = CellText(Of(shots[i]), c);
      if (m.at("value").is_null()) {
        CHECK(text == "–");
        CHECK(CellHint(Of(shots[i]), c) == m.at("reason").get<std::string>());
        continue;
      }
      const double value = m.at("value"), sd = m.at("sd");
      const int decimals = report::DecimalsShown(c.measure, sd);
      CHECK(text.substr(0, text.find(' ')) == report::FixedText(value, decimals));
      CHECK(std::abs(std::stod(text) - value) <= 0.5 * std::pow(10.0, -decimals) + 1e-9);
    }
}

ClipResult RandomResult(unsigned seed) {
  ClipResult result = test::TwoShots();
  std::mt19937 random(seed);
  std::uniform_real_distribution<double> value(-40, 400), log_sd(-9, 3);
  for (Shot& shot : result.shots)
    for (Measure& m : shot.measures.all)
      if (m.value) m = Measure::Of(value(random), std::exp(log_sd(random)));
  return result;
}

}  // namespace

TEST_CASE("panel, table and file agree on every number, whatever its doubt") {
  for (unsigned seed = 1; seed <= 40; ++seed) {
    CAPTURE(seed);
    const ClipResult result = RandomResult(seed);
    const std::string text = report::ResultJson(result);
    const auto read = report::ParseResult(text, "evening.json");
    REQUIRE(read.ok());
    const auto panel = PanelNumbers(result.shots);
    CHECK(panel == PanelNumbers(read->shots));
    CHECK(panel == NumbersWithDoubt(report::ResultTable({&result, 1})));
    CheckAgainstDocument(result.shots, nlohmann::json::parse(text));
  }
}

TEST_CASE("a doubt on the edge of a decimal is shown alike before and after the file") {
  // 0.04999999996 lies below the edge at which a further decimal is shown, and its six decimals in the file on it.
  const Measure m = Measure::Of(17.25, 0.04999999996), kept = Measure::Of(17.25, report::FileNumber(m.sd));
  CHECK(report::MeasureText(MeasureId::kEntryBoard, m) == report::MeasureText(MeasureId::kEntryBoard, kept));
}

TEST_CASE("the comparison shows the same numbers as the table") {
  const ClipResult result = RandomResult(7);
  for (const CompareRow& row : CompareShots(result.shots[0], result.shots[1])) {
    CHECK(row.first == report::MeasureText(row.id, result.shots[0].measures[row.id]));
    CHECK(row.second == report::MeasureText(row.id, result.shots[1].measures[row.id]));
  }
}

TEST_CASE("the program's own table and file of a clip hold what the panels show" * doctest::test_suite("slow")) {
  const test::ScratchFolder scratch;
  const std::string file = scratch / "shot.json";
  const test::Run run = test::Hookline("measure '" HOOKLINE_SAMPLES "/straight_spare.mp4' --json '" + file + "'");
  REQUIRE(run.code == 0);
  const auto result = report::ReadResult(file);
  REQUIRE(result.ok());
  REQUIRE_FALSE(result->shots.empty());
  CHECK(PanelNumbers(result->shots) == NumbersWithDoubt(run.out));
  CheckAgainstDocument(result->shots, nlohmann::json::parse(test::Content(file)));
}
