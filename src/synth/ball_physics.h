// Rigid ball with Coulomb friction on a flat lane: the truth's own physics, kept apart from any fitting model.
//
//   contact point velocity  s = v + w x (0, 0, -R) = (vx - wy R, vy + wx R)
//   while sliding           dv/dt = -mu g s/|s|,   dw/dt = (r x F) / (m k R^2),  k = (radius of gyration / R)^2
//   rolling (s = 0)         dv/dt = -c g v/|v|, c the rolling resistance; the spin follows
//   touch-down              normal impulse (1 + e) |vz|, friction impulse mu times that, never beyond the stop of slip
//
// (textbook: Hopkins & Patterson 1977, Am. J. Phys. 45, 263.) Spin about the vertical is left as it is. Units SI, lane
// frame. mu(x, y): `oil` inside and `outside` beyond a board, blended over two boards; both go to `dry` beyond the oil
// by a logistic step.
#pragma once

#include <Eigen/Core>
#include <Eigen/Geometry>

namespace hookline::synth {

struct Friction {
  double oil = 0.04, outside = 0.08, dry = 0.2;
  double oil_length = 12.2;      // m, middle of the step
  double transition = 1.5;       // m, 10 % to 90 % of the step
  double outside_x = 0.32;       // m, |x| beyond which `outside` holds
  double outside_blend = 0.027;  // m, half width of that blend
  double rolling = 0;
  double At(double x, double y) const;
};

struct BallMotion {
  Eigen::Vector3d p = Eigen::Vector3d::Zero();  // centre
  Eigen::Vector3d v = Eigen::Vector3d::Zero();
  Eigen::Vector3d w = Eigen::Vector3d::Zero();               // spin, rad/s
  Eigen::Quaterniond turn = Eigen::Quaterniond::Identity();  // lane_from_ball
  bool rolling = false;
};

struct BallBody {
  double radius = 0.1086;  // m
  double k = 0.35;         // (radius of gyration / radius)^2
};

// Spin of a release: axis rotation and tilt against the level direction of travel `heading` (rad from +y towards +x).
// hand_sign +1 for a right-hander: positive rotation makes the ball curve to the left.
Eigen::Vector3d SpinFromRelease(double rate, double axis_rotation, double axis_tilt, double heading, double hand_sign);

Eigen::Vector2d SlipVelocity(const BallMotion& b, const BallBody& body);

// One step in contact with the lane (z untouched), fourth order in time; ends the slide inside the step at the right
// time.
void StepOnLane(BallMotion& b, const BallBody& body, const Friction& friction, double dt);
// One step in free flight, exact.
void StepInFlight(BallMotion& b, double dt);
// The touch-down at the present place with b.v.z() < 0: returns the upward speed after it.
double TouchDown(BallMotion& b, const BallBody& body, const Friction& friction, double restitution);

}  // namespace hookline::synth
