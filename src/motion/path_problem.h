// The least squares problem behind FitPath: residuals, priors, solution, covariance. Parameters: those of the curve
// (skid_curve.h), then the lasting error of the seen centre at its own knots, first for u, then for v, in units of its
// sd; then, where friction has the shape of two_friction.h, that shape's, and the curve's logarithms of friction
// stand for the deviations from it.
#pragma once

#include <Eigen/Core>
#include <limits>
#include <optional>
#include <vector>

#include "model/lane_setup.h"
#include "motion/path_fit.h"
#include "motion/sight_selection.h"
#include "motion/skid_curve.h"
#include "motion/two_friction.h"

namespace hookline::motion {

// What is not re-fitted but doubted: the setup's parameters, the ball's radius (m), the sensor's readout (s), how much
// too wide all rims were taken (px).
inline constexpr int kConsidered = kSetupParameters + 3;

struct PathProblem {
  const LaneSetup* setup = nullptr;
  const PathFitOptions* options = nullptr;
  double ball_radius = 0;
  SkidGrid grid;
  double bias_spacing_s = 0;
  int bias_knots = 0;
  std::vector<LaneSight> sights;
  Eigen::MatrixXd prior;  // rows of whitened linear priors: prior * parameters - prior_value
  Eigen::VectorXd prior_value;
  bool rolls = true;                        // false: the ball still slides at the pins
  double laydown_mean = 0, laydown_sd = 1;  // s, long-tailed
  double roll_mean = 0, roll_sd = 1;        // s, of the curve's time: prior of where the roll begins, part of `prior`
  Eigen::VectorXd knot_x, knot_y;  // m, place of each knot: friction has the shape of two_friction.h; empty: it is free
  // The first pin's touch: then ball and pin are as far apart as their radii, whatever the picture shows of the ball.
  struct Touch {
    double s = 0;                                   // of the curve's time
    Eigen::Vector2d pin = Eigen::Vector2d::Zero();  // m
    double sd_m = 0;                                // of the distance
  };
  std::optional<Touch> touch;

  double deviation = 1;  // share of the options' deviations from that shape

  bool two_friction() const { return knot_y.size() > 0; }
  Eigen::Index shape_at() const { return grid.size() + 2 * bias_knots; }
  Eigen::Index size() const { return shape_at() + (two_friction() ? kTwoFriction : 0); }
  // Size of what Curve gives: the curve's parameters, then the shape's.
  Eigen::Index curve_size() const { return grid.size() + (two_friction() ? kTwoFriction : 0); }
  Eigen::VectorXd Curve(const Eigen::VectorXd& parameters) const;
  Eigen::MatrixXd CurveJacobian(const Eigen::VectorXd& parameters) const;  // curve_size() x size()
};

// The curve at some parameters and, where friction has a shape, how its knots depend on the shape: worked out once and
// asked for by every sight.
struct ShapedCurve {
  ShapedCurve() = default;
  ShapedCurve(const PathProblem& problem, const Eigen::VectorXd& parameters);
  SkidCurve skid;
  Eigen::Matrix<double, Eigen::Dynamic, kTwoFriction> by_shape;  // knots x shape; empty: friction is free
};

// Whitened residual of one sight (its covariance times `variance`), with Jacobians when asked for: by the parameters (2
// x size) and by what is considered (2 x kConsidered). `shaped` is the curve at those parameters.
Eigen::Vector2d SightResidual(const PathProblem& problem, std::size_t sight, double variance,
                              const Eigen::VectorXd& parameters, const ShapedCurve& shaped,
                              Eigen::MatrixXd* by_parameters, Eigen::Matrix<double, 2, kConsidered>* by_considered);

// Whitened residual of the touch, with its Jacobian (size) when asked for. Precondition: problem.touch.
double TouchResidual(const PathProblem& problem, const Eigen::VectorXd& parameters, Eigen::RowVectorXd* by_parameters);

// Logarithm of how likely the spin at release is that a rolling curve tells, 0 or less: hands give up to some 500 rpm
// (common practice, no source); a curve that rolls too early, its sights mistaken, asks for more. first_s: of the first
// sight, in the curve's time.
double LogOfSpin(const SkidGrid& grid, const Eigen::VectorXd& curve, double first_s);

// Where a ball begins to roll that goes and slows as this curve does (its own roll left out of account), by what hands
// give: the spin's part along the ball's way moves its surface at options.spin_along +- spin_along_sd, and the ball
// rolls when the friction has done its work, k / (1 + k) of the slip at release. Mean and sd, s, of the curve's time.
Eigen::Vector2d RollBySpin(const PathFitOptions& options, const SkidGrid& grid, const Eigen::VectorXd& curve,
                           double first_s);

struct PathSolution {
  Eigen::VectorXd parameters;
  double cost = 0;
  bool usable = false;
  int iterations = -1;
};

// `used[i]` says whether sight i takes part. A search whose cost lies above `bound`, and whose steps would not take it
// there in all the iterations it may have, is given up: not usable.
PathSolution SolvePath(const PathProblem& problem, const std::vector<bool>& used, double variance, double robust_scale,
                       bool cut_off_loss, const Eigen::VectorXd& start,
                       double bound = std::numeric_limits<double>::infinity());

struct PathCovariance {
  Eigen::MatrixXd of_curve;       // of PathProblem::Curve, by sights and priors
  Eigen::MatrixXd by_considered;  // d curve / d considered
  double log_determinant = 0;     // of the information about all parameters, less that of the priors alone
  double spent = 0;               // degrees of freedom the sights spent on parameters
  bool determined = false;
};

PathCovariance CovarianceOf(const PathProblem& problem, const std::vector<bool>& used, double variance,
                            double robust_scale, const Eigen::VectorXd& parameters);

}  // namespace hookline::motion
