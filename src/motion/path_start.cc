#include "motion/path_start.h"

#include <algorithm>
#include <cmath>
#include <initializer_list>
#include <utility>
#include <vector>

#include "lane/lane_spec.h"
#include "motion/skid_curve.h"

namespace hookline::motion {
namespace {

using lane::kStandardGravity;
using lane::MetresFromFeet;

constexpr double kUsualBounce = 0.2;  // common practice, no source
constexpr double kNoRollSd = 0.01;    // s, of a roll that begins beyond the pins

}  // namespace

double NoRoll(const SkidGrid& grid) { return grid.spacing_s * grid.knots + 0.3; }

void SetPriors(const SelectedSights& selected, PathProblem& problem) {
  const auto [front_speed, back_speed] = RoughSpeedsOf(selected);
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
  if (problem.rolls)
    single(kRoll, problem.roll_mean, problem.roll_sd);
  else
    single(kRoll, NoRoll(problem.grid), kNoRollSd);
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

void LandAt(const PathProblem& problem, const SelectedSights& selected, double laydown_ft, Eigen::VectorXd& start) {
  const double lands_s = RoughTimeAt(selected, MetresFromFeet(laydown_ft)),
               hand_s = RoughTimeAt(selected, MetresFromFeet(problem.options->hand_ft));
  start[kLaydown] = lands_s - problem.grid.origin_s;
  start[kImpact] = kStandardGravity * std::max(lands_s - hand_s, 0.01);
  start[kBounce] = kUsualBounce;
}

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
  p[kRoll] = RoughTimeAt(selected, MetresFromFeet(roll_ft)) - problem.grid.origin_s;
  LandAt(problem, selected, laydown_ft, p);
  for (int k = 0; k < problem.grid.knots; ++k) {
    const double share = static_cast<double>(k) / (problem.grid.knots - 1);
    p[kFriction + k] = std::log(kStandardGravity * (0.035 + 0.12 * share * share));
  }
  return p;
}

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

}  // namespace hookline::motion
