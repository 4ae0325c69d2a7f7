// Result files become the page: numbers of shots, pictures that are not there, what is left out.
#include "pipeline/page_of_session.h"

#include <doctest/doctest.h>

#include <algorithm>

#include "advice/advise.h"
#include "motion/simulated_session.h"
#include "pipeline/compare_lines.h"
#include "report/fixture.h"
#include "report/page_html.h"
#include "scratch_folder.h"

using namespace hookline;

namespace {

const ProgressFn kSilent = [](std::string_view, double) {};

}  // namespace

TEST_CASE("files measured one by one are counted through, and a missing clip is said") {
  ClipResult one = test::TwoShots();
  one.clip.file = "/nowhere/of the coach/evening.mp4";
  one.warnings = {"/nowhere/of the coach/evening.mp4 is cut off: 3 s could be read.",
                  "/nowhere/lane.json does not fit."};
  const auto page = pipeline::PageOfSession({{"a.json", one}, {"b.json", one}}, {}, kSilent, StopToken());
  REQUIRE(page.ok());
  REQUIRE(page->shots.size() == 4);
  CHECK(page->shots[3].title == "Shot 4");
  for (const auto& shot : page->shots) CHECK(shot.no_picture.find("not at hand") != std::string::npos);
  CHECK(pipeline::BowlersShown({{"a.json", one}}, {}).empty());
  // Said once, and without the folders of the coach's disk.
  REQUIRE(page->warnings.size() >= 2);
  CHECK(page->warnings[0] == "evening.mp4 is cut off: 3 s could be read.");
  CHECK(report::PageHtml(*page).find("nowhere") == std::string::npos);
}

// The page compared balls by what they did, but did not tell what each forgives, as `hookline advise` does.
TEST_CASE("two balls on one line stand side by side on the page as in the advice") {
  std::mt19937 random(3);
  simulated::Bowler bowler;
  bowler.mean = simulated::RandomLine(random);
  ClipResult result;
  for (int i = 1; i <= 12; ++i) {
    Shot shot = simulated::MeasuredShot(simulated::OneOf(bowler, random), i, 1, random);
    shot.bowler = "Robin";
    shot.ball = i <= 6 ? "blue" : "red";
    shot.plan = "one line";
    result.shots.push_back(std::move(shot));
  }
  Advice advice = advice::Advise(result.shots);
  pipeline::CompareLines(result.shots, advice);
  REQUIRE(advice.comparisons.size() >= 1);
  REQUIRE_FALSE(advice.comparisons[0].margin_text.empty());
  const auto page = pipeline::PageOfSession({{"", result}}, {}, kSilent, StopToken());
  REQUIRE(page.ok());
  const Comparison& c = advice.comparisons[0];
  const std::string whole = c.margin_text + " " + c.text + " " + c.strikes_text;
  CHECK(std::any_of(page->advice.begin(), page->advice.end(), [&](const auto& a) { return a.text == whole; }));
}

TEST_CASE("no shot at all is a reason, not a page") {
  ClipResult none;
  none.no_shot_reason = "Nobody bowled.";
  const auto page = pipeline::PageOfSession({{"a.json", none}}, {}, kSilent, StopToken());
  REQUIRE_FALSE(page.ok());
  CHECK(page.status().code() == StatusCode::kNotDetermined);
  CHECK(page.status().sentence().find("Nobody bowled.") != std::string::npos);
}

TEST_CASE("a clip is found where it was measured, beside its result, or in the folder that is named") {
  const test::ScratchFolder scratch;
  test::WriteContent(scratch / "evening.mp4", "x");
  ClipResult result;
  result.clip.file = "/nowhere/evening.mp4";
  CHECK(pipeline::ClipOf({"", result}, "") == "");
  CHECK(pipeline::ClipOf({scratch / "evening.json", result}, "") == scratch / "evening.mp4");
  CHECK(pipeline::ClipOf({"", result}, scratch / "") == scratch / "evening.mp4");
  result.clip.file = scratch / "evening.mp4";
  CHECK(pipeline::ClipOf({"", result}, "/nowhere") == scratch / "evening.mp4");
}

TEST_CASE("a clip that cannot be read leaves the page without its pictures, not the page undone") {
  const test::ScratchFolder scratch;
  test::WriteContent(scratch / "evening.mp4", "no video");
  ClipResult result = test::TwoShots();
  result.clip.file = scratch / "evening.mp4";
  CHECK(pipeline::BowlersShown({{"", result}}, {}).size() == 1);
  const auto page = pipeline::PageOfSession({{"", result}}, {}, kSilent, StopToken());
  REQUIRE(page.ok());
  CHECK(page->shots[0].no_picture.find("could not be read") != std::string::npos);
  pipeline::PageOptions without;
  without.pictures = false;
  const auto plain = pipeline::PageOfSession({{"", result}}, without, kSilent, StopToken());
  REQUIRE(plain.ok());
  CHECK(plain->shots[0].no_picture.empty());
}
