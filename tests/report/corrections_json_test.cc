#include "report/corrections_json.h"

#include <doctest/doctest.h>

using namespace hookline;
using namespace hookline::report;

namespace {

Corrections Everything() {
  Corrections c;
  c.lane_marks["foul_left"] = {{512.1234567890123, 905.0 / 3}, 0.1 + 0.2};
  c.lane_marks["pin_1_top"] = {{950, 301}, 0};
  ShotCorrection first;
  first.at_s = 1.0 / 3;
  first.release_s = 0.1;
  first.pin_contact_s = 2.7000000000000002;
  first.sights = {{0.25, {1, 2}, 0.5}, {0.75, {3.25, 4.125}, 1}};
  first.no_ball_s = {0.3, 0.4};
  ShotCorrection second;
  second.at_s = 9;
  second.added = true;
  second.sights = {{9, {5, 6}, 2}};
  ShotCorrection third;
  third.at_s = 20;
  third.removed = true;
  c.shots = {first, second, third};
  return c;
}

StatusCode CodeOf(const std::string& text) { return ParseCorrections(text, "c.json").status().code(); }

std::string With(const std::string& members) {
  return R"({"format": "hookline-corrections", "version": 1, )" + members + "}";
}

}  // namespace

TEST_CASE("corrections come back number for number") {
  const Corrections c = Everything();
  const auto read = ParseCorrections(CorrectionsText(c, "a \"clip\".mp4"), "c.json");
  REQUIRE_MESSAGE(read.ok(), read.status().sentence());
  CHECK(*read == c);
  CHECK(ParseCorrections(CorrectionsText({}, ""), "c.json")->empty());
}

TEST_CASE("what may be left out may be left out, what is not known is passed over, and order does not matter") {
  const auto read = ParseCorrections(With(R"("else": [1], "lane_marks": {"foul_left": {"px": [1, 2], "who": "me"}},
              "shots": [{"at_s": 9, "ball": [{"t_s": 9.5, "px": [1, 2]}, {"t_s": 9.1, "px": [3, 4]}]}, {"at_s": 2}])"),
                                     "c.json");
  REQUIRE_MESSAGE(read.ok(), read.status().sentence());
  CHECK(read->lane_marks.at("foul_left").time_s == 0);
  REQUIRE(read->shots.size() == 2);
  CHECK(read->shots[0].at_s == 2);
  CHECK(read->shots[1].sights[0].time_s == 9.1);
  CHECK(read->shots[1].sights[0].sd_px == 1);
}

TEST_CASE("what cannot be read is refused with the file's name, never passed over") {
  CHECK(CodeOf("") == StatusCode::kBadFile);
  CHECK(CodeOf("[]") == StatusCode::kBadFile);
  CHECK(CodeOf(R"({"format": "hookline-shots", "version": 1})") == StatusCode::kBadFile);
  CHECK(CodeOf(R"({"format": "hookline-corrections", "version": 2})") == StatusCode::kBadFile);
  for (const char* members :
       {R"("lane_marks": [])", R"("lane_marks": {"foul_left": [1, 2]})", R"("lane_marks": {"foul_left": {"px": [1]}})",
        R"("shots": {})", R"("shots": [{}])", R"("shots": [3])", R"("shots": [{"at_s": "2"}])",
        R"("shots": [{"at_s": 2, "added": 1}])", R"("shots": [{"at_s": 2, "release_s": "x"}])",
        R"("shots": [{"at_s": 2, "ball": [{"px": [1, 2]}]}])", R"("shots": [{"at_s": 2, "ball": [{"t_s": 2}]}])",
        R"("shots": [{"at_s": 2, "ball": [{"t_s": 2, "px": [1, 2], "sd_px": 0}]}])",
        R"("shots": [{"at_s": 2, "no_ball_s": [true]}])", R"("shots": [{"at_s": 2, "no_ball_s": 2}])"}) {
    CAPTURE(members);
    const auto read = ParseCorrections(With(members), "c.json");
    REQUIRE_FALSE(read.ok());
    CHECK(read.status().code() == StatusCode::kBadFile);
    CHECK(read.status().sentence().starts_with("c.json: "));
  }
  CHECK(ReadCorrections("no-such-file.json").status().code() == StatusCode::kBadFile);
}
