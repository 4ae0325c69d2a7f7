#include "motion/what_if.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "motion/simulated_session.h"

using namespace hookline;
using namespace hookline::simulated;
using motion::Change;

namespace {

struct House {
  Bowler bowler;
  std::vector<Release> releases;
  std::vector<Shot> shots;
};

// A bowler on a lane whose line of eight shots stays on the lane, also when moved by three boards.
House RandomHouse(std::mt19937& random, int shots) {
  for (;;) {
    House h;
    Release& r = h.bowler.mean;
    r = RandomLine(random);
    bool fits = true;
    for (const double move : {0.0, 3.0, -3.0})
      for (const State& s : Roll(MovedIn(r, move, move)).states) fits = fits && (s.t < 0 || std::abs(s.x) < 0.45);
    if (!fits) continue;
    for (int i = 0; i < shots; ++i) {
      h.releases.push_back(OneOf(h.bowler, random));
      h.shots.push_back(MeasuredShot(h.releases.back(), i + 1, 1, random));
    }
    return h;
  }
}

// Where the very same releases, moved, would have gone on the average.
double MeanEntry(const std::vector<Release>& releases, double move) {
  double sum = 0;
  for (const Release& r : releases) sum += BoardOf(EntryOf(Roll(MovedIn(r, move, move))));
  return sum / static_cast<double>(releases.size());
}

}  // namespace

TEST_CASE("a move of three boards is foretold from eight shots") {
  std::mt19937 random(5);
  std::vector<double> off, whitened;
  for (int i = 0; i < 14; ++i) {
    const House h = RandomHouse(random, 8);
    const auto map = motion::MapFriction(h.shots);
    REQUIRE(map.ok());
    const auto what_if = motion::WhatIf::Make(h.shots, *map);
    REQUIRE(what_if.ok());
    const double move = i % 2 == 0 ? 3 : -3;
    Change change;
    change.feet_boards = change.eyes_boards = move;
    const motion::WhatIfAnswer answer = what_if->Ask(change);
    const double truth = MeanEntry(h.releases, move);
    off.push_back(std::abs(answer.after.entry_board.value - truth));
    whitened.push_back((answer.after.entry_board.value - truth) / answer.after.entry_board.sd);
    CHECK(answer.misfit < 2.5);
  }
  std::sort(off.begin(), off.end());
  CHECK(off[off.size() / 2] < 1);
  double sum = 0;
  for (const double z : whitened) sum += z * z;
  CHECK(std::sqrt(sum / static_cast<double>(whitened.size())) < 1.6);
}

TEST_CASE("nothing changed is nothing different; left is the mirror of right") {
  std::mt19937 random(6);
  House h = RandomHouse(random, 6);
  const auto map = motion::MapFriction(h.shots);
  REQUIRE(map.ok());
  const auto what_if = motion::WhatIf::Make(h.shots, *map);
  REQUIRE(what_if.ok());
  const auto same = what_if->Ask({});
  CHECK(same.entry_board_change.value == 0);
  CHECK(same.entry_board_change.sd == 0);
  CHECK(same.after.entry_board.value == same.before.entry_board.value);
  std::vector<Shot> left = h.shots;
  for (Shot& s : left) {
    s.hand = lane::Hand::kLeft;
    for (PathPoint& p : s.path) p.x = -p.x;
  }
  const auto left_map = motion::MapFriction(left);
  REQUIRE(left_map.ok());
  const auto mirrored = motion::WhatIf::Make(left, *left_map);
  REQUIRE(mirrored.ok());
  Change change;
  change.feet_boards = 2;
  change.speed = -0.3;
  const auto a = what_if->Ask(change), b = mirrored->Ask(change);
  CHECK(a.after.entry_board.value == doctest::Approx(b.after.entry_board.value).epsilon(0.002));
  CHECK(a.after.entry_angle.value == doctest::Approx(b.after.entry_angle.value).epsilon(0.01));
}

// Facts of the lane, 2.4: a slower ball, or one turned more, hooks more; eyes moved inward bring the ball inward.
TEST_CASE("what is changed acts in the direction the trade and the physics tell") {
  std::mt19937 random(7);
  const House h = RandomHouse(random, 8);
  const auto map = motion::MapFriction(h.shots);
  REQUIRE(map.ok());
  const auto what_if = motion::WhatIf::Make(h.shots, *map);
  REQUIRE(what_if.ok());
  Change slower, eyes, both;
  slower.speed = -0.45;
  eyes.eyes_boards = 1;
  both.feet_boards = both.eyes_boards = 2;
  CHECK(what_if->Ask(slower).entry_board_change.value > 0.5);
  CHECK(what_if->Ask(eyes).entry_board_change.value > 2);
  // Parallel, the ball comes in about as many boards farther in.
  CHECK(what_if->Ask(both).entry_board_change.value > 0.5);
  CHECK(what_if->Ask(both).entry_board_change.value < 3.5);
}

TEST_CASE("the friction map: what was rolled on is known, what was not is doubted; few shots doubt more") {
  std::mt19937 random(8);
  House h = RandomHouse(random, 12);
  const auto map = motion::MapFriction(h.shots);
  REQUIRE(map.ok());
  CHECK(map->shots() == 12);
  const Release& r = h.bowler.mean;
  const TrueShot mean = Roll(r);
  for (const double ft : {10.0, 25.0}) {
    const State s = mean.AtY(MetresFromFeet(ft));
    const auto cell = map->At(s.x, s.y);
    CAPTURE(ft);
    CHECK(std::abs(cell.value - r.Mu(s.x, s.y)) < 3 * cell.sd);
    CHECK(cell.sd < 0.25 * cell.value);
    const auto far = map->At(s.x - 0.6, s.y);
    CHECK(far.sd / far.value > cell.sd / cell.value);
  }
  const auto few = motion::MapFriction({h.shots[0], h.shots[1]});
  REQUIRE(few.ok());
  const State s = mean.AtY(MetresFromFeet(25));
  CHECK(few->At(s.x, s.y).sd > map->At(s.x, s.y).sd);
  // The quick field is the map.
  const motion::FrictionField field = map->Field();
  CHECK(field.at(s.x, s.y) == doctest::Approx(map->At(s.x, s.y).value).epsilon(0.03));
  CHECK_FALSE(motion::MapFriction({}).ok());
}

TEST_CASE("friction that rises where balls roll is seen to rise") {
  std::mt19937 random(9);
  House h = RandomHouse(random, 1);
  std::vector<Shot> shots;
  for (int i = 0; i < 30; ++i) {
    Bowler b = h.bowler;
    b.mean.mu_oil *= std::exp(0.015 * i);
    b.mean.mu_out *= std::exp(0.015 * i);
    b.mean.mu_dry *= std::exp(0.015 * i);
    shots.push_back(MeasuredShot(OneOf(b, random), i + 1, 1, random));
  }
  const auto map = motion::MapFriction(shots);
  REQUIRE(map.ok());
  CHECK(map->per_ball() > 2 * map->per_ball_sd());
  CHECK(map->per_ball() < 0.03);
}
