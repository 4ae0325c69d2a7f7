#include "motion/skid_curve.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <utility>

#include "lane/units.h"

namespace hookline::motion {
namespace {

constexpr int kMostKnots = 64;

// Per knot k: column 0 int_0^s hat_k, column 1 int_0^s hat_k(r) r dr. The outer hats go on level without end.
void Integrate(const SkidGrid& grid, double s, Eigen::Ref<Eigen::ArrayXXd> out) {
  out.setZero();
  // A linear piece of hat k.
  const auto add = [&](int k, double from, double to, double at_from, double at_to) {
    const double length = to - from;
    out(k, 0) += length * (at_from + at_to) / 2;
    out(k, 1) += length * (from * (at_from + at_to) / 2 + length * (at_from + 2 * at_to) / 6);
  };
  if (s <= 0) return add(0, 0, s, 1, 1);
  // Whole hats and halves of them, then the piece of the two at s.
  const double h = grid.spacing_s;
  const int last = grid.knots - 1, whole = s < last * h ? std::min(static_cast<int>(s / h), last) : last;
  const double at = whole * h;
  if (whole > 0) {
    out(0, 0) = h / 2, out(0, 1) = h * h / 6;
    for (int k = 1; k < whole; ++k) out(k, 0) = h, out(k, 1) = k * h * h;
    out(whole, 0) = h / 2, out(whole, 1) = h * ((at - h) / 2 + h / 3);
  }
  if (whole == last) return add(whole, at, s, 1, 1);
  const double f = (s - at) / h;
  add(whole, at, s, 1, 1 - f);
  add(whole + 1, at, s, 0, f);
}

// Room for the integrals on the stack.
using HatIntegrals = Eigen::Array<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::ColMajor, kMostKnots, 2>;

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

SkidCurve::SkidCurve(const SkidGrid& grid, Eigen::VectorXd parameters) : grid_(grid), p_(std::move(parameters)) {
  assert(p_.size() == grid.size() && grid.knots >= 2 && grid.knots <= kMostKnots);
  free_ = p_.segment(kFriction, grid.knots).array().exp();
  laid_.resize(grid.knots, 2);
  Integrate(grid_, p_[kLaydown], laid_);
  dx_ = std::sin(p_[kPhi]), dy_ = -std::cos(p_[kPhi]);
  roll_s_ = std::max(p_[kRoll], p_[kLaydown]);
  kick_ = KickAtLaydown();
}

double SkidCurve::Friction(double s) const {
  const double f = std::clamp(s / grid_.spacing_s, 0.0, static_cast<double>(grid_.knots - 1));
  const int k = std::min(static_cast<int>(f), grid_.knots - 2);
  const double t = f - k;
  return kLeastFriction + free_[k] * (1 - t) + free_[k + 1] * t;
}

SkidCurve::Kick SkidCurve::KickAtLaydown() const {
  const double u = p_[kImpact];
  if (u <= 0) return {};
  const double mu = Friction(p_[kLaydown]) / lane::kStandardGravity;
  const double f = p_[kLaydown] / grid_.spacing_s;
  double slope = 0;
  if (f > 0 && f < grid_.knots - 1) {
    const int k = static_cast<int>(f);
    slope = (free_[k + 1] - free_[k]) / grid_.spacing_s / lane::kStandardGravity;
  }
  return {mu * u, slope * u, mu};
}

SkidState SkidCurve::At(double s) const {
  double gained = 0, moved = 0;
  if (s > p_[kLaydown]) {
    if (const double to = std::min(s, roll_s_); to > p_[kLaydown]) {
      HatIntegrals hats(grid_.knots, 2);
      Integrate(grid_, to, hats);
      hats -= laid_;
      const Eigen::ArrayXd size = kLeastFriction + free_.array();
      gained = (size * hats.col(0)).sum();
      moved = s * gained - (size * hats.col(1)).sum();
    }
    gained += kick_.value;
    moved += kick_.value * (s - p_[kLaydown]);
  }
  const double friction = Friction(s);
  const double now = s >= p_[kLaydown] && s < roll_s_ ? friction : 0;
  SkidState state;
  state.x = p_[kX0] + p_[kVx0] * s + dx_ * moved;
  state.y = p_[kY0] + p_[kVy0] * s + dy_ * moved;
  const Height height = HeightAt(p_, s);
  state.height = height.value;
  state.vz = -height.by_laydown;  // the height depends on s - laydown alone
  state.vx = p_[kVx0] + dx_ * gained;
  state.vy = p_[kVy0] + dy_ * gained;
  state.ax = dx_ * now;
  state.ay = dy_ * now;
  state.friction = friction / lane::kStandardGravity;
  return state;
}

void SkidCurve::PositionJacobian(double s, Eigen::Matrix3Xd& jacobian) const {
  jacobian.setZero(3, grid_.size());
  jacobian(0, kX0) = jacobian(1, kY0) = 1;
  jacobian(0, kVx0) = jacobian(1, kVy0) = s;
  const Height height = HeightAt(p_, s);
  jacobian(2, kLaydown) = height.by_laydown;
  jacobian(2, kImpact) = height.by_impact;
  jacobian(2, kBounce) = height.by_bounce;
  if (s <= p_[kLaydown]) return;

  const double since = s - p_[kLaydown], to = std::min(s, roll_s_);
  HatIntegrals hats(grid_.knots, 2);
  Integrate(grid_, to, hats);
  hats -= laid_;
  const Eigen::ArrayXd weight = s * hats.col(0) - hats.col(1), share = free_.array() * weight;
  const double moved = kLeastFriction * weight.sum() + share.sum() + kick_.value * since;
  jacobian.row(0).segment(kFriction, grid_.knots) = dx_ * share.matrix().transpose();
  jacobian.row(1).segment(kFriction, grid_.knots) = dy_ * share.matrix().transpose();
  if (p_[kImpact] > 0) {
    const double f = std::clamp(p_[kLaydown] / grid_.spacing_s, 0.0, static_cast<double>(grid_.knots - 1));
    const int k = std::min(static_cast<int>(f), grid_.knots - 2);
    for (int i = 0; i < 2; ++i) {
      const double hat = i == 0 ? 1 - (f - k) : f - k;
      const double kicked = free_[k + i] * hat * p_[kImpact] / lane::kStandardGravity * since;
      jacobian(0, kFriction + k + i) += dx_ * kicked;
      jacobian(1, kFriction + k + i) += dy_ * kicked;
    }
  }
  jacobian(0, kImpact) = dx_ * kick_.by_impact * since;
  jacobian(1, kImpact) = dy_ * kick_.by_impact * since;
  jacobian(0, kPhi) = -dy_ * moved;
  jacobian(1, kPhi) = dx_ * moved;
  // A roll that begins before laydown is one that begins at it: then no friction follows.
  const double by_laydown =
      (to > p_[kLaydown] ? -Friction(p_[kLaydown]) * since : 0) + kick_.by_laydown * since - kick_.value;
  jacobian(0, kLaydown) += dx_ * by_laydown;
  jacobian(1, kLaydown) += dy_ * by_laydown;
  if (s > roll_s_ && roll_s_ > p_[kLaydown]) {
    const double by_roll = Friction(roll_s_) * (s - roll_s_);
    jacobian(0, kRoll) = dx_ * by_roll;
    jacobian(1, kRoll) = dy_ * by_roll;
  }
}

SkidState EvaluateSkid(const SkidGrid& grid, const Eigen::VectorXd& parameters, double s) {
  return SkidCurve(grid, parameters).At(s);
}

}  // namespace hookline::motion
