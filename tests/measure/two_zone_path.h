// The path of a ball on two zones of friction, in closed form: a parabola in each zone, then a straight line once it
// rolls.
#pragma once

#include <cmath>

#include "lane/lane_spec.h"
#include "lane/units.h"
#include "model/path.h"

namespace hookline::closed_form {

struct TwoZones {
  double speed = 8.0, rpm = 416, rotation_deg = 45, launch_deg = 1.8;
  double gyration_in = 2.5;
  double mu_front = 0.04, mu_back = 0.20, front_ft = 40;
  double start_x = 0;
  double side = 1;  // -1: mirrored
};

struct Solution {
  double x0, vx, vy, dx, dy;  // start, velocity, direction of friction
  double a1, a2, t1, roll_s;  // accelerations, time at the end of the front zone, start of the roll
};

inline Solution Solve(const TwoZones& z) {
  constexpr double g = lane::kStandardGravity;
  const double radius = lane::MetresFromInches(8.55) / 2,
               k = std::pow(lane::MetresFromInches(z.gyration_in) / radius, 2);
  const double launch = lane::RadiansFromDegrees(z.launch_deg),
               turn = launch - lane::RadiansFromDegrees(z.rotation_deg);
  const double w = z.rpm / 60 * 2 * lane::kPi * radius;
  Solution s{};
  s.x0 = z.start_x;
  s.vx = z.speed * std::sin(launch);
  s.vy = z.speed * std::cos(launch);
  const double sx = s.vx - w * std::sin(turn), sy = s.vy - w * std::cos(turn), slip = std::hypot(sx, sy);
  s.dx = -sx / slip;
  s.dy = -sy / slip;
  s.a1 = z.mu_front * g;
  s.a2 = z.mu_back * g;
  const double front = lane::MetresFromFeet(z.front_ft);
  const double a = s.dy * s.a1 / 2;
  s.t1 = (-s.vy + std::sqrt(s.vy * s.vy + 4 * a * front)) / (2 * a);
  const double to_lose = slip * k / (1 + k);
  s.roll_s = s.a1 * s.t1 >= to_lose ? to_lose / s.a1 : s.t1 + (to_lose - s.a1 * s.t1) / s.a2;
  return s;
}

inline PathState StateAt(const Solution& s, double side, double t) {
  const auto piece = [](double from, double to, double a, double at, double& q, double& moved) {
    const double end = std::fmin(at, to);
    if (end <= from) return;
    const double h = end - from, gained = a * h;
    moved += a * h * h / 2 + gained * (at - end);
    q += gained;
  };
  double q = 0, moved = 0;
  piece(0, std::fmin(s.t1, s.roll_s), s.a1, t, q, moved);
  piece(s.t1, s.roll_s, s.a2, t, q, moved);
  PathState out;
  out.time_s = t;
  out.x = side * (s.x0 + s.vx * t + s.dx * moved);
  out.y = s.vy * t + s.dy * moved;
  out.vx = side * (s.vx + s.dx * q);
  out.vy = s.vy + s.dy * q;
  return out;
}

// Parameters of the path: a shift in x and in y (m), each with its sd and without correlation.
inline Path PathOf(const TwoZones& z, double sd_x, double sd_y) {
  const Solution s = Solve(z);
  Path path;
  path.parameters = Eigen::VectorXd::Zero(2);
  path.covariance = Eigen::Vector2d(sd_x * sd_x, sd_y * sd_y).asDiagonal();
  path.evaluate = [s, side = z.side](const Eigen::VectorXd& p, double t) {
    PathState state = StateAt(s, side, t);
    state.x += p[0];
    state.y += p[1];
    return state;
  };
  path.start_s = path.first_sight_s = 0;
  path.end_s = path.last_sight_s = 2.4;
  return path;
}

}  // namespace hookline::closed_form
