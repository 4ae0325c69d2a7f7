// The ball's contact point with the lane over time, fitted to a track, with the covariance of everything that made it.
#pragma once

#include <Eigen/Core>
#include <functional>
#include <limits>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "model/track.h"

namespace hookline {

// The contact point and its velocity at one time, lane frame, m and m/s.
struct PathState {
  double time_s = 0;
  double x = 0, y = 0;
  double vx = 0, vy = 0;
  double height = 0;  // of the ball above lying on the lane, m: more than 0 in the air
  double vz = 0;      // of the centre, upwards, m/s: not 0 only in the air
  // Coefficient of the lane's friction there, as far as the fit tells; where the ball flies or rolls it is not met.
  double friction = 0;
};

// Friction that goes from one value to another down the lane, by a logistic step. A ball's way may cross the oil's side
// edge too: what it meets goes from one value to another as well, and may be half way there before the oil's end.
struct FrictionStep {
  double front = 0, back = 0;  // coefficients that the ball meets: mean from 5 to 25 ft, and at 57 ft
  double half_way_y = 0;       // m, from where on what it meets is more than half way between them
  double y = 0;                // m, where the lane's is half way
  double width = 0;            // m, 4.39 times that from 10 to 90 percent of the lane's
};

// A curve (x(t), y(t)) valid in [start_s, end_s]. `parameters` is the fit's own vector; `evaluate` gives the state for
// ANY parameter vector, so that a measure's doubt follows by differentiation: var = g' C g with g the measure's
// gradient.
struct Path {
  Eigen::VectorXd parameters;
  Eigen::MatrixXd covariance;  // of the parameters; already holds pixels, time stamps, and the lane setup's doubt
  std::function<PathState(const Eigen::VectorXd& parameters, double time_s)> evaluate;
  double start_s = 0;         // first time the fit speaks of (laydown, or the first sight on the lane)
  double end_s = 0;           // entry, gutter, or last sight
  bool laydown_seen = false;  // start_s is the first touch of the lane, found in the track
  double rms_px = std::numeric_limits<double>::quiet_NaN();
  double chi2_per_dof = std::numeric_limits<double>::quiet_NaN();
  int sights = 0, inliers = 0;
  // Measures in boards rest on the lane's width too, which the setup doubts together with the camera.
  Eigen::VectorXd covariance_with_width;  // of each parameter with the lane's width; empty: none
  double width_variance = 0;              // m^2
  // Time of the first touch of the lane for any parameter vector; empty when the sights cannot tell it.
  std::function<double(const Eigen::VectorXd& parameters)> laydown_time;
  // The same, seen or not: where the curve's flight ends and its velocity steps. Empty for a curve without one.
  std::function<double(const Eigen::VectorXd& parameters)> landing_time;
  double lands_in_sights = 0;                  // probability that the ball landed after the first sight
  double first_sight_s = 0, last_sight_s = 0;  // the sights on the lane that the fit used
  std::optional<double> gutter_s;              // when the contact point passed the lane's edge
  std::optional<double> pin_contact_s;         // first touch of a pin, when the track tells it
  // Which friction carries most of the fit: "physics" one that goes from one value to another, "plain" one left free.
  std::string model;

  // The fit knows several ways the ball may have gone (motion/path_mixture.h). These are the same path under a
  // condition, with the probability of that condition; empty when it has none.
  double rolling_probability = 0;                                      // the ball rolled before its last sight
  std::shared_ptr<const Path> rolling;                                 // its roll_time is set
  double stepped_probability = 0;                                      // friction goes from one value to another
  std::shared_ptr<const Path> stepped;                                 // its friction_step is set
  std::function<double(const Eigen::VectorXd& parameters)> roll_time;  // stream time, s
  std::function<FrictionStep(const Eigen::VectorXd& parameters)> friction_step;
  PathState At(double time_s) const { return evaluate(parameters, time_s); }
};

}  // namespace hookline
