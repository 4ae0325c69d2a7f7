// The normal distribution, as far as the advisor needs it.
#pragma once

#include <cmath>

#include "lane/units.h"

namespace hookline::advice {

inline double NormalDensity(double x, double mean, double variance) {
  const double d = x - mean;
  return std::exp(-0.5 * d * d / variance) / std::sqrt(2 * lane::kPi * variance);
}

// Share of the standard normal distribution below z.
inline double NormalBelow(double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); }

}  // namespace hookline::advice
