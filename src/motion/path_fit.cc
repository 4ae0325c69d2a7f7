#include "motion/path_fit.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <deque>
#include <limits>
#include <map>
#include <string>

#include "camera/projection.h"
#include "lane/lane_spec.h"
#include "motion/path_mixture.h"
#include "motion/path_problem.h"
#include "motion/sight_selection.h"
#include "motion/skid_curve.h"

namespace hookline::motion {
namespace {

using lane::kStandardGravity;
using lane::MetresFromFeet;

// Mean square of whitened residuals, of so many sights on each side, beyond which their neighbourhood disagrees: among
// 11 honest sights one in ten thousand times.
constexpr double kDisagree = 2.5;
constexpr std::size_t kDisagreeBeside = 5;
constexpr double kBallRadius = lane::kBallDiameter / 2;
constexpr double kUsualBounce = 0.2;  // common practice, no source

// Before the sights the ball goes faster by what the oil takes off it (facts: 0.04 on oil).
constexpr double kOilSlows = 0.04 * kStandardGravity;

// Time at which the rough path is at y, going on beyond the sights.
double RoughTimeAt(const SelectedSights& selected, double y) {
  const double first = selected.sights.front().time_s, last = selected.sights.back().time_s;
  const RoughPath& rough = selected.rough;
  const double y0 = rough.At(first).y(), y1 = rough.At(last).y();
  // A slope at the very end of a cubic is poor; the mean over a quarter of the sights is not.
  const double quarter = (last - first) / 4;
  if (y <= y0) {
    const double speed = std::max((rough.At(first + quarter).y() - y0) / quarter, 2.0) + kOilSlows * quarter / 2;
    return first - (std::sqrt(speed * speed + 2 * kOilSlows * (y0 - y)) - speed) / kOilSlows;
  }
  if (y >= y1) return last + (y - y1) / std::max((y1 - rough.At(last - quarter).y()) / quarter, 2.0);
  double lo = first, hi = last;
  for (int i = 0; i < 50; ++i) {
    const double mid = (lo + hi) / 2;
    (rough.At(mid).y() < y ? lo : hi) = mid;
  }
  return (lo + hi) / 2;
}

// A roll that begins here begins beyond the pins.
constexpr double kNoRollSd = 0.01;
double NoRoll(const PathProblem& problem) { return problem.grid.spacing_s * problem.grid.knots + 0.3; }

// `rolls` false: the ball still slides at the pins.
void BuildPriors(PathProblem& problem, const SelectedSights& selected, double front_speed, double back_speed,
                 bool rolls) {
  const PathFitOptions& o = *problem.options;
  const Eigen::Index n = problem.size(), curve = problem.grid.size();
  std::vector<std::pair<Eigen::RowVectorXd, double>> rows;
  const auto add = [&](std::initializer_list<std::pair<Eigen::Index, double>> entries, double value) {
    Eigen::RowVectorXd row = Eigen::RowVectorXd::Zero(n);
    for (const auto& [i, w] : entries) row[i] = w;
    rows.emplace_back(row, value);
  };
  const auto single = [&](Eigen::Index i, double mean, double sd) { add({{i, 1 / sd}}, mean / sd); };

  single(kPhi, 0, 1.2);
  if (rolls)
    single(kRoll, problem.roll_mean, problem.roll_sd);
  else
    single(kRoll, NoRoll(problem), kNoRollSd);
  // The ball falls from the hand on: the later it lands, the harder.
  const double hand_s = RoughTimeAt(selected, MetresFromFeet(o.hand_ft)) - problem.grid.origin_s;
  const double fall_sd = std::hypot(o.climb_sd, kStandardGravity * MetresFromFeet(o.hand_sd_ft) / front_speed);
  add({{kImpact, 1 / fall_sd}, {kLaydown, -kStandardGravity / fall_sd}}, -kStandardGravity * hand_s / fall_sd);
  single(kBounce, kUsualBounce, 0.1);
  const bool stepped = problem.two_friction();
  if (stepped) {
    single(problem.shape_at() + kLogFront, LogExcess(o.friction_start), o.front_log_sd);
    single(problem.shape_at() + kLogBack, LogExcess(o.friction_back), o.back_log_sd);
    single(problem.shape_at() + kChangeY, MetresFromFeet(o.change_ft), MetresFromFeet(o.change_sd_ft));
    single(problem.shape_at() + kLogWidth, std::log(MetresFromFeet(o.change_width_ft)), o.change_width_log_sd);
    const double board = lane::BoardWidth(lane::kNominalWidth);
    single(problem.shape_at() + kOutside, o.outside_log, o.outside_log_sd);
    single(problem.shape_at() + kOutsideX, lane::kNominalWidth / 2 - o.outside_boards * board,
           o.outside_sd_boards * board);
  } else {
    single(kFriction, std::log(o.friction_start * kStandardGravity), o.friction_start_log_sd);
  }
  for (int k = 0; k < problem.grid.knots; ++k) {
    if (stepped)
      single(kFriction + k, 0, problem.deviation * o.deviation_log_sd);
    else
      single(kFriction + k, std::log(o.friction_level * kStandardGravity), o.friction_level_log_sd);
    if (k == 0) continue;
    // Where nothing was seen the normal form in log friction is too narrow upwards (a ball on dry boards): a wider step
    // makes up for it.
    const bool unseen = k * problem.grid.spacing_s < selected.sights.front().time_s - problem.grid.origin_s;
    const double step = (unseen ? 2 : 1) * (stepped ? problem.deviation * o.deviation_walk : o.friction_walk) *
                        std::sqrt(problem.grid.spacing_s * (front_speed + back_speed) / 2);
    add({{kFriction + k, 1 / step}, {kFriction + k - 1, -1 / step}}, 0);
  }
  const double keep = std::exp(-problem.bias_spacing_s / o.centre_bias_s), renew = std::sqrt(1 - keep * keep);
  for (int c = 0; c < 2; ++c) {
    const Eigen::Index first = curve + c * problem.bias_knots;
    single(first, 0, 1);
    for (Eigen::Index k = 1; k < problem.bias_knots; ++k)
      add({{first + k, 1 / renew}, {first + k - 1, -keep / renew}}, 0);
  }
  problem.prior.resize(static_cast<Eigen::Index>(rows.size()), n);
  problem.prior_value.resize(static_cast<Eigen::Index>(rows.size()));
  for (std::size_t i = 0; i < rows.size(); ++i) {
    problem.prior.row(static_cast<Eigen::Index>(i)) = rows[i].first;
    problem.prior_value[static_cast<Eigen::Index>(i)] = rows[i].second;
  }
  problem.laydown_mean = RoughTimeAt(selected, MetresFromFeet(o.laydown_ft)) - problem.grid.origin_s;
  problem.laydown_sd = MetresFromFeet(o.laydown_sd_ft) / front_speed;
}

// A way whose cost is more than this above another's, or its log weight below, counts for nothing beside it (e^-20),
// also where the determinants of their doubts differ.
constexpr double kBeyondDoubt = 40;
// What a step of friction instead of a free one may gain one way over another.
constexpr double kStepGains = 60;

// The likeliest downward speed of a ball that lands there, m/s.
double ImpactAt(const SelectedSights& selected, const PathFitOptions& options, double laydown_ft) {
  const double falls_s =
      RoughTimeAt(selected, MetresFromFeet(laydown_ft)) - RoughTimeAt(selected, MetresFromFeet(options.hand_ft));
  return kStandardGravity * std::max(falls_s, 0.01);
}

constexpr double kLandsBeforeFt = 9;  // farther than anybody lofts
constexpr double kSureOfLanding = 0.95;
constexpr double kHopsEndFt = 4;       // first sights beyond this are of a ball whose hops are over, or of a loft
constexpr double kHopFt = 1.3;         // half of the first hop of a lofted ball
constexpr double kJustAfterFt = 0.15;  // the first sight: a landing there
constexpr double kOneLandingM = 0.08;  // fits whose landings are closer have found the same one
// Of log weight, or of cost: ways beyond do not count beside the heaviest.
constexpr double kCloseKind = 6, kCloseLanding = 6, kLandingsGiveUp = 15;

// A first guess in the middle of what balls do, through the rough path's start.
Eigen::VectorXd FirstGuess(const PathProblem& problem, const SelectedSights& selected, double roll_ft,
                           double laydown_ft) {
  Eigen::VectorXd p = Eigen::VectorXd::Zero(problem.size());
  const double first = selected.sights.front().time_s, last = selected.sights.back().time_s, third = (last - first) / 3;
  const Eigen::Vector2d a = selected.rough.At(first), b = selected.rough.At(first + third);
  const Eigen::Vector2d v = (b - a) / third;
  const double s = first - problem.grid.origin_s;
  p[kX0] = a.x() - v.x() * s;
  p[kY0] = a.y() - v.y() * s;
  p[kVx0] = v.x();
  p[kVy0] = v.y();
  const Eigen::Vector2d end = (selected.rough.At(last) - selected.rough.At(last - third)) / third;
  p[kPhi] = std::clamp(std::atan2(end.x() - v.x(), std::max(v.y() - end.y(), 0.05)), -1.2, 1.2);
  p[kLaydown] = RoughTimeAt(selected, MetresFromFeet(laydown_ft)) - problem.grid.origin_s;
  p[kRoll] = RoughTimeAt(selected, MetresFromFeet(roll_ft)) - problem.grid.origin_s;
  p[kImpact] = ImpactAt(selected, *problem.options, laydown_ft);
  p[kBounce] = kUsualBounce;
  for (int k = 0; k < problem.grid.knots; ++k) {
    const double share = static_cast<double>(k) / (problem.grid.knots - 1);
    p[kFriction + k] = std::log(kStandardGravity * (0.035 + 0.12 * share * share));
  }
  return p;
}

// Robust variance factor: 1 when the sights' own covariances are right. A few sights cannot say much against them.
double VarianceFactor(const PathProblem& problem, const std::vector<bool>& used, const Eigen::VectorXd& parameters,
                      double spent) {
  double sum = 0, n = 0;
  const ShapedCurve shaped(problem, parameters);
  for (std::size_t i = 0; i < problem.sights.size(); ++i) {
    if (!used[i]) continue;
    sum += SightResidual(problem, i, 1, parameters, shaped, nullptr, nullptr).squaredNorm();
    n += 2;
  }
  constexpr double kPriorWeight = 10;
  return std::max((kPriorWeight + sum) / (kPriorWeight + std::max(n - spent, 1.0)), 0.05);
}

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

std::vector<bool> Inliers(const PathProblem& problem, const Eigen::VectorXd& parameters, double variance, double gate) {
  std::vector<bool> used(problem.sights.size());
  const ShapedCurve shaped(problem, parameters);
  for (std::size_t i = 0; i < used.size(); ++i)
    used[i] = SightResidual(problem, i, variance, parameters, shaped, nullptr, nullptr).norm() < gate;
  return used;
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

// Logarithm of the chance that what is normal about `mean` lies below `limit`; not less than that of one in a million.
double LogBelow(double limit, double mean, double sd) {
  return std::log(std::max(0.5 * std::erfc((mean - limit) / sd / std::sqrt(2.0)), 1e-6));
}

// Holds the knots' places where the ball is by a fit made before.
void HoldKnots(const Eigen::VectorXd& curve, PathProblem& problem) {
  const SkidCurve skid(problem.grid, curve.head(problem.grid.size()));
  problem.knot_x.resize(problem.grid.knots);
  problem.knot_y.resize(problem.grid.knots);
  for (int k = 0; k < problem.grid.knots; ++k) {
    const SkidState at = skid.At(k * problem.grid.spacing_s);
    problem.knot_x[k] = at.x;
    problem.knot_y[k] = at.y;
  }
}

// From a fit with free friction to one whose friction has a step: its means in front and down the lane, the place where
// it passes half way.
Eigen::VectorXd SteppedStart(const PathProblem& stepped, const Eigen::VectorXd& free) {
  const PathFitOptions& o = *stepped.options;
  const SkidGrid& grid = stepped.grid;
  double front = 0, back = 0, front_n = 0, back_n = 0;
  for (int k = 0; k < grid.knots; ++k) {
    const double y = stepped.knot_y[k], s = k * grid.spacing_s;
    if (s < free[kLaydown] || s > free[kRoll]) continue;
    if (y < MetresFromFeet(30)) {
      front += free[kFriction + k];
      front_n += 1;
    } else if (y > MetresFromFeet(44)) {
      back += free[kFriction + k];
      back_n += 1;
    }
  }
  FrictionShape shape;
  shape[kLogFront] = front_n > 0 ? front / front_n : LogExcess(o.friction_start);
  shape[kLogBack] = back_n > 0 ? back / back_n : LogExcess(o.friction_back);
  shape[kChangeY] = MetresFromFeet(o.change_ft);
  shape[kLogWidth] = std::log(MetresFromFeet(o.change_width_ft));
  shape[kOutside] = o.outside_log;
  shape[kOutsideX] = lane::kNominalWidth / 2 - o.outside_boards * lane::BoardWidth(lane::kNominalWidth);
  const double half = (std::exp(shape[kLogFront]) + std::exp(shape[kLogBack])) / 2;
  for (int k = 1; k < grid.knots; ++k) {
    const double y = stepped.knot_y[k], a = std::exp(free[kFriction + k - 1]), b = std::exp(free[kFriction + k]);
    if (y < MetresFromFeet(25) || y > MetresFromFeet(55) || (a < half) == (b < half)) continue;
    shape[kChangeY] = y;
    break;
  }
  Eigen::VectorXd start(stepped.size());
  start.head(stepped.shape_at()) = free;
  start.segment(kFriction, grid.knots).setZero();
  start.tail<kTwoFriction>() = shape;
  return start;
}

// The path given that the ball rolled before its last sight, and given that friction has a step.
void AddConditions(const PathMixer& mixer, const SkidGrid& grid, Path& path) {
  const std::size_t n = mixer.components().size();
  std::vector<bool> rolling(n), stepped(n);
  double stepped_weight = 0;
  for (std::size_t i = 0; i < n; ++i) {
    const PathComponent& c = mixer.components()[i];
    const double sd = std::sqrt(std::max(c.covariance(kRoll, kRoll), 1e-12));
    const double before_last = path.last_sight_s - grid.origin_s - c.parameters[kRoll];
    path.rolling_probability += mixer.weights()[i] * std::erfc(-before_last / sd / std::sqrt(2.0)) / 2;
    rolling[i] = before_last > 0;
    stepped[i] = c.parameters.size() > grid.size();
    stepped_weight += stepped[i] ? mixer.weights()[i] : 0;
  }
  path.stepped_probability = stepped_weight;
  path.model = stepped_weight > 0.5 ? "physics" : "plain";
  const auto under = [&](const std::vector<bool>& taken) -> std::shared_ptr<const Path> {
    if (!mixer.CanMix(taken)) return nullptr;
    auto p = std::make_shared<Path>();
    mixer.Mix(taken, 0, *p);
    p->start_s = path.start_s;
    p->laydown_seen = path.laydown_seen;
    p->first_sight_s = path.first_sight_s;
    p->last_sight_s = path.last_sight_s;
    return p;
  };
  path.rolling = under(rolling);
  path.stepped = under(stepped);
}

// How much more than stated the sights around each one are off the path, as a factor of their covariance, 1 or more:
// where the tracker mistook something else for the ball now and then (its image in the gloss, somebody's arm), the
// sights in between are not as sure as they say either.
std::vector<double> Disagreement(const PathProblem& problem, const std::vector<bool>& used, double variance,
                                 const Eigen::VectorXd& parameters) {
  const ShapedCurve shaped(problem, parameters);
  std::vector<std::size_t> at;
  std::vector<double> squares;
  for (std::size_t i = 0; i < used.size(); ++i) {
    if (!used[i]) continue;
    at.push_back(i);
    squares.push_back(SightResidual(problem, i, variance, parameters, shaped, nullptr, nullptr).squaredNorm() / 2);
  }
  std::vector<double> factor(used.size(), 1.0);
  for (std::size_t k = 0; k < at.size(); ++k) {
    const std::size_t from = k - std::min(k, kDisagreeBeside), to = std::min(at.size(), k + kDisagreeBeside + 1);
    double sum = 0;
    for (std::size_t m = from; m < to; ++m) sum += squares[m];
    const double mean = sum / static_cast<double>(to - from);
    if (mean > kDisagree) factor[at[k]] = mean;
  }
  return factor;
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
  Result<SelectedSights> chosen = SelectSights(track, setup, kBallRadius, options.least_sights, options.readout);
  if (!chosen.ok()) return chosen.status();
  const SelectedSights& selected = *chosen;

  PathProblem problem;
  problem.setup = &setup;
  problem.options = &options;
  problem.ball_radius = kBallRadius;
  problem.sights = selected.sights;
  const double from_s = RoughTimeAt(selected, MetresFromFeet(-1)), to_s = RoughTimeAt(selected, MetresFromFeet(60));
  problem.grid.origin_s = from_s;
  problem.grid.knots = std::clamp(static_cast<int>(std::lround((to_s - from_s) / options.knot_spacing_s)) + 1, 6, 48);
  problem.grid.spacing_s = (to_s - from_s) / (problem.grid.knots - 1);
  problem.bias_knots =
      std::clamp(static_cast<int>(std::lround((to_s - from_s) / (options.centre_bias_s / 2))) + 1, 3, 30);
  problem.bias_spacing_s = (to_s - from_s) / (problem.bias_knots - 1);
  const double third = (selected.sights.back().time_s - selected.sights.front().time_s) / 3;
  const auto rough_y = [&](double t) { return selected.rough.At(t).y(); };
  const double front = selected.sights.front().time_s, back = selected.sights.back().time_s;
  const double front_speed = std::max((rough_y(front + third) - rough_y(front)) / third, 2.0);
  const double back_speed = std::max((rough_y(back) - rough_y(back - third)) / third, 2.0);
  if (track.pin_touched && track.pin_contact_s) {
    constexpr double kPinPlacedSd = 0.01;  // m, of a pin on its spot and of the radii
    problem.touch = {*track.pin_contact_s - from_s, *track.pin_touched,
                     std::hypot(kPinPlacedSd, back_speed * track.pin_contact_sd_s)};
  }
  problem.roll_mean = RoughTimeAt(selected, MetresFromFeet(options.roll_start_ft)) - from_s;
  problem.roll_sd = MetresFromFeet(options.roll_start_sd_ft) / back_speed;
  BuildPriors(problem, selected, front_speed, back_speed, true);
  PathProblem slides = problem;
  BuildPriors(slides, selected, front_speed, back_speed, false);

  std::vector<bool> used(problem.sights.size());
  for (std::size_t i = 0; i < used.size(); ++i) used[i] = problem.sights[i].near_rough_path || problem.sights[i].in_air;
  // Where the roll begins, the cost has several minima: each is tried.
  struct Try {
    const PathProblem* problem;
    PathSolution solution;
  };
  std::vector<Try> tries;
  const auto attempt = [&](const PathProblem& own, const Eigen::VectorXd& start) {
    double bound = std::numeric_limits<double>::infinity();
    for (const Try& t : tries) bound = std::min(bound, t.solution.cost + kBeyondDoubt);
    const PathSolution s = SolvePath(own, used, 1, options.robust_scale, true, start, bound);
    if (!s.usable) return;
    const auto same = std::find_if(tries.begin(), tries.end(), [&](const Try& t) {
      return t.problem == &own && std::abs(t.solution.parameters[kRoll] - s.parameters[kRoll]) * back_speed < 0.1;
    });
    if (same == tries.end())
      tries.push_back({&own, s});
    else if (s.cost < same->solution.cost)
      same->solution = s;
  };
  const auto lowest = [&] {
    return std::min_element(tries.begin(), tries.end(),
                            [](const Try& a, const Try& b) { return a.solution.cost < b.solution.cost; });
  };
  for (const double roll_ft : {16.0, 40.0, 53.0})
    attempt(problem, FirstGuess(problem, selected, roll_ft, options.laydown_ft));
  Eigen::VectorXd sliding = FirstGuess(slides, selected, 70, options.laydown_ft);
  sliding[kRoll] = NoRoll(slides);
  attempt(slides, sliding);
  if (tries.empty()) return Status(StatusCode::kNotDetermined, "No path of a ball fits what was followed on the lane.");
  // A ball that comes down where the sights have begun already, at once or later: a second set of minima.
  const double first_ft = lane::FeetFromMetres(rough_y(front));
  std::vector<double> landings = {first_ft + kJustAfterFt, 2.4, 3.2, 4.0, 5.0, 6.2, 7.6};
  std::erase_if(landings, [&](double ft) { return ft < first_ft || ft > kLandsBeforeFt; });
  // Or just before, and the sights begin in a hop.
  if (selected.sights.front().in_air) landings.push_back(first_ft - kHopFt);
  for (const double laydown_ft : landings) {
    const double laydown = RoughTimeAt(selected, MetresFromFeet(laydown_ft));
    const Try from = *lowest();
    Eigen::VectorXd start = from.solution.parameters;
    start[kLaydown] = laydown - problem.grid.origin_s;
    start[kImpact] = ImpactAt(selected, options, laydown_ft);
    start[kBounce] = kUsualBounce;
    attempt(*from.problem, start);
  }

  const Status undetermined(StatusCode::kNotDetermined,
                            "The sights of the ball do not determine a path: too few or too close together.");
  double variance = 1;
  PathCovariance covariance;
  const auto best = lowest();
  for (int round = 0; round < 2; ++round) {
    Try& chosen_try = *best;
    const Eigen::VectorXd& p = chosen_try.solution.parameters;
    covariance = CovarianceOf(*chosen_try.problem, used, variance, options.robust_scale, p);
    if (!covariance.determined) return undetermined;
    variance = VarianceFactor(problem, Inliers(problem, p, variance, options.outlier_gate), p, covariance.spent);
    used = Inliers(problem, p, variance, options.outlier_gate);
    const auto count = std::count(used.begin(), used.end(), true);
    if (count < options.least_sights)
      return Status(StatusCode::kNotDetermined, "Only " + std::to_string(count) +
                                                    " sights of the ball agree on one path; " +
                                                    std::to_string(options.least_sights) + " are needed.");
    if (round == 0) {
      const std::vector<double> disagreement = Disagreement(*chosen_try.problem, used, variance, p);
      for (std::size_t i = 0; i < used.size(); ++i)
        for (PathProblem* own : {&problem, &slides}) {
          own->sights[i].covariance *= disagreement[i];
          own->sights[i].lasting_sd *= std::sqrt(disagreement[i]);
        }
    }
    const PathSolution s = SolvePath(*chosen_try.problem, used, variance, options.robust_scale, false, p);
    if (s.usable) chosen_try.solution = s;
  }

  // What the friction does is known well enough now to tell where hands make balls roll on it.
  const Eigen::Vector2d by_spin =
      RollBySpin(options, problem.grid, problem.Curve(best->solution.parameters), front - from_s);
  for (PathProblem* own : {&problem, &slides}) {
    own->roll_mean = by_spin[0], own->roll_sd = by_spin[1];
    BuildPriors(*own, selected, front_speed, back_speed, own == &problem);
  }

  std::vector<PathComponent> components;
  const double end = problem.grid.spacing_s * (problem.grid.knots - 1);
  const double log_no_roll = LogBelow(-end, -by_spin[0], by_spin[1]);
  double most = 0;
  Eigen::VectorXd winner, winner_parameters;  // of the heaviest component: its curve and all it was fitted with
  const PathProblem* winner_problem = nullptr;
  std::vector<PathSolution> kept;
  std::vector<const PathProblem*> kept_of;
  double give_up = kBeyondDoubt;
  const auto lands_in_sights = [&](const Eigen::VectorXd& curve) { return curve[kLaydown] > front - from_s; };
  const auto add_component = [&](const PathProblem& own, bool rolls, const Eigen::VectorXd& start) {
    double bound = std::numeric_limits<double>::infinity();
    for (const PathSolution& k : kept) bound = std::min(bound, k.cost + give_up);
    const PathSolution s = SolvePath(own, used, variance, options.robust_scale, false, start, bound);
    if (!s.usable) return;
    if (rolls && s.parameters[kRoll] > end) return;  // told by the fit that slides on
    const Eigen::VectorXd curve = own.Curve(s.parameters);
    const double kind = own.two_friction() ? own.deviation : 0;
    // Where it hardly matters for the cost, searches end here and there: closer than one sd they have found the same.
    const auto sd_of_roll = [](const Eigen::MatrixXd& of_curve) {
      return std::sqrt(std::max(of_curve(kRoll, kRoll), 1e-12));
    };
    const auto same_as = [&](double roll_sd_s) {
      return std::find_if(components.begin(), components.end(), [&](const PathComponent& k) {
        const double one = std::max(0.1 / back_speed, std::min(roll_sd_s, sd_of_roll(k.covariance)));
        return k.kind == kind && std::abs(k.parameters[kRoll] - curve[kRoll]) < one &&
               lands_in_sights(k.parameters) == lands_in_sights(curve) &&
               std::abs(k.parameters[kLaydown] - curve[kLaydown]) * front_speed < kOneLandingM;
      });
    };
    const auto worse = [&](auto known) {
      return known != components.end() &&
             s.cost > kept[static_cast<std::size_t>(known - components.begin())].cost - 0.01;
    };
    if (worse(same_as(0))) return;
    const PathCovariance c = CovarianceOf(own, used, variance, options.robust_scale, s.parameters);
    if (!c.determined) return;
    const double roll_sd_s = sd_of_roll(c.of_curve);
    const auto known = same_as(roll_sd_s);
    if (worse(known)) return;
    const auto place = static_cast<std::size_t>(known - components.begin());
    const double log_share = std::log(kind > 0 ? (1 - options.free_share) / 2 : options.free_share);
    // A roll that may as well begin beyond the pins: that share of it is the slide's.
    const double log_weight =
        log_share - s.cost - c.log_determinant / 2 +
        (rolls ? LogOfSpin(problem.grid, curve, front - from_s) + LogBelow(end, curve[kRoll], roll_sd_s) : log_no_roll);
    if (components.empty() || log_weight > most) {
      most = log_weight;
      winner = curve;
      winner_parameters = s.parameters;
      winner_problem = &own;
      covariance = c;
    }
    PathComponent component{log_weight, kind, curve, c.of_curve, c.by_considered};
    if (known != components.end()) {
      components[place] = std::move(component);
      kept[place] = s;
      kept_of[place] = &own;
    } else {
      components.push_back(std::move(component));
      kept.push_back(s);
      kept_of.push_back(&own);
    }
  };
  for (const Try& t : tries) add_component(*t.problem, t.problem == &problem, t.solution.parameters);
  // All that was tried rolled, but by what hands give it does so beyond the pins, if at all.
  const bool slid = std::any_of(components.begin(), components.end(),
                                [&](const PathComponent& c) { return c.parameters[kRoll] > end; });
  if (!slid && (components.empty() || by_spin[0] > end)) {
    Eigen::VectorXd start = best->solution.parameters;
    start[kRoll] = NoRoll(slides);
    add_component(slides, false, start);
  }
  if (components.empty()) return undetermined;
  // The same with friction that goes from one value to another, from where the free one has led; close to it first: the
  // looser goes on from there.
  const std::size_t free_components = components.size();
  const double free_most = most;
  const Eigen::VectorXd free_curve = winner;
  // Of the components, which keep their addresses; of each kind one with a roll, then one that slides on.
  std::deque<PathProblem> problems;
  for (const double deviation : {options.close_deviation, 1.0}) {
    PathProblem& stepped = problems.emplace_back(problem);
    PathProblem& stepped_slides = problems.emplace_back(slides);
    stepped.deviation = stepped_slides.deviation = deviation;
    HoldKnots(free_curve, stepped);
    HoldKnots(free_curve, stepped_slides);
    BuildPriors(stepped, selected, front_speed, back_speed, true);
    BuildPriors(stepped_slides, selected, front_speed, back_speed, false);
  }
  const PathProblem &close = problems[0], &close_slides = problems[1], &loose = problems[2],
                    &loose_slides = problems[3];
  const auto from_free = [&](const PathProblem& own, const PathProblem& own_slides) {
    for (std::size_t i = 0; i < free_components; ++i) {
      if (components[i].log_weight < free_most - kStepGains) continue;
      const bool rolls = components[i].parameters[kRoll] <= end;
      add_component(rolls ? own : own_slides, rolls, SteppedStart(own, kept[i].parameters));
    }
  };
  from_free(close, close_slides);
  // Free friction can hide where the roll begins; a usual lane is tried too.
  for (const double roll_ft : {46.0, 52.0}) {
    Eigen::VectorXd start = SteppedStart(close, kept.front().parameters);
    start[close.shape_at() + kChangeY] = MetresFromFeet(options.change_ft);
    start[close.shape_at() + kLogBack] = LogExcess(options.friction_back);
    start[kRoll] = RoughTimeAt(selected, MetresFromFeet(roll_ft)) - problem.grid.origin_s;
    add_component(close, true, start);
  }
  const std::size_t close_components = components.size();
  if (close_components == free_components) from_free(loose, loose_slides);  // this lane is no such lane
  for (std::size_t i = free_components; i < close_components; ++i) {
    if (components[i].log_weight < most - kStepGains) continue;
    const bool rolls = kept_of[i] == &close;
    const Eigen::VectorXd from = kept[i].parameters;  // adding to `kept` moves it
    add_component(rolls ? loose : loose_slides, rolls, from);
  }
  // What looks like the end of the fall may be a hop after it, and the other way round, and each phase of a hop has a
  // minimum of its own: the heaviest of each kind of friction that rolls, and that slides on, once more, the very
  // heaviest from landings just after the first sight and some way before it, the others from where these have led: a
  // roll and a slide are weighed fairly only with the same landings. Down the lane nobody lands unseen.
  if (first_ft < kHopsEndFt) {
    std::map<const PathProblem*, std::size_t> heaviest;
    for (std::size_t i = 0; i < components.size(); ++i) {
      const auto known = heaviest.try_emplace(kept_of[i], i).first;
      if (components[i].log_weight > components[known->second].log_weight) known->second = i;
    }
    std::vector<std::size_t> order;
    for (const auto& [own, i] : heaviest)
      if (components[i].log_weight > most - kCloseKind) order.push_back(i);
    std::sort(order.begin(), order.end(),
              [&](std::size_t a, std::size_t b) { return components[a].log_weight > components[b].log_weight; });
    give_up = kLandingsGiveUp;
    std::vector<Eigen::VectorXd> landings_found;
    for (const std::size_t i : order) {
      const PathProblem& own = *kept_of[i];
      const bool rolls = components[i].parameters[kRoll] <= end;
      const Eigen::VectorXd from = kept[i].parameters;
      if (i == order.front()) {
        std::vector<double> tried = {first_ft + kJustAfterFt, first_ft - 0.2, first_ft - 0.5, first_ft - 0.9};
        if (options.laydown_ft < first_ft - 1.3) tried.push_back(options.laydown_ft);
        for (const double landing_ft : tried) {
          Eigen::VectorXd start = from;
          start[kLaydown] = RoughTimeAt(selected, MetresFromFeet(landing_ft)) - problem.grid.origin_s;
          start[kImpact] = ImpactAt(selected, options, landing_ft);
          add_component(own, rolls, start);
        }
        for (std::size_t k = 0; k < components.size(); ++k)
          if (kept_of[k] == &own && components[k].log_weight > most - kCloseLanding)
            landings_found.push_back(components[k].parameters);
        continue;
      }
      for (const Eigen::VectorXd& found : landings_found) {
        if (std::abs(found[kLaydown] - from[kLaydown]) * front_speed < kOneLandingM) continue;
        Eigen::VectorXd start = from;
        for (const auto k : {kLaydown, kImpact, kBounce}) start[k] = found[k];
        add_component(own, rolls, start);
      }
    }
  }
  // Where it lands bears on where it rolls: if it slides to the pins in the heaviest of all, that one again with a
  // roll.
  if (winner[kRoll] > end) {
    const auto slid =
        std::find_if(problems.begin(), problems.end(), [&](const auto& p) { return &p == winner_problem; });
    const PathProblem& rolling = slid == problems.end() ? problem : *(slid - 1);
    const Eigen::VectorXd from = winner_parameters;
    for (const double roll_ft : {44.0, 49.0, 54.0}) {
      Eigen::VectorXd start = from;
      start[kRoll] = RoughTimeAt(selected, MetresFromFeet(roll_ft)) - problem.grid.origin_s;
      add_component(rolling, true, start);
    }
  }
  const PathMixer mixer = [&] {
    Eigen::MatrixXd considered = Eigen::MatrixXd::Zero(kConsidered, kConsidered);
    considered.topLeftCorner<kSetupParameters, kSetupParameters>() = setup.covariance;
    considered(kSetupParameters, kSetupParameters) = options.ball_radius_sd_m * options.ball_radius_sd_m;
    considered(kSetupParameters + 1, kSetupParameters + 1) = options.readout.sd_s * options.readout.sd_s;
    considered(kSetupParameters + 2, kSetupParameters + 2) = options.rim_sd_px * options.rim_sd_px;
    return PathMixer(problem.grid, components, considered, kSetupParameters - 1, from_s - 0.2, to_s + 0.2);
  }();

  Path path;
  const double laydown_sd_s = std::sqrt(std::max(covariance.of_curve(kLaydown, kLaydown), 0.0));
  const LaydownEvidence laydown = LaydownIn(problem, used, variance, winner, laydown_sd_s);
  mixer.Mix(std::vector<bool>(components.size(), true), laydown.more_sd_s, path);

  path.sights = static_cast<int>(problem.sights.size());
  double sum_px = 0, sum = 0;
  bool first = true;
  const ShapedCurve shaped(*winner_problem, winner_parameters);
  for (std::size_t i = 0; i < used.size(); ++i) {
    if (!used[i]) continue;
    const Eigen::Vector2d r = SightResidual(*winner_problem, i, 1, winner_parameters, shaped, nullptr, nullptr);
    sum += r.squaredNorm();
    sum_px += r.squaredNorm() * problem.sights[i].covariance.trace() / 2;
    path.inliers += 1;
    if (first) path.first_sight_s = problem.sights[i].time_s;
    path.last_sight_s = problem.sights[i].time_s;
    first = false;
  }
  path.rms_px = std::sqrt(sum_px / (2.0 * path.inliers));
  path.chi2_per_dof = sum / std::max(2.0 * path.inliers - covariance.spent, 1.0);

  for (std::size_t i = 0; i < components.size(); ++i)
    path.lands_in_sights += lands_in_sights(components[i].parameters) ? mixer.weights()[i] : 0;
  path.laydown_seen = laydown.seen && path.lands_in_sights > kSureOfLanding;
  path.start_s = path.laydown_seen ? path.laydown_time(path.parameters) : path.first_sight_s;
  if (!path.laydown_seen) path.laydown_time = nullptr;
  path.pin_contact_s = track.pin_contact_s;
  AddConditions(mixer, problem.grid, path);
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
