// One path out of several fits of one track: the mean of their curves and the covariance of their mixture, in a linear
// form.
//
// Where the roll begins, the posterior has several maxima and a part without a roll at all. Each is a normal
// distribution of its own weight, and so has each shape of the friction; together, or some of them (those that roll),
// they are summed up by mean and covariance of the state (x, y, vx, vy, height, friction) at close times:
//   mean = sum w_i m_i,   C = sum w_i (C_i + (m_i - mean)(m_i - mean)')
// C is then written as U diag(l) U' with few columns; the path's parameters are the coordinates along U, zero at the
// fit, and
//   state(t) = mean(t) + U(t) parameters,  cubic Hermite in between, straight on beyond the ends.
#pragma once

#include <Eigen/Core>
#include <vector>

#include "model/path.h"
#include "motion/skid_curve.h"

namespace hookline::motion {

struct PathComponent {
  double log_weight = 0;          // up to a constant common to all
  double kind = 0;                // of its friction; what tells components of one kind apart is where they roll
  Eigen::VectorXd parameters;     // of the curve, then those of its friction's shape where it has one
  Eigen::MatrixXd covariance;     // by sights and priors
  Eigen::MatrixXd by_considered;  // d parameters / d considered
  double roll_sd() const;         // s, of where the roll begins
};

class PathMixer {
 public:
  // For times in [from_s, to_s]. `considered` is the covariance of what is considered, `width` the row of the lane's
  // width in it. Precondition: `components` not empty.
  PathMixer(const SkidGrid& grid, std::vector<PathComponent> components, Eigen::MatrixXd considered, Eigen::Index width,
            double from_s, double to_s);

  const std::vector<PathComponent>& components() const { return components_; }
  const std::vector<double>& weights() const { return weights_; }  // sum 1

  // Those of the taken ones that have a weight that counts.
  std::vector<bool> Counting(const std::vector<bool>& taken) const;
  // Out of the components `taken`: parameters, covariance, covariance_with_width, evaluate, laydown_time, roll_time,
  // and friction_step when all of them have the shape of two_friction.h. Precondition: some count.
  void Mix(const std::vector<bool>& taken, double more_laydown_sd_s, Path& path) const;

 private:
  SkidGrid grid_;
  std::vector<PathComponent> components_;
  std::vector<double> weights_;
  Eigen::MatrixXd considered_;
  Eigen::Index width_;
  double from_s_, to_s_;
  std::vector<Eigen::VectorXd> values_;   // at the nodes, by component
  std::vector<Eigen::MatrixXd> roots_;    // square roots of their covariance by sights and priors
  std::vector<double> more_half_way_sd_;  // m, of the place where friction is half way, beyond what the roots say
  std::vector<Eigen::MatrixXd> considered_effects_;
};

}  // namespace hookline::motion
