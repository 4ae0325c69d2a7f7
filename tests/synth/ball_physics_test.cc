// The truth's own physics against closed answers.
#include "synth/ball_physics.h"

#include <doctest/doctest.h>

#include <cmath>

#include "lane/units.h"

namespace hookline::synth {
namespace {

using doctest::Approx;

Friction Uniform(double mu) {
  Friction f;
  f.oil = f.outside = f.dry = mu;
  return f;
}

// Slides until it rolls; returns the time.
double RunToRoll(BallMotion& b, const BallBody& body, const Friction& f, double dt = 0.0005) {
  double t = 0;
  while (!b.rolling && t < 20) {
    StepOnLane(b, body, f, dt);
    t += dt;
  }
  return t;
}

}  // namespace

TEST_CASE("a sphere without spin rolls at 5/7 of its speed after 2 v0 / (7 mu g)") {
  // Textbook (Halliday, Resnick, Walker, rolling): R 0.11 m, v0 8.5 m/s, mu 0.21. With g 9.80665 instead of their 9.8.
  BallMotion b;
  b.v = {0, 8.5, 0};
  const BallBody body{0.11, 0.4};
  const double mu = 0.21, g = lane::kStandardGravity;
  const double t = RunToRoll(b, body, Uniform(mu));
  CHECK(t == Approx(2 * 8.5 / (7 * mu * g)).epsilon(0.0006));
  CHECK(b.v.y() == Approx(5.0 / 7 * 8.5).epsilon(1e-9));
  CHECK(-b.w.x() * 0.11 == Approx(b.v.y()).epsilon(1e-9));
  // The distance slid, 12 v0^2 / (49 mu g), with what it rolled in the rest of the last step.
  const double to_roll = 2 * 8.5 / (7 * mu * g);
  CHECK(b.p.y() - b.v.y() * (t - to_roll) == Approx(12 * 8.5 * 8.5 / (49 * mu * g)).epsilon(1e-6));
}

TEST_CASE("a hook under one friction: parabola, then a straight line") {
  // Closed answer for k = (2.5 in / 4.275 in)^2, mu 0.10, 8.0 m/s, 416 rpm, rotation 45 deg, launch 1.8 deg to the
  // right: roll from t 1.4896 s, y 11.047 m, 0.288 m to the left, then 6.8668 m/s at 5.331 deg to the left.
  const double radius = lane::MetresFromInches(8.55) / 2;
  const BallBody body{radius, std::pow(lane::MetresFromInches(2.5) / radius, 2)};
  const double heading = lane::RadiansFromDegrees(1.8);
  BallMotion b;
  b.v = {8 * std::sin(heading), 8 * std::cos(heading), 0};
  b.w = SpinFromRelease(416 * 2 * lane::kPi / 60, lane::RadiansFromDegrees(45), 0, heading, 1);
  const double slip = SlipVelocity(b, body).norm();
  const double expected = body.k * slip / ((1 + body.k) * 0.10 * lane::kStandardGravity);
  CHECK(expected == Approx(1.4896).epsilon(1e-4));
  const double t = RunToRoll(b, body, Uniform(0.10));
  const double rest = t - expected;
  CHECK(b.v.head<2>().norm() == Approx(6.8668).epsilon(2e-5));
  CHECK(lane::DegreesFromRadians(std::atan2(-b.v.x(), b.v.y())) == Approx(5.331).epsilon(1e-4));
  CHECK(b.p.y() - b.v.y() * rest == Approx(11.047).epsilon(1e-4));
  CHECK(-(b.p.x() - b.v.x() * rest) == Approx(0.288).epsilon(2e-3));
}

TEST_CASE("velocity of roll does not depend on how friction varies along the lane") {
  const BallBody body{0.1086, 0.36};
  Friction f;
  f.oil = 0.04;
  f.outside = 0.04;
  f.dry = 0.22;
  BallMotion b;
  b.v = {0.2, 7.5, 0};
  b.w = SpinFromRelease(40, 0.8, 0.2, std::atan2(0.2, 7.5), -1);
  const Eigen::Vector2d surface(b.w.y() * body.radius, -b.w.x() * body.radius);
  const Eigen::Vector2d final = (b.v.head<2>() + body.k * surface) / (1 + body.k);
  RunToRoll(b, body, f);
  CHECK((b.v.head<2>() - final).norm() < 1e-9);
}

TEST_CASE("step halved, same path") {
  const BallBody body{0.1086, 0.36};
  Friction f;
  const auto run = [&](double dt) {
    BallMotion b;
    b.v = {0.25, 7.8, 0};
    b.w = SpinFromRelease(35, 0.9, 0.2, 0.03, 1);
    for (double t = 0; t < 2 - dt / 2; t += dt) StepOnLane(b, body, f, dt);
    return b.p;
  };
  CHECK((run(0.0005) - run(0.00025)).norm() < 2e-6);
}

TEST_CASE("spin of a release") {
  // Pure forward roll turns about -x; a right-hander's rotation gives the surface a push to the left, a left-hander's
  // to the right.
  CHECK((SpinFromRelease(10, 0, 0, 0, 1) - Eigen::Vector3d(-10, 0, 0)).norm() < 1e-12);
  BallMotion b;
  b.v = {0, 8, 0};
  const BallBody body;
  b.w = SpinFromRelease(30, 1.0, 0, 0, 1);
  CHECK(SlipVelocity(b, body).x() > 0);  // friction, against the slip, pushes to the left
  b.w = SpinFromRelease(30, 1.0, 0, 0, -1);
  CHECK(SlipVelocity(b, body).x() < 0);
  CHECK(SpinFromRelease(30, 0.5, 0.3, 0.1, 1).norm() == Approx(30));
  CHECK(SpinFromRelease(30, 0.5, 0.3, 0.1, 1).z() == Approx(30 * std::sin(0.3)));
}

TEST_CASE("friction: oil, outside, dry, and the width of the step") {
  Friction f;
  f.oil = 0.04;
  f.outside = 0.08;
  f.dry = 0.2;
  f.oil_length = 12;
  f.transition = 2;
  f.outside_x = 0.3;
  f.outside_blend = 0.03;
  CHECK(f.At(0, 2) == Approx(0.04).epsilon(1e-4));
  CHECK(f.At(0.4, 2) == Approx(0.08).epsilon(1e-4));
  CHECK(f.At(0.3, 2) == Approx(0.06).epsilon(1e-4));
  CHECK(f.At(-0.4, 2) == f.At(0.4, 2));
  CHECK(f.At(0, 12) == Approx(0.12));
  CHECK(f.At(0, 11) == Approx(0.04 + 0.1 * 0.16).epsilon(1e-9));
  CHECK(f.At(0, 13) == Approx(0.04 + 0.9 * 0.16).epsilon(1e-9));
}

TEST_CASE("a touch-down keeps e of the fall and gives mu times the impulse to the slip") {
  BallMotion b;
  b.v = {0, 8, -2};
  const BallBody body{0.1086, 0.4};
  const double up = TouchDown(b, body, Uniform(0.05), 0.3);
  CHECK(up == Approx(0.6));
  CHECK(b.v.y() == Approx(8 - 0.05 * 1.3 * 2));
  CHECK(b.w.x() * body.radius == Approx(-0.05 * 1.3 * 2 / 0.4));
}

}  // namespace hookline::synth
