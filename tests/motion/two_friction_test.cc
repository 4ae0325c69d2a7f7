#include "motion/two_friction.h"

#include <doctest/doctest.h>

#include <cmath>

#include "lane/units.h"

using namespace hookline;
using namespace hookline::motion;

namespace {
FrictionShape SomeShape() {
  FrictionShape s;
  s << LogExcess(0.04), LogExcess(0.2), 12.2, std::log(0.4), 0.5, 0.3;
  return s;
}
}  // namespace

TEST_CASE("the friction's step goes from front to back, half way at its place, higher outside") {
  const FrictionShape s = SomeShape();
  CHECK(FrontFriction(s) == doctest::Approx(0.04));
  CHECK(BackFriction(s) == doctest::Approx(0.2));
  const auto mu = [&](double x, double y) { return FrictionAt(s, x, y); };
  CHECK(mu(0, 2) == doctest::Approx(0.04).epsilon(1e-4));
  CHECK(mu(0, 17) == doctest::Approx(0.2).epsilon(1e-4));
  CHECK(mu(0, 12.2) == doctest::Approx(0.12).epsilon(1e-4));
  CHECK(mu(0.5, 2) == doctest::Approx(0.01 + 0.03 * std::exp(0.5)).epsilon(1e-3));
  CHECK(mu(-0.5, 2) == mu(0.5, 2));
  CHECK(mu(0.5, 17) == doctest::Approx(0.2).epsilon(1e-3));
}

TEST_CASE("its derivatives agree with differences") {
  const FrictionShape s = SomeShape();
  for (const double x : {-0.31, 0.0, 0.29})
    for (const double y : {3.0, 11.8, 12.5, 16.0}) {
      FrictionShape by;
      TwoFrictionLog(s, x, y, &by);
      for (Eigen::Index i = 0; i < kTwoFriction; ++i) {
        FrictionShape up = s, down = s;
        up[i] += 1e-5;
        down[i] -= 1e-5;
        CAPTURE(i);
        CHECK(by[i] == doctest::Approx((TwoFrictionLog(up, x, y, nullptr) - TwoFrictionLog(down, x, y, nullptr)) / 2e-5)
                           .epsilon(1e-4)
                           .scale(0.01));
      }
    }
}
