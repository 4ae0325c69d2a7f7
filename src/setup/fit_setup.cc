#include "setup/fit_setup.h"

#include <ceres/ceres.h>

#include <cmath>

#include "camera/projection.h"

namespace hookline::setup {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

// Distance of a measured point from the projected edge. lane_x: centre line of the point's lane.
struct EdgeResidual {
  EdgePoint point;
  double sigma;
  template <typename T>
  bool operator()(const T* setup, const T* lane_x, const T* shared, T* r) const {
    const T x = lane_x[0] + 0.5 * point.side * setup[11];
    const auto a = camera::Project<T>(setup, {x, T(point.y - 0.15), T(0)});
    const auto b = camera::Project<T>(setup, {x, T(point.y + 0.15), T(0)});
    const T du = b[0] - a[0], dv = b[1] - a[1];
    const T norm = ceres::sqrt(du * du + dv * dv);
    // Along the lane v falls, so the side to the right of a -> b is the lane's right: the smear pushes right edges
    // right.
    const T off = (du * (T(point.p_in_image.y()) - a[1]) - dv * (T(point.p_in_image.x()) - a[0])) / norm;
    // A mark is measured in its middle: no smear.
    r[0] = (point.mark ? off : off - point.side * shared[0]) / sigma;
    return true;
  }
};

struct FoulResidual {
  FoulPoint point;
  double sigma;
  template <typename T>
  bool operator()(const T* setup, const T* shared, T* r) const {
    const T y = point.strip ? T(0) : shared[2];
    const auto a = camera::Project<T>(setup, {T(point.x - 0.1), y, T(0)});
    const auto b = camera::Project<T>(setup, {T(point.x + 0.1), y, T(0)});
    const T du = b[0] - a[0], dv = b[1] - a[1];
    const T norm = ceres::sqrt(du * du + dv * dv);
    r[0] = (du * (T(point.p_in_image.y()) - a[1]) - dv * (T(point.p_in_image.x()) - a[0])) / (norm * sigma);
    return true;
  }
};

struct RackResidual {
  RackPoint point;
  double sigma;
  template <typename T>
  bool operator()(const T* setup, const T* lane_x, const T* shared, T* r) const {
    const auto p = camera::Project<T>(
        setup, {T(point.p_in_rack_lane.x()) + lane_x[0], T(point.p_in_rack_lane.y()), T(point.p_in_rack_lane.z())});
    r[0] = (p[0] - point.p_in_image.x()) / sigma;
    r[1] = (p[1] - shared[1] - point.p_in_image.y()) / sigma;
    return true;
  }
};

struct MarkResidual {
  MarkPoint point;
  double sigma;
  template <typename T>
  bool operator()(const T* setup, T* r) const {
    const T x =
        point.scales_with_width ? point.p_in_lane.x() / lane::kNominalWidth * setup[11] : T(point.p_in_lane.x());
    const auto p = camera::Project<T>(setup, {x, T(point.p_in_lane.y()), T(point.p_in_lane.z())});
    r[0] = (p[0] - point.p_in_image.x()) / sigma;
    r[1] = (p[1] - point.p_in_image.y()) / (sigma * point.sigma_along);
    return true;
  }
};

struct SharedPrior {
  double smear_sigma, rise_sigma, step_sigma;
  template <typename T>
  bool operator()(const T* shared, T* r) const {
    r[0] = shared[0] / smear_sigma;
    r[1] = shared[1] / rise_sigma;
    r[2] = shared[2] / step_sigma;
    return true;
  }
};

struct PriorResidual {
  double centre_u, centre_v, centre_sigma, k1_sigma, k2_sigma, width, width_sigma;
  template <typename T>
  bool operator()(const T* setup, T* r) const {
    r[0] = (setup[1] - centre_u) / centre_sigma;
    r[1] = (setup[2] - centre_v) / centre_sigma;
    r[2] = setup[3] / k1_sigma;
    r[3] = setup[4] / k2_sigma;
    r[4] = (setup[11] - width) / width_sigma;
    return true;
  }
};

constexpr int kEnoughToScatter = 60;  // edge points, some ten independent ones
constexpr int kRacksToScatter = 2;

// A full rack in plain sight correlates at 0.9 and more; three pins of a spare, a rack half behind a person, still
// reach 0.7 and may lie several pixels from where ten pins would.
double RackWeight(double match) { return std::clamp((match - 0.7) / 0.2, 0.02, 1.0); }

}  // namespace

Status FitSetupOptions::Check() const {
  if (!(edge_sigma_px > 0 && foul_sigma_px > 0 && rack_sigma_px > 0 && mark_sigma_px > 0))
    return {StatusCode::kBadUse, "the sigmas of a setup's evidence must be above 0 px"};
  if (!(correlated_points >= 1)) return {StatusCode::kBadUse, "correlated_points must be at least 1"};
  return Status::Ok();
}

SetupFit FitSetup(const LaneSetup& trial, const std::vector<LaneInView>& lanes, const Evidence& evidence,
                  const std::vector<MarkPoint>& marks, const FitSetupOptions& options) {
  SetupFit fit;
  fit.setup = trial;
  fit.lanes = lanes;
  SetupVector p = camera::ParametersOf(trial);
  std::vector<double> lane_x;
  for (const LaneInView& l : lanes) lane_x.push_back(l.centre_x);

  double shared[3] = {0, 0, 0};  // edge smear, rack rise, px; where in the strip a step lies, m
  ceres::Problem problem;
  problem.AddParameterBlock(shared, 3);
  problem.AddResidualBlock(new ceres::AutoDiffCostFunction<SharedPrior, 3, 3>(
                               new SharedPrior{options.edge_smear_px, options.rack_rise_px, options.foul_step_m}),
                           nullptr, shared);
  problem.AddParameterBlock(p.data(), kSetupParameters);
  for (double& x : lane_x) problem.AddParameterBlock(&x, 1);
  problem.SetParameterBlockConstant(&lane_x[0]);
  // Points of one edge share the errors of its paint, wear and blur: a robust loss per point, fewer points for the
  // covariance. Dividing the cost by correlated_points leaves the optimum of the evidence alone and gives the priors
  // their fair weight.
  const double share = 1.0 / options.correlated_points;
  const auto loss = [&](double weight) -> ceres::LossFunction* {
    return new ceres::ScaledLoss(new ceres::CauchyLoss(1.5), weight, ceres::TAKE_OWNERSHIP);
  };
  // Of all edge points, and of each of a rack's: how much they count may change once their scatter is known. The
  // problem owns them once they are used.
  ceres::LossFunctionWrapper* edge_loss = nullptr;
  std::vector<ceres::LossFunctionWrapper*> rack_losses;
  std::vector<ceres::ResidualBlockId> blocks;
  std::vector<int> count(lanes.size(), 0);
  for (const EdgePoint& e : evidence.edges) {
    if (!e.mark && !edge_loss) edge_loss = new ceres::LossFunctionWrapper(loss(share), ceres::TAKE_OWNERSHIP);
    blocks.push_back(
        problem.AddResidualBlock(new ceres::AutoDiffCostFunction<EdgeResidual, 1, kSetupParameters, 1, 3>(
                                     new EdgeResidual{e, e.mark ? options.mark_line_sigma_px : options.edge_sigma_px}),
                                 e.mark ? loss(1.0) : edge_loss, p.data(), &lane_x[e.lane], shared));
    ++count[e.lane];
  }
  for (const FoulPoint& f : evidence.foul)
    blocks.push_back(problem.AddResidualBlock(new ceres::AutoDiffCostFunction<FoulResidual, 1, kSetupParameters, 3>(
                                                  new FoulResidual{f, options.foul_sigma_px}),
                                              loss(share), p.data(), shared));
  for (const RackPoint& r : evidence.racks) {
    rack_losses.push_back(new ceres::LossFunctionWrapper(loss(RackWeight(r.match) / 3), ceres::TAKE_OWNERSHIP));
    blocks.push_back(problem.AddResidualBlock(new ceres::AutoDiffCostFunction<RackResidual, 2, kSetupParameters, 1, 3>(
                                                  new RackResidual{r, options.rack_sigma_px}),
                                              rack_losses.back(), p.data(), &lane_x[r.lane], shared));
    ++count[r.lane];
  }
  for (const MarkPoint& m : marks)
    problem.AddResidualBlock(new ceres::AutoDiffCostFunction<MarkResidual, 2, kSetupParameters>(
                                 new MarkResidual{m, options.mark_sigma_px * m.sigma}),
                             options.trust_marks ? nullptr : new ceres::CauchyLoss(2.0), p.data());
  const CameraModel& c = trial.camera;
  problem.AddResidualBlock(
      new ceres::AutoDiffCostFunction<PriorResidual, 5, kSetupParameters>(new PriorResidual{
          0.5 * (c.width - 1), 0.5 * (c.height - 1), options.centre_prior_share * std::max(c.width, c.height),
          options.k1_prior, options.k2_prior, lane::kNominalWidth, options.width_prior_m}),
      nullptr, p.data());
  for (std::size_t i = 1; i < lane_x.size(); ++i)
    if (count[i] == 0) problem.SetParameterBlockConstant(&lane_x[i]);

  ceres::Solver::Options so;
  so.linear_solver_type = ceres::DENSE_QR;
  so.num_threads = 2;
  so.max_num_iterations = 60;
  so.function_tolerance = 1e-9;
  so.parameter_tolerance = 1e-10;
  so.logging_type = ceres::SILENT;
  ceres::Solver::Summary summary;
  ceres::Solve(so, &problem, &summary);
  fit.usable = summary.IsSolutionUsable() && p.allFinite() && p[0] > 0 && p[10] > 0.1;
  if (!fit.usable) return fit;

  fit.setup = camera::WithParameters(trial, p);
  for (std::size_t i = 0; i < lanes.size(); ++i) fit.lanes[i].centre_x = lane_x[i];
  // Ceres applies the loss to the whole block; residuals are read back without it.
  double sum = 0, edge_sum = 0, rack_sum = 0;
  int n = 0, rack_points = 0, own_rack_points = 0;
  fit.offered = static_cast<int>(blocks.size());
  for (std::size_t i = 0; i < blocks.size(); ++i) {
    double cost = 0, r[2] = {0, 0};
    problem.EvaluateResidualBlock(blocks[i], false, &cost, r, nullptr);
    if (i < evidence.edges.size() && evidence.edges[i].mark) {
      if (r[0] * r[0] <= 9) ++fit.used;
      continue;
    }
    const double sigma = i < evidence.edges.size()                          ? options.edge_sigma_px
                         : i < evidence.edges.size() + evidence.foul.size() ? options.foul_sigma_px
                                                                            : options.rack_sigma_px;
    const double r2 = r[0] * r[0] + r[1] * r[1];
    if (r2 > 9) continue;
    ++fit.used;
    if (i < evidence.edges.size()) {
      ++fit.edges_used;
      edge_sum += r2 * sigma * sigma;
    }
    if (i >= evidence.edges.size() + evidence.foul.size()) {
      ++rack_points;
      rack_sum += r2 * sigma * sigma;
      if (evidence.racks[i - evidence.edges.size() - evidence.foul.size()].lane == 0) ++own_rack_points;
    }
    sum += r2 * sigma * sigma;
    ++n;
  }
  fit.racks_used = rack_points / 3;
  fit.own_rack_used = own_rack_points == 3;
  fit.rms_px = n ? std::sqrt(sum / n) : 0;
  fit.edge_rms_px = fit.edges_used ? std::sqrt(edge_sum / fit.edges_used) : 0;
  fit.setup.residual_px = fit.rms_px;
  fit.setup.evidence_points = fit.used + static_cast<int>(marks.size());

  if (!options.with_covariance) return fit;
  // Clean edges and racks are known better than their sigmas say. (What neighbouring points of an edge share does not
  // scatter: that is what correlated_points and edge_smear_px are for.)
  if (edge_loss && fit.edges_used >= kEnoughToScatter) {
    const double seen = std::clamp(fit.edge_rms_px / options.edge_sigma_px, 0.4, 1.0);
    edge_loss->Reset(loss(share / (seen * seen)), ceres::TAKE_OWNERSHIP);
  }
  if (fit.racks_used >= kRacksToScatter) {
    const double seen = std::clamp(std::sqrt(rack_sum / (2 * rack_points)) / options.rack_sigma_px, 0.5, 1.0);
    for (std::size_t i = 0; i < rack_losses.size(); ++i)
      rack_losses[i]->Reset(loss(RackWeight(evidence.racks[i].match) / (3 * seen * seen)), ceres::TAKE_OWNERSHIP);
  }
  ceres::Covariance::Options co;
  co.algorithm_type = ceres::DENSE_SVD;
  co.null_space_rank = -1;
  ceres::Covariance covariance(co);
  const std::vector<std::pair<const double*, const double*>> wanted = {{p.data(), p.data()}};
  if (covariance.Compute(wanted, &problem)) {
    Eigen::Matrix<double, kSetupParameters, kSetupParameters, Eigen::RowMajor> m;
    covariance.GetCovarianceBlock(p.data(), p.data(), m.data());
    // Edges that scatter by more than their sigma, or of which many lie elsewhere, are partly texture: less is known.
    double edges_offered = 0;
    for (const EdgePoint& e : evidence.edges) edges_offered += e.mark ? 0 : 1;
    const double wide = std::max(1.0, fit.edge_rms_px / options.edge_sigma_px);
    const double mixed = fit.edges_used > 0 ? std::max(1.0, edges_offered / fit.edges_used) : 1;
    fit.setup.covariance = m * (wide * wide * mixed);
  } else {
    fit.usable = false;
  }
  return fit;
}

}  // namespace hookline::setup
