// What each choice of a comparison forgives, and a line that nobody has bowled yet beside the present one, by rolling
// balls with the bowler's own spread over the lane as it was measured.
//
// The choice's shots are fitted (motion/what_if.h) and their mean ball is rolled with draws of the bowler's own spread
// of laydown, launch, speed, turn and revs; the spread is that of the choice's shots with the measures' doubt taken
// off, leaning on a usual bowler's as if that were three shots more. The share that enters within one board of 17.5 is
// the simulated pocket rate. Margin in boards: the width of errors at the arrows, laydown held, over which at least
// half of those hits are left; in mph the same for speed.
//
// Below 280 rpm a ball hooks little, and a line with almost no turn from the far inside may miss less: laid down at
// board 28 with the turn at 8 degrees, the target solved for the pocket. It is compared by simulation alone; how sure
// is from the doubt of where either enters.
#pragma once

#include <vector>

#include "model/advice.h"
#include "model/shot.h"

namespace hookline::pipeline {

// `shots`: those the advice was made of, in order. Choices whose physics cannot be told stay without a margin.
void CompareLines(const std::vector<Shot>& shots, Advice& advice);

}  // namespace hookline::pipeline
