#include "motion/uneven_ball.h"

#include <doctest/doctest.h>

#include <cmath>

#include "lane/units.h"

using namespace hookline;
using namespace hookline::motion;
using Eigen::Vector2d;
using Eigen::Vector3d;

namespace {

// Facts 2.4, base case: 8.0 m/s at 1.8 deg to the right, 416 rpm, axis rotation 45 deg, RG 2.5 in.
BallAtRelease Base() {
  BallAtRelease r;
  const double launch = lane::RadiansFromDegrees(1.8);
  r.v = 8.0 * Vector2d(std::sin(launch), std::cos(launch));
  r.spin = 416 * lane::kPi / 30;
  r.axis_rotation = lane::RadiansFromDegrees(45);
  r.side = -1;
  r.radius = lane::MetresFromInches(8.55 / 2);
  r.k = std::pow(2.5 / (8.55 / 2), 2);
  return r;
}

// The spin whose rolling velocity is RollVelocityOfSpin: w with v + w x (0, 0, -R) = 0 for v that velocity.
Vector3d SpinOf(const BallAtRelease& r) {
  const Vector2d w = RollVelocityOfSpin(r);
  return Vector3d(-w.y(), w.x(), 0) / r.radius;
}

UnevenBall BallOf(const BallAtRelease& r) {
  UnevenBall ball;
  ball.radius = r.radius;
  ball.rg_least = std::sqrt(r.k) * r.radius;
  return ball;
}

}  // namespace

TEST_CASE("with equal moments it is the ball of the simple model, to the tolerances of the published vectors") {
  const BallAtRelease r = Base();
  const FrictionField friction = FrictionField::Uniform(0.10);
  const double end_y = 18.288;
  const auto states = SimulateUneven(BallOf(r), r.p, r.v, SpinOf(r), friction, end_y);
  const BallMotion simple = SimulateBall(r, friction, end_y);
  for (const UnevenState& s : states) {
    const MotionState m = simple.At(s.time_s);
    REQUIRE(std::abs(s.p.x() - m.p.x()) < 2e-4);
    REQUIRE(std::abs(s.p.y() - m.p.y()) < 2e-4);
  }
  // Facts 2.4, first row: roll starts at 1.4896 s, then 6.8668 m/s.
  double roll_s = 0;
  for (const UnevenState& s : states)
    if (s.rolling) {
      roll_s = s.time_s;
      break;
    }
  CHECK(roll_s == doctest::Approx(1.4896).epsilon(0.001));
  CHECK(states.back().v.norm() == doctest::Approx(6.8668).epsilon(0.0005));
}

TEST_CASE("without friction angular momentum and energy are kept while the axis wanders") {
  UnevenBall ball;
  ball.differential = lane::MetresFromInches(0.06);
  ball.lane_from_ball = Eigen::Quaterniond(Eigen::AngleAxisd(0.7, Vector3d(1, 2, -1).normalized()));
  const Vector3d spin(-30, 8, 5);
  const auto states = SimulateUneven(ball, {0, 0}, {0, 8}, spin, FrictionField::Uniform(0), 18);
  const Vector3d moments(std::pow(ball.rg_least, 2), std::pow(ball.rg_least + 0.5 * ball.differential, 2),
                         std::pow(ball.rg_least + ball.differential, 2));
  const auto momentum = [&](const UnevenState& s) {
    return Vector3d(s.lane_from_ball * (moments.asDiagonal() * (s.lane_from_ball.conjugate() * s.spin)));
  };
  const Vector3d l0 = momentum(states.front());
  const double e0 = l0.dot(states.front().spin);
  double most = 0;
  for (const UnevenState& s : states) {
    REQUIRE((momentum(s) - l0).norm() < 1e-9);
    REQUIRE(std::abs(momentum(s).dot(s.spin) - e0) < 1e-7);
    most = std::max(most, (s.spin - spin).norm());
  }
  CHECK(most > 0.05);
}

// Goldstein, Classical Mechanics, section 5.6: the spin of a free symmetric top circles its symmetry axis, as seen from
// the body, at (I3 - I1) / I1 times its component along that axis. From memory.
TEST_CASE("a symmetric ball's axis circles at the textbook's rate") {
  UnevenBall ball;
  ball.differential = lane::MetresFromInches(0.05);
  ball.intermediate = 1;  // two greatest alike: the least axis is the symmetry's
  const Vector3d spin_in_ball(25, 10, 0);
  const auto states = SimulateUneven(ball, {0, 0}, {0, 8}, spin_in_ball, FrictionField::Uniform(0), 17);
  const double i3 = std::pow(ball.rg_least, 2), i1 = std::pow(ball.rg_least + ball.differential, 2);
  const double rate = (i3 - i1) / i1 * spin_in_ball.x();
  const UnevenState& last = states.back();
  const Vector3d w = last.lane_from_ball.conjugate() * last.spin;
  CHECK(w.x() == doctest::Approx(25).epsilon(1e-6));
  CHECK(std::atan2(w.z(), w.y()) == doctest::Approx(std::remainder(rate * last.time_s, 2 * lane::kPi)).epsilon(1e-4));
}

TEST_CASE("a legal differential changes the entry by less than a board, and bad balls are refused") {
  const BallAtRelease r = Base();
  const FrictionField friction = FrictionField::Zones({lane::MetresFromFeet(40)}, {0.04, 0.2});
  UnevenBall even = BallOf(r), uneven = even;
  uneven.differential = lane::MetresFromInches(0.05);
  uneven.lane_from_ball = Eigen::Quaterniond(Eigen::AngleAxisd(0.9, Vector3d(0.3, -1, 0.4).normalized()));
  // The mean moment is kept, so that only the difference acts.
  uneven.rg_least -= uneven.differential / 2;
  const auto a = SimulateUneven(even, r.p, r.v, SpinOf(r), friction, 18.0),
             b = SimulateUneven(uneven, r.p, r.v, SpinOf(r), friction, 18.0);
  const double boards = (a.back().p.x() - b.back().p.x()) / 0.02703;
  CHECK(std::abs(boards) < 1);
  CHECK(std::abs(boards) > 1e-4);
  uneven.differential = 1;
  CHECK_FALSE(uneven.Check().ok());
  even.intermediate = 2;
  CHECK_FALSE(even.Check().ok());
}
