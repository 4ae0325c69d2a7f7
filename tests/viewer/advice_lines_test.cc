#include "viewer/advice_lines.h"

#include <doctest/doctest.h>

#include <algorithm>

#include "viewer/sample_session.h"

using namespace hookline;
using namespace hookline::viewer;

namespace {

const AdviceLine* Find(const std::vector<AdviceBlock>& blocks, int shot, const std::string& title) {
  for (const AdviceBlock& b : blocks)
    if (b.shot == shot)
      for (const AdviceLine& l : b.lines)
        if (l.title == title) return &l;
  return nullptr;
}

}  // namespace

TEST_CASE("chances in words rise with the number beside them") {
  CHECK(ChanceText(0.8) == "likely, 80 %");
  CHECK(ChanceText(0.997) == "almost certain, over 99 %");
  CHECK(ChanceText(0.5) == "more likely than not, 50 %");
  CHECK(ChanceText(0.004) == "very unlikely, under 1 %");
}

TEST_CASE("every cause has a heading of its own") {
  std::vector<std::string> titles;
  for (const std::string_view key : kCauseKeys) {
    titles.push_back(CauseTitle(key));
    CHECK(titles.back() != key);
  }
  std::sort(titles.begin(), titles.end());
  CHECK(std::adjacent_find(titles.begin(), titles.end()) == titles.end());
}

TEST_CASE("every measure has a place on the way") {
  CHECK(PlaceOfMeasure("speed_release_mph") == Mark::kRelease);
  CHECK(PlaceOfMeasure("path_turn_deg") == Mark::kRelease);
  CHECK(PlaceOfMeasure("board_at_arrows") == Mark::kArrows);
  CHECK(PlaceOfMeasure("friction") == Mark::kBreakpoint);
  CHECK(PlaceOfMeasure("entry_board") == Mark::kPins);
}

TEST_CASE("the sample session's advice as blocks: move first, lane, then the shots from the last on") {
  const test::SampleSession session = test::MakeSampleSession();
  const auto shown = session.Shown({});
  const std::vector<AdviceBlock> blocks = BlocksOf(session.advice, shown);
  REQUIRE(blocks.size() >= 16);
  CHECK(blocks[0].title == "Next move");
  CHECK(blocks[1].title == "The lane now");
  CHECK(blocks.back().shot == shown.front().id);
  CHECK(blocks[0].lines.front().evidence.at == Mark::kPins);
  CHECK_FALSE(blocks[0].lines.front().evidence.shots.empty());

  const AdviceLine* slower = Find(blocks, shown[6].id, "Released slower");
  REQUIRE(slower);
  CHECK(slower->chance == "very likely, 99 %");
  CHECK(slower->measure.starts_with("speed at release: -"));
  CHECK(slower->evidence.measure == "speed_release_mph");
  CHECK(slower->evidence.at == Mark::kRelease);
  // It rests on the shots before it and on itself, which is the last.
  CHECK(slower->evidence.shots.back() == shown[6].id);
  CHECK(slower->evidence.shots.front() == shown[0].id);

  const AdviceLine* lane = Find(blocks, shown[10].id, "Lane hooks more");
  REQUIRE(lane);
  CHECK(lane->measure.find(" %") != std::string::npos);
  CHECK(lane->evidence.at == Mark::kBreakpoint);

  const AdviceLine* ball = Find(blocks, shown[4].id, "Another ball");
  REQUIRE(ball);
  CHECK(ball->chance.empty());  // told by the person, no matter of chance
}

TEST_CASE("sentences of the panel are those of the advice") {
  const test::SampleSession session = test::MakeSampleSession();
  const auto shown = session.Shown({});
  std::vector<std::string> texts;
  for (const AdviceBlock& b : BlocksOf(session.advice, shown))
    for (const AdviceLine& l : b.lines) texts.push_back(l.text);
  for (const ShotAdvice& s : session.advice.shots)
    for (const Finding& f : s.findings) CHECK(std::find(texts.begin(), texts.end(), f.text) != texts.end());
  CHECK(std::find(texts.begin(), texts.end(), session.advice.next_move.reason) != texts.end());
  CHECK(std::find(texts.begin(), texts.end(), session.advice.lane_read.text) != texts.end());
}

TEST_CASE("without shots the advice says what it waits for") {
  const test::SampleSession one = test::MakeSampleSession(1), two = test::MakeSampleSession(2);
  CHECK(AdviceWaitsFor({}).find("Open the clips") != std::string::npos);
  CHECK(AdviceWaitsFor(one.Shown({})).find("two shots or more are needed") != std::string::npos);
  CHECK(AdviceWaitsFor(two.Shown({})).empty());
  const auto blocks = BlocksOf(Advice{}, {});
  CHECK(blocks.front().nothing == "No move can be told yet.");
}
