// The still background of a clip: what stays when bowler, ball and machine have moved on.
#pragma once

#include <vector>

#include "model/lane_setup.h"
#include "model/picture.h"

namespace hookline::setup {

// Pixel by pixel the median over the pictures (all of one size; those of a camera that moved are turned onto the
// first), with its spread. Where people stand in most of them (clear_view.h), over the pictures that show what is
// behind. Precondition: at least one picture.
// `lanes`, where they lie in the first picture, help to tell people from what is behind them; may be null.
Background StillBackground(const std::vector<Picture>& pictures, const LaneSetup* lanes = nullptr);

}  // namespace hookline::setup
