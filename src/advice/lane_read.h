// How the line plays now, and what of it is the bowler's.
//
// The last shots with one ball, plan and target are looked at; shots with a let-up, more turn or a miss at the arrows
// are left out: they say nothing of the line. Their mean entry board less 17.5 (the pocket: board 17 to 18, USBC) is by
// how much the line hooks too much (positive) or too little. Two good shots in a row that miss by 2 boards or more on
// the hook side: this line is not playable today.
#pragma once

#include <vector>

#include "advice/causes.h"
#include "model/advice.h"

namespace hookline::advice {

inline constexpr double kPocketBoard = 17.5;
inline constexpr double kPocketHalfWidth = 1.0;  // boards; 16.5 to 18.5 counts as a pocket hit

// A shot that says something of the line: crossed its target within 1.5 boards, released as usual.
bool IsGood(const ShotVerdict& verdict);

LaneRead ReadLane(const std::vector<ShotVerdict>& verdicts);

}  // namespace hookline::advice
