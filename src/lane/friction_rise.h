// Where friction goes from its value in front to its value down the lane, along one ball's way: what skid_end_ft means
// (docs/measures.md), for the fit, the simulations and the tests' truths alike.
#pragma once

#include <algorithm>
#include <cstddef>
#include <optional>
#include <span>

#include "lane/units.h"

namespace hookline::lane {

struct FrictionMet {
  double y = 0;         // m down the lane, never less than of the one before
  double friction = 0;  // coefficient
};

struct FrictionRise {
  double front = 0, back = 0;        // coefficients: mean from 5 to 25 ft, and at 57 ft
  std::optional<double> half_way_y;  // m: from where on it is more than half way; nullopt: it does not rise
};

// Friction between two places of the way is taken as linear; at a sharp edge the way has two with the same y.
// Precondition: the way has two places or more and reaches 57 ft.
inline FrictionRise RiseOn(std::span<const FrictionMet> way) {
  constexpr double kFrom = MetresFromFeet(5), kTo = MetresFromFeet(25), kBack = MetresFromFeet(57);
  constexpr int kPlaces = 20;
  const auto between = [](double a, double b, double share) { return a + (b - a) * share; };
  const auto at = [&](double y) {
    const auto above =
        std::upper_bound(way.begin(), way.end(), y, [](double v, const FrictionMet& m) { return v < m.y; });
    const auto b = std::clamp<std::ptrdiff_t>(above - way.begin(), 1, std::ssize(way) - 1);
    const FrictionMet &p = way[static_cast<std::size_t>(b - 1)], &q = way[static_cast<std::size_t>(b)];
    return between(p.friction, q.friction, q.y > p.y ? std::clamp((y - p.y) / (q.y - p.y), 0.0, 1.0) : 0.0);
  };
  FrictionRise rise;
  for (int i = 0; i < kPlaces; ++i) rise.front += at(between(kFrom, kTo, (i + 0.5) / kPlaces)) / kPlaces;
  rise.back = at(kBack);
  if (!(rise.back > rise.front)) return rise;
  const double level = (rise.front + rise.back) / 2;
  for (std::size_t i = 1; i < way.size() && way[i - 1].y < kBack; ++i) {
    const FrictionMet &p = way[i - 1], &q = way[i];
    if (p.friction < level && q.friction >= level)
      rise.half_way_y = between(p.y, q.y, (level - p.friction) / (q.friction - p.friction));
  }
  return rise;
}

}  // namespace hookline::lane
