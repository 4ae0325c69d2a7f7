#include "advice/rules_of_thumb.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>

#include "advice/wording.h"

namespace hookline::advice {

ThumbMove TwoAndOne(double miss) {
  const double steps = std::min(3.0, std::ceil(std::abs(miss) / 3));
  const double sign = miss < 0 ? -1 : 1;
  return {sign * 2 * steps, sign * steps};
}

double SpareFeet(int pin, bool right) {
  assert(pin >= 1 && pin <= 10);
  // Steps of three to the right of the centre line's own pins: + for pins on the right.
  static constexpr std::array<int, 11> kSteps = {0, 0, -1, 1, -2, 0, 2, -3, -1, 1, 3};
  const int right_side = kSteps[static_cast<std::size_t>(pin)];
  // Away from the pin's side: a pin on the own side takes the feet inward.
  return 3.0 * (right ? right_side : -right_side);
}

std::string ThumbText(double miss) {
  if (std::abs(miss) < 0.5) return "No move: the mean is in the pocket.";
  const ThumbMove two = TwoAndOne(miss);
  return "3-1-2: feet " + Inward(FeetBy312(miss), 1) + ", target held. 2-and-1: feet " + Inward(two.feet, 0) +
         ", target " + Inward(two.target, 0) + ".";
}

}  // namespace hookline::advice
