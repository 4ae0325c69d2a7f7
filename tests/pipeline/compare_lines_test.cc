#include "pipeline/compare_lines.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "advice/advise.h"
#include "motion/simulated_session.h"

using namespace hookline;
using namespace hookline::simulated;

namespace {

Release Steady(double rpm, double speed_mph) {
  Release r;
  r.speed = lane::MetresPerSecondFromMph(speed_mph);
  r.rpm = rpm;
  r.rotation_deg = 45;
  r.launch_deg = 1.6;
  r.laydown_x = -0.08;
  r.laydown_y = MetresFromFeet(1);
  r.impact = 0.1;
  r.k = 0.352;
  r.mu_oil = 0.04;
  r.mu_out = 0.05;
  r.mu_dry = 0.18;
  r.oil_ft = 39;
  r.transition_ft = 5;
  return r;
}

// Ten shots on a line whose mean ball was brought to the pocket.
std::vector<Shot> LineOf(Bowler bowler, const std::string& plan, int first, std::mt19937& random) {
  double low = 0, high = 5;
  for (int i = 0; i < 30; ++i) {
    bowler.mean.launch_deg = (low + high) / 2;
    (BoardOf(EntryOf(Roll(bowler.mean))) > 17.5 ? low : high) = bowler.mean.launch_deg;
  }
  std::vector<Shot> shots;
  const double arrows = BoardOf(Roll(bowler.mean).AtY(MetresFromFeet(14.5)));
  for (int i = 0; i < 10; ++i) {
    Shot shot = MeasuredShot(OneOf(bowler, random), first + i, 1, random);
    shot.bowler = "Robin";
    shot.ball = "blue";
    shot.plan = plan;
    shot.target.arrows_board = arrows;
    shot.target.stance_board = 25;
    shots.push_back(std::move(shot));
  }
  return shots;
}

Advice Compared(const std::vector<Shot>& shots) {
  Advice advice = advice::Advise(shots);
  pipeline::CompareLines(shots, advice);
  return advice;
}

}  // namespace

TEST_CASE("a steadier plan forgives more and hits the pocket more, by simulation") {
  std::mt19937 random(5);
  Bowler calm, wild;
  calm.mean = wild.mean = Steady(350, 17);
  calm.speed_sd = 0.05;
  calm.launch_sd = 0.05;
  calm.rotation_sd = 1;
  calm.laydown_sd = 0.003;
  wild.launch_sd = 0.6;
  wild.speed_sd = 0.3;
  auto shots = LineOf(calm, "calm", 1, random);
  const auto more = LineOf(wild, "wild", 11, random);
  shots.insert(shots.end(), more.begin(), more.end());
  const Advice advice = Compared(shots);
  REQUIRE(advice.comparisons.size() == 1);
  const Comparison& c = advice.comparisons.front();
  REQUIRE(c.first.margin.has_value());
  REQUIRE(c.second.margin.has_value());
  CHECK(c.first.name == "calm");
  CHECK(c.first.margin->pocket_share > c.second.margin->pocket_share + 0.1);
  // Both of one line: two boards wide at the pins, so about as much at the arrows as the hook leaves of it.
  CHECK(c.first.margin->boards > 0.2);
  CHECK(c.first.margin->boards < 3);
  CHECK(c.first.margin->speed_mph > 0.1);
  CHECK_FALSE(c.simulated);
  CHECK(c.margin_text.find("forgives") != std::string::npos);
  CHECK(c.strikes_text.find("cannot be compared") != std::string::npos);
}

TEST_CASE("with few revs the line from the far inside stands beside the present one, with many it does not") {
  std::mt19937 random(6);
  Bowler few, many;
  few.mean = Steady(190, 15.5);
  many.mean = Steady(360, 17);
  const Advice with = Compared(LineOf(few, "one line", 1, random));
  REQUIRE(with.comparisons.size() == 1);
  const Comparison& c = with.comparisons.front();
  CHECK(c.simulated);
  CHECK(c.kind == "plans");
  REQUIRE(c.second.margin.has_value());
  CHECK(c.second.shots.empty());
  CHECK(c.first_hits_pocket_more >= 0);
  CHECK(c.first_hits_pocket_more <= 1);
  CHECK(c.margin_text.find("Not bowled yet") != std::string::npos);
  CHECK_FALSE(c.text.empty());
  CHECK_FALSE(c.strikes_text.empty());
  CHECK(Compared(LineOf(many, "one line", 1, random)).comparisons.empty());
  CHECK(Compared({}).comparisons.empty());
}
