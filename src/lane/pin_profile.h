// Outline of a pin: diameter over height. Rows at 4.5, 10 and 13.5 in are from published specifications
// (measuringknowhow.com); the others are from memory, unverified. The base is flat.
#pragma once

#include <array>
#include <cstddef>

#include "lane/units.h"

namespace hookline::lane {

struct PinProfileRow {
  double height_in, diameter_in;
};
inline constexpr std::array<PinProfileRow, 15> kPinProfile = {{{0.0, 2.25},
                                                               {0.75, 2.828},
                                                               {2.25, 3.906},
                                                               {3.375, 4.563},
                                                               {4.5, 4.766},
                                                               {5.875, 4.510},
                                                               {7.25, 3.703},
                                                               {8.625, 2.472},
                                                               {9.375, 1.965},
                                                               {10.0, 1.797},
                                                               {10.875, 1.870},
                                                               {11.75, 2.094},
                                                               {12.625, 2.406},
                                                               {13.5, 2.547},
                                                               {15.0, 0.6}}};

// Radius of a pin at a height above its base, both in metres; 0 outside 0..15 in.
constexpr double PinRadiusAt(double height) {
  const double h = InchesFromMetres(height);
  if (h < 0 || h > kPinProfile.back().height_in) return 0;
  for (std::size_t i = 1; i < kPinProfile.size(); ++i) {
    const PinProfileRow &a = kPinProfile[i - 1], &b = kPinProfile[i];
    if (h <= b.height_in)
      return MetresFromInches(
          0.5 * (a.diameter_in + (b.diameter_in - a.diameter_in) * (h - a.height_in) / (b.height_in - a.height_in)));
  }
  return 0;
}

}  // namespace hookline::lane
