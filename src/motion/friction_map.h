// Friction over board and distance, gathered from many shots.
//
// Each shot tells the mean log friction along stretches of its own path (Shot::friction) with its doubt. The lane is
//   log mu(x, y, n) = shape(x, y) + b n + f(x, y)
// shape: two_friction.h, one value in front, another down the lane, more outside; n: balls rolled before within two
// boards of the place; f: what the lane has of its own, a Gaussian process of sd `own_sd` that lasts over `own_boards`
// across and `own_ft` along. All of it has named priors, so a few shots give a wide doubt and places no ball has
// crossed say little more than the priors. The posterior is normal about its maximum (a Gauss-Newton step at a time).
#pragma once

#include <Eigen/Core>
#include <vector>

#include "core/status.h"
#include "model/shot.h"
#include "motion/ball_motion.h"
#include "motion/two_friction.h"

namespace hookline::motion {

struct FrictionMapOptions {
  double own_sd = 0.15;      // of log friction
  double own_boards = 4;     // boards
  double own_ft = 10;        // ft
  double between_sd = 0.05;  // of a shot's whole reading, besides its stated doubt
  double between_ft = 1;     // of where it changes, ft
  double a_ball_sd = 0.01;   // prior of b: change of log friction a ball makes where it rolled
  int least_shots = 5;       // below which the map is said to rest on too few
  Status Check() const;
};

struct FrictionCell {
  double value = 0, sd = 0;  // friction coefficient
};

class FrictionMap {
 public:
  // Friction where no more balls roll than have by now.
  FrictionCell At(double x, double y) const;
  // log friction there; the doubt of several places together, for draws.
  Eigen::VectorXd LogAt(const std::vector<Eigen::Vector2d>& places, Eigen::MatrixXd* covariance) const;
  // The field as a function of place, once and quick: a grid of one board by one foot, linear between.
  FrictionField Field() const;

  int shots() const { return shots_; }
  // Balls rolled so far within two boards of the place.
  double Balls(double x, double y) const;
  // Change of log friction for each ball, with its sd.
  double per_ball() const { return theta_[kTwoFriction]; }
  double per_ball_sd() const;
  const FrictionShape shape() const { return theta_.head<kTwoFriction>(); }

 private:
  friend Result<FrictionMap> MapFriction(const std::vector<Shot>&, const FrictionMapOptions&);
  using Theta = Eigen::Matrix<double, kTwoFriction + 1, 1>;  // shape, then per ball
  struct Stretch {
    std::vector<Eigen::Vector2d> places;
    double balls = 0;                    // mean over the places
    double log_value = 0, variance = 0;  // without places: of where friction changes, m
  };
  Eigen::VectorXd Prior(const Eigen::Vector2d& place) const;                // d log mu / d theta
  double Kernel(const Eigen::Vector2d& a, const Eigen::Vector2d& b) const;  // of f
  Eigen::VectorXd WithStretches(const Eigen::Vector2d& place) const;        // covariance of f with each
  FrictionMapOptions options_;
  int shots_ = 0;
  Theta theta_ = Theta::Zero();
  Eigen::MatrixXd theta_prior_;  // covariance
  std::vector<Stretch> stretches_;
  Eigen::MatrixXd stretch_by_theta_;  // rows by stretch
  Eigen::MatrixXd gain_;              // inverse of the stretches' covariance
  Eigen::VectorXd residual_;          // read less the shape's
  Eigen::VectorXd own_weights_;       // what the lane has of its own, as weights of the stretches
  std::vector<std::vector<Eigen::Vector2d>> paths_;
};

// `shots` in the order they were rolled, of one ball. kNotDetermined with a sentence when none tells friction.
Result<FrictionMap> MapFriction(const std::vector<Shot>& shots, const FrictionMapOptions& options = {});

}  // namespace hookline::motion
