#include "motion/skid_curve.h"

#include <algorithm>
#include <cassert>
#include <cmath>

#include "lane/units.h"

namespace hookline::motion {
namespace {

constexpr int kMostKnots = 64;

// Per knot k: first[k] = int_0^s hat_k, second[k] = int_0^s hat_k(r) r dr. The outer hats go on level without end.
struct HatIntegrals {
  double first[kMostKnots];
  double second[kMostKnots];
};

void AddLinearPiece(double from, double to, double at_from, double at_to, double& first, double& second) {
  const double h = to - from;
  first += h * (at_from + at_to) / 2;
  second += h * (from * (at_from + at_to) / 2 + h * (at_from + 2 * at_to) / 6);
}

void Integrate(const SkidGrid& grid, double s, HatIntegrals& out) {
  assert(grid.knots >= 2 && grid.knots <= kMostKnots);
  std::fill(out.first, out.first + grid.knots, 0.0);
  std::fill(out.second, out.second + grid.knots, 0.0);
  if (s <= 0) {
    AddLinearPiece(0, s, 1, 1, out.first[0], out.second[0]);
    return;
  }
  const double h = grid.spacing_s;
  for (int k = 0; k + 1 < grid.knots && k * h < s; ++k) {
    const double from = k * h, to = std::min(s, from + h), f = (to - from) / h;
    AddLinearPiece(from, to, 1, 1 - f, out.first[k], out.second[k]);
    AddLinearPiece(from, to, 0, f, out.first[k + 1], out.second[k + 1]);
  }
  const double last = (grid.knots - 1) * h;
  if (s > last) AddLinearPiece(last, s, 1, 1, out.first[grid.knots - 1], out.second[grid.knots - 1]);
}

double Friction(const SkidGrid& grid, const Eigen::VectorXd& p, double s) {
  const double f = std::clamp(s / grid.spacing_s, 0.0, static_cast<double>(grid.knots - 1));
  const int k = std::min(static_cast<int>(f), grid.knots - 2);
  const double t = f - k;
  return kLeastFriction + std::exp(p[kFriction + k]) * (1 - t) + std::exp(p[kFriction + k + 1]) * t;
}

// Step of speed along d(phi) at laydown and its derivatives by laydown and impact.
struct Kick {
  double value = 0, by_laydown = 0, by_impact = 0;
};

Kick KickAt(const SkidGrid& grid, const Eigen::VectorXd& p) {
  const double u = p[kImpact];
  if (u <= 0) return {};
  const double mu = Friction(grid, p, p[kLaydown]) / lane::kStandardGravity;
  const double f = p[kLaydown] / grid.spacing_s;
  double slope = 0;
  if (f > 0 && f < grid.knots - 1) {
    const int k = static_cast<int>(f);
    slope = (std::exp(p[kFriction + k + 1]) - std::exp(p[kFriction + k])) / grid.spacing_s / lane::kStandardGravity;
  }
  return {mu * u, slope * u, mu};
}

// Height above rolling and its derivatives by laydown, impact and bounce.
struct Height {
  double value = 0, by_laydown = 0, by_impact = 0, by_bounce = 0;
};

constexpr double kLeastHop = 0.02;  // m/s, goes 0.02 mm up

Height HeightAt(const Eigen::VectorXd& p, double s) {
  constexpr double g = lane::kStandardGravity;
  const double u = p[kImpact], e = p[kBounce], r = p[kLaydown] - s;
  if (r > 0) return {u * r - g * r * r / 2, u - g * r, r, 0};
  if (u <= 0 || e <= 0 || e >= 1) return {};
  // The hops: n begins at 2 u / g (e + ... + e^(n-1)) and goes up with e^n u.
  double since = -r, up = e * u, power = e, begins_by_impact = 0, begins_by_bounce = 0;
  for (int n = 1; up > kLeastHop; ++n) {
    const double length = 2 * up / g;
    if (since <= length) {
      const double climb = up - g * since;
      return {climb * since + g * since * since / 2, -climb, power * since - climb * begins_by_impact,
              n * up / e * since - climb * begins_by_bounce};
    }
    since -= length;
    begins_by_impact += 2 * power / g;
    begins_by_bounce += n * length / e;
    up *= e;
    power *= e;
  }
  return {};
}

}  // namespace

SkidState EvaluateSkid(const SkidGrid& grid, const Eigen::VectorXd& p, double s) {
  assert(p.size() == grid.size());
  const double roll = std::max(p[kRoll], p[kLaydown]);
  const double from = std::min(p[kLaydown], s), to = std::clamp(s, from, roll);
  double gained = 0, moved = 0;
  if (to > from) {
    HatIntegrals a, b;
    Integrate(grid, from, a);
    Integrate(grid, to, b);
    for (int k = 0; k < grid.knots; ++k) {
      const double size = kLeastFriction + std::exp(p[kFriction + k]);
      gained += size * (b.first[k] - a.first[k]);
      moved += size * (s * (b.first[k] - a.first[k]) - (b.second[k] - a.second[k]));
    }
  }
  if (s > p[kLaydown]) {
    const double kick = KickAt(grid, p).value;
    gained += kick;
    moved += kick * (s - p[kLaydown]);
  }
  const double dx = std::sin(p[kPhi]), dy = -std::cos(p[kPhi]);
  const double friction = Friction(grid, p, s);
  const double now = s >= p[kLaydown] && s < roll ? friction : 0;
  SkidState state;
  state.x = p[kX0] + p[kVx0] * s + dx * moved;
  state.y = p[kY0] + p[kVy0] * s + dy * moved;
  const Height height = HeightAt(p, s);
  state.height = height.value;
  state.vz = -height.by_laydown;  // the height depends on s - laydown alone
  state.vx = p[kVx0] + dx * gained;
  state.vy = p[kVy0] + dy * gained;
  state.ax = dx * now;
  state.ay = dy * now;
  state.friction = friction / lane::kStandardGravity;
  return state;
}

void SkidPositionJacobian(const SkidGrid& grid, const Eigen::VectorXd& p, double s, Eigen::Matrix3Xd& jacobian) {
  assert(p.size() == grid.size());
  jacobian.setZero(3, grid.size());
  jacobian(0, kX0) = jacobian(1, kY0) = 1;
  jacobian(0, kVx0) = jacobian(1, kVy0) = s;
  const Height height = HeightAt(p, s);
  jacobian(2, kLaydown) = height.by_laydown;
  jacobian(2, kImpact) = height.by_impact;
  jacobian(2, kBounce) = height.by_bounce;

  const double roll = std::max(p[kRoll], p[kLaydown]);
  const double from = std::min(p[kLaydown], s), to = std::clamp(s, from, roll);
  if (s <= p[kLaydown]) return;
  const double dx = std::sin(p[kPhi]), dy = -std::cos(p[kPhi]);
  HatIntegrals a, b;
  Integrate(grid, from, a);
  Integrate(grid, to, b);
  double moved = 0;
  for (int k = 0; k < grid.knots; ++k) {
    const double weight = s * (b.first[k] - a.first[k]) - (b.second[k] - a.second[k]);
    const double free = std::exp(p[kFriction + k]), share = free * weight;
    moved += (kLeastFriction + free) * weight;
    jacobian(0, kFriction + k) = dx * share;
    jacobian(1, kFriction + k) = dy * share;
  }
  const Kick kick = KickAt(grid, p);
  const double since = s - p[kLaydown];
  moved += kick.value * since;
  if (p[kImpact] > 0) {
    const double f = std::clamp(p[kLaydown] / grid.spacing_s, 0.0, static_cast<double>(grid.knots - 1));
    const int k = std::min(static_cast<int>(f), grid.knots - 2);
    for (int i = 0; i < 2; ++i) {
      const double hat = i == 0 ? 1 - (f - k) : f - k;
      const double share = std::exp(p[kFriction + k + i]) * hat * p[kImpact] / lane::kStandardGravity * since;
      jacobian(0, kFriction + k + i) += dx * share;
      jacobian(1, kFriction + k + i) += dy * share;
    }
  }
  jacobian(0, kImpact) = dx * kick.by_impact * since;
  jacobian(1, kImpact) = dy * kick.by_impact * since;
  jacobian(0, kPhi) = -dy * moved;
  jacobian(1, kPhi) = dx * moved;
  // A roll that begins before laydown is one that begins at it: then no friction follows.
  const double by_laydown = (to > from ? -Friction(grid, p, from) * since : 0) + kick.by_laydown * since - kick.value;
  jacobian(0, kLaydown) += dx * by_laydown;
  jacobian(1, kLaydown) += dy * by_laydown;
  if (s > roll && roll > p[kLaydown]) {
    const double by_roll = Friction(grid, p, roll) * (s - roll);
    jacobian(0, kRoll) = dx * by_roll;
    jacobian(1, kRoll) = dy * by_roll;
  }
}

}  // namespace hookline::motion
