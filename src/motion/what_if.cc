#include "motion/what_if.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <functional>
#include <random>
#include <string>

#include "lane/units.h"

namespace hookline::motion {
namespace {

using lane::MetresFromFeet;
using lane::MetresPerSecondFromMph;
using lane::RadiansFromDegrees;

// The release: place across at laydown (m), direction (rad, outward), speed (m/s), log of the spin (rad/s), turn (rad),
// scale of log friction in front and down the lane, shift of the change along the lane (m).
enum Parameter { kX, kLaunch, kSpeed, kLogSpin, kTurn, kFront, kBack, kShift };

constexpr double kRadius = lane::kBallDiameter / 2;
constexpr double kTouch = (lane::kBallDiameter + lane::kPinMaxDiameter) / 2;
constexpr double kEndY = MetresFromFeet(60.5);
constexpr double kWidth = lane::kNominalWidth;

// Mean of a measure over shots: the spread from shot to shot and what was measured both count. nullopt: none has it.
std::optional<ValueAndSd> MeanOf(const std::vector<Shot>& shots, MeasureId id) {
  double sum = 0, doubt = 0, n = 0;
  for (const Shot& shot : shots) {
    const Measure& m = shot.measures[id];
    if (!m.value) continue;
    sum += *m.value;
    doubt += m.sd * m.sd;
    n += 1;
  }
  if (n == 0) return std::nullopt;
  const double mean = sum / n;
  double spread = 0;
  for (const Shot& shot : shots)
    if (shot.measures[id].value) spread += std::pow(*shot.measures[id].value - mean, 2);
  // A spread of few shots is no less than what the measuring alone makes.
  const double of_shots = n > 1 ? spread / (n - 1) : 0;
  return ValueAndSd{mean, std::sqrt(std::max(of_shots, doubt / n) / n)};
}

}  // namespace

// What one roll comes to, in the measures' own units (board, deg, mph, ft); NaN where there is no such thing.
struct WhatIf::Rolled {
  double arrows = NAN, at_15 = NAN, at_40 = NAN, bp_board = NAN, bp_y = NAN, entry = NAN, angle = NAN, launch = NAN;
  double speed_arrows = NAN, speed_entry = NAN, roll_y = NAN;
  bool gutter = false;
  BallMotion motion;
};

Status WhatIfOptions::Check() const {
  const auto bad = [](const char* field, double value, const char* bound) {
    return Status(StatusCode::kBadUse,
                  std::string("What if: ") + field + " is " + std::to_string(value) + " but must be " + bound + ".");
  };
  if (draws < 10) return bad("draws", draws, "10 or more");
  if (!(ball_k >= 0.2 && ball_k <= 0.6)) return bad("ball_k", ball_k, "within 0.2 to 0.6");
  if (!(revs_rpm > 0)) return bad("revs_rpm", revs_rpm, "above 0");
  if (!(revs_sd_rpm > 0)) return bad("revs_sd_rpm", revs_sd_rpm, "above 0");
  if (!(turn_sd_deg > 0)) return bad("turn_sd_deg", turn_sd_deg, "above 0");
  return Status::Ok();
}

WhatIf::Rolled WhatIf::Roll(const Parameters& p, const Change& change) const {
  const double out = hand_ == lane::Hand::kRight ? 1 : -1, board = lane::BoardWidth(kWidth);
  // Inward feet and eyes: the line from the new laydown place through the new place at the arrows.
  const double way = arrows_y_ - laydown_y_;
  const double launch =
      std::atan(std::tan(p[kLaunch]) + (change.feet_boards - change.eyes_boards) * board / std::max(way, 1.0));
  BallAtRelease release;
  release.p = {p[kX] - out * change.feet_boards * board, laydown_y_};
  const double speed = std::max(p[kSpeed] + change.speed, 2.0);
  release.v = speed * Eigen::Vector2d(out * std::sin(launch), std::cos(launch));
  release.spin = std::max(std::exp(p[kLogSpin]) + change.revs, 0.0);
  release.axis_rotation = p[kTurn] + change.turn;
  release.side = out > 0 ? -1 : 1;  // turned inward
  release.radius = kRadius;
  release.k = options_.ball_k;
  const FrictionField& field = field_;
  FrictionField scaled;
  scaled.at = [&](double x, double y) {
    const double step = 1 / (1 + std::exp(-std::clamp((y - step_y_) / step_width_, -30.0, 30.0)));
    return field.at(x, y - p[kShift]) * std::exp(p[kFront] * (1 - step) + p[kBack] * step);
  };
  Rolled r;
  r.motion = SimulateBall(release, scaled, kEndY, 0.03);
  const auto board_of = [&](const MotionState& s) { return lane::BoardFromX(s.p.x(), kWidth, hand_); };
  for (const MotionState& s : r.motion.states())
    r.gutter = r.gutter || (s.p.y() < lane::kEntryY && std::abs(s.p.x()) > kWidth / 2);
  const auto at = [&](double y) { return r.motion.AtY(y); };
  if (const auto s = at(arrows_y_)) r.arrows = board_of(*s), r.speed_arrows = lane::MphFromMetresPerSecond(s->v.norm());
  if (const auto s = at(MetresFromFeet(15))) r.at_15 = board_of(*s);
  if (const auto s = at(MetresFromFeet(40))) r.at_40 = board_of(*s);
  const auto a = at(MetresFromFeet(3)), b = at(MetresFromFeet(10));
  if (a && b) r.launch = lane::DegreesFromRadians(std::atan2(out * (b->p.x() - a->p.x()), b->p.y() - a->p.y()));
  const MotionState outermost = r.motion.Outermost(arrows_y_, MetresFromFeet(59), out > 0 ? 1 : -1);
  if (outermost.p.y() > arrows_y_ + 0.1 && outermost.p.y() < MetresFromFeet(58.9)) {
    r.bp_board = board_of(outermost);
    r.bp_y = lane::FeetFromMetres(outermost.p.y());
  }
  auto entry = at(lane::kEntryY);
  for (int i = 0; entry && i < 3 && std::abs(entry->p.x()) < kTouch; ++i)
    entry = at(std::min(lane::kEntryY, lane::kHeadPinY - std::sqrt(kTouch * kTouch - entry->p.x() * entry->p.x())));
  if (entry) {
    r.entry = board_of(*entry);
    r.angle = lane::DegreesFromRadians(std::atan2(-out * entry->v.x(), entry->v.y()));
    r.speed_entry = lane::MphFromMetresPerSecond(entry->v.norm());
  }
  if (const auto roll = r.motion.roll_start()) r.roll_y = lane::FeetFromMetres(roll->p.y());
  return r;
}

Result<WhatIf> WhatIf::Make(const std::vector<Shot>& shots, const FrictionMap& map, const WhatIfOptions& options) {
  if (Status bad = options.Check(); !bad.ok()) return bad;
  using Id = MeasureId;
  WhatIf w;
  w.options_ = options;
  if (shots.empty()) return Status(StatusCode::kBadUse, "There is no shot to roll again.");
  w.hand_ = shots.front().hand;
  for (const Shot& s : shots)
    if (s.hand != w.hand_) return Status(StatusCode::kBadUse, "The shots are of a right hand and of a left one.");
  const auto arrows = MeanOf(shots, Id::kBoardAtArrows), entry = MeanOf(shots, Id::kEntryBoard),
             speed = MeanOf(shots, Id::kSpeedReleaseMph);
  if (!arrows || !entry || !speed)
    return Status(StatusCode::kNotDetermined,
                  "What if: the shot lacks its speed, its board at the arrows or its board at the pins.");
  w.map_ = std::make_shared<FrictionMap>(map);
  w.field_ = map.Field();
  w.step_y_ = map.shape()[kChangeY];
  w.step_width_ = std::exp(map.shape()[kLogWidth]);
  const auto laydown_ft = MeanOf(shots, Id::kLaydownFt), laydown = MeanOf(shots, Id::kLaydownBoard);
  w.laydown_y_ = MetresFromFeet(std::clamp(laydown_ft ? laydown_ft->value : 1.0, 0.0, 8.0));
  w.arrows_y_ = MetresFromFeet(14.5);  // common practice; a board's change over the V's half foot is small

  // Priors and measures, each in units of its sd.
  const auto launch = MeanOf(shots, Id::kLaunchAngleDeg);
  const double out = w.hand_ == lane::Hand::kRight ? 1 : -1;
  const auto revs = MeanOf(shots, Id::kPathRevRpm), turn = MeanOf(shots, Id::kPathTurnDeg),
             slip = MeanOf(shots, Id::kSlipAngleDeg), roll = MeanOf(shots, Id::kRollStartFt);
  const auto at_15 = MeanOf(shots, Id::kBoardAt15Ft), at_40 = MeanOf(shots, Id::kBoardAt40Ft),
             breakpoint = MeanOf(shots, Id::kBreakpointBoard), angle = MeanOf(shots, Id::kEntryAngleDeg),
             speed_arrows = MeanOf(shots, Id::kSpeedArrowsMph), speed_entry = MeanOf(shots, Id::kSpeedEntryMph);
  const double rpm = lane::kPi / 30;
  Parameters start;
  const double launch0 = RadiansFromDegrees(launch ? launch->value : 1.5);
  const double x_arrows = lane::XFromBoard(arrows->value, kWidth, w.hand_);
  start[kX] = laydown ? lane::XFromBoard(laydown->value, kWidth, w.hand_)
                      : x_arrows - out * std::tan(launch0) * (w.arrows_y_ - w.laydown_y_);
  start[kLaunch] = launch0;
  start[kSpeed] = MetresPerSecondFromMph(speed->value);
  start[kLogSpin] = std::log(rpm * (revs ? std::max(revs->value, 30.0) : options.revs_rpm));
  start[kTurn] = RadiansFromDegrees(turn ? turn->value : options.turn_deg);
  start[kFront] = start[kBack] = start[kShift] = 0;
  const auto scale_sd = [&](double ft) {
    const double x = lane::XFromBoard(arrows->value, kWidth, w.hand_);
    const FrictionCell c = map.At(x, MetresFromFeet(ft));
    return std::hypot(c.sd / c.value, 0.03);
  };
  const double front_sd = scale_sd(20), back_sd = scale_sd(52);
  const auto residuals = [&](const Parameters& p, std::vector<double>& r, bool measures_only) {
    r.clear();
    const Rolled rolled = w.Roll(p, {});
    const auto add = [&](const std::optional<ValueAndSd>& m, double value, double least_sd) {
      if (!m) return;
      // A place the physics does not have (no roll before the pins) counts as far off but flat.
      r.push_back(std::isfinite(value) ? (value - m->value) / std::hypot(m->sd, least_sd) : 3.0);
    };
    add(arrows, rolled.arrows, 0.05);
    add(at_15, rolled.at_15, 0.05);
    add(at_40, rolled.at_40, 0.05);
    add(entry, rolled.entry, 0.05);
    add(angle, rolled.angle, 0.03);
    add(launch, rolled.launch, 0.02);
    add(speed, lane::MphFromMetresPerSecond(p[kSpeed]), 0.03);
    add(speed_arrows, rolled.speed_arrows, 0.03);
    add(speed_entry, rolled.speed_entry, 0.05);
    add(roll, rolled.roll_y, 0.3);
    add(breakpoint, rolled.bp_board, 0.05);
    const double spin = std::exp(p[kLogSpin]) * kRadius;
    add(slip, lane::DegreesFromRadians(std::atan2(spin * std::sin(p[kTurn]), p[kSpeed] - spin * std::cos(p[kTurn]))),
        0.3);
    add(revs, std::exp(p[kLogSpin]) / rpm, 2);
    add(turn, lane::DegreesFromRadians(p[kTurn]), 0.5);
    if (measures_only) return;
    r.push_back((p[kX] - start[kX]) / (laydown ? 0.05 : 0.3));
    if (!revs) r.push_back((std::exp(p[kLogSpin]) / rpm - options.revs_rpm) / options.revs_sd_rpm);
    if (!turn) r.push_back((lane::DegreesFromRadians(p[kTurn]) - options.turn_deg) / options.turn_sd_deg);
    r.push_back(p[kFront] / front_sd);
    r.push_back(p[kBack] / back_sd);
    r.push_back(p[kShift] / 0.5);
  };
  Parameters step;
  step << 1e-4, 1e-5, 1e-3, 1e-4, 1e-4, 1e-4, 1e-4, 1e-3;
  Parameters p = start;
  std::vector<double> r, up, down;
  residuals(p, r, false);
  const auto n = static_cast<Eigen::Index>(r.size());
  const auto cost_of = [](const std::vector<double>& v) {
    double sum = 0;
    for (const double x : v) sum += x * x;
    return sum;
  };
  double cost = cost_of(r), damping = 1e-3;
  Eigen::MatrixXd information;
  const auto jacobian = [&](const Parameters& at) {
    Eigen::MatrixXd j(n, kParameters);
    for (Eigen::Index i = 0; i < kParameters; ++i) {
      Parameters q = at;
      q[i] += step[i];
      residuals(q, up, false);
      q[i] = at[i] - step[i];
      residuals(q, down, false);
      for (Eigen::Index k = 0; k < n; ++k)
        j(k, i) = (up[static_cast<std::size_t>(k)] - down[static_cast<std::size_t>(k)]) / (2 * step[i]);
    }
    return j;
  };
  for (int round = 0; round < 25; ++round) {
    const Eigen::MatrixXd j = jacobian(p);
    information = j.transpose() * j;
    const Eigen::VectorXd gradient = j.transpose() * Eigen::Map<const Eigen::VectorXd>(r.data(), n);
    bool better = false;
    for (int attempt = 0; attempt < 6 && !better; ++attempt) {
      Eigen::MatrixXd damped = information;
      damped.diagonal() *= 1 + damping;
      const Parameters next = p - Parameters(damped.ldlt().solve(gradient));
      std::vector<double> at_next;
      residuals(next, at_next, false);
      const double new_cost = cost_of(at_next);
      if (new_cost < cost) {
        better = cost - new_cost > 1e-6 * cost;
        p = next;
        r = at_next;
        cost = new_cost;
        damping = std::max(damping / 5, 1e-9);
        break;
      }
      damping *= 8;
    }
    if (!better) break;
  }
  const Eigen::MatrixXd j = jacobian(p);
  information = j.transpose() * j;
  w.fit_ = p;
  residuals(p, r, true);
  w.misfit_ = std::sqrt(cost_of(r) / static_cast<double>(r.size()));
  const Eigen::VectorXd scale = information.diagonal().cwiseMax(1e-30).cwiseSqrt().cwiseInverse();
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(scale.asDiagonal() * information * scale.asDiagonal());
  // A fit that misses more than its doubt allows is doubted by as much.
  const double more = std::max(1.0, w.misfit_);
  w.root_ = more * scale.asDiagonal() * eigen.eigenvectors() *
            eigen.eigenvalues().cwiseMax(1e-9).cwiseSqrt().cwiseInverse().asDiagonal();
  return w;
}

Eigen::Vector2d WhatIf::NewLineSd(const Rolled& before, const Rolled& after) const {
  Eigen::Vector2d out(0, 0);
  const double ends[] = {laydown_y_, step_y_, lane::kEntryY};
  for (int part = 0; part < 2; ++part) {
    // Means over places of either line; their difference and its variance by the map.
    constexpr int kPlaces = 5;
    std::vector<Eigen::Vector2d> places;
    for (const Rolled* r : {&before, &after})
      for (int i = 0; i < kPlaces; ++i) {
        const auto s = r->motion.AtY(ends[part] + (ends[part + 1] - ends[part]) * (i + 0.5) / kPlaces);
        if (s) places.push_back(s->p);
      }
    if (places.size() != 2 * kPlaces) continue;
    Eigen::MatrixXd covariance;
    map_->LogAt(places, &covariance);
    Eigen::VectorXd weights = Eigen::VectorXd::Constant(2 * kPlaces, 1.0 / kPlaces);
    weights.head(kPlaces) *= -1;
    // One line is no new one: what rounding leaves of the difference is none.
    const double variance = weights.dot(covariance * weights);
    if (variance > 1e-12 * covariance.diagonal().maxCoeff()) out[part] = std::sqrt(variance);
  }
  return out;
}

double WhatIf::EntryBoard(const Change& change) const {
  const Rolled r = Roll(fit_, change);
  return r.gutter ? NAN : r.entry;
}

WhatIfAnswer WhatIf::Ask(const Change& change, int draws) const {
  WhatIfAnswer answer;
  answer.misfit = misfit_;
  const Rolled mean_before = Roll(fit_, {}), mean_after = Roll(fit_, change);
  const Eigen::Vector2d new_line = NewLineSd(mean_before, mean_after);
  std::mt19937 random(20240229);
  std::normal_distribution<double> normal;
  std::vector<Rolled> before, after;
  for (int i = 0; i < draws; ++i) {
    Parameters z;
    for (Eigen::Index k = 0; k < kParameters; ++k) z[k] = normal(random);
    const Parameters p = fit_ + root_ * z;
    before.push_back(Roll(p, {}));
    Parameters q = p;
    q[kFront] += new_line[0] * normal(random);
    q[kBack] += new_line[1] * normal(random);
    after.push_back(Roll(q, change));
  }
  const auto tell = [](const std::vector<Rolled>& rolls, const Rolled& mean, double Rolled::*what) {
    ValueAndSd out{mean.*what, 0};
    double sum = 0, n = 0;
    for (const Rolled& r : rolls) {
      if (!std::isfinite(r.*what) || !std::isfinite(out.value)) continue;
      sum += (r.*what - out.value) * (r.*what - out.value);
      n += 1;
    }
    out.sd = n > 0 ? std::sqrt(sum / n) : NAN;
    return out;
  };
  const auto outcome = [&](const std::vector<Rolled>& rolls, const Rolled& mean) {
    Outcome o;
    o.board_at_arrows = tell(rolls, mean, &Rolled::arrows);
    o.board_at_40ft = tell(rolls, mean, &Rolled::at_40);
    o.breakpoint_board = tell(rolls, mean, &Rolled::bp_board);
    o.breakpoint_y = tell(rolls, mean, &Rolled::bp_y);
    o.has_breakpoint = std::isfinite(mean.bp_board);
    o.entry_board = tell(rolls, mean, &Rolled::entry);
    o.entry_angle = tell(rolls, mean, &Rolled::angle);
    o.entry_speed = tell(rolls, mean, &Rolled::speed_entry);
    o.roll_y = tell(rolls, mean, &Rolled::roll_y);
    for (const Rolled& r : rolls) o.gutter += r.gutter ? 1.0 / static_cast<double>(rolls.size()) : 0.0;
    for (double y = laydown_y_; y < kEndY; y += 0.25)
      if (const auto s = mean.motion.AtY(y)) o.path.push_back(s->p);
    return o;
  };
  answer.before = outcome(before, mean_before);
  answer.after = outcome(after, mean_after);
  const auto difference = [&](double Rolled::*what) {
    ValueAndSd out{mean_after.*what - mean_before.*what, 0};
    double sum = 0, n = 0;
    for (std::size_t i = 0; i < before.size(); ++i) {
      const double d = after[i].*what - before[i].*what - out.value;
      if (std::isfinite(d)) sum += d * d, n += 1;
    }
    out.sd = n > 0 ? std::sqrt(sum / n) : NAN;
    return out;
  };
  answer.entry_board_change = difference(&Rolled::entry);
  answer.entry_angle_change = difference(&Rolled::angle);
  return answer;
}

}  // namespace hookline::motion
