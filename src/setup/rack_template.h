// What ten standing pins look like from far in front, coarse enough to find them: white pins before a dark pit, drawn
// from the rule's spots and the pins' outline (lane/pin_profile.h).
#pragma once

#include <array>

namespace hookline::setup {

// Values on a grid in the rack's plane, inches, row 0 at the bottom (kBottom above the head pin's foot); zero mean,
// unit norm.
struct RackTemplate {
  static constexpr double kHalfWidth = 24.0, kStepX = 1.0, kBottom = 3.0, kTop = 18.0, kStepZ = 1.5;
  static constexpr int kNx = static_cast<int>(2 * kHalfWidth / kStepX) + 1,
                       kNz = static_cast<int>((kTop - kBottom) / kStepZ) + 1;
  std::array<float, static_cast<std::size_t>(kNx) * kNz> value;
};

// rise: how much higher the back row's feet appear than the head pin's, inches; the nearest of a few templates made
// for cameras of different height.
const RackTemplate& RackFor(double rise);

// From the rack's row, r px below the lanes' vanishing point, and its scale there: a camera higher above the lane sees
// the back row higher. The rack is 31.18 in deep and some 940 in away from a camera 15 ft behind the foul line.
inline double RackRise(double row, double px_per_inch) { return row / px_per_inch * (31.18 / 940.0); }

}  // namespace hookline::setup
