#include "report/advice_json.h"

#include <doctest/doctest.h>

#include <nlohmann/json.hpp>

using namespace hookline;

TEST_CASE("the advice file has every key of its form, also without content") {
  Advice a;
  a.shots.resize(1);
  a.shots[0].number = 4;
  a.shots[0].causes[Cause::kMoved] = 1;
  a.shots[0].findings.push_back({"moved", 1, "You moved.", {4}, "stance_board", 2.0, 0.0});
  const auto j = nlohmann::json::parse(report::AdviceJson(a));
  CHECK(j["format"] == "hookline-advice");
  CHECK(j["version"] == 1);
  for (const auto key : kCauseKeys) CHECK(j["shots"][0]["causes"].contains(std::string(key)));
  CHECK(j["shots"][0]["causes"]["moved"] == 1);
  CHECK(j["shots"][0]["findings"][0]["evidence"]["shots"][0] == 4);
  for (const char* key : {"stance_boards", "target_boards", "speed_mph", "turn_deg", "predicted", "shots_used",
                          "rule_of_thumb", "reason"}) {
    CHECK(j["next_move"].contains(key));
  }
  for (const char* key : {"comparisons", "score_outlook", "warnings"}) CHECK(j.contains(key));
}

TEST_CASE("advice for people keeps to the width of a page") {
  Advice a;
  a.shots.resize(1);
  a.shots[0].number = 12;
  a.shots[0].findings.push_back({"slower",
                                 0.9,
                                 std::string(30, 'a') + " " + std::string(60, 'b') + " ± " + std::string(60, 'c'),
                                 {},
                                 "",
                                 {},
                                 {}});
  const std::string text = report::AdviceText(a);
  CHECK(text.find("Shot 12  aaa") == 0);
  std::size_t start = 0;
  for (std::size_t end = text.find('\n'); end != std::string::npos; end = text.find('\n', start)) {
    CHECK(end - start <= 112);
    start = end + 1;
  }
}
