// Whether a clip's still background shows the lane, or somebody who stood before it.
#pragma once

#include "model/lane_setup.h"
#include "model/picture.h"

namespace hookline::setup {

// Share of the lane from the foul line to the pins, 0 to 1, where the background looks unlike what one in four places
// of it and its neighbours looks like at that distance. Places outside the picture do not
// count.
double ShareUnlikeLanes(const Background& background, const LaneSetup& setup);

}  // namespace hookline::setup
