#include "synth/ball_physics.h"

#include <algorithm>
#include <cmath>

#include "lane/units.h"

namespace hookline::synth {
namespace {

constexpr double kG = lane::kStandardGravity;

void Turn(BallMotion& b, double dt) {
  const double rate = b.w.norm();
  if (rate * dt > 1e-12) b.turn = (Eigen::AngleAxisd(rate * dt, b.w / rate) * b.turn).normalized();
}

struct Rates {
  Eigen::Vector2d p, v, w;
};

}  // namespace

double Friction::At(double x, double y) const {
  const double t = std::clamp((std::abs(x) - outside_x + outside_blend) / (2 * outside_blend), 0.0, 1.0);
  const double front = oil + (outside - oil) * t * t * (3 - 2 * t);
  // 10 % to 90 % of a logistic step is 2 ln 9 of its scale.
  const double step = 1 / (1 + std::exp(-(y - oil_length) * 2 * std::log(9.0) / transition));
  return front + (dry - front) * step;
}

Eigen::Vector3d SpinFromRelease(double rate, double axis_rotation, double axis_tilt, double heading, double hand_sign) {
  const Eigen::Vector3d local(-std::cos(axis_rotation) * std::cos(axis_tilt),
                              -hand_sign * std::sin(axis_rotation) * std::cos(axis_tilt),
                              hand_sign * std::sin(axis_tilt));
  const double c = std::cos(heading), s = std::sin(heading);
  const Eigen::Vector3d right(c, -s, 0), forward(s, c, 0);
  return rate * (right * local.x() + forward * local.y() + Eigen::Vector3d::UnitZ() * local.z());
}

Eigen::Vector2d SlipVelocity(const BallMotion& b, const BallBody& body) {
  return {b.v.x() - b.w.y() * body.radius, b.v.y() + b.w.x() * body.radius};
}

void StepOnLane(BallMotion& b, const BallBody& body, const Friction& friction, double dt) {
  const auto rates = [&](const Eigen::Vector2d& p, const Eigen::Vector2d& v, const Eigen::Vector2d& w) -> Rates {
    const Eigen::Vector2d slip(v.x() - w.y() * body.radius, v.y() + w.x() * body.radius);
    const double speed = slip.norm();
    if (speed < 1e-12) return {v, Eigen::Vector2d::Zero(), Eigen::Vector2d::Zero()};
    const Eigen::Vector2d a = -friction.At(p.x(), p.y()) * kG / speed * slip;
    // Torque (0, 0, -R) x m a over m k R^2.
    return {v, a, Eigen::Vector2d(a.y(), -a.x()) / (body.k * body.radius)};
  };
  Turn(b, dt);
  if (!b.rolling) {
    const double slip = SlipVelocity(b, body).norm();
    const double to_roll = slip / (std::max(1e-9, friction.At(b.p.x(), b.p.y())) * kG * (1 + 1 / body.k));
    const double h = std::min(dt, to_roll);
    const Eigen::Vector2d p = b.p.head<2>(), v = b.v.head<2>(), w = b.w.head<2>();
    const Rates a1 = rates(p, v, w);
    const Rates a2 = rates(p + h / 2 * a1.p, v + h / 2 * a1.v, w + h / 2 * a1.w);
    const Rates a3 = rates(p + h / 2 * a2.p, v + h / 2 * a2.v, w + h / 2 * a2.w);
    // The last stage of a step that ends the slide would sit on the kink; the first half is smooth enough there.
    const Rates a4 = to_roll <= dt ? a2 : rates(p + h * a3.p, v + h * a3.v, w + h * a3.w);
    b.p.head<2>() = p + h / 6 * (a1.p + 2 * a2.p + 2 * a3.p + a4.p);
    b.v.head<2>() = v + h / 6 * (a1.v + 2 * a2.v + 2 * a3.v + a4.v);
    b.w.head<2>() = w + h / 6 * (a1.w + 2 * a2.w + 2 * a3.w + a4.w);
    dt -= h;
    if (to_roll <= h) {
      const Eigen::Vector2d surface(b.w.y() * body.radius, -b.w.x() * body.radius);
      b.v.head<2>() = (b.v.head<2>() + body.k * surface) / (1 + body.k);
      b.w.head<2>() = Eigen::Vector2d(-b.v.y(), b.v.x()) / body.radius;
      b.rolling = true;
    }
  }
  if (b.rolling && dt > 0) {
    const double speed = b.v.head<2>().norm();
    const double after = std::max(0.0, speed - friction.rolling * kG * dt);
    b.p.head<2>() += b.v.head<2>() * (dt * (speed > 0 ? (speed + after) / (2 * speed) : 0));
    if (speed > 0) b.v.head<2>() *= after / speed;
    b.w.head<2>() = Eigen::Vector2d(-b.v.y(), b.v.x()) / body.radius;
  }
}

void StepInFlight(BallMotion& b, double dt) {
  Turn(b, dt);
  b.p += b.v * dt;
  b.p.z() -= kG * dt * dt / 2;
  b.v.z() -= kG * dt;
}

double TouchDown(BallMotion& b, const BallBody& body, const Friction& friction, double restitution) {
  const double down = -b.v.z();
  const Eigen::Vector2d slip = SlipVelocity(b, body);
  const double speed = slip.norm();
  if (speed > 1e-9) {
    const double impulse = std::min(friction.At(b.p.x(), b.p.y()) * (1 + restitution) * down, speed / (1 + 1 / body.k));
    const Eigen::Vector2d dv = -impulse / speed * slip;
    b.v.head<2>() += dv;
    b.w.head<2>() += Eigen::Vector2d(dv.y(), -dv.x()) / (body.k * body.radius);
  }
  b.v.z() = restitution * down;
  return b.v.z();
}

}  // namespace hookline::synth
