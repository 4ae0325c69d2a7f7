// The next move by physics, put into an advice in place of the rule of thumb (which stays beside it).
//
// The lane is the friction map of the session's shots with the ball in hand; the ball is the mean of the good shots on
// the line now (advice's lane read), put right to the bowler's own mean speed, turn and revs over all good shots and to
// the target at the arrows, so that a few shots' luck is not taken for the line. Feet count where the ball is laid
// down: stance and laydown move alike. (3-1-2 counts them at the stance, where two boards are one at the foul line.)
// The move is the smallest, of three kinds (feet alone; eyes half as far as feet; both alike), that brings this ball to
// board 17.5, in half boards, within what lane and approach allow.
#pragma once

#include <vector>

#include "model/advice.h"
#include "model/shot.h"

namespace hookline::pipeline {

// `shots`: those the advice was made of, in order. Leaves advice.next_move as it is where the physics cannot tell.
void PlanMoveByPhysics(const std::vector<Shot>& shots, Advice& advice);

}  // namespace hookline::pipeline
