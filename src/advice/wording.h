// Numbers inside the advisor's sentences.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "advice/release_state.h"

namespace hookline::advice {

std::string Fixed(double value, int decimals);                          // never "-0.0"
std::string WithDoubt(double value, double sd, int decimals);           // "1.2 ± 0.3"
std::string Percent(double share);                                      // "93 %", "over 99 %", "under 1 %"
std::string Count(int n, std::string_view one, std::string_view many);  // "1 shot", "4 shots"
std::string ShotList(const std::vector<int>& shots);                    // "1 to 5, 7"
std::string Inward(double boards, int decimals);                        // "1.5 boards inward"

}  // namespace hookline::advice
