// The table people read on a terminal: a row a shot, units in the header, each number with its doubt, a dash with a
// footnote where there is none. At most 110 columns wide. UTF-8.
#pragma once

#include <span>
#include <string>

#include "model/shot.h"

namespace hookline::report {

// One table over all clips. Rows are named 1, 2, .. for one clip and CLIP.SHOT for several.
std::string ResultTable(std::span<const ClipResult> results);

}  // namespace hookline::report
