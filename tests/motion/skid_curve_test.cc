#include "motion/skid_curve.h"

#include <doctest/doctest.h>

#include <cmath>

#include "lane/units.h"
#include "motion/simulated_shot.h"

namespace hookline::motion {
namespace {

SkidGrid Grid() {
  SkidGrid grid;
  grid.origin_s = 0.9;
  grid.spacing_s = 0.13;
  grid.knots = 18;
  return grid;
}

Eigen::VectorXd Parameters(const SkidGrid& grid) {
  Eigen::VectorXd p(grid.size());
  p.head<9>() << 0.1, -0.3, 0.25, 7.9, -0.45, 0.11, 1.83, 0.6, 0.2;
  for (int k = 0; k < grid.knots; ++k) p[kFriction + k] = -1.0 + 0.09 * k + 0.1 * std::sin(k);
  return p;
}

}  // namespace

TEST_CASE("derivatives of the curve agree with differences") {
  const SkidGrid grid = Grid();
  const Eigen::VectorXd p = Parameters(grid);
  Eigen::Matrix3Xd jacobian;
  // In the air, in the bounce, sliding, on a knot, just before and after the roll begins, beyond the last knot.
  for (const double s : {-0.05, 0.05, 0.12, 0.4, 1.3, 1.82, 1.84, 2.1, 2.6}) {
    SkidCurve(grid, p).PositionJacobian(s, jacobian);
    for (Eigen::Index i = 0; i < p.size(); ++i) {
      CAPTURE(s);
      CAPTURE(i);
      Eigen::VectorXd up = p, down = p;
      const double h = 1e-6;
      up[i] += h;
      down[i] -= h;
      const SkidState a = EvaluateSkid(grid, up, s), b = EvaluateSkid(grid, down, s);
      CHECK(jacobian(0, i) == doctest::Approx((a.x - b.x) / (2 * h)).epsilon(1e-5).scale(1));
      CHECK(jacobian(1, i) == doctest::Approx((a.y - b.y) / (2 * h)).epsilon(1e-5).scale(1));
      CHECK(jacobian(2, i) == doctest::Approx((a.height - b.height) / (2 * h)).epsilon(1e-5).scale(1));
    }
  }
}

TEST_CASE("velocity and acceleration are the derivatives of the position") {
  const SkidGrid grid = Grid();
  const Eigen::VectorXd p = Parameters(grid);
  for (const double s : {0.05, 0.3, 1.0, 1.7, 2.2}) {
    CAPTURE(s);
    const double h = 1e-5;
    const SkidState a = EvaluateSkid(grid, p, s - h), b = EvaluateSkid(grid, p, s), c = EvaluateSkid(grid, p, s + h);
    CHECK(b.vx == doctest::Approx((c.x - a.x) / (2 * h)).epsilon(1e-6));
    CHECK(b.vy == doctest::Approx((c.y - a.y) / (2 * h)).epsilon(1e-6));
    CHECK(b.ax == doctest::Approx((c.vx - a.vx) / (2 * h)).epsilon(1e-4).scale(0.1));
    CHECK(b.ay == doctest::Approx((c.vy - a.vy) / (2 * h)).epsilon(1e-4).scale(0.1));
  }
}

TEST_CASE("a ball that lands and bounces loses what the sum over its bounces says") {
  // Landings at u, e u, e^2 u, ... take mu u (1 + e) / (1 - e) in all; no friction between them.
  const SkidGrid grid = Grid();
  Eigen::VectorXd p = Eigen::VectorXd::Zero(grid.size());
  const double mu = 0.05, g = lane::kStandardGravity, u = 1.3, v0 = 8.2, laydown = 0.21;
  p[kVy0] = v0;
  p[kLaydown] = laydown;
  p[kRoll] = 10;
  p[kImpact] = u;
  for (int k = 0; k < grid.knots; ++k) p[kFriction + k] = std::log((mu - 0.01) * g);
  for (const double e : {0.0, 0.2, 0.4}) {
    CAPTURE(e);
    p[kBounce] = e;
    const double rest = laydown + 2 * e * u / (g * (1 - e)), more = 0.3;
    CHECK(EvaluateSkid(grid, p, rest + more).vy ==
          doctest::Approx(v0 - mu * u * (1 + e) / (1 - e) - mu * g * more).epsilon(1e-9));
  }
  CHECK(EvaluateSkid(grid, p, laydown - 1e-9).vy == doctest::Approx(v0));
  CHECK(EvaluateSkid(grid, p, laydown - 1e-9).vz == doctest::Approx(-u).epsilon(1e-6));
  CHECK(EvaluateSkid(grid, p, laydown + 1e-9).vz == doctest::Approx(p[kBounce] * u).epsilon(1e-6));
}

TEST_CASE("with one friction all along the curve is the textbook's parabola, then straight") {
  // Halliday, Resnick, Walker, ch. 11, a ball thrown without spin: v0 8.50 m/s, mu 0.21, g 9.8 slides 8.60 m in 1.18 s
  // and rolls at 6.07 m/s (sphere). Here with g = 9.80665: t = 2 v0 / (7 mu g), d = 12 v0^2 / (49 mu g).
  SkidGrid grid = Grid();
  Eigen::VectorXd p = Eigen::VectorXd::Zero(grid.size());
  const double mu = 0.21, g = lane::kStandardGravity, v0 = 8.5, rolls = 2 * v0 / (7 * mu * g);
  p[kVy0] = v0;
  p[kRoll] = rolls;
  for (int k = 0; k < grid.knots; ++k) p[kFriction + k] = std::log((mu - 0.01) * g);
  CHECK(rolls == doctest::Approx(1.18).epsilon(0.005));
  CHECK(EvaluateSkid(grid, p, rolls).y == doctest::Approx(12 * v0 * v0 / (49 * mu * g)));
  CHECK(EvaluateSkid(grid, p, rolls).y == doctest::Approx(8.60).epsilon(0.002));
  CHECK(EvaluateSkid(grid, p, rolls + 0.5).vy == doctest::Approx(v0 * 5 / 7));
  CHECK(EvaluateSkid(grid, p, rolls + 0.5).vy == doctest::Approx(6.07).epsilon(0.001));
}

TEST_CASE("the simulated ball of the other tests keeps to the textbook too") {
  // v_f = (v0 + k w0) / (1 + k), whatever the friction was on the way (facts: derived from the equations of sliding).
  simulated::Release r;
  r.mu_out = r.mu_oil;
  const simulated::TrueShot shot = simulated::Roll(r);
  REQUIRE(shot.roll_y.has_value());
  const double w = r.rpm / 60 * 2 * lane::kPi * lane::kBallDiameter / 2, a = lane::RadiansFromDegrees(r.launch_deg),
               b = a - lane::RadiansFromDegrees(r.rotation_deg);
  CHECK(shot.states.back().vx ==
        doctest::Approx((r.speed * std::sin(a) + r.k * w * std::sin(b)) / (1 + r.k)).epsilon(1e-3));
  CHECK(shot.states.back().vy ==
        doctest::Approx((r.speed * std::cos(a) + r.k * w * std::cos(b)) / (1 + r.k)).epsilon(1e-3));
}

}  // namespace hookline::motion
