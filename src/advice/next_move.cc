#include "advice/next_move.h"

#include <algorithm>
#include <cmath>

#include "advice/lane_read.h"
#include "advice/rules_of_thumb.h"
#include "advice/wording.h"

namespace hookline::advice {
namespace {

constexpr int kFewest = 3;
constexpr double kShareUnknown = 0.5;  // of the move at the pins: friction on the new line is not known

// "For the 10 pin ..." when one pin was left.
std::string SpareText(const Shot& shot) {
  if (!shot.pins_after || shot.pins_after->size() != 1) return {};
  const int pin = shot.pins_after->front();
  if (pin < 1 || pin > 10) return {};
  const double feet = SpareFeet(pin, shot.hand == lane::Hand::kRight);
  if (feet == 0) return " For the " + std::to_string(pin) + " pin the strike line does.";
  return " For the " + std::to_string(pin) + " pin (3-6-9): feet " + Inward(feet, 0) + ", target held.";
}

}  // namespace

NextMove PlanNextMove(const std::vector<ShotVerdict>& verdicts, const LaneRead& read) {
  NextMove move;
  move.shots_used = static_cast<int>(read.shots.size());
  if (verdicts.empty() || !read.miss_boards) {
    move.reason = "There is no good shot on this line with an entry board, so no move can be told.";
    return move;
  }
  const double miss = *read.miss_boards->value, sd = read.miss_boards->sd;
  const Shot& last = *verdicts.back().shot;
  move.rule_of_thumb = ThumbText(miss) + SpareText(last);
  if (move.shots_used < kFewest && !read.not_playable) {
    move.reason = "Too few good shots on this line (" + std::to_string(move.shots_used) + " of " +
                  std::to_string(kFewest) + "): bowl on before you move.";
    return move;
  }
  if (std::abs(miss) < std::max(0.5, sd)) {
    move.stance_boards = Measure::Of(0, FeetBy312(sd));
    move.target_boards = 0;
    move.entry_board = Measure::Of(kPocketBoard + miss, sd);
    move.reason =
        "Stay: the mean ball enters " + WithDoubt(std::abs(miss), sd, 1) + " boards from the pocket, within the doubt.";
    return move;
  }
  double feet = std::clamp(std::round(2 * FeetBy312(miss)) / 2, -10.0, 10.0);
  std::string bound;
  if (last.target.stance_board) {
    const double stance = std::clamp(*last.target.stance_board + feet, 1.0, 39.0);
    if (stance != *last.target.stance_board + feet) bound = " The approach allows no more.";
    feet = stance - *last.target.stance_board;
  }
  const double moved = 1.5 * feet;
  move.stance_boards = Measure::Of(feet, FeetBy312(sd));
  move.target_boards = 0;
  move.entry_board = Measure::Of(kPocketBoard + miss - moved, std::hypot(sd, kShareUnknown * moved));
  move.reason = "The mean of " + Count(move.shots_used, "good shot", "good shots") + " enters " +
                WithDoubt(std::abs(miss), sd, 1) + " boards " + (miss > 0 ? "inward" : "outward") +
                " of board 17.5: feet " + Inward(feet, 1) + " with the target held takes " + Fixed(std::abs(moved), 1) +
                " boards of it back by geometry." + bound;
  return move;
}

}  // namespace hookline::advice
