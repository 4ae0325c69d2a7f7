#include "motion/path_fit.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <map>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "camera/projection.h"
#include "lane/lane_spec.h"
#include "motion/path_mixture.h"
#include "motion/path_problem.h"
#include "motion/path_search.h"
#include "motion/sight_selection.h"
#include "motion/skid_curve.h"

namespace hookline::motion {
namespace {

using lane::kStandardGravity;
using lane::MetresFromFeet;

constexpr double kSureOfLanding = 0.95;

// Whether the sights themselves show the ball in the air and then on the lane, and how much a bounce taken for the last
// fall would matter.
struct LaydownEvidence {
  bool seen = false;
  double more_sd_s = 0;
};

LaydownEvidence LaydownIn(const PathProblem& problem, const std::vector<bool>& used, double variance,
                          const Eigen::VectorXd& p, double sd_s) {
  const SkidCurve curve(problem.grid, p.head(problem.grid.size()));
  double evidence = 0, highest = 0, earliest = 0;
  int in_air = 0;
  for (std::size_t i = 0; i < problem.sights.size(); ++i) {
    const LaneSight& sight = problem.sights[i];
    const double s = sight.time_s - problem.grid.origin_s;
    if (!used[i] || s > p[kLaydown]) continue;
    const SkidState state = curve.At(s);
    const auto up =
        camera::ImageFromLane(problem.setup->camera, {state.x, state.y, problem.ball_radius + state.height});
    const auto down = camera::ImageFromLane(problem.setup->camera, {state.x, state.y, problem.ball_radius});
    if (!up || !down) continue;
    const double shift = (*up - *down).norm() / std::sqrt(sight.covariance(1, 1) * variance);
    evidence += shift * shift;
    in_air += 1;
    highest = std::max(highest, state.height);
    earliest = std::max(earliest, p[kLaydown] - s);
  }
  // A ball that still rises at the first sight may be in a bounce, its laydown unseen. Bounces stay below about 2 cm
  // (0.3 of 1.5 m/s).
  constexpr double kBounceHeight = 0.02;
  if (earliest > 1.1 * p[kImpact] / kStandardGravity && highest < kBounceHeight) return {};
  LaydownEvidence out;
  out.seen = in_air >= 2 && evidence > 36 && sd_s * p[kVy0] < MetresFromFeet(0.6);
  if (highest < kBounceHeight) out.more_sd_s = MetresFromFeet(0.25) / std::max(p[kVy0], 1.0);
  return out;
}

// Time at which the path reaches y, by bisection; nullopt when it does not between the two times.
std::optional<double> TimeAtY(const Path& path, double from_s, double to_s, double y) {
  if (path.At(from_s).y > y || path.At(to_s).y < y) return std::nullopt;
  for (int i = 0; i < 60; ++i) {
    const double mid = (from_s + to_s) / 2;
    (path.At(mid).y < y ? from_s : to_s) = mid;
  }
  return (from_s + to_s) / 2;
}

// The path given that the ball rolled before its last sight, and given that friction has a step. `mixed_alike`: `path`
// was mixed as these are.
void AddConditions(const PathMixer& mixer, const SkidGrid& grid, bool mixed_alike, Path& path) {
  const std::size_t n = mixer.components().size();
  std::vector<bool> rolling(n), stepped(n);
  double stepped_weight = 0;
  for (std::size_t i = 0; i < n; ++i) {
    const PathComponent& c = mixer.components()[i];
    const double before_last = path.last_sight_s - grid.origin_s - c.parameters[kRoll];
    path.rolling_probability += mixer.weights()[i] * std::erfc(-before_last / c.roll_sd() / std::sqrt(2.0)) / 2;
    rolling[i] = before_last > 0;
    stepped[i] = c.parameters.size() > grid.size();
    stepped_weight += stepped[i] ? mixer.weights()[i] : 0;
  }
  path.stepped_probability = stepped_weight;
  path.model = stepped_weight > 0.5 ? "physics" : "plain";
  // Often a condition leaves out nothing that counts, or the same as the other.
  std::map<std::vector<bool>, std::shared_ptr<const Path>> known;
  if (mixed_alike) known[mixer.Counting(std::vector<bool>(n, true))] = std::make_shared<const Path>(path);
  const auto under = [&](const std::vector<bool>& taken) {
    const std::vector<bool> counting = mixer.Counting(taken);
    std::shared_ptr<const Path>& mixed = known[counting];
    if (!mixed && std::find(counting.begin(), counting.end(), true) != counting.end()) {
      auto p = std::make_shared<Path>();
      mixer.Mix(taken, 0, *p);
      p->start_s = path.start_s;
      p->laydown_seen = path.laydown_seen;
      p->first_sight_s = path.first_sight_s;
      p->last_sight_s = path.last_sight_s;
      mixed = std::move(p);
    }
    return mixed;
  };
  path.rolling = under(rolling);
  path.stepped = under(stepped);
}

}  // namespace

Status PathFitOptions::Check() const {
  const auto bad = [](const char* field, double value, const char* bound) {
    return Status(StatusCode::kBadUse,
                  std::string("Path fit: ") + field + " is " + std::to_string(value) + " but must be " + bound + ".");
  };
  if (least_sights < 6) return bad("least_sights", least_sights, "6 or more");
  if (!(knot_spacing_s >= 0.03 && knot_spacing_s <= 0.5))
    return bad("knot_spacing_s", knot_spacing_s, "within 0.03 to 0.5");
  if (!(friction_start > 0)) return bad("friction_start", friction_start, "above 0");
  if (!(friction_start_log_sd > 0)) return bad("friction_start_log_sd", friction_start_log_sd, "above 0");
  if (!(friction_walk > 0)) return bad("friction_walk", friction_walk, "above 0");
  if (!(friction_level > 0)) return bad("friction_level", friction_level, "above 0");
  if (!(friction_level_log_sd > 0)) return bad("friction_level_log_sd", friction_level_log_sd, "above 0");
  if (!(laydown_sd_ft > 0)) return bad("laydown_sd_ft", laydown_sd_ft, "above 0");
  if (!(hand_sd_ft > 0)) return bad("hand_sd_ft", hand_sd_ft, "above 0");
  if (!(climb_sd > 0)) return bad("climb_sd", climb_sd, "above 0");
  if (!(free_share > 0 && free_share < 1)) return bad("free_share", free_share, "between 0 and 1");
  if (!(close_deviation > 0 && close_deviation < 1)) return bad("close_deviation", close_deviation, "between 0 and 1");
  if (!(roll_start_sd_ft > 0)) return bad("roll_start_sd_ft", roll_start_sd_ft, "above 0");
  if (!(spin_along_sd > 0)) return bad("spin_along_sd", spin_along_sd, "above 0");
  if (!(centre_bias_px >= 0)) return bad("centre_bias_px", centre_bias_px, "0 or more");
  if (!(centre_bias_share >= 0)) return bad("centre_bias_share", centre_bias_share, "0 or more");
  if (!(centre_bias_s > 0)) return bad("centre_bias_s", centre_bias_s, "above 0");
  if (!(ball_radius_sd_m >= 0)) return bad("ball_radius_sd_m", ball_radius_sd_m, "0 or more");
  if (!(std::abs(readout.s) <= 0.05)) return bad("readout.s", readout.s, "-0.05 to 0.05");
  if (!(readout.sd_s >= 0)) return bad("readout.sd_s", readout.sd_s, "0 or more");
  if (!(rim_sd_px >= 0)) return bad("rim_sd_px", rim_sd_px, "0 or more");
  if (!(time_sd_s >= 0)) return bad("time_sd_s", time_sd_s, "0 or more");
  if (!(robust_scale > 0)) return bad("robust_scale", robust_scale, "above 0");
  if (!(outlier_gate > robust_scale)) return bad("outlier_gate", outlier_gate, "above robust_scale");
  return Status::Ok();
}

Result<Path> FitPath(const Track& track, const LaneSetup& setup, const PathFitOptions& options) {
  if (Status bad = options.Check(); !bad.ok()) return bad;
  Result<SelectedSights> chosen =
      SelectSights(track, setup, lane::kBallDiameter / 2, options.least_sights, options.readout);
  if (!chosen.ok()) return chosen.status();
  const SelectedSights& selected = *chosen;
  const Result<PathWays> found = FindPathWays(track, setup, selected, options);
  if (!found.ok()) return found.status();
  const PathWay& heaviest = found->heaviest();
  const PathProblem& problem = *heaviest.problem;

  Eigen::MatrixXd considered = Eigen::MatrixXd::Zero(kConsidered, kConsidered);
  considered.topLeftCorner<kSetupParameters, kSetupParameters>() = setup.covariance;
  considered(kSetupParameters, kSetupParameters) = options.ball_radius_sd_m * options.ball_radius_sd_m;
  considered(kSetupParameters + 1, kSetupParameters + 1) = options.readout.sd_s * options.readout.sd_s;
  considered(kSetupParameters + 2, kSetupParameters + 2) = options.rim_sd_px * options.rim_sd_px;
  std::vector<PathComponent> components;
  for (const PathWay& way : found->ways) components.push_back(way.component);
  const double from_s = problem.grid.origin_s, to_s = from_s + problem.grid.spacing_s * (problem.grid.knots - 1);
  const PathMixer mixer(problem.grid, std::move(components), std::move(considered), kSetupParameters - 1, from_s - 0.2,
                        to_s + 0.2);

  Path path;
  const Eigen::MatrixXd& covariance = heaviest.component.covariance;
  const LaydownEvidence laydown = LaydownIn(problem, found->used, found->variance, heaviest.component.parameters,
                                            std::sqrt(std::max(covariance(kLaydown, kLaydown), 0.0)));
  mixer.Mix(std::vector<bool>(found->ways.size(), true), laydown.more_sd_s, path);

  path.sights = static_cast<int>(problem.sights.size());
  double sum_px = 0, sum = 0;
  bool first = true;
  const Eigen::VectorXd& parameters = heaviest.solution.parameters;
  const ShapedCurve shaped(problem, parameters);
  for (std::size_t i = 0; i < found->used.size(); ++i) {
    if (!found->used[i]) continue;
    const Eigen::Vector2d r = SightResidual(problem, i, 1, parameters, shaped, nullptr, nullptr);
    sum += r.squaredNorm();
    sum_px += r.squaredNorm() * problem.sights[i].covariance.trace() / 2;
    path.inliers += 1;
    if (first) path.first_sight_s = problem.sights[i].time_s;
    path.last_sight_s = problem.sights[i].time_s;
    first = false;
  }
  path.rms_px = std::sqrt(sum_px / (2.0 * path.inliers));
  path.chi2_per_dof = sum / std::max(2.0 * path.inliers - heaviest.spent, 1.0);

  const double first_s = selected.sights.front().time_s - from_s;
  for (std::size_t i = 0; i < found->ways.size(); ++i)
    path.lands_in_sights += mixer.components()[i].parameters[kLaydown] > first_s ? mixer.weights()[i] : 0;
  path.laydown_seen = laydown.seen && path.lands_in_sights > kSureOfLanding;
  path.start_s = path.laydown_seen ? path.laydown_time(path.parameters) : path.first_sight_s;
  if (!path.laydown_seen) path.laydown_time = nullptr;
  path.pin_contact_s = track.pin_contact_s;
  AddConditions(mixer, problem.grid, laydown.more_sd_s == 0, path);
  if (selected.left_lane_s) {
    // The curve itself says when it passes the edge; the first sight beyond it is the fallback.
    const double edge = setup.lane.width / 2 * (selected.left_on_right ? 1 : -1);
    double lo = path.first_sight_s, hi = *selected.left_lane_s + 0.5;
    const auto beyond = [&](double t) { return (path.At(t).x - edge) * (selected.left_on_right ? 1 : -1) > 0; };
    if (!beyond(lo) && beyond(hi)) {
      for (int i = 0; i < 50; ++i) (beyond((lo + hi) / 2) ? hi : lo) = (lo + hi) / 2;
      path.gutter_s = hi;
    } else {
      path.gutter_s = *selected.left_lane_s;
    }
    path.end_s = *path.gutter_s;
  } else {
    const auto entry = TimeAtY(path, path.first_sight_s, path.last_sight_s + 1, lane::kEntryY);
    const bool reached = track.end == TrackEnd::kPins || track.pin_contact_s.has_value();
    path.end_s = entry && (reached || *entry - path.last_sight_s < 0.15) ? *entry : path.last_sight_s;
  }
  return path;
}

}  // namespace hookline::motion
