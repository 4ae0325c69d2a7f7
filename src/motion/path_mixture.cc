#include "motion/path_mixture.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cassert>
#include <cmath>
#include <memory>

#include "lane/units.h"

namespace hookline::motion {
namespace {

constexpr double kNodeSpacing =
    0.025;  // s; the Hermite error at the step of friction where the roll begins stays below 0.1 mm
constexpr Eigen::Index kPerNode = 6;  // x, y, vx, vy, height, vz

// Rows after the nodes: the free flight's velocity, the downward speed at laydown, the laydown's time.
enum Landing : Eigen::Index { kFlightVx, kFlightVy, kDown, kTime, kLandingRows };

// Mean and principal deviations at the nodes, then of the landing. Columns of `deviation` belong to the path's
// parameters. Velocities step at the landing, and its time moves with the parameters: the nodes hold the motion after
// it, continued backwards, and the flight before it is put together from the landing's own rows.
struct NodeTable {
  double from_s = 0, spacing_s = 0;
  Eigen::Index nodes = 0;
  Eigen::VectorXd mean;
  Eigen::MatrixXd deviation;

  double At(const Eigen::VectorXd& p, Landing what) const {
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
      return s;
    }
    const double t2 = t * t, t3 = t2 * t;
    const double a = 2 * t3 - 3 * t2 + 1, b = (t3 - 2 * t2 + t) * h, c = 1 - a, d = (t3 - t2) * h;
    const double da = (6 * t2 - 6 * t) / h, db = 3 * t2 - 4 * t + 1, dd = 3 * t2 - 2 * t;
    s.x = a * v[0] + b * v[2] + c * v[6] + d * v[8];
    s.y = a * v[1] + b * v[3] + c * v[7] + d * v[9];
    s.vx = da * (v[0] - v[6]) + db * v[2] + dd * v[8];
    s.vy = da * (v[1] - v[7]) + db * v[3] + dd * v[9];
    s.height = std::max(0.0, (1 - t) * v[4] + t * v[10]);
    s.vz = (1 - t) * v[5] + t * v[11];
    return s;
  }
};

Eigen::VectorXd NodeValues(const SkidGrid& grid, const NodeTable& table, const Eigen::VectorXd& p) {
  Eigen::VectorXd v(table.nodes * kPerNode + kLandingRows);
  const double landing = p[kLaydown];
  const SkidState first = EvaluateSkid(grid, p, landing + 1e-9);
  for (Eigen::Index i = 0; i < table.nodes; ++i) {
    const double s = table.from_s + static_cast<double>(i) * table.spacing_s - grid.origin_s, before = landing - s;
    if (before > 0) {
      v.segment<kPerNode>(i * kPerNode) << first.x - first.vx * before, first.y - first.vy * before, first.vx, first.vy,
          -first.vz * before - lane::kStandardGravity * before * before / 2, first.vz + lane::kStandardGravity * before;
      continue;
    }
    const SkidState at = EvaluateSkid(grid, p, s);
    v.segment<kPerNode>(i * kPerNode) << at.x, at.y, at.vx, at.vy, at.height, at.vz;
  }
  v.tail<kLandingRows>() << p[kVx0], p[kVy0], p[kImpact], grid.origin_s + landing;
  return v;
}

Eigen::MatrixXd NodeJacobian(const SkidGrid& grid, const NodeTable& table, const Eigen::VectorXd& p,
                             const Eigen::MatrixXd& covariance) {
  Eigen::MatrixXd j(table.nodes * kPerNode + kLandingRows, p.size());
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

// What unseen friction along `along` does to the nodes: trapezoids of its acceleration, twice.
void AddUnseenEnd(const NodeTable& table, const UnseenEnd& unseen, const Eigen::Vector2d& along,
                  Eigen::Ref<Eigen::VectorXd> column) {
  if (!(unseen.speed > 0)) return;
  double before_s = unseen.from_s, before = 0, gained = 0, moved = 0;
  for (Eigen::Index i = 0; i < table.nodes; ++i) {
    const double t = table.from_s + static_cast<double>(i) * table.spacing_s;
    if (t <= unseen.from_s) continue;
    const double way = (t - unseen.from_s) * unseen.speed / unseen.length, h = t - before_s;
    const double now = unseen.more_friction * lane::kStandardGravity * (1 - std::exp(-0.5 * way * way));
    moved += h * gained + h * h / 6 * (2 * before + now);
    gained += h / 2 * (before + now);
    before_s = t, before = now;
    column.segment<2>(i * kPerNode) = moved * along;
    column.segment<2>(i * kPerNode + 2) = gained * along;
  }
}

}  // namespace

void MixComponents(const SkidGrid& grid, const std::vector<PathComponent>& components,
                   const Eigen::MatrixXd& considered, Eigen::Index width, double from_s, double to_s,
                   double more_laydown_sd_s, const UnseenEnd& unseen, Path& path) {
  assert(!components.empty() && to_s > from_s);
  auto table = std::make_shared<NodeTable>();
  table->from_s = from_s;
  table->nodes = static_cast<Eigen::Index>(std::ceil((to_s - from_s) / kNodeSpacing)) + 1;
  table->spacing_s = (to_s - from_s) / static_cast<double>(table->nodes - 1);
  const Eigen::Index rows = table->nodes * kPerNode + kLandingRows;
  for ([[maybe_unused]] const PathComponent& c : components)
    assert(c.parameters.size() == grid.size() && c.covariance.rows() == grid.size() &&
           c.by_considered.rows() == grid.size());

  double most = components.front().log_weight, total = 0;
  for (const PathComponent& c : components) most = std::max(most, c.log_weight);
  for (const PathComponent& c : components) total += std::exp(c.log_weight - most);
  table->mean = Eigen::VectorXd::Zero(rows);
  std::vector<Eigen::VectorXd> values;
  std::vector<double> weights;
  for (const PathComponent& c : components) {
    weights.push_back(std::exp(c.log_weight - most) / total);
    values.push_back(NodeValues(grid, *table, c.parameters));
    table->mean += weights.back() * values.back();
  }

  // Square root of the mixture's covariance, column by column: sights and priors, what is considered, the components'
  // distances. What is considered acts on all components alike, so its mean effect is taken.
  Eigen::Index columns = 3 + considered.rows() + static_cast<Eigen::Index>(components.size());
  for (const PathComponent& c : components) columns += c.covariance.rows();
  Eigen::MatrixXd root = Eigen::MatrixXd::Zero(rows, columns);
  Eigen::MatrixXd by_considered = Eigen::MatrixXd::Zero(rows, considered.rows());
  Eigen::Index column = 0;
  for (std::size_t i = 0; i < components.size(); ++i) {
    const PathComponent& c = components[i];
    if (weights[i] > 1e-4) {
      const Eigen::MatrixXd j = NodeJacobian(grid, *table, c.parameters, c.covariance);
      const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(c.covariance);
      root.middleCols(column, c.covariance.cols()) =
          std::sqrt(weights[i]) * j * eigen.eigenvectors() * eigen.eigenvalues().cwiseMax(0).cwiseSqrt().asDiagonal();
      by_considered += weights[i] * j * c.by_considered;
      root.col(column + c.covariance.cols()) = std::sqrt(weights[i]) * (values[i] - table->mean);
    }
    column += c.covariance.cols() + 1;
  }
  root(rows - 1, column) = more_laydown_sd_s;
  AddUnseenEnd(*table, unseen, unseen.direction, root.col(column + 1));
  AddUnseenEnd(*table, unseen, unseen.direction_sd * Eigen::Vector2d(-unseen.direction.y(), unseen.direction.x()),
               root.col(column + 2));
  table->mean += root.col(column + 1);
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> doubt(considered);
  root.rightCols(considered.cols()) =
      by_considered * doubt.eigenvectors() * doubt.eigenvalues().cwiseMax(0).cwiseSqrt().asDiagonal();

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
  path.covariance_with_width = u.transpose() * (by_considered * considered.col(width));
  path.width_variance = considered(width, width);
  path.evaluate = [table](const Eigen::VectorXd& p, double t) { return table->At(p, t); };
  path.laydown_time = [table](const Eigen::VectorXd& p) { return table->At(p, kTime); };
}

}  // namespace hookline::motion
