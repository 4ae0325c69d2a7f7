#include "synth/scenario.h"

#include <doctest/doctest.h>

#include "synth/random_scenario.h"

namespace hookline::synth {

TEST_CASE("a scenario goes to JSON and back unchanged") {
  const Scenario s = RandomScenario(7, {Situation::kTwoBalls, PictureFormat::k720p60});
  const auto back = ScenarioFromJson(JsonFromScenario(s));
  REQUIRE_MESSAGE(back.ok(), back.status().sentence());
  CHECK(JsonFromScenario(*back) == JsonFromScenario(s));
}

TEST_CASE("what is left out keeps its default") {
  const auto s = ScenarioFromJson(R"({"name": "x", "lanes": {"width_in": 41.9}})");
  REQUIRE(s.ok());
  CHECK(s->lanes.width_in == 41.9);
  CHECK(s->lanes.foul_line_in == 1.0);
  CHECK(s->shots.empty());
}

TEST_CASE("errors name what is wrong") {
  const auto sentence = [](const char* text) {
    const auto s = ScenarioFromJson(text);
    REQUIRE_FALSE(s.ok());
    return s.status().sentence();
  };
  CHECK(sentence("{").find("JSON") != std::string::npos);
  CHECK(sentence(R"({"lanes": {"widht_in": 41}})").find("lanes.widht_in") != std::string::npos);
  CHECK(sentence(R"({"shots": [{"ball": {"diameter": 8}}]})").find("shots.0.ball.diameter") != std::string::npos);
  CHECK(sentence(R"({"lanes": {"width_in": "wide"}})").find("JSON") != std::string::npos);
  CHECK(sentence(R"({"lanes": {"width_in": 60}})").find("width_in") != std::string::npos);
  CHECK(sentence(R"({"lanes": {"lane_colour": "green"}})").find("green") != std::string::npos);
  CHECK(sentence(R"({"hall": {"lamp_style": "torches"}})").find("torches") != std::string::npos);
  CHECK(sentence(R"({"lanes": {"centres_in": [10, 80]}})").find("own lane") != std::string::npos);
  CHECK(sentence(R"({"shots": [{"lane": 3}]})").find("lane") != std::string::npos);
  CHECK(sentence(R"({"version": 2})").find("version") != std::string::npos);
  CHECK(sentence(R"({"shots": [{"pins_before": [11]}]})").find("pins_before") != std::string::npos);
}

TEST_CASE("random scenarios: valid, the same for the same seed, different for another") {
  for (int i = 0; i < 24; ++i) {
    CAPTURE(i);
    const Scenario s = RandomScenario(static_cast<std::uint64_t>(i) + 100, TableKind(i));
    const Status status = s.Check();
    CHECK_MESSAGE(status.ok(), status.sentence());
    CHECK(s.shots.empty() == (TableKind(i).situation == Situation::kNoShot));
  }
  const RandomKind kind{Situation::kHook, PictureFormat::k720p60};
  CHECK(JsonFromScenario(RandomScenario(5, kind)) == JsonFromScenario(RandomScenario(5, kind)));
  CHECK(JsonFromScenario(RandomScenario(5, kind)) != JsonFromScenario(RandomScenario(6, kind)));
}

TEST_CASE("random scenarios keep to the rules' windows") {
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    const Scenario s = RandomScenario(seed, {Situation::kHook, PictureFormat::k720p60});
    CHECK(s.lanes.width_in >= 41);
    CHECK(s.lanes.width_in <= 42);
    for (double y : s.lanes.arrow_tips_ft) {
      CHECK(y >= 12);  // rule: arrows 12 to 16 ft past the foul line
      CHECK(y <= 16);
    }
    CHECK(s.lanes.dots_ft >= 6);  // rule: 6 to 8 ft
    CHECK(s.lanes.dots_ft <= 8);
    CHECK(s.lanes.foul_line_in >= 0.375);
    CHECK(s.lanes.foul_line_in <= 1);
    CHECK(s.shots[0].ball.diameter_in >= 8.5);
    CHECK(s.shots[0].ball.diameter_in <= 8.595);
  }
}

}  // namespace hookline::synth
