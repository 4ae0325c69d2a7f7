#include "report/result_table.h"

#include <doctest/doctest.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <regex>
#include <sstream>
#include <vector>

#include "report/fixture.h"
#include "report/number_text.h"
#include "report/result_csv.h"
#include "report/result_json.h"

using namespace hookline;
using nlohmann::json;

namespace {

std::vector<std::string> Lines(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream in(text);
  for (std::string line; std::getline(in, line);) lines.push_back(line);
  return lines;
}

std::vector<std::string> Matches(const std::string& text, const std::string& pattern) {
  const std::regex r(pattern);
  std::vector<std::string> found;
  for (std::sregex_iterator it(text.begin(), text.end(), r), end; it != end; ++it) found.push_back(it->str());
  return found;
}

}  // namespace

TEST_CASE("the table says what the result file says") {
  const ClipResult r = test::TwoShots();
  const json j = json::parse(report::ResultJson(r));
  const std::string table = report::ResultTable(std::span(&r, 1));
  for (std::size_t s = 0; s < r.shots.size(); ++s) {
    for (std::size_t i = 0; i < kMeasureCount; ++i) {
      const json& m = j["shots"][s]["measures"][std::string(kMeasureTable[i].key)];
      CAPTURE(kMeasureTable[i].key);
      if (m["value"].is_null()) continue;
      const std::string text = report::MeasureText(static_cast<MeasureId>(i), r.shots[s].measures.all[i]);
      CHECK(table.find(text) != std::string::npos);
      // What the eye reads is what the file holds, to half a unit of the last digit shown.
      const auto numbers = Matches(text, "[0-9]+(\\.[0-9]+)?");
      REQUIRE(numbers.size() == 2);
      const auto dot = numbers[0].find('.');
      const double unit =
          std::pow(10.0, dot == std::string::npos ? 0.0 : -static_cast<double>(numbers[0].size() - dot - 1));
      CHECK(std::abs(std::stod(numbers[0]) - m["value"].get<double>()) <= 0.5001 * unit);
      CHECK(std::abs(std::stod(numbers[1]) - m["sd"].get<double>()) <= 0.5001 * unit);
    }
  }
  // And nothing else: as many numbers with doubt as the file has values.
  std::size_t given = 0;
  for (const json& shot : j["shots"]) {
    for (const auto& m : shot["measures"]) given += m["value"].is_null() ? 0 : 1;
  }
  CHECK(Matches(table, "[0-9] ±[0-9]").size() == given);
}

TEST_CASE("no line of the table is wider than 110 columns") {
  ClipResult r = test::TwoShots();
  r.warnings.push_back(std::string("a long warning ") + "with many words " + std::string(40, 'x') + " and " +
                       std::string(60, 'y'));
  for (auto& m : r.shots[1].measures.all) {
    if (m.value) m.value = *m.value + 1000;
  }
  const std::vector<ClipResult> both = {r, r};
  for (const std::string& line : Lines(report::ResultTable(both))) {
    CAPTURE(line);
    CHECK(report::TextWidth(line) <= 110);
  }
}

TEST_CASE("a missing number is a dash with its reason below") {
  const ClipResult r = test::TwoShots();
  const std::string table = report::ResultTable(std::span(&r, 1));
  CHECK(Matches(table, "– a").size() == 6);
  CHECK(table.find("  a  the ball went into the gutter at 43 ft") != std::string::npos);
  CHECK(table.find("in the gutter on the own side at 43 ft") != std::string::npos);
  CHECK(table.find("Warning: the bowler's hand") != std::string::npos);
}

TEST_CASE("a band without any number becomes a sentence") {
  ClipResult r = test::TwoShots();
  for (Shot& shot : r.shots) {
    for (std::size_t i = static_cast<std::size_t>(MeasureId::kSkidEndFt); i < kMeasureCount; ++i) {
      shot.measures.all[i] = Measure::None("spin is not measured yet");
    }
  }
  const std::string table = report::ResultTable(std::span(&r, 1));
  CHECK(table.find("Skid, roll and spin") == std::string::npos);
  CHECK(table.find("Not given: end of skid; start of roll;") != std::string::npos);
}

TEST_CASE("several clips share one table; those without numbers say why") {
  ClipResult nothing;
  nothing.clip.file = "empty.mp4";
  nothing.lane_reason = "no foul line was seen";
  const std::vector<ClipResult> clips = {test::TwoShots(), nothing, test::TwoShots()};
  const std::string table = report::ResultTable(clips);
  CHECK(table.find("no numbers: no foul line was seen") != std::string::npos);
  for (const char* name : {"1.1", "1.2", "3.1", "3.2"}) CHECK(Matches(table, std::string("\n +") + name).size() == 3);
}

TEST_CASE("numbers keep their doubt visible") {
  using report::DoubtText;
  using report::ValueText;
  const auto id = MeasureId::kEntryBoard;  // one decimal
  CHECK(report::MeasureText(id, Measure::Of(17.46, 0.31)) == "17.5 ±0.3");
  CHECK(report::MeasureText(id, Measure::Of(17.46, 0.04)) == "17.46 ±0.04");
  CHECK(report::MeasureText(id, Measure::Of(17.46, 0.00001)) == "17.460 ±0.001");
  CHECK(report::MeasureText(id, Measure::Of(-0.04, 0.5)) == "0.0 ±0.5");
  CHECK(report::MeasureText(id, Measure::None("hidden")) == "–");
  CHECK(report::TextWithDoubt(12.04, 0.031, 1) == "12.04 ±0.03");
  CHECK(report::TextWithDoubt(-0.37, 0.0004, 2) == "-0.3700 ±0.0004");
  CHECK(report::TextWithDoubt(12.04, NAN, 1) == "–");
}

TEST_CASE("the CSV has a row a shot and the numbers of the result file") {
  const ClipResult r = test::TwoShots();
  const auto lines = Lines(report::ResultCsv(std::span(&r, 1)));
  REQUIRE(lines.size() == 3);
  CHECK(lines[0].rfind("file,shot,lane,hand,hand_source,release_s,", 0) == 0);
  CHECK(lines[1].rfind("\"evening, lane \"\"7\"\".mp4\",1,0,right,given,0.500000,", 0) == 0);
  CHECK(lines[1].find(",3.141590,0.013000,,") != std::string::npos);  // laydown board of the fixture
  CHECK(lines[2].find("the ball went into the gutter at 43 ft") != std::string::npos);
  const auto commas = [](const std::string& s) { return std::count(s.begin(), s.end(), ','); };
  CHECK(commas(lines[1]) == commas(lines[0]) + 1);  // one quoted comma in the file's name
}
