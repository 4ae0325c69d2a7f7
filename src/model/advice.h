// What the advisor says of a session: the content of the advice file (docs/advice.md).
#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "model/measures.h"

namespace hookline {

// What can have acted in a shot, against the bowler's base before it (same bowler, ball and plan).
enum class Cause : std::size_t {
  kSlower,         // released slower than the bowler's own swing of speed explains
  kMoreTurn,       // the spin's direction turned inward of the base
  kMissedIn,       // crossed the arrows 2 boards or more inward of the target
  kMissedOut,      // the same outward
  kLaneHooksMore,  // the friction met on this line has risen
  kLaneHooksLess,  // or fallen
  kNewBall,        // another ball than the shot before
  kMoved,          // another stance or target than the shot before
  kCount
};
inline constexpr std::size_t kCauseCount = static_cast<std::size_t>(Cause::kCount);
inline constexpr std::array<std::string_view, kCauseCount> kCauseKeys = {
    "slower", "more_turn", "missed_in", "missed_out", "lane_hooks_more", "lane_hooks_less", "new_ball", "moved"};

struct CauseChances {
  std::array<double, kCauseCount> all{};
  double& operator[](Cause c) { return all[static_cast<std::size_t>(c)]; }
  double operator[](Cause c) const { return all[static_cast<std::size_t>(c)]; }
};

// One plain sentence, what it rests on, and what to try.
struct Finding {
  std::string cause;  // a key of kCauseKeys, or "noise", "too_few_shots", "line_not_playable"
  double probability = 0;
  std::string text;
  std::vector<int> shots;  // numbers of the shots it rests on
  std::string measure;     // key of the measure; empty: none
  std::optional<double> change, sd;
};

struct ShotAdvice {
  int number = 0;
  CauseChances causes;
  std::vector<Finding> findings;
};

// Boards of a move are inward positive; empty where no move can be told.
struct NextMove {
  std::optional<Measure> stance_boards;
  std::optional<double> target_boards, speed_mph, turn_deg;
  std::optional<Measure> entry_board;
  std::optional<double> entry_angle_deg;
  int shots_used = 0;
  std::string rule_of_thumb;
  std::string reason;  // why this move, or why none
};

struct MeanAndSpread {
  int count = 0;
  std::optional<double> mean, mean_sd, spread;
};

// A share of shots: median and a 90 % interval of its beta posterior (Jeffreys' prior).
struct Rate {
  int hits = 0, count = 0;
  double median = 0, low = 0, high = 0;
};

// By simulation with the bowler's own spread.
struct Margin {
  double pocket_share = 0;           // of balls that enter the pocket
  double boards = 0, speed_mph = 0;  // widths of error, in all, over which at least half of those are left
};

struct ChoiceSummary {
  std::string name;
  std::vector<int> shots;
  Rate pocket;
  std::optional<Rate> strikes_in_pocket;  // only where pins were read
  MeanAndSpread entry_board, entry_angle_deg, breakpoint_board, roll_start_ft, speed_entry_mph;
  std::optional<Margin> margin;  // where the physics can be told
};

// Two balls on one plan, or two plans with one ball.
struct Comparison {
  std::string kind;  // "balls" or "plans"
  ChoiceSummary first, second;
  double first_hits_pocket_more = 0;  // probability
  bool simulated = false;             // the second was not bowled
  std::string margin_text, text, strikes_text;
};

// How the line plays now: mean entry against the pocket, over the last shots with this ball, plan and target.
struct LaneRead {
  std::optional<Measure> miss_boards;  // mean entry board less 17.5: positive, the ball hooks too much for this line
  bool not_playable = false;           // two good shots in a row missed on the hook side
  std::vector<int> shots;
  std::string text;
};

// What a way to bowl makes of the rest of a game. Expected score and chance are empty where too little is known.
struct ChoiceOutlook {
  std::string name;
  Rate strike, spare, split, open;  // of first balls; of frames without a strike; of first balls; of whole frames
  std::optional<double> expected, expected_low, expected_high, chance;
};

struct ScoreOutlook {
  int score_now = 0;
  bool over = false;
  std::optional<int> need;
  std::vector<ChoiceOutlook> choices;
  std::string next_choice;                // that serves `need` best in the next frame
  std::optional<double> chance_choosing;  // choosing well from here on
  std::string text;
};

struct Advice {
  std::vector<ShotAdvice> shots;
  LaneRead lane_read;
  NextMove next_move;
  std::vector<Comparison> comparisons;
  std::optional<ScoreOutlook> score_outlook;  // empty: no result is known
  std::vector<std::string> cautions, warnings;
};

}  // namespace hookline
