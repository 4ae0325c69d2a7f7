// The still background of a clip: what stays when bowler, ball and machine have moved on.
#pragma once

#include <vector>

#include "model/picture.h"

namespace hookline::setup {

// Pixel by pixel the median over the pictures (all of one size, camera motion already taken out or absent), with its
// spread. Precondition: at least one picture.
Background StillBackground(const std::vector<Picture>& pictures);

}  // namespace hookline::setup
