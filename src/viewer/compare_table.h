// The measures of two shots side by side, with what lies between them.
//
// The difference is second less first, its sd the root of the sum of squares. Shots of one clip share the lane's doubt,
// which their difference does not hold, so it is stated a little too wide there, never too narrow.
#pragma once

#include <string>
#include <vector>

#include "model/measures.h"
#include "model/shot.h"

namespace hookline::viewer {

enum class Difference { kNone, kWithinDoubt, kClear };

struct CompareRow {
  MeasureId id = MeasureId::kCount;
  std::string label, unit, first, second, difference;  // texts as shown; numbers by report/number_text.h
  std::string first_reason, second_reason;             // why a number is not given
  Difference says = Difference::kNone;
  std::string says_text;  // "clear", "within the doubt", "not both given"
};

// A difference of more than this many sd is called clear.
inline constexpr double kClearSd = 2;

// Measures that neither shot has are left out.
std::vector<CompareRow> CompareShots(const Shot& first, const Shot& second);

}  // namespace hookline::viewer
