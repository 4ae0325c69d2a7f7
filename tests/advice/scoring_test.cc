#include "advice/scoring.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numeric>

using namespace hookline;
using namespace hookline::advice;

namespace {

std::vector<int> Scores(const std::vector<int>& balls) {
  const auto frames = FrameScores(balls);
  REQUIRE(frames.ok());
  std::vector<int> out;
  for (const auto& f : *frames) out.push_back(f.value_or(-1));
  return out;
}

int Final(const std::vector<int>& balls) {
  const auto game = PlayGame(balls);
  REQUIRE(game.ok());
  CHECK(game->over());
  const std::vector<int> frames = Scores(balls);
  CHECK(frames.size() == 10);
  CHECK(frames.back() == game->score);
  return game->score;
}

std::vector<int> Repeat(const std::vector<int>& frame, int times, const std::vector<int>& end = {}) {
  std::vector<int> out;
  for (int i = 0; i < times; ++i)
    for (const int pins : frame) out.push_back(pins);
  for (const int pins : end) out.push_back(pins);
  return out;
}

}  // namespace

// Universal playing rules of the international federation, 2.1.2, worked example (a foul counts 0).
TEST_CASE("the rule book's worked game, frame by frame") {
  CHECK(Scores({10, 10, 10, 7, 2, 8, 2, 0, 9, 10, 7, 3, 9, 0, 10, 10, 8}) ==
        std::vector<int>{30, 57, 76, 85, 95, 104, 124, 143, 152, 180});
  // The Scottish association's copy ends X X 7.
  CHECK(Scores({10, 10, 10, 7, 2, 8, 2, 0, 9, 10, 7, 3, 9, 0, 10, 10, 7}).back() == 179);
}

TEST_CASE("other published games") {
  CHECK(Scores({9, 1, 10, 8, 0}) == std::vector<int>{20, 38, 46});  // Swedish Wikipedia
  // A programming exercise's game, common practice, no source.
  CHECK(Scores({1, 4, 4, 5, 6, 4, 5, 5, 10, 0, 1, 7, 3, 6, 4, 10, 2, 8, 6}) ==
        std::vector<int>{5, 14, 29, 49, 60, 61, 77, 97, 117, 133});
  CHECK(Final(Repeat({10}, 3, Repeat({0, 0}, 7))) == 60);  // sfwolfphys 2021
}

// Derived from the rules; each is well known.
TEST_CASE("games every bowler knows") {
  CHECK(Final(Repeat({10}, 12)) == 300);
  CHECK(Final(Repeat({10, 5, 5}, 5, {10})) == 200);
  CHECK(Final(Repeat({5, 5, 10}, 5, {5, 5})) == 200);
  CHECK(Final(Repeat({5, 5}, 10, {5})) == 150);
  CHECK(Final(Repeat({9, 1}, 10, {9})) == 190);
  CHECK(Final(Repeat({9, 1}, 10, {10})) == 191);
  CHECK(Final(Repeat({9, 0}, 10)) == 90);
  CHECK(Final(Repeat({10}, 11, {9})) == 299);
  CHECK(Final(Repeat({10}, 10, {0, 0})) == 270);
  CHECK(Final(Repeat({10}, 9, {9, 1, 10})) == 279);
}

TEST_CASE("balls that cannot be are named") {
  for (const auto& balls :
       {std::vector<int>{11}, {-1}, {7, 4}, Repeat({10}, 13), Repeat({9, 0}, 10, {1}), Repeat({10}, 10, {6, 5})}) {
    const auto game = PlayGame(balls);
    REQUIRE_FALSE(game.ok());
    CHECK(game.status().code() == StatusCode::kBadUse);
    CHECK(game.status().sentence().find("Ball ") == 0);
  }
  // Bonuses still open are not written down.
  CHECK(Scores({10, 10}) == std::vector<int>{-1, -1});
  CHECK(Scores({3, 4, 10}) == std::vector<int>{7, -1});
}

// Cooper & Kennedy 1990, Mathematics Magazine 63, 239; OEIS A060853.
TEST_CASE("the number of distinct games by score is the published one") {
  const auto count = CountGames();
  CHECK(std::accumulate(count.begin(), count.end(), std::uint64_t{0}) == 5726805883325784576ULL);
  const std::uint64_t first[] = {1, 20, 210, 1540, 8855, 42504};
  for (std::size_t i = 0; i < 6; ++i) CHECK(count[i] == first[i]);
  CHECK(count[77] == 172542309343731946ULL);
  CHECK(std::max_element(count.begin(), count.end()) - count.begin() == 77);
  const std::uint64_t last[] = {12, 11, 11, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1};
  for (std::size_t i = 0; i < 13; ++i) CHECK(count[288 + i] == last[i]);
  long double sum = 0, all = 0;
  for (std::size_t s = 0; s < count.size(); ++s) {
    sum += static_cast<long double>(s) * static_cast<long double>(count[s]);
    all += static_cast<long double>(count[s]);
  }
  CHECK(static_cast<double>(sum / all) == doctest::Approx(79.7439).epsilon(1e-6));
}

// The table of expected scores in the project's list of facts (derived there by a closed formula): 8.5 pins with a
// first ball that is no strike, 0.5 with a missed second one.
TEST_CASE("expected scores agree with the closed formula's table") {
  const double p[] = {0, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7}, q[] = {0, 0.5, 0.7, 0.8, 0.9, 0.95, 1};
  const double table[7][7] = {
      {90.0, 137.5, 156.5, 166.0, 175.5, 180.2, 185.0},  {113.9, 153.9, 169.9, 177.9, 185.9, 189.9, 193.9},
      {129.0, 164.8, 179.2, 186.4, 193.5, 197.1, 200.7}, {146.2, 177.7, 190.3, 196.6, 202.9, 206.0, 209.2},
      {165.6, 192.5, 203.2, 208.6, 214.0, 216.7, 219.4}, {187.4, 209.4, 218.2, 222.6, 227.0, 229.2, 231.4},
      {211.7, 228.6, 235.3, 238.7, 242.1, 243.8, 245.4}};
  for (int i = 0; i < 7; ++i)
    for (int j = 0; j < 7; ++j) {
      CAPTURE(p[i]);
      CAPTURE(q[j]);
      CHECK(std::abs(ExpectedScore({}, BallModel::FromRates(p[i], q[j])) - table[i][j]) < 0.06);
    }
}

TEST_CASE("from within a game: what is bowled is counted, what is to come is exact") {
  const BallModel model = BallModel::FromRates(0.4, 0.8);
  CHECK(model.Check().ok());
  // Nine strikes, then two more for sure: 300 needs all of the last three.
  const auto nine = PlayGame(Repeat({10}, 9));
  REQUIRE(nine.ok());
  CHECK(ChanceToReach(*nine, model, 300) == doctest::Approx(std::pow(0.4, 3)));
  CHECK(ChanceToReach(*nine, model, 240) == doctest::Approx(1));
  const auto eleven = PlayGame(Repeat({10}, 11));
  REQUIRE(eleven.ok());
  CHECK(ChanceToReach(*eleven, model, 300) == doctest::Approx(0.4));
  const auto open = PlayGame(Repeat({9, 0}, 9, {9}));
  REQUIRE(open.ok());
  // 9 stands over 90 pins: the spare and then a strike is worth 101.
  CHECK(ChanceToReach(*open, model, 101) == doctest::Approx(0.8 * 0.4));
  // The probabilities of all scores add up to one, from anywhere.
  for (const auto& balls : {std::vector<int>{}, {10}, {7}, {7, 3}, {10, 10}, Repeat({10}, 10, {4})}) {
    const auto game = PlayGame(balls);
    REQUIRE(game.ok());
    double sum = 0;
    for (const double v : ScoreDistribution(*game, model)) sum += v;
    CHECK(sum == doctest::Approx(1));
  }
}

TEST_CASE("which way to bowl follows the score that is needed") {
  // A line that strikes often but leaves splits, and one that seldom strikes but is spared.
  const std::vector<BallModel> ways = {BallModel::FromRates(0.6, 0.4, 7), BallModel::FromRates(0.3, 0.95)};
  const auto last = PlayGame(Repeat({9, 1}, 9));
  REQUIRE(last.ok());
  CHECK(ChooseFor(*last, ways, last->score + 45).choice == 0);
  CHECK(ChooseFor(*last, ways, last->score + 20).choice == 1);
  // Choosing anew each frame is never worse than keeping to one way, and with one way the same.
  for (const int needed : {150, 180, 200, 230}) {
    const BestChoice best = ChooseFor({}, ways, needed);
    CHECK(best.chance >= best.always[0] - 1e-12);
    CHECK(best.chance >= best.always[1] - 1e-12);
    const BestChoice one = ChooseFor({}, {ways[1]}, needed);
    CHECK(one.chance == doctest::Approx(one.always[0]));
    CHECK(one.always[0] == doctest::Approx(ChanceToReach({}, ways[1], needed)));
  }
}
