// A what-if's answer in words and rows. Numbers by report/number_text.h, in the form of the measures they are.
#pragma once

#include <string>
#include <vector>

#include "motion/what_if.h"

namespace hookline::viewer {

struct WhatIfRow {
  std::string label, before, after;
};
std::vector<WhatIfRow> WhatIfTable(const motion::WhatIfAnswer& answer);

// How the entry moves, and what to be careful with. `release_changed`: speed, turn or revs were.
std::vector<std::string> WhatIfNotes(const motion::WhatIfAnswer& answer, int lane_shots, bool release_changed);

// "friction 0.04 ±0.01".
std::string FrictionText(double value, double sd);

}  // namespace hookline::viewer
