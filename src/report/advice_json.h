// The advice file, format "hookline-advice" version 1 (docs/advice.md), and the same for people.
#pragma once

#include <string>

#include "model/advice.h"

namespace hookline::report {

// The whole document as text, indented, ending in a newline.
std::string AdviceJson(const Advice& advice);

// Findings shot by shot, the lane, the next move, comparisons, cautions; lines of up to about 110 columns.
std::string AdviceText(const Advice& advice);

}  // namespace hookline::report
