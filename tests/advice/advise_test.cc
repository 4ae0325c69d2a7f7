#include "advice/advise.h"

#include <doctest/doctest.h>

#include <algorithm>

#include "advice/compare.h"
#include "advice/lane_read.h"
#include "advice/rules_of_thumb.h"
#include "advice/shots.h"
#include "advice/wording.h"
#include "lane/units.h"

using namespace hookline;
using namespace hookline::advice;
using test::HandShot;
using test::MakeShot;
using test::Steady;

namespace {

const Finding* Find(const ShotAdvice& shot, const std::string& cause) {
  const auto f =
      std::find_if(shot.findings.begin(), shot.findings.end(), [&](const Finding& x) { return x.cause == cause; });
  return f == shot.findings.end() ? nullptr : &*f;
}

}  // namespace

TEST_CASE("a finding has its number, its doubt and the shots it rests on") {
  auto shots = Steady(10);
  shots.push_back(MakeShot(11, {.speed = 15.4}));
  const Advice a = Advise(shots);
  const Finding* f = Find(a.shots.back(), "slower");
  REQUIRE(f);
  CHECK(f->measure == "speed_release_mph");
  CHECK(*f->change < -1.2);
  CHECK(*f->sd > 0.05);
  CHECK(f->shots.back() == 11);
  CHECK(f->shots.size() == 11);
  CHECK(f->text.find(" mph slower") != std::string::npos);
  CHECK(f->text.find("shots 1 to 10") != std::string::npos);
  CHECK_FALSE(a.cautions.empty());
}

TEST_CASE("below enough shots it says so, and a swing is called noise") {
  const Advice a = Advise(Steady(12));
  CHECK(Find(a.shots[0], "too_few_shots"));
  CHECK_FALSE(Find(a.shots[8], "too_few_shots"));
  const bool noise = std::any_of(a.shots.begin(), a.shots.end(), [](const ShotAdvice& s) { return Find(s, "noise"); });
  CHECK(noise);
}

// Two shots without names of balls, the second turned and launched wider, were called "more turn, 97 %" against a base
// of one shot.
TEST_CASE("a shot unlike the only one before it is no finding, but asks for more shots") {
  for (const double turn : {51., 57., 65., 80.}) {
    auto shots = Steady(1, {.ball = ""});
    shots.push_back(MakeShot(2, {.turn = turn, .launch = 2.6, .arrows = 12.3, .ball = ""}));
    const Advice a = Advise(shots);
    CHECK(a.shots.back().causes[Cause::kMoreTurn] < 0.8);
    CHECK_FALSE(Find(a.shots.back(), "more_turn"));
    const Finding* few = Find(a.shots.back(), "too_few_shots");
    REQUIRE(few);
    CHECK(few->text.find("1 of 4") != std::string::npos);
    CHECK(few->text.find("Bowl 3 more shots") != std::string::npos);
  }
  // After ten it is one.
  auto shots = Steady(10, {.ball = ""});
  shots.push_back(MakeShot(11, {.turn = 57, .launch = 2.6, .arrows = 12.3, .ball = ""}));
  CHECK(Find(Advise(shots).shots.back(), "more_turn"));
}

TEST_CASE("numbers that do not rise are counted anew") {
  auto shots = Steady(3);
  for (Shot& s : shots) s.number = 1;
  const Advice a = Advise(shots);
  CHECK(a.shots[2].number == 3);
  CHECK(a.warnings.size() == 1);
  CHECK(Advise({}).shots.empty());
  CHECK(Advise({}).warnings.size() == 1);
}

TEST_CASE("two good shots on the hook side: this line is not playable") {
  auto shots = Steady(8, {.entry = 22});
  const Advice a = Advise(shots);
  CHECK(a.lane_read.not_playable);
  REQUIRE(a.lane_read.miss_boards);
  CHECK(*a.lane_read.miss_boards->value == doctest::Approx(4.5).epsilon(0.1));
  REQUIRE(a.next_move.stance_boards);
  // 3-1-2: 4.5 boards at the pins are 3 with the feet, inward because the ball hooks too much.
  CHECK(*a.next_move.stance_boards->value == doctest::Approx(3).epsilon(0.2));
  CHECK(*a.next_move.entry_board->value == doctest::Approx(17.5).epsilon(0.03));
  CHECK(a.next_move.shots_used == 8);
}

TEST_CASE("a lane that hooks too little moves the feet outward; in the pocket one stays") {
  const Advice light = Advise(Steady(8, {.entry = 14.5}));
  CHECK_FALSE(light.lane_read.not_playable);
  CHECK(*light.next_move.stance_boards->value < -1);
  const Advice pocket = Advise(Steady(8));
  CHECK(*pocket.next_move.stance_boards->value == 0);
  CHECK(pocket.lane_read.text.find("plays") != std::string::npos);
}

TEST_CASE("boards are of the own hand, so a left-hander gets the same move") {
  auto shots = Steady(8, {.entry = 21});
  const Advice right = Advise(shots);
  for (Shot& s : shots) s.hand = lane::Hand::kLeft;
  const Advice left = Advise(shots);
  CHECK(*left.next_move.stance_boards->value == *right.next_move.stance_boards->value);
  CHECK(left.shots[5].causes.all == right.shots[5].causes.all);
}

TEST_CASE("no move leads off the approach") {
  auto shots = Steady(8, {.entry = 28});
  for (Shot& s : shots) s.target.stance_board = 36;
  const Advice a = Advise(shots);
  CHECK(36 + *a.next_move.stance_boards->value <= 39);
}

TEST_CASE("shots that were slower say nothing of the lane") {
  auto shots = Steady(10);
  shots.push_back(MakeShot(11, {.speed = 15, .entry = 24}));
  const Advice a = Advise(shots);
  CHECK(std::find(a.lane_read.shots.begin(), a.lane_read.shots.end(), 11) == a.lane_read.shots.end());
}

TEST_CASE("rules of thumb") {
  // probowluk.co.uk LaneCraft02: 2 boards at the stance are 3 at the pins, the other way.
  CHECK(FeetBy312(3) == doctest::Approx(2));
  // 3-6-9 (common practice; the same page): a right-hander's line 17-10 is 14-10 for the 2 pin, 11-10 the 4, 8-10 the
  // 7, and left by 3, 6, 9 for the 3 or 9, the 6, the 10.
  CHECK(SpareFeet(2, true) == -3);
  CHECK(SpareFeet(4, true) == -6);
  CHECK(SpareFeet(7, true) == -9);
  CHECK(SpareFeet(9, true) == 3);
  CHECK(SpareFeet(6, true) == 6);
  CHECK(SpareFeet(10, true) == 9);
  CHECK(SpareFeet(10, false) == -9);
  CHECK(SpareFeet(7, false) == 9);
  // 2-and-1 (common practice, no source).
  CHECK(TwoAndOne(2).feet == 2);
  CHECK(TwoAndOne(2).target == 1);
  CHECK(TwoAndOne(-5).feet == -4);
}

TEST_CASE("a rate's posterior is the beta distribution with Jeffreys' prior") {
  // No shots: the arcsine distribution, quantile q at sin^2(q pi / 2).
  const Rate none = RateOf(0, 0);
  CHECK(none.low == doctest::Approx(std::pow(std::sin(0.05 * lane::kPi / 2), 2)).epsilon(1e-3));
  CHECK(none.median == doctest::Approx(0.5));
  // Brown, Cai & DasGupta 2001, Statistical Science 16: centred and about 1.645 sqrt(p (1 - p) / n) wide on each side.
  const Rate half = RateOf(200, 400);
  CHECK(half.median == doctest::Approx(0.5).epsilon(1e-3));
  CHECK(half.high - half.median == doctest::Approx(1.645 * 0.025).epsilon(0.02));
  CHECK(RateOf(0, 10).low < 0.001);
  CHECK(RateOf(10, 10).high > 0.999);
  CHECK(ChanceHigher(half, half) == doctest::Approx(0.5));
  CHECK(ChanceHigher(RateOf(9, 10), RateOf(2, 10)) > 0.99);
}

TEST_CASE("two balls on one line are set side by side, strikes only where pins were read") {
  auto shots = Steady(12);
  for (int i = 13; i <= 20; ++i) shots.push_back(MakeShot(i, {.entry = 21, .ball = "ball C"}));
  Advice a = Advise(shots);
  REQUIRE(a.comparisons.size() == 1);
  const Comparison& c = a.comparisons.front();
  CHECK(c.kind == "balls");
  CHECK(c.first.name == "ball A");
  CHECK(c.first.pocket.count == 12);
  CHECK(c.second.pocket.count == 8);
  CHECK(c.first_hits_pocket_more > 0.9);
  CHECK(*c.second.entry_board.mean == doctest::Approx(21).epsilon(0.02));
  // Each comparison ends in a sentence on strikes; without a result it says that nothing is known.
  CHECK(c.strikes_text.find("cannot be compared") != std::string::npos);
  CHECK_FALSE(c.first.strikes_in_pocket.has_value());
  for (Shot& s : shots) s.pins_after = std::vector<int>{};
  shots[0].pins_after = std::vector<int>{10};
  for (std::size_t i = 12; i < 20; ++i) shots[i].measures[MeasureId::kEntryBoard] = Measure::Of(17.5, 0.2);
  a = Advise(shots);
  CHECK(a.comparisons.front().strikes_text.find("carries better") != std::string::npos);
  CHECK(a.comparisons.front().second.strikes_in_pocket->hits == 8);
}

TEST_CASE("two plans with one ball are compared, two balls on two plans are not") {
  auto shots = Steady(6);
  for (int i = 7; i <= 12; ++i) shots.push_back(MakeShot(i, {.plan = "wide"}));
  REQUIRE(Advise(shots).comparisons.size() == 1);
  CHECK(Advise(shots).comparisons.front().kind == "plans");
  for (std::size_t i = 6; i < 12; ++i) shots[i].ball = "ball B";
  CHECK(Advise(shots).comparisons.empty());
}

TEST_CASE("numbers in sentences") {
  CHECK(Fixed(-0.04, 1) == "0.0");
  CHECK(ShotList({1, 2, 3, 5, 7, 8}) == "1 to 3, 5, 7, 8");
  CHECK(Percent(0.999) == "over 99 %");
  CHECK(Inward(-2, 0) == "2 boards outward");
  CHECK(Inward(1, 0) == "1 board inward");
}
