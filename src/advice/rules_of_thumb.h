// Coaching's rules of thumb, for comparison with what was measured. All are common practice; boards are those of the
// own hand, moves inward positive, so they are right for both hands.
//
//   3-1-2   strike line, pivot on the arrow: 2 boards with the feet are 1 at the foul line and 3 at the pins, the other
//   way
//           (similar triangles, 30 : 15 : 45 ft)
//   2-and-1 a small transition: feet 2 boards, target 1 board, the same way
//   3-6-9   spares: target held, feet 3, 6, 9 boards away from the pin's side for the 3, 6, 10 (own side) or 2, 4, 7
#pragma once

#include <string>

namespace hookline::advice {

// Feet in boards, inward positive, that bring a ball `miss` boards inward of the pocket back to it, target held.
constexpr double FeetBy312(double miss) { return 2.0 / 3.0 * miss; }

struct ThumbMove {
  double feet = 0, target = 0;
};
// The 2-and-1 move by steps of one, at most three: one for a miss up to three boards, and one more for each three.
ThumbMove TwoAndOne(double miss);

// Feet, inward positive, for a lone pin with the strike line's target; 0 for the head pin and the 5. `right` is the
// bowler's hand. Precondition: pin 1 to 10.
double SpareFeet(int pin, bool right);

std::string ThumbText(double miss);

}  // namespace hookline::advice
