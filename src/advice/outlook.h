// How often each way to bowl (ball and plan) strikes, spares, splits and leaves frames open, from what fell, and what
// that makes of the rest of a game (scoring.h).
//
// What fell is what people wrote of a shot, or the pins that were read. Words that are understood, in any order:
//   strike, x           all ten with the first ball
//   spare, /            the frame was spared; with a number (9 /) that many with the first ball
//   open, miss, -       it was not
//   split               the first ball left one
//   a number            pins of the first ball; two (8 1) are both balls; a leave (7-10) is what stood
// A shot that says only "spare", "open" or pins of a rack that was not full is the second ball of the frame before it.
// A split by pins: the head pin down, and what stands falls into groups that no line of neighbours, one row behind or
// straight behind the other, joins (rule: a pin down between or ahead; a 2-8 is none).
//
// Shares are beta posteriors with Jeffreys' prior; the score is worked out at their medians, and its interval from
// their 90 % intervals. Frames are taken as independent of each other.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "advice/scoring.h"
#include "core/status.h"
#include "model/advice.h"
#include "model/shot.h"

namespace hookline::advice {

struct OutlookOptions {
  std::vector<int> balls;            // of the game so far, pins of each
  std::vector<std::string> results;  // what fell in each shot, in the user's words; empty, or one a shot in order
  std::optional<int> need;           // a score to reach
  int few_frames = 3;                // below this many first balls of a choice nothing is said of it
  Status Check() const;              // kBadUse naming the ball that cannot be
};

// What a shot says of its frame.
struct FrameWords {
  std::optional<int> first;    // pins of the first ball
  std::optional<bool> closed;  // spared; of a strike empty
  bool strike = false, split = false;
  bool second_ball = false;  // of the frame before
  bool known() const { return first || closed || strike || split; }
};
FrameWords WordsOf(const std::string& result);
bool IsSplit(const std::vector<int>& standing);

// Empty when no shot's result is known. Precondition: options.Check().ok().
std::optional<ScoreOutlook> OutlookOf(const std::vector<Shot>& shots, const OutlookOptions& options = {});

}  // namespace hookline::advice
