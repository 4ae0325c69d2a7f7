#include "motion/path_mixture.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cassert>
#include <cmath>
#include <memory>
#include <random>
#include <vector>

#include "lane/friction_rise.h"
#include "lane/units.h"
#include "motion/two_friction.h"

namespace hookline::motion {
namespace {

constexpr double kNodeSpacing =
    0.025;  // s; the Hermite error at the step of friction where the roll begins stays below 0.1 mm
constexpr Eigen::Index kPerNode = 7;  // x, y, vx, vy, height, vz, log of the friction coefficient

// Rows after the nodes: the free flight's velocity, the downward speed at laydown, the laydown's time and the roll's;
// the friction's step, zero where it has none.
enum SingleRow : Eigen::Index {
  kFlightVx,
  kFlightVy,
  kDown,
  kTime,
  kRollTime,
  kLogFrontFriction,
  kLogBackFriction,
  kHalfWayY,
  kStepY,
  kLogStepWidth,
  kSingleRows
};

// Mean and principal deviations at the nodes, then of the landing. Columns of `deviation` belong to the path's
// parameters. Velocities step at the landing, and its time moves with the parameters: the nodes hold the motion after
// it, continued backwards, and the flight before it is put together from the landing's own rows.
struct NodeTable {
  double from_s = 0, spacing_s = 0;
  Eigen::Index nodes = 0;
  Eigen::VectorXd mean;
  Eigen::MatrixXd deviation;

  double At(const Eigen::VectorXd& p, SingleRow what) const {
    const Eigen::Index row = nodes * kPerNode + what;
    return mean[row] + deviation.row(row).dot(p);
  }

  PathState At(const Eigen::VectorXd& p, double time_s) const {
    const double before = At(p, kTime) - time_s;
    if (!(before > 0)) return OnLane(p, time_s);
    PathState s = OnLane(p, time_s + before);
    const double down = At(p, kDown);
    s.time_s = time_s;
    s.vx = At(p, kFlightVx);
    s.vy = At(p, kFlightVy);
    s.x -= s.vx * before;
    s.y -= s.vy * before;
    s.height = std::max(0.0, down * before - lane::kStandardGravity * before * before / 2);
    s.vz = lane::kStandardGravity * before - down;
    return s;
  }

  PathState OnLane(const Eigen::VectorXd& p, double time_s) const {
    const double f = (time_s - from_s) / spacing_s;
    const auto cell = std::clamp<Eigen::Index>(static_cast<Eigen::Index>(std::floor(f)), 0, nodes - 2);
    const Eigen::Matrix<double, 2 * kPerNode, 1> v =
        mean.segment<2 * kPerNode>(cell * kPerNode) + deviation.middleRows<2 * kPerNode>(cell * kPerNode) * p;
    PathState s;
    s.time_s = time_s;
    const double t = f - static_cast<double>(cell), h = spacing_s;
    if (t < 0 || t > 1) {
      const Eigen::Index o = t < 0 ? 0 : kPerNode;
      const double beyond = (t < 0 ? t : t - 1) * h;
      s.x = v[o] + v[o + 2] * beyond;
      s.y = v[o + 1] + v[o + 3] * beyond;
      s.vx = v[o + 2];
      s.vy = v[o + 3];
      s.height = 0;
      s.friction = std::exp(v[o + 6]);
      return s;
    }
    const double t2 = t * t, t3 = t2 * t;
    const double a = 2 * t3 - 3 * t2 + 1, b = (t3 - 2 * t2 + t) * h, c = 1 - a, d = (t3 - t2) * h;
    constexpr Eigen::Index n = kPerNode;
    const double da = (6 * t2 - 6 * t) / h, db = 3 * t2 - 4 * t + 1, dd = 3 * t2 - 2 * t;
    s.x = a * v[0] + b * v[2] + c * v[n] + d * v[n + 2];
    s.y = a * v[1] + b * v[3] + c * v[n + 1] + d * v[n + 3];
    s.vx = da * (v[0] - v[n]) + db * v[2] + dd * v[n + 2];
    s.vy = da * (v[1] - v[n + 1]) + db * v[3] + dd * v[n + 3];
    s.height = std::max(0.0, (1 - t) * v[4] + t * v[n + 4]);
    s.vz = (1 - t) * v[5] + t * v[n + 5];
    s.friction = std::exp((1 - t) * v[6] + t * v[n + 6]);
    return s;
  }
};

// What a ball meets of a shape of friction. `nodes`: the values of the curve's nodes, as NodeValues lays them out.
lane::FrictionRise RiseOf(const FrictionShape& shape, const NodeTable& table, const Eigen::VectorXd& nodes) {
  // The blend at the oil's side edge is there for the fit's sake: the place is the edge's own.
  constexpr double kInside = 0, kOutsideOil = 10;  // m from the lane's middle
  const auto outside_at = [&](Eigen::Index i) { return std::abs(nodes[i * kPerNode]) - shape[kOutsideX]; };
  std::vector<lane::FrictionMet> way;
  const auto add = [&](double y, bool outside) {
    way.push_back({y, FrictionAt(shape, outside ? kOutsideOil : kInside, y)});
  };
  for (Eigen::Index i = 0; i < table.nodes; ++i) {
    const double here = nodes[i * kPerNode + 1];
    if (i > 0 && (outside_at(i) > 0) != (outside_at(i - 1) > 0)) {
      const double before = way.back().y,
                   edge = before + (here - before) * outside_at(i - 1) / (outside_at(i - 1) - outside_at(i));
      add(edge, outside_at(i - 1) > 0);
      add(edge, outside_at(i) > 0);
    }
    add(here, outside_at(i) > 0);
  }
  return lane::RiseOn(way);
}

Eigen::VectorXd NodeValues(const SkidGrid& grid, const NodeTable& table, const Eigen::VectorXd& p) {
  Eigen::VectorXd v(table.nodes * kPerNode + kSingleRows);
  const SkidCurve curve(grid, p.head(grid.size()));
  const double landing = p[kLaydown];
  const SkidState first = curve.At(landing + 1e-9);
  for (Eigen::Index i = 0; i < table.nodes; ++i) {
    const double s = table.from_s + static_cast<double>(i) * table.spacing_s - grid.origin_s, before = landing - s;
    if (before > 0) {
      v.segment<kPerNode>(i * kPerNode) << first.x - first.vx * before, first.y - first.vy * before, first.vx, first.vy,
          -first.vz * before - lane::kStandardGravity * before * before / 2, first.vz + lane::kStandardGravity * before,
          std::log(first.friction);
      continue;
    }
    const SkidState at = curve.At(s);
    v.segment<kPerNode>(i * kPerNode) << at.x, at.y, at.vx, at.vy, at.height, at.vz, std::log(at.friction);
  }
  auto single = v.tail<kSingleRows>();
  single.setZero();
  single[kFlightVx] = p[kVx0];
  single[kFlightVy] = p[kVy0];
  single[kDown] = p[kImpact];
  single[kTime] = grid.origin_s + landing;
  single[kRollTime] = grid.origin_s + std::max(p[kRoll], landing);
  if (p.size() > grid.size()) {
    const FrictionShape shape = p.tail<kTwoFriction>();
    const lane::FrictionRise rise = RiseOf(shape, table, v);
    single[kLogFrontFriction] = std::log(rise.front);
    single[kLogBackFriction] = std::log(rise.back);
    single[kHalfWayY] = rise.half_way_y.value_or(shape[kChangeY]);
    single[kStepY] = shape[kChangeY];
    single[kLogStepWidth] = shape[kLogWidth];
  }
  return v;
}

Eigen::MatrixXd NodeJacobian(const SkidGrid& grid, const NodeTable& table, const Eigen::VectorXd& p,
                             const Eigen::MatrixXd& covariance) {
  Eigen::MatrixXd j(table.nodes * kPerNode + kSingleRows, p.size());
  Eigen::VectorXd q = p;
  for (Eigen::Index i = 0; i < p.size(); ++i) {
    const double step = 0.05 * std::sqrt(std::max(covariance(i, i), 1e-16));
    q[i] = p[i] + step;
    const Eigen::VectorXd up = NodeValues(grid, table, q);
    q[i] = p[i] - step;
    j.col(i) = (up - NodeValues(grid, table, q)) / (2 * step);
    q[i] = p[i];
  }
  return j;
}

NodeTable LayOut(double from_s, double to_s) {
  NodeTable table;
  table.from_s = from_s;
  table.nodes = static_cast<Eigen::Index>(std::ceil((to_s - from_s) / kNodeSpacing)) + 1;
  table.spacing_s = (to_s - from_s) / static_cast<double>(table.nodes - 1);
  return table;
}

Eigen::MatrixXd RootOf(const Eigen::MatrixXd& covariance) {
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(covariance);
  return eigen.eigenvectors() * eigen.eigenvalues().cwiseMax(0).cwiseSqrt().asDiagonal();
}

// How much more than `linear_sd` the place half way is doubted, as a sd, m. It jumps from the oil's side edge to its
// end when the values in front, outside and down the lane change little, which no derivative tells: asked of shapes
// drawn about the component's own.
double MoreHalfWaySd(const PathComponent& c, const NodeTable& table, const Eigen::VectorXd& nodes, double linear_sd) {
  constexpr int kDraws = 64;
  const FrictionShape mean = c.parameters.tail<kTwoFriction>();
  const Eigen::Matrix<double, kTwoFriction, kTwoFriction> covariance =
      c.covariance.bottomRightCorner<kTwoFriction, kTwoFriction>();
  const Eigen::MatrixXd root = RootOf(covariance);
  const double at_mean = nodes[table.nodes * kPerNode + kHalfWayY];
  std::mt19937 random(1);
  std::normal_distribution<double> normal;
  double squares = 0;
  for (int i = 0; i < kDraws; ++i) {
    FrictionShape z;
    for (double& v : z) v = normal(random);
    const FrictionShape drawn = mean + root * z;
    const double off = RiseOf(drawn, table, nodes).half_way_y.value_or(drawn[kChangeY]) - at_mean;
    squares += off * off / kDraws;
  }
  return std::sqrt(std::max(squares - linear_sd * linear_sd, 0.0));
}

constexpr double kNegligible = 1e-4;  // weight of a component that does not count

}  // namespace

double PathComponent::roll_sd() const { return std::sqrt(std::max(covariance(kRoll, kRoll), 1e-12)); }

PathMixer::PathMixer(const SkidGrid& grid, std::vector<PathComponent> components, Eigen::MatrixXd considered,
                     Eigen::Index width, double from_s, double to_s)
    : grid_(grid),
      components_(std::move(components)),
      considered_(std::move(considered)),
      width_(width),
      from_s_(from_s),
      to_s_(to_s) {
  assert(!components_.empty() && to_s > from_s);
  const NodeTable table = LayOut(from_s, to_s);
  double most = components_.front().log_weight, total = 0;
  for (const PathComponent& c : components_) most = std::max(most, c.log_weight);
  for (const PathComponent& c : components_) total += std::exp(c.log_weight - most);
  for (const PathComponent& c : components_) {
    assert((c.parameters.size() == grid.size() || c.parameters.size() == grid.size() + kTwoFriction) &&
           c.covariance.rows() == c.parameters.size() && c.by_considered.rows() == c.parameters.size());
    weights_.push_back(std::exp(c.log_weight - most) / total);
    values_.push_back(NodeValues(grid, table, c.parameters));
    roots_.emplace_back();
    more_half_way_sd_.push_back(0);
    considered_effects_.emplace_back();
    if (weights_.back() <= kNegligible) continue;
    const Eigen::MatrixXd j = NodeJacobian(grid, table, c.parameters, c.covariance);
    roots_.back() = j * RootOf(c.covariance);
    considered_effects_.back() = j * c.by_considered;
    if (c.parameters.size() > grid.size())
      more_half_way_sd_.back() =
          MoreHalfWaySd(c, table, values_.back(), roots_.back().row(table.nodes * kPerNode + kHalfWayY).norm());
  }
}

std::vector<bool> PathMixer::Counting(const std::vector<bool>& taken) const {
  std::vector<bool> count(taken.size());
  for (std::size_t i = 0; i < taken.size(); ++i) count[i] = taken[i] && roots_[i].size() > 0;
  return count;
}

void PathMixer::Mix(const std::vector<bool>& taken, double more_laydown_sd_s, Path& path) const {
  auto table = std::make_shared<NodeTable>(LayOut(from_s_, to_s_));
  const Eigen::Index rows = table->nodes * kPerNode + kSingleRows;
  // Those that count: by their share among the taken ones, however small all of them are together.
  double total = 0;
  for (std::size_t i = 0; i < components_.size(); ++i) total += taken[i] && roots_[i].size() > 0 ? weights_[i] : 0;
  assert(total > 0);
  table->mean = Eigen::VectorXd::Zero(rows);
  Eigen::Index columns = 2 + considered_.rows();
  bool stepped = true;
  for (std::size_t i = 0; i < components_.size(); ++i) {
    if (!taken[i] || roots_[i].size() == 0) continue;
    table->mean += weights_[i] / total * values_[i];
    columns += roots_[i].cols() + 1;
    stepped = stepped && components_[i].parameters.size() > grid_.size();
  }

  // Square root of the mixture's covariance, column by column: sights and priors, what is considered, the components'
  // distances. What is considered acts on all components alike, so its mean effect is taken.
  Eigen::MatrixXd root = Eigen::MatrixXd::Zero(rows, columns);
  Eigen::MatrixXd by_considered = Eigen::MatrixXd::Zero(rows, considered_.rows());
  double half_way_variance = 0;
  Eigen::Index column = 0;
  for (std::size_t i = 0; i < components_.size(); ++i) {
    if (!taken[i] || roots_[i].size() == 0) continue;
    const double weight = weights_[i] / total;
    root.middleCols(column, roots_[i].cols()) = std::sqrt(weight) * roots_[i];
    column += roots_[i].cols();
    root.col(column++) = std::sqrt(weight) * (values_[i] - table->mean);
    by_considered += weight * considered_effects_[i];
    half_way_variance += weight * more_half_way_sd_[i] * more_half_way_sd_[i];
  }
  root(table->nodes * kPerNode + kTime, column++) = more_laydown_sd_s;
  root(table->nodes * kPerNode + kHalfWayY, column) = std::sqrt(half_way_variance);
  root.rightCols(considered_.cols()) = by_considered * RootOf(considered_);

  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> gram(root.transpose() * root);
  const double largest = std::max(gram.eigenvalues().maxCoeff(), 1e-30);
  Eigen::Index kept = 0;
  for (Eigen::Index i = 0; i < columns; ++i) kept += gram.eigenvalues()[i] > 1e-9 * largest ? 1 : 0;
  const Eigen::VectorXd spread = gram.eigenvalues().tail(kept);
  // Columns of U have unit length, so the covariance of the coordinates is diagonal.
  const Eigen::MatrixXd u = root * gram.eigenvectors().rightCols(kept) * spread.cwiseSqrt().cwiseInverse().asDiagonal();
  table->deviation = u;
  path.parameters = Eigen::VectorXd::Zero(kept);
  path.covariance = spread.asDiagonal();
  path.covariance_with_width = u.transpose() * (by_considered * considered_.col(width_));
  path.width_variance = considered_(width_, width_);
  path.evaluate = [table](const Eigen::VectorXd& p, double t) { return table->At(p, t); };
  path.laydown_time = path.landing_time = [table](const Eigen::VectorXd& p) { return table->At(p, kTime); };
  path.roll_time = [table](const Eigen::VectorXd& p) { return table->At(p, kRollTime); };
  path.friction_step = nullptr;
  if (!stepped) return;
  path.friction_step = [table](const Eigen::VectorXd& p) {
    return FrictionStep{std::exp(table->At(p, kLogFrontFriction)), std::exp(table->At(p, kLogBackFriction)),
                        table->At(p, kHalfWayY), table->At(p, kStepY), std::exp(table->At(p, kLogStepWidth))};
  };
}

}  // namespace hookline::motion
