#include "motion/friction_map.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <memory>
#include <string>

#include "lane/lane_spec.h"
#include "motion/path_fit.h"
#include "motion/skid_curve.h"

namespace hookline::motion {
namespace {

using Eigen::Vector2d;
using lane::MetresFromFeet;

const double kBoard = lane::BoardWidth(lane::kNominalWidth);

double ShapeLog(const FrictionShape& shape, const Vector2d& p) {
  return std::log((kLeastFriction + std::exp(TwoFrictionLog(shape, p.x(), p.y(), nullptr))) / lane::kStandardGravity);
}

// x where a path is at y, straight between its points; nullopt beyond its ends.
std::optional<double> XAt(const std::vector<Vector2d>& path, double y) {
  for (std::size_t i = 1; i < path.size(); ++i) {
    const Vector2d &a = path[i - 1], &b = path[i];
    if (a.y() > y || b.y() < y || !(b.y() > a.y())) continue;
    return a.x() + (b.x() - a.x()) * (y - a.y()) / (b.y() - a.y());
  }
  return std::nullopt;
}

double BallsAt(const std::vector<std::vector<Vector2d>>& paths, std::size_t before, const Vector2d& place) {
  double n = 0;
  for (std::size_t i = 0; i < before; ++i) {
    const auto x = XAt(paths[i], place.y());
    if (x && std::abs(*x - place.x()) < 2 * kBoard) n += 1;
  }
  return n;
}

}  // namespace

Status FrictionMapOptions::Check() const {
  const auto bad = [](const char* field, double value) {
    return Status(StatusCode::kBadUse,
                  std::string("Friction map: ") + field + " is " + std::to_string(value) + " but must be above 0.");
  };
  if (!(own_sd > 0)) return bad("own_sd", own_sd);
  if (!(own_boards > 0)) return bad("own_boards", own_boards);
  if (!(own_ft > 0)) return bad("own_ft", own_ft);
  if (!(between_sd > 0)) return bad("between_sd", between_sd);
  if (!(a_ball_sd > 0)) return bad("a_ball_sd", a_ball_sd);
  if (least_shots < 1) return bad("least_shots", least_shots);
  return Status::Ok();
}

double FrictionMap::Kernel(const Vector2d& a, const Vector2d& b) const {
  const double dx = (a.x() - b.x()) / (options_.own_boards * kBoard);
  const double dy = (a.y() - b.y()) / MetresFromFeet(options_.own_ft);
  return options_.own_sd * options_.own_sd * std::exp(-0.5 * (dx * dx + dy * dy));
}

Eigen::VectorXd FrictionMap::Prior(const Vector2d& place) const {
  // By differences: the least friction stands outside the shape's logarithm.
  Eigen::VectorXd by(kTwoFriction + 1);
  const FrictionShape shape = theta_.head<kTwoFriction>();
  for (Eigen::Index i = 0; i < kTwoFriction; ++i) {
    FrictionShape up = shape, down = shape;
    constexpr double kStep = 1e-4;
    up[i] += kStep;
    down[i] -= kStep;
    by[i] = (ShapeLog(up, place) - ShapeLog(down, place)) / (2 * kStep);
  }
  by[kTwoFriction] = 0;
  return by;
}

Eigen::VectorXd FrictionMap::WithStretches(const Vector2d& place) const {
  Eigen::VectorXd k(static_cast<Eigen::Index>(stretches_.size()));
  for (std::size_t i = 0; i < stretches_.size(); ++i) {
    double sum = 0;
    for (const Vector2d& p : stretches_[i].places) sum += Kernel(place, p);
    k[static_cast<Eigen::Index>(i)] = sum / std::max(static_cast<double>(stretches_[i].places.size()), 1.0);
  }
  return k;
}

double FrictionMap::Balls(double x, double y) const { return BallsAt(paths_, paths_.size(), {x, y}); }

double FrictionMap::per_ball_sd() const {
  const Eigen::VectorXd with = stretch_by_theta_ * theta_prior_.col(kTwoFriction);
  return std::sqrt(std::max(theta_prior_(kTwoFriction, kTwoFriction) - with.dot(gain_ * with), 0.0));
}

Eigen::VectorXd FrictionMap::LogAt(const std::vector<Vector2d>& places, Eigen::MatrixXd* covariance) const {
  const auto n = static_cast<Eigen::Index>(places.size()), m = static_cast<Eigen::Index>(stretches_.size());
  Eigen::MatrixXd by_theta(n, kTwoFriction + 1), with(n, m);
  Eigen::VectorXd value(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const Vector2d& p = places[static_cast<std::size_t>(i)];
    Eigen::VectorXd by = Prior(p);
    by[kTwoFriction] = Balls(p.x(), p.y());
    by_theta.row(i) = by.transpose();
    const Eigen::VectorXd own = WithStretches(p);
    // theta_ is the fit already: only the lane's own part still follows from what the shape leaves.
    value[i] = ShapeLog(shape(), p) + theta_[kTwoFriction] * by[kTwoFriction] + own.dot(own_weights_);
    with.row(i) = (by_theta.row(i) * theta_prior_ * stretch_by_theta_.transpose()) + own.transpose();
  }
  if (covariance) {
    Eigen::MatrixXd prior = by_theta * theta_prior_ * by_theta.transpose();
    for (Eigen::Index i = 0; i < n; ++i)
      for (Eigen::Index j = 0; j < n; ++j)
        prior(i, j) += Kernel(places[static_cast<std::size_t>(i)], places[static_cast<std::size_t>(j)]);
    *covariance = prior - with * gain_ * with.transpose();
  }
  return value;
}

FrictionCell FrictionMap::At(double x, double y) const {
  Eigen::MatrixXd covariance;
  const double log_value = LogAt({{x, y}}, &covariance)[0];
  // On the step itself the doubt of its place is no more than that it is one of its two values or between.
  const double rise = std::log(BackFriction(shape()) / FrontFriction(shape()));
  const double most = std::hypot(rise / std::sqrt(12.0), 2 * options_.own_sd);
  const double value = std::exp(log_value);
  return {value, value * std::min(std::sqrt(std::max(covariance(0, 0), 0.0)), most)};
}

FrictionField FrictionMap::Field() const {
  constexpr int kAcross = 41, kAlong = 63;
  auto grid = std::make_shared<std::vector<double>>(kAcross * kAlong);
  const double x0 = -20 * kBoard, foot = MetresFromFeet(1);
  // As LogAt() has it at each place of the grid. The kernel is a product of one across and one along, so each place of
  // a stretch takes an exponential for every board and every foot, not for every pair of them.
  Eigen::MatrixXd own = Eigen::MatrixXd::Zero(kAcross, kAlong);
  const double across = options_.own_boards * kBoard, along = MetresFromFeet(options_.own_ft);
  for (std::size_t k = 0; k < stretches_.size(); ++k) {
    const Stretch& stretch = stretches_[k];
    if (stretch.places.empty()) continue;
    const double weight = options_.own_sd * options_.own_sd * own_weights_[static_cast<Eigen::Index>(k)] /
                          static_cast<double>(stretch.places.size());
    for (const Vector2d& p : stretch.places) {
      const Eigen::ArrayXd x = (x0 + kBoard * Eigen::ArrayXd::LinSpaced(kAcross, 0, kAcross - 1) - p.x()) / across;
      const Eigen::ArrayXd y = (foot * Eigen::ArrayXd::LinSpaced(kAlong, 0, kAlong - 1) - p.y()) / along;
      own += weight * (-0.5 * x.square()).exp().matrix() * (-0.5 * y.square()).exp().matrix().transpose();
    }
  }
  for (int j = 0; j < kAlong; ++j) {
    std::vector<double> balls;
    for (const auto& path : paths_)
      if (const auto x = XAt(path, j * foot)) balls.push_back(*x);
    for (int i = 0; i < kAcross; ++i) {
      const Vector2d p(x0 + i * kBoard, j * foot);
      double n = 0;
      for (const double x : balls) n += std::abs(x - p.x()) < 2 * kBoard ? 1 : 0;
      (*grid)[static_cast<std::size_t>(i * kAlong + j)] =
          std::exp(ShapeLog(shape(), p) + theta_[kTwoFriction] * n + own(i, j));
    }
  }
  FrictionField field;
  field.at = [grid, x0, foot](double x, double y) {
    const double u = std::clamp((x - x0) / kBoard, 0.0, kAcross - 1.001), v = std::clamp(y / foot, 0.0, kAlong - 1.001);
    const int i = static_cast<int>(u), j = static_cast<int>(v);
    const double a = u - i, b = v - j;
    const auto at = [&](int p, int q) { return (*grid)[static_cast<std::size_t>(p * kAlong + q)]; };
    return (1 - a) * ((1 - b) * at(i, j) + b * at(i, j + 1)) + a * ((1 - b) * at(i + 1, j) + b * at(i + 1, j + 1));
  };
  return field;
}

Result<FrictionMap> MapFriction(const std::vector<Shot>& shots, const FrictionMapOptions& options) {
  if (Status bad = options.Check(); !bad.ok()) return bad;
  FrictionMap map;
  map.options_ = options;
  for (const Shot& shot : shots) {
    std::vector<Vector2d> path;
    for (const PathPoint& p : shot.path) path.emplace_back(p.x, p.y);
    const std::size_t before = map.paths_.size();
    bool told = false;
    for (const FrictionZone& zone : shot.friction) {
      FrictionMap::Stretch stretch;
      constexpr int kPlaces = 6;
      for (int i = 0; i < kPlaces; ++i) {
        const double y = MetresFromFeet(zone.from_ft + (zone.to_ft - zone.from_ft) * (i + 0.5) / kPlaces);
        const auto x = XAt(path, y);
        if (!x) continue;
        stretch.places.emplace_back(*x, y);
        stretch.balls += BallsAt(map.paths_, before, {*x, y});
      }
      if (stretch.places.empty()) continue;
      stretch.balls /= static_cast<double>(stretch.places.size());
      stretch.log_value = std::log(zone.value);
      stretch.variance = std::pow(zone.sd / zone.value, 2) + options.between_sd * options.between_sd;
      map.stretches_.push_back(std::move(stretch));
      told = true;
    }
    // Where friction changes is told by itself.
    if (const Measure& skid = shot.measures[MeasureId::kSkidEndFt]; skid.value) {
      FrictionMap::Stretch place;
      place.log_value = MetresFromFeet(*skid.value);
      place.variance = std::pow(MetresFromFeet(skid.sd), 2) + std::pow(MetresFromFeet(options.between_ft), 2);
      map.stretches_.push_back(std::move(place));
    }
    map.paths_.push_back(std::move(path));
    map.shots_ += told ? 1 : 0;
  }
  if (map.stretches_.empty())
    return Status(StatusCode::kNotDetermined, "None of these shots tells the lane's friction along its path.");

  const PathFitOptions prior;
  FrictionMap::Theta mean;
  mean << LogExcess(prior.friction_start), LogExcess(prior.friction_back), MetresFromFeet(prior.change_ft),
      std::log(MetresFromFeet(prior.change_width_ft)), prior.outside_log,
      lane::kNominalWidth / 2 - prior.outside_boards * kBoard, 0;
  FrictionMap::Theta sd;
  sd << prior.front_log_sd, prior.back_log_sd, MetresFromFeet(prior.change_sd_ft), prior.change_width_log_sd,
      prior.outside_log_sd, prior.outside_sd_boards * kBoard, options.a_ball_sd;
  map.theta_ = mean;
  map.theta_prior_ = sd.cwiseAbs2().asDiagonal();
  const auto n = static_cast<Eigen::Index>(map.stretches_.size());
  Eigen::MatrixXd own(n, n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto& a = map.stretches_[static_cast<std::size_t>(i)];
    Eigen::VectorXd k = Eigen::VectorXd::Zero(n);
    for (const Vector2d& p : a.places) k += map.WithStretches(p);
    own.row(i) = k.transpose() / std::max(static_cast<double>(a.places.size()), 1.0);
    own(i, i) += a.variance;
  }
  // What the shape makes of each reading, and its derivatives.
  const auto look = [&] {
    map.stretch_by_theta_.resize(n, kTwoFriction + 1);
    map.residual_.resize(n);
    for (Eigen::Index i = 0; i < n; ++i) {
      const auto& s = map.stretches_[static_cast<std::size_t>(i)];
      Eigen::VectorXd by = Eigen::VectorXd::Zero(kTwoFriction + 1);
      double value = 0;
      if (s.places.empty()) {
        by[kChangeY] = 1;
        value = map.theta_[kChangeY];
      } else {
        for (const Vector2d& p : s.places) {
          by += map.Prior(p) / static_cast<double>(s.places.size());
          value += ShapeLog(map.shape(), p) / static_cast<double>(s.places.size());
        }
        by[kTwoFriction] = s.balls;
        value += map.theta_[kTwoFriction] * s.balls;
      }
      map.stretch_by_theta_.row(i) = by.transpose();
      map.residual_[i] = s.log_value - value;
    }
  };
  for (int round = 0; round < 8; ++round) {
    look();
    const Eigen::MatrixXd& j = map.stretch_by_theta_;
    map.gain_ = (j * map.theta_prior_ * j.transpose() + own).inverse();
    // The prior's mean in place of the present point, as seen through the present derivatives.
    const FrictionMap::Theta next =
        mean + map.theta_prior_ * j.transpose() * map.gain_ * (map.residual_ + j * (map.theta_ - mean));
    const FrictionMap::Theta step = (next - map.theta_).cwiseMax(-2 * sd).cwiseMin(2 * sd);
    map.theta_ += step;
    if ((step.array().abs() < 1e-6 * sd.array()).all()) break;
  }
  look();
  map.own_weights_ = own.ldlt().solve(map.residual_);
  return map;
}

}  // namespace hookline::motion
