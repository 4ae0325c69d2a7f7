// Forward model of a ball on a flat lane: sliding with Coulomb friction, then rolling.
//
//   v    velocity of the centre; w velocity the ball would have if it rolled with its present spin, |w| = omega R
//   cos(tilt) dv/dt = -mu g s/|s|,  dw/dt = +(mu g / k) s/|s|,  s = v - w,  k = (radius of gyration / radius)^2
//
// Both accelerations lie along the slip s, so its direction never changes, whatever mu(x, y) does along the way; only
// its size falls, by (1 + 1/k) mu g a second, and where it is gone the ball rolls on straight:
//   v = v0 - d (s0 - s) k / (1 + k),  v_roll = (v0 + k w0) / (1 + k)          d = s0/|s0|
// (textbook; Hopkins & Patterson 1977, Am. J. Phys. 45, 263; Frohlich 2004, Am. J. Phys. 72, 1170, for mu that varies)
//
// Frame: the lane's, m, s; the contact point. Spin: axis rotation is the angle of the spin axis' level part from that
// of pure forward roll along the ball's travel, positive when the spin drives the ball to +side (+1: to +x); tilt is
// the axis' elevation out of the level. Not modelled: unequal moments of inertia, rolling resistance, air, bounces; the
// part of the spin about the upright axis is kept as it is.
#pragma once

#include <Eigen/Core>
#include <functional>
#include <optional>
#include <vector>

#include "core/status.h"

namespace hookline::motion {

struct BallAtRelease {
  Eigen::Vector2d p = Eigen::Vector2d::Zero();  // m, first touch of the lane
  Eigen::Vector2d v = Eigen::Vector2d::Zero();  // m/s
  double spin = 0;                              // rad/s, 0 or more
  double axis_rotation = 0;                     // rad
  double axis_tilt = 0;                         // rad
  int side = 1;                                 // +1: positive axis rotation drives the ball to +x, -1: to -x
  double radius = 0.10859;                      // m
  double k = 0.342;                             // 0.2 to 0.6; legal balls 0.33 to 0.43 (derived from the rule)
  Status Check() const;
};

// Friction over the lane. `at` must be smooth between the breaks; at a break (a line across the lane, ascending y) it
// may jump.
struct FrictionField {
  std::function<double(double x, double y)> at;
  std::vector<double> breaks_y;  // m
  static FrictionField Uniform(double mu);
  // One value up to each break and one beyond the last: values.size() == breaks_y.size() + 1.
  static FrictionField Zones(std::vector<double> breaks_y, std::vector<double> values);
};

struct MotionState {
  double time_s = 0;  // after release
  Eigen::Vector2d p = Eigen::Vector2d::Zero(), v = Eigen::Vector2d::Zero();
  double slip = 0;  // m/s, 0 when rolling
};

// A path from release to the end; states at the steps' ends with cubic pieces between (exact where mu is uniform).
class BallMotion {
 public:
  const std::vector<MotionState>& states() const { return states_; }
  MotionState At(double time_s) const;                                // beyond the last state straight on
  std::optional<MotionState> AtY(double y) const;                     // first time; nullopt when it is not reached
  std::optional<MotionState> roll_start() const;                      // nullopt when it slides to the end
  MotionState Outermost(double from_y, double to_y, int side) const;  // largest side * x between
  Eigen::Vector2d slip_direction() const { return direction_; }

 private:
  friend BallMotion SimulateBall(const BallAtRelease&, const FrictionField&, double, double);
  std::vector<MotionState> states_;
  Eigen::Vector2d direction_ = Eigen::Vector2d::Zero();
  std::optional<std::size_t> roll_;
};

// Precondition: release.Check() ok. Ends where y reaches end_y (m), or after ten seconds. step_s: longest step where
// friction varies; Runge-Kutta of fourth order, so halving it divides the error by sixteen.
BallMotion SimulateBall(const BallAtRelease& release, const FrictionField& friction, double end_y,
                        double step_s = 0.02);

// w of the header: the level velocity the ball would roll with by its present spin.
Eigen::Vector2d RollVelocityOfSpin(const BallAtRelease& release);

}  // namespace hookline::motion
