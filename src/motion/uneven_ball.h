// Forward model of a ball whose moments of inertia differ, as every drilled or cored ball's do (the maker's
// "differential").
//
//   m dv/dt = F,   L = I w,   dL/dt = r x F (lane frame),   r = (0, 0, -R) to the contact
//   sliding: F = -mu m g s/|s|,  s = v + w x r;   rolling: F such that ds/dt = 0, as long as it is within mu m g
//
// I turns with the ball: principal moments m RG^2 about the pin axis (least), the mass bias and the third axis.
// Textbook (Goldstein, Classical Mechanics, ch. 5; Frohlich 2004, Am. J. Phys. 72, 1170, has the bowling case). With
// equal moments this is ball_motion.h's ball; a differential of 0.06 in (the rule's most) moves an entry by hundredths
// of a board and lets the axis wander, so the fits use the equal ball. Flat lane, no bounce, no rolling resistance.
#pragma once

#include <Eigen/Core>
#include <Eigen/Geometry>
#include <vector>

#include "core/status.h"
#include "motion/ball_motion.h"

namespace hookline::motion {

struct UnevenBall {
  double mass = 6.8;          // kg
  double radius = 0.10859;    // m
  double rg_least = 0.0635;   // m, radius of gyration about the axis of the least moment
  double differential = 0.0;  // m, greatest less least; the rule: 0.060 in or less
  double intermediate = 0.5;  // share of the differential that the third axis has; 1: symmetric
  Eigen::Quaterniond lane_from_ball = Eigen::Quaterniond::Identity();  // ball axes: least, third, greatest
  Status Check() const;
};

struct UnevenState {
  double time_s = 0;
  Eigen::Vector2d p = Eigen::Vector2d::Zero(), v = Eigen::Vector2d::Zero();
  Eigen::Vector3d spin = Eigen::Vector3d::Zero();  // rad/s, lane frame
  Eigen::Quaterniond lane_from_ball = Eigen::Quaterniond::Identity();
  double slip = 0;  // m/s
  bool rolling = false;
};

// States from release to end_y every step_s, fourth order; the step in which rolling begins is first order in its
// moment. Precondition: ball.Check().ok().
std::vector<UnevenState> SimulateUneven(const UnevenBall& ball, const Eigen::Vector2d& p, const Eigen::Vector2d& v,
                                        const Eigen::Vector3d& spin, const FrictionField& friction, double end_y,
                                        double step_s = 0.001);

}  // namespace hookline::motion
