#include "advice/outlook.h"

#include <doctest/doctest.h>

#include <string>

using namespace hookline;
using namespace hookline::advice;

namespace {

struct Said {
  Shot shot;
  std::string result;
};

Said WithResult(const std::string& result, const std::string& ball = "blue") {
  Said s;
  s.shot.bowler = "Robin";
  s.shot.ball = ball;
  s.result = result;
  return s;
}

std::optional<ScoreOutlook> Outlook(const std::vector<Said>& said, OutlookOptions options = {}) {
  std::vector<Shot> shots;
  for (const Said& s : said) {
    shots.push_back(s.shot);
    options.results.push_back(s.result);
  }
  return OutlookOf(shots, options);
}

Said WithPins(std::vector<int> before, std::vector<int> after) {
  Said s = WithResult("");
  s.shot.pins_before = std::move(before);
  s.shot.pins_after = std::move(after);
  return s;
}

const std::vector<int> kRack = {1, 2, 3, 4, 5, 6, 7, 8, 9, 10};

}  // namespace

TEST_CASE("what people write of a shot is understood") {
  CHECK(WordsOf("strike").strike);
  CHECK(WordsOf("X").strike);
  CHECK(WordsOf("10").strike);
  for (const char* text : {"9 /", "9/", "9 spare", "spare 9"}) {
    CAPTURE(text);
    CHECK(WordsOf(text).first == 9);
    CHECK(WordsOf(text).closed == true);
    CHECK_FALSE(WordsOf(text).second_ball);
  }
  for (const char* text : {"9 -", "9-", "9 open", "9, miss", "8 1"}) {
    CAPTURE(text);
    CHECK(WordsOf(text).closed == false);
    CHECK(WordsOf(text).first.has_value());
  }
  CHECK(WordsOf("8 2").closed == true);
  const FrameWords split = WordsOf("7-10 split");
  CHECK(split.first == 8);
  CHECK(split.split);
  CHECK_FALSE(split.closed.has_value());
  CHECK(WordsOf("Split (3-10)").split);
  CHECK_FALSE(WordsOf("3-6").split);
  CHECK(WordsOf("spare").second_ball);
  CHECK(WordsOf("open").second_ball);
  CHECK_FALSE(WordsOf("felt good").known());
  CHECK_FALSE(WordsOf("").known());
}

// Split names: Wikipedia "Split (bowling)" and the rule's wording, by facts on pin leaves; double wood and washouts are
// none.
TEST_CASE("splits are told by the pins that stand") {
  for (const auto& pins : std::vector<std::vector<int>>{{7, 10},
                                                        {2, 7},
                                                        {3, 10},
                                                        {2, 7, 10},
                                                        {4, 6, 7, 10},
                                                        {4, 6, 7, 8, 10},
                                                        {5, 7},
                                                        {5, 10},
                                                        {7, 9},
                                                        {8, 10},
                                                        {2, 4, 6, 7, 10},
                                                        {4, 5},
                                                        {5, 6},
                                                        {7, 8},
                                                        {5, 7, 10}})
    CHECK(IsSplit(pins));
  for (const auto& pins : std::vector<std::vector<int>>{
           {1, 2, 10}, {1, 3, 6, 7}, {2, 8}, {3, 9}, {2, 4, 5, 8}, {3, 5, 6, 9}, {10}, {}, {6, 10}})
    CHECK_FALSE(IsSplit(pins));
}

TEST_CASE("rates of each choice, and what they make of a game") {
  std::vector<Said> shots;
  for (int i = 0; i < 6; ++i) shots.push_back(WithResult("strike"));
  for (int i = 0; i < 3; ++i) shots.push_back(WithResult("9 /"));
  shots.push_back(WithResult("7-10 split"));
  shots.push_back(WithResult("open"));  // the second ball of that frame, with another ball or the same
  for (int i = 0; i < 4; ++i) shots.push_back(WithResult("8 /", "red"));
  shots.push_back(WithResult("3", "grey"));
  const auto o = Outlook(shots);
  REQUIRE(o.has_value());
  REQUIRE(o->choices.size() == 3);
  const ChoiceOutlook& blue = o->choices[0];
  CHECK(blue.name == "blue");
  CHECK(blue.strike.hits == 6);
  CHECK(blue.strike.count == 10);
  CHECK(blue.spare.hits == 3);
  CHECK(blue.spare.count == 4);
  CHECK(blue.split.hits == 1);
  CHECK(blue.open.hits == 1);
  CHECK(blue.open.count == 10);
  REQUIRE(blue.expected.has_value());
  // The same as scoring.h gives for these rates, which the facts' table checks.
  const double left = 35.0 / 4;
  CHECK(*blue.expected ==
        doctest::Approx(ExpectedScore({}, BallModel::FromRates(blue.strike.median, blue.spare.median, left))));
  CHECK(*blue.expected_low < *blue.expected);
  CHECK(*blue.expected_high > *blue.expected);
  CHECK(o->choices[2].strike.count == 4);
  CHECK_FALSE(o->choices[1].expected.has_value());  // one shot with grey tells nothing
  CHECK_FALSE(blue.chance.has_value());
}

TEST_CASE("the choice follows the score that is needed") {
  std::vector<Said> shots;
  for (int i = 0; i < 20; ++i) shots.push_back(WithResult(i % 2 ? "strike" : "8 -", "wild"));
  for (int i = 0; i < 20; ++i) shots.push_back(WithResult("9 /", "calm"));
  OutlookOptions options;
  // 9 frames of 9 / : 10 left in the tenth.
  for (int i = 0; i < 9; ++i) options.balls.insert(options.balls.end(), {9, 1});
  options.need = 200;  // three strikes in the tenth
  const auto high = Outlook(shots, options);
  REQUIRE(high.has_value());
  CHECK(high->next_choice == "wild");
  options.need = 185;
  CHECK(Outlook(shots, options)->next_choice == "calm");
  REQUIRE(high->chance_choosing.has_value());
  for (const ChoiceOutlook& c : high->choices) CHECK(*c.chance <= *high->chance_choosing + 1e-12);
  options.balls = {9, 5};
  CHECK(options.Check().code() == StatusCode::kBadUse);
  options.balls.clear();
  options.need = 301;
  CHECK_FALSE(options.Check().ok());
}

TEST_CASE("pins that were read tell the same as words; nothing known says nothing") {
  const auto o = Outlook({WithPins(kRack, {}), WithPins(kRack, {10}), WithPins({10}, {}), WithPins(kRack, {7, 10}),
                          WithPins({7, 10}, {7}), WithPins(kRack, {})});
  REQUIRE(o.has_value());
  CHECK(o->choices[0].strike.hits == 2);
  CHECK(o->choices[0].strike.count == 4);
  CHECK(o->choices[0].spare.hits == 1);
  CHECK(o->choices[0].spare.count == 2);
  CHECK(o->choices[0].split.hits == 1);
  CHECK_FALSE(Outlook({WithResult(""), WithResult("nice")}).has_value());
  CHECK_FALSE(Outlook({}).has_value());
}
