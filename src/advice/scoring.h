// Tenpin scoring, and what is still to come in a game: expected score, chance to reach a score, which choice serves it.
//
// Rules: World Bowling universal playing rules, chapter 2 (strike, spare, tenth frame). A ball counts its pins once,
// and once more for each strike in the two balls before it and each spare in the ball before it; the balls that fill
// the tenth frame count for that bonus only. So the future depends on the frame and on how often the next two balls
// count extra, nothing else, and everything here is exact by dynamic programming over these states. Balls are
// independent of each other and of the past in these models; real bowlers are a little streaky (Dorsey-Palmateer &
// Smith 2004).
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

#include "core/status.h"

namespace hookline::advice {

inline constexpr int kPerfectGame = 300;

// A game as far as it was bowled.
struct GameState {
  int frame = 1;                  // to be bowled next, 1 to 10; 11: over but for fill balls; 12: over
  std::optional<int> first;       // pins of the frame's first ball when the second is next
  int extra_next = 0;             // how often more the next ball counts: 0, 1, 2
  int extra_after = 0;            // and the one after it: 0, 1
  int fill_balls = 0;             // of the tenth frame still to come, when frame is 11
  std::optional<int> fill_first;  // pins of the first fill ball when it left some
  int score = 0;                  // of the balls so far, bonuses they earned so far included
  bool over() const { return frame > 11 || (frame == 11 && fill_balls == 0); }
};

// From the pins of every ball in order. kBadUse with a sentence naming the ball that cannot be.
Result<GameState> PlayGame(const std::vector<int>& balls);
// The score after each complete frame as it is written down: empty while a bonus is open. Same errors.
Result<std::vector<std::optional<int>>> FrameScores(const std::vector<int>& balls);

// One way to bowl, as probabilities of a frame's first ball and, what it left given, of its second.
struct BallModel {
  std::array<double, 11> first{};                   // by pins
  std::array<std::array<double, 11>, 11> second{};  // [pins of the first][pins of the second]
  // p strikes; else `left_first` pins on the average, q of those spared, `open_second` pins on the average when not.
  static BallModel FromRates(double strike, double spare, double left_first = 8.5, double open_second = 0.5);
  Status Check() const;
};

// Probability of each final score 0..300 from here.
std::array<double, kPerfectGame + 1> ScoreDistribution(const GameState& state, const BallModel& model);
double ExpectedScore(const GameState& state, const BallModel& model);
double ChanceToReach(const GameState& state, const BallModel& model, int needed);

// Several ways to bowl, one chosen anew for each frame so that the chance to reach `needed` is greatest.
struct BestChoice {
  std::size_t choice = 0;      // for the next frame
  double chance = 0;           // choosing well from here on
  std::vector<double> always;  // chance with each way all the time
};
// Precondition: models not empty.
BestChoice ChooseFor(const GameState& state, const std::vector<BallModel>& models, int needed);

// Distinct games by final score 0..300, every legal sequence of pinfalls counted once.
std::array<std::uint64_t, kPerfectGame + 1> CountGames();

}  // namespace hookline::advice
