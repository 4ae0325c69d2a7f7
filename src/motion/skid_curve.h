// The curve of a ball's contact point that slides, then rolls: Coulomb friction on a flat lane.
//
// Friction pulls against the slip between ball and lane, and the slip keeps its direction however the friction changes
// along the way (docs: dv/dt = -mu g s/|s|, dw/dt = +mu g/k s/|s|; Hopkins & Patterson 1977, Am. J. Phys. 45, 263). So
// the whole path has ONE direction of acceleration d and a size a(t) = mu(t) g >= 0 that ends in a step to zero where
// the ball begins to roll:
//
//   p(s) = p0 + v0 s + d(phi) Q(s),   Q'' = a on [laydown, roll), 0 elsewhere
//   d(phi) = (sin phi, -cos phi)      0 is straight back
//   a(s) = 0.01 g + exp(l_k)          at equally spaced knots, linear between them, level beyond the first and the last
//
//   height of the ball above rolling:
//     before laydown  u r - g r^2 / 2        r = time to laydown
//     after it        e^n u r - g r^2 / 2    in the n-th of the hops one after another, r = time since it began
//
// Bounces: a landing at u takes the friction of its normal impulse m u (1 + e), the next ones e u, e^2 u, ...; together
// mu u (1 + e) / (1 - e). The curve lets friction act in the bounces' flights too, 2 e u / (g (1 - e)) long, which
// gives mu 2 e u / (1 - e). What is missing is mu u whatever e: the velocity steps by d(phi) a(laydown) u / g at
// laydown.
//
// s is time minus the curve's origin, seconds; metres; lane frame. Not modelled: rolling resistance, unequal moments of
// inertia.
#pragma once

#include <Eigen/Core>

#include "lane/units.h"

namespace hookline::motion {

// Places in the parameter vector; the logarithms l_k of the friction follow from kFriction on.
enum SkidParameter : Eigen::Index {
  kX0 = 0,       // m, contact point at the origin of time, friction not yet met
  kY0 = 1,       // m
  kVx0 = 2,      // m/s
  kVy0 = 3,      // m/s
  kPhi = 4,      // rad
  kLaydown = 5,  // s
  kRoll = 6,     // s
  kImpact = 7,   // u, downward speed at laydown, m/s
  kBounce = 8,   // e, share of u that is given back
  kFriction = 9
};

// Sliding without friction would look like rolling; nothing published lies below this (facts: 0.04 on oil). m/s^2.
inline constexpr double kLeastFriction = 0.01 * lane::kStandardGravity;

// The fixed part of a curve.
struct SkidGrid {
  double origin_s = 0;   // stream time of s = 0
  double spacing_s = 0;  // between knots; the first is at s = 0
  int knots = 0;
  Eigen::Index size() const { return kFriction + knots; }
};

struct SkidState {
  double x = 0, y = 0, height = 0;  // m; height above the ball lying on the lane
  double vx = 0, vy = 0, vz = 0;    // m/s
  double ax = 0, ay = 0;            // m/s^2
  double friction = 0;              // coefficient of the lane here, met or (before laydown, in the roll) not
};

// A curve with what all times share worked out once.
class SkidCurve {
 public:
  SkidCurve() = default;
  // Precondition: parameters.size() == grid.size().
  SkidCurve(const SkidGrid& grid, Eigen::VectorXd parameters);

  const SkidGrid& grid() const { return grid_; }
  const Eigen::VectorXd& parameters() const { return p_; }

  SkidState At(double s) const;
  // Derivatives of (x, y, height) by the parameters, 3 x grid.size(), written over `jacobian`.
  void PositionJacobian(double s, Eigen::Matrix3Xd& jacobian) const;

 private:
  // Step of speed along d(phi) at laydown and its derivatives by laydown and impact.
  struct Kick {
    double value = 0, by_laydown = 0, by_impact = 0;
  };
  double Friction(double s) const;  // m/s^2
  Kick KickAtLaydown() const;

  SkidGrid grid_;
  Eigen::VectorXd p_;
  Eigen::VectorXd free_;                  // exp(l_k), m/s^2
  Eigen::ArrayXXd laid_;                  // knots x 2: the hats' integrals (skid_curve.cc) up to laydown
  double dx_ = 0, dy_ = -1, roll_s_ = 0;  // d(phi); where the roll begins, not before laydown
  Kick kick_;
};

// The state at one time, for any parameters. Precondition: parameters.size() == grid.size().
SkidState EvaluateSkid(const SkidGrid& grid, const Eigen::VectorXd& parameters, double s);

}  // namespace hookline::motion
