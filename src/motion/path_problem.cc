#include "motion/path_problem.h"

#include <ceres/ceres.h>
#include <ceres/jet.h>

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "camera/projection.h"
#include "lane/lane_spec.h"

namespace hookline::motion {
namespace {

constexpr double kMostRpm = 500, kMostRpmSd = 75;
// Rolls no later than so long after the pins; slip nearer to the way than 60 deg; share of the work by which balls
// differ (k from 0.33 to 0.43); the prior is no narrower.
constexpr double kRollsWithinS = 1.5, kLeastAlong = 0.5, kWorkByBall = 0.08, kLeastRollSd = 0.05;

constexpr double kTouchScale = 2;  // whitened residual from which the touch loses weight

using ConsiderJet = ceres::Jet<double, 14>;  // 11 of the camera, then the ball's centre x, y, z

Eigen::Vector2d ProjectWithDerivatives(const LaneSetup& setup, const Eigen::Vector3d& p,
                                       Eigen::Matrix<double, 2, 3>* by_point, Eigen::Matrix<double, 2, 11>* by_camera) {
  if (!by_camera) {
    // Nothing of the camera is free: by hand, in a tenth of the time.
    const CameraModel& c = setup.camera;
    const Eigen::Matrix3d turn = camera::RotationFromAngleAxis<double>(c.rotation);
    const Eigen::Vector3d q = turn * (p - c.position_in_lane);
    const Eigen::Vector2d n = q.head<2>() / q.z();
    if (by_point) {
      const double r2 = n.squaredNorm(), g = 1 + r2 * (c.k1 + c.k2 * r2), slope = c.k1 + 2 * c.k2 * r2;
      Eigen::Matrix<double, 2, 3> n_by_q;
      n_by_q << 1, 0, -n.x(), 0, 1, -n.y();
      *by_point =
          c.focal_px / q.z() * (g * Eigen::Matrix2d::Identity() + 2 * slope * n * n.transpose()) * n_by_q * turn;
    }
    return camera::ImageFromNormalised(c, n);
  }
  const SetupVector s = camera::ParametersOf(setup);
  ConsiderJet parameters[11];
  for (int i = 0; i < 11; ++i) parameters[i] = ConsiderJet(s[i], i);
  const Eigen::Matrix<ConsiderJet, 3, 1> q(ConsiderJet(p.x(), 11), ConsiderJet(p.y(), 12), ConsiderJet(p.z(), 13));
  const Eigen::Matrix<ConsiderJet, 2, 1> uv = camera::Project<ConsiderJet>(parameters, q);
  for (int r = 0; r < 2; ++r) {
    by_camera->row(r) = uv[r].v.head<11>().transpose();
    if (by_point) by_point->row(r) = uv[r].v.tail<3>().transpose();
  }
  return {uv[0].a, uv[1].a};
}

// Makes the curve once for all sights whenever the solver moves on.
class CurveOfPoint final : public ceres::EvaluationCallback {
 public:
  CurveOfPoint(const PathProblem& problem, const Eigen::VectorXd& parameters)
      : problem_(problem), parameters_(parameters) {}
  void PrepareForEvaluation(bool, bool new_point) override {
    if (new_point) shaped_ = ShapedCurve(problem_, parameters_);
  }
  const Eigen::VectorXd& parameters() const { return parameters_; }
  const ShapedCurve& shaped() const { return shaped_; }

 private:
  const PathProblem& problem_;
  const Eigen::VectorXd& parameters_;  // the solver's own block, which it writes to before it calls
  ShapedCurve shaped_;
};

class SightCost final : public ceres::CostFunction {
 public:
  SightCost(const PathProblem& problem, std::size_t sight, double variance, const CurveOfPoint& point)
      : problem_(problem), sight_(sight), variance_(variance), point_(point) {
    set_num_residuals(2);
    mutable_parameter_block_sizes()->push_back(static_cast<int>(problem.size()));
  }
  bool Evaluate(double const* const*, double* residuals, double** jacobians) const override {
    Eigen::MatrixXd by;
    const bool wanted = jacobians && jacobians[0];
    Eigen::Map<Eigen::Vector2d> out(residuals);
    out = SightResidual(problem_, sight_, variance_, point_.parameters(), point_.shaped(), wanted ? &by : nullptr,
                        nullptr);
    if (wanted)
      Eigen::Map<Eigen::Matrix<double, 2, Eigen::Dynamic, Eigen::RowMajor>>(jacobians[0], 2, problem_.size()) = by;
    return out.allFinite();
  }

 private:
  const PathProblem& problem_;
  std::size_t sight_;
  double variance_;
  const CurveOfPoint& point_;
};

class TouchCost final : public ceres::CostFunction {
 public:
  explicit TouchCost(const PathProblem& problem) : problem_(problem) {
    set_num_residuals(1);
    mutable_parameter_block_sizes()->push_back(static_cast<int>(problem.size()));
  }
  bool Evaluate(double const* const* parameters, double* residuals, double** jacobians) const override {
    const Eigen::VectorXd p = Eigen::Map<const Eigen::VectorXd>(parameters[0], problem_.size());
    Eigen::RowVectorXd by;
    const bool wanted = jacobians && jacobians[0];
    residuals[0] = TouchResidual(problem_, p, wanted ? &by : nullptr);
    if (wanted) Eigen::Map<Eigen::RowVectorXd>(jacobians[0], problem_.size()) = by;
    return std::isfinite(residuals[0]);
  }

 private:
  const PathProblem& problem_;
};

class LinearCost final : public ceres::CostFunction {
 public:
  LinearCost(Eigen::MatrixXd a, Eigen::VectorXd b) : a_(std::move(a)), b_(std::move(b)) {
    set_num_residuals(static_cast<int>(a_.rows()));
    mutable_parameter_block_sizes()->push_back(static_cast<int>(a_.cols()));
  }
  bool Evaluate(double const* const* parameters, double* residuals, double** jacobians) const override {
    Eigen::Map<Eigen::VectorXd>(residuals, a_.rows()) =
        a_ * Eigen::Map<const Eigen::VectorXd>(parameters[0], a_.cols()) - b_;
    if (jacobians && jacobians[0])
      Eigen::Map<Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>>(jacobians[0], a_.rows(),
                                                                                         a_.cols()) = a_;
    return true;
  }

 private:
  Eigen::MatrixXd a_;
  Eigen::VectorXd b_;
};

// The laydown's prior as one row of its own, since its loss has a long tail.
LinearCost* LaydownCost(const PathProblem& problem) {
  Eigen::MatrixXd a = Eigen::MatrixXd::Zero(1, problem.size());
  a(0, kLaydown) = 1 / problem.laydown_sd;
  Eigen::VectorXd b(1);
  b[0] = problem.laydown_mean / problem.laydown_sd;
  return new LinearCost(a, b);
}

// From derivatives by the curve's parameters to those by the problem's, added to `out` (same rows, size() columns).
void SpreadToParameters(const PathProblem& problem, const ShapedCurve& shaped, const Eigen::MatrixXd& by_curve,
                        Eigen::MatrixXd& out) {
  out.leftCols(problem.grid.size()) += by_curve;
  if (problem.two_friction())
    out.middleCols<kTwoFriction>(problem.shape_at()) +=
        by_curve.middleCols(kFriction, problem.grid.knots) * shaped.by_shape;
}

}  // namespace

Eigen::VectorXd PathProblem::Curve(const Eigen::VectorXd& parameters) const {
  Eigen::VectorXd curve = parameters.head(grid.size());
  if (!two_friction()) return curve;
  const FrictionShape shape = parameters.segment<kTwoFriction>(shape_at());
  for (int k = 0; k < grid.knots; ++k) curve[kFriction + k] += TwoFrictionLog(shape, knot_x[k], knot_y[k], nullptr);
  curve.conservativeResize(curve_size());
  curve.tail<kTwoFriction>() = shape;
  return curve;
}

Eigen::MatrixXd PathProblem::CurveJacobian(const Eigen::VectorXd& parameters) const {
  Eigen::MatrixXd by = Eigen::MatrixXd::Zero(curve_size(), size());
  by.topLeftCorner(grid.size(), grid.size()).setIdentity();
  if (!two_friction()) return by;
  const FrictionShape shape = parameters.segment<kTwoFriction>(shape_at());
  for (int k = 0; k < grid.knots; ++k) {
    FrictionShape by_shape;
    TwoFrictionLog(shape, knot_x[k], knot_y[k], &by_shape);
    by.block<1, kTwoFriction>(kFriction + k, shape_at()) = by_shape.transpose();
  }
  by.bottomRightCorner<kTwoFriction, kTwoFriction>().setIdentity();
  return by;
}

ShapedCurve::ShapedCurve(const PathProblem& problem, const Eigen::VectorXd& parameters) {
  Eigen::VectorXd curve = parameters.head(problem.grid.size());
  if (problem.two_friction()) {
    const FrictionShape shape = parameters.segment<kTwoFriction>(problem.shape_at());
    by_shape.resize(problem.grid.knots, kTwoFriction);
    for (int k = 0; k < problem.grid.knots; ++k) {
      FrictionShape by;
      curve[kFriction + k] += TwoFrictionLog(shape, problem.knot_x[k], problem.knot_y[k], &by);
      by_shape.row(k) = by.transpose();
    }
  }
  skid = SkidCurve(problem.grid, std::move(curve));
}

Eigen::Vector2d SightResidual(const PathProblem& problem, std::size_t index, double variance,
                              const Eigen::VectorXd& parameters, const ShapedCurve& shaped,
                              Eigen::MatrixXd* by_parameters, Eigen::Matrix<double, 2, kConsidered>* by_considered) {
  const LaneSight& sight = problem.sights[index];
  const double s = sight.time_s - problem.grid.origin_s;
  const SkidState state = shaped.skid.At(s);
  const Eigen::Vector3d centre(state.x, state.y, problem.ball_radius + state.height);
  Eigen::Matrix<double, 2, 3> by_point;
  Eigen::Matrix<double, 2, 11> by_camera;
  Eigen::Vector2d projected =
      ProjectWithDerivatives(*problem.setup, centre, &by_point, by_considered ? &by_camera : nullptr);

  const double always = problem.options->centre_bias_px + problem.options->centre_bias_share * sight.radius_px;
  const Eigen::Vector2d bias_sd = (sight.lasting_sd.array().square() + always * always).sqrt();
  const double f = std::clamp(s / problem.bias_spacing_s, 0.0, problem.bias_knots - 1.0);
  const int knot = std::min(static_cast<int>(f), problem.bias_knots - 2);
  const double share = f - knot;
  const Eigen::Index bu = problem.grid.size() + knot, bv = bu + problem.bias_knots;
  projected.x() += bias_sd.x() * ((1 - share) * parameters[bu] + share * parameters[bu + 1]);
  projected.y() += bias_sd.y() * ((1 - share) * parameters[bv] + share * parameters[bv + 1]);

  // A time stamp's error moves the ball along its own path; taken at the sight, not fitted.
  const Eigen::Vector2d flow = by_point * Eigen::Vector3d(state.vx, state.vy, state.vz);
  const double st = problem.options->time_sd_s;
  const Eigen::Matrix2d covariance = sight.covariance * variance + st * st * flow * flow.transpose();
  const Eigen::Matrix2d whiten = covariance.llt().matrixL().solve(Eigen::Matrix2d::Identity());
  if (by_parameters) {
    Eigen::Matrix3Xd by_curve;
    shaped.skid.PositionJacobian(s, by_curve);
    by_parameters->setZero(2, problem.size());
    SpreadToParameters(problem, shaped, whiten * by_point * by_curve, *by_parameters);
    by_parameters->col(bu) = whiten.col(0) * bias_sd.x() * (1 - share);
    by_parameters->col(bu + 1) = whiten.col(0) * bias_sd.x() * share;
    by_parameters->col(bv) = whiten.col(1) * bias_sd.y() * (1 - share);
    by_parameters->col(bv + 1) = whiten.col(1) * bias_sd.y() * share;
  }
  if (by_considered) {
    by_considered->setZero();
    by_considered->leftCols<11>() = whiten * by_camera;
    by_considered->col(kSetupParameters) = whiten * by_point.col(2);
    const CameraModel& camera = problem.setup->camera;
    by_considered->col(kSetupParameters + 1) =
        whiten * flow * problem.options->readout.ShareAt(sight.p_in_image, camera.width, camera.height);
    by_considered->col(kSetupParameters + 2) = -whiten.col(0) * sight.by_radius_u;
  }
  return whiten * (projected - sight.p_in_image);
}

double TouchResidual(const PathProblem& problem, const Eigen::VectorXd& parameters, Eigen::RowVectorXd* by_parameters) {
  constexpr double kReach = (lane::kBallDiameter + lane::kPinMaxDiameter) / 2;
  const PathProblem::Touch& touch = *problem.touch;
  const ShapedCurve shaped(problem, parameters);
  const SkidState state = shaped.skid.At(touch.s);
  const Eigen::Vector2d off = Eigen::Vector2d(state.x, state.y) - touch.pin;
  const double distance = off.norm();
  if (by_parameters) {
    Eigen::Matrix3Xd by_curve;
    shaped.skid.PositionJacobian(touch.s, by_curve);
    Eigen::MatrixXd row = Eigen::MatrixXd::Zero(1, problem.size());
    SpreadToParameters(problem, shaped, off.transpose() / std::max(distance, 1e-6) * by_curve.topRows<2>() / touch.sd_m,
                       row);
    *by_parameters = row;
  }
  return (distance - kReach) / touch.sd_m;
}

namespace {

constexpr int kMostIterations = 40;
// Of the cost; the cut-off loss is that of the first search, which only has to find the right one of several minima.
constexpr double kTolerance = 1e-5, kRoughTolerance = 1e-4;
constexpr double kLongestFirstStep = 50;  // in units in which each parameter moves the residuals by one

// Gives a search up that would not come down to a bound.
class GivesUp : public ceres::IterationCallback {
 public:
  explicit GivesUp(double bound) : bound_(bound) {}
  ceres::CallbackReturnType operator()(const ceres::IterationSummary& at) override {
    // Steps are refused while their length is sought; that says nothing of where the others lead. The pace is that of
    // the last few taken: one alone may have been short.
    if (!at.step_is_successful && at.iteration > 0) return ceres::SOLVER_CONTINUE;
    double& oldest = costs_[static_cast<std::size_t>(taken_) % kPace];
    const double before = oldest;
    oldest = at.cost;
    if (taken_++ < kPace || !(at.cost > bound_)) return ceres::SOLVER_CONTINUE;
    const double pace = (before - at.cost) / kPace;
    if (at.cost - bound_ < pace * (kMostIterations - at.iteration)) return ceres::SOLVER_CONTINUE;
    return ceres::SOLVER_ABORT;
  }

 private:
  static constexpr int kPace = 4;
  double bound_;
  int taken_ = 0;
  std::array<double, kPace> costs_{};
};

}  // namespace

PathSolution SolvePath(const PathProblem& problem, const std::vector<bool>& used, double variance, double robust_scale,
                       bool cut_off_loss, const Eigen::VectorXd& start, double bound) {
  PathSolution solution;
  solution.parameters = start;
  CurveOfPoint point(problem, solution.parameters);
  ceres::Problem::Options evaluation;
  evaluation.evaluation_callback = &point;
  ceres::Problem ceres_problem(evaluation);
  for (std::size_t i = 0; i < problem.sights.size(); ++i) {
    if (!used[i]) continue;
    ceres::LossFunction* loss = cut_off_loss ? static_cast<ceres::LossFunction*>(new ceres::CauchyLoss(robust_scale))
                                             : new ceres::HuberLoss(robust_scale);
    ceres_problem.AddResidualBlock(new SightCost(problem, i, variance, point), loss, solution.parameters.data());
  }
  ceres_problem.AddResidualBlock(new LinearCost(problem.prior, problem.prior_value), nullptr,
                                 solution.parameters.data());
  ceres_problem.AddResidualBlock(LaydownCost(problem), new ceres::CauchyLoss(1.5), solution.parameters.data());
  if (problem.touch)
    ceres_problem.AddResidualBlock(new TouchCost(problem), new ceres::CauchyLoss(kTouchScale),
                                   solution.parameters.data());
  ceres::Solver::Options options;
  options.linear_solver_type = ceres::DENSE_NORMAL_CHOLESKY;
  // The cost has kinks where the ball lands and hops, and many a step is refused: a dogleg goes on from there without a
  // new factorisation, but a first search from afar ends in the right minimum less often.
  options.trust_region_strategy_type = cut_off_loss ? ceres::LEVENBERG_MARQUARDT : ceres::DOGLEG;
  // From a wider region step after step is refused as the same one, until the search is given up.
  if (!cut_off_loss) options.initial_trust_region_radius = kLongestFirstStep;
  options.max_num_iterations = kMostIterations;
  GivesUp gives_up(bound);
  if (std::isfinite(bound)) options.callbacks.push_back(&gives_up);
  options.function_tolerance = cut_off_loss ? kRoughTolerance : kTolerance;
  options.parameter_tolerance = 1e-8;
  options.logging_type = ceres::SILENT;
  options.num_threads = 1;
  ceres::Solver::Summary summary;
  ceres::Solve(options, &ceres_problem, &summary);
  solution.cost = summary.final_cost;
  solution.iterations = static_cast<int>(summary.iterations.size());
  solution.usable = summary.IsSolutionUsable() && solution.parameters.allFinite();
  return solution;
}

PathCovariance CovarianceOf(const PathProblem& problem, const std::vector<bool>& used, double variance,
                            double robust_scale, const Eigen::VectorXd& parameters) {
  PathCovariance out;
  const Eigen::Index n = problem.size();
  // All sights' rows in one matrix: its square is made faster than the sum of theirs.
  Eigen::MatrixXd rows = Eigen::MatrixXd::Zero(2 * std::count(used.begin(), used.end(), true), n);
  Eigen::MatrixXd considered_rows(rows.rows(), kConsidered);
  Eigen::MatrixXd by;
  Eigen::Matrix<double, 2, kConsidered> considered;
  const ShapedCurve shaped(problem, parameters);
  Eigen::Index at = 0;
  for (std::size_t i = 0; i < problem.sights.size(); ++i) {
    if (!used[i]) continue;
    const Eigen::Vector2d r = SightResidual(problem, i, variance, parameters, shaped, &by, &considered);
    const double size = r.norm(), weight = std::sqrt(size > robust_scale ? robust_scale / size : 1);
    rows.middleRows<2>(at) = weight * by;
    considered_rows.middleRows<2>(at) = weight * considered;
    at += 2;
  }
  Eigen::MatrixXd by_sights = Eigen::MatrixXd::Zero(n, n);
  by_sights.selfadjointView<Eigen::Lower>().rankUpdate(rows.transpose());
  by_sights.triangularView<Eigen::StrictlyUpper>() = by_sights.transpose();
  const Eigen::MatrixXd mixed = rows.transpose() * considered_rows;
  Eigen::MatrixXd prior = problem.prior.transpose() * problem.prior;
  prior(kLaydown, kLaydown) += 1 / (problem.laydown_sd * problem.laydown_sd);
  Eigen::MatrixXd information = by_sights + prior;
  if (problem.touch) {
    Eigen::RowVectorXd row;
    const double r = TouchResidual(problem, parameters, &row) / kTouchScale;
    information.noalias() += row.transpose() * row / (1 + r * r);
  }
  // Units differ by orders of magnitude: scaled to a unit diagonal before the rank is looked at. The norm of the
  // inverse is one over the least eigenvalue, to within a factor of sqrt(n).
  const Eigen::VectorXd scale = information.diagonal().cwiseMax(1e-30).cwiseSqrt().cwiseInverse();
  const Eigen::LLT<Eigen::MatrixXd> root(scale.asDiagonal() * information * scale.asDiagonal());
  if (root.info() != Eigen::Success) return out;
  Eigen::MatrixXd inverse = root.solve(Eigen::MatrixXd::Identity(n, n));
  out.determined = inverse.norm() < 1e13;
  if (!out.determined) return out;
  inverse = scale.asDiagonal() * inverse * scale.asDiagonal();
  const Eigen::MatrixXd to_curve = problem.CurveJacobian(parameters);
  out.of_curve = to_curve * inverse * to_curve.transpose();
  out.by_considered = -to_curve * (inverse * mixed);
  // Place and velocity have no priors, in no problem.
  std::vector<Eigen::Index> proper;
  for (Eigen::Index i = 0; i < n; ++i)
    if (prior(i, i) > 0) proper.push_back(i);
  const Eigen::LLT<Eigen::MatrixXd> prior_root(prior(proper, proper).eval());
  out.log_determinant = 2 * (root.matrixLLT().diagonal().array().log().sum() - scale.array().log().sum() -
                             prior_root.matrixLLT().diagonal().array().log().sum());
  out.spent = inverse.cwiseProduct(by_sights).sum();  // trace of their product: both are symmetric
  return out;
}

double LogOfSpin(const SkidGrid& grid, const Eigen::VectorXd& curve, double first_s) {
  const SkidCurve skid(grid, curve.head(grid.size()));
  const SkidState release = skid.At(std::min(curve[kLaydown], first_s)), roll = skid.At(curve[kRoll]);
  constexpr double k = lane::kUsualBallK;
  const Eigen::Vector2d surface =
      ((1 + k) * Eigen::Vector2d(roll.vx, roll.vy) - Eigen::Vector2d(release.vx, release.vy)) / k;
  const double rpm = surface.norm() / (lane::kBallDiameter / 2) * 60 / (2 * lane::kPi),
               beyond = std::max(0.0, (rpm - kMostRpm) / kMostRpmSd);
  return -beyond * beyond / 2;
}

Eigen::Vector2d RollBySpin(const PathFitOptions& options, const SkidGrid& grid, const Eigen::VectorXd& curve,
                           double first_s) {
  const double beyond = grid.spacing_s * grid.knots + kRollsWithinS;
  Eigen::VectorXd slides = curve.head(grid.size());
  slides[kRoll] = beyond;
  const SkidCurve skid(grid, slides);
  const double release_s = std::min(curve[kLaydown], first_s);
  const SkidState release = skid.At(release_s);
  const Eigen::Vector2d v0(release.vx, release.vy), back(std::sin(curve[kPhi]), -std::cos(curve[kPhi]));
  // Of the slip at release, that points against `back`.
  const double along = std::max(-back.dot(v0) / v0.norm(), kLeastAlong);
  constexpr double k = lane::kUsualBallK, share = k / (1 + k);
  const double slip = std::max((v0.norm() - options.spin_along) / along, 0.1), work = share * slip,
               work_sd = std::hypot(share * options.spin_along_sd / along, kWorkByBall * work);
  const auto when = [&](double wanted) {
    double lo = release_s, hi = beyond;
    for (int i = 0; i < 40; ++i) {
      const SkidState at = skid.At((lo + hi) / 2);
      (back.dot(Eigen::Vector2d(at.vx, at.vy) - v0) < wanted ? lo : hi) = (lo + hi) / 2;
    }
    return hi;
  };
  const double early = when(std::max(work - work_sd, 0.0)), late = when(work + work_sd);
  return {when(work), std::max((late - early) / 2, kLeastRollSd)};
}

}  // namespace hookline::motion
