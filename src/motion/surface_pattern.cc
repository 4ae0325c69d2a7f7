#include "motion/surface_pattern.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>

#include "camera/projection.h"

namespace hookline::motion {
namespace {

using Eigen::Matrix3d;
using Eigen::Vector3d;
using Eigen::Vector3f;
using RowF = Eigen::Matrix<float, kSpinUnknowns, 1>;
using RowsF = Eigen::Matrix<float, kSpinUnknowns, kSpinUnknowns>;

constexpr int kCoarse = 16;      // points of the lattice each way, for comparing: 8 degrees
constexpr int kFine = 22;        // for the fit: 6 degrees
constexpr float kReach = 1.08F;  // half the lattice's width
constexpr float kShrink = 4;     // levels' worth of "no pattern" at each place: some of one picture's
constexpr int kTimeBlocks = 6;
constexpr double kPlacing = 0.007;  // rad, of each picture by itself: the ball's centre to a sixth of a pixel or so
constexpr double kOddPicture = 2;   // times the middle picture's mean squared residual
constexpr double kHuber = 1.2;      // widths

struct Lattice {
  int grid;
  float scale;
  explicit Lattice(int g) : grid(g), scale(static_cast<float>(g - 1) / (2 * kReach)) {}
  Vector3f At(const Vector3f& m) const { return (m + Vector3f::Constant(kReach)) * scale; }
  int Nearest(const Vector3f& m) const {
    const Vector3f q = At(m);
    return (static_cast<int>(q.x() + 0.5F) * grid + static_cast<int>(q.y() + 0.5F)) * grid +
           static_cast<int>(q.z() + 0.5F);
  }
};

// The corner below and the shares within the cell.
struct Cell {
  int at;
  Vector3f f;
};
Cell CellOf(const Lattice& l, const Vector3f& m) {
  const Vector3f q = l.At(m);
  const int x = static_cast<int>(q.x()), y = static_cast<int>(q.y()), z = static_cast<int>(q.z());
  return {(x * l.grid + y) * l.grid + z,
          {q.x() - static_cast<float>(x), q.y() - static_cast<float>(y), q.z() - static_cast<float>(z)}};
}

}  // namespace

void PatternFit::Turns(const SpinGuess& guess) {
  const std::size_t n = cap_.times.size();
  turns_.resize(n);
  std::size_t middle = 0;
  while (cap_.times[middle] < cap_.middle_s) ++middle;
  for (const int way : {1, -1}) {
    Matrix3d turn = Matrix3d::Identity();
    Eigen::Matrix<double, 3, kSpinUnknowns> by = Eigen::Matrix<double, 3, kSpinUnknowns>::Zero();
    for (auto i = static_cast<std::ptrdiff_t>(middle);;) {
      turns_[static_cast<std::size_t>(i)] = {turn.cast<float>(), by.cast<float>()};
      const std::ptrdiff_t next = i + way;
      if (next < 0 || next >= static_cast<std::ptrdiff_t>(n)) break;
      const auto a = static_cast<std::size_t>(i), b = static_cast<std::size_t>(next);
      const double dt = cap_.times[b] - cap_.times[a];
      const Eigen::Matrix<double, 3, kChanges> drift = (cap_.drift[a] + cap_.drift[b]) / 2;
      const Vector3d w = guess.spin + drift * guess.change;
      const Matrix3d half = camera::RotationFromAngleAxis<double>(w * dt / 2);
      Eigen::Matrix<double, 3, kSpinUnknowns> rate;
      rate << Matrix3d::Identity(), drift;
      // The mean of the turns on the way, to second order in the step, is that of half the way.
      by = half * half * by + dt * half * rate;
      turn = half * half * turn;
      i = next;
    }
  }
}

void PatternFit::Splat(int from, int to, int grid) {
  grid_ = grid;
  const Lattice l(grid);
  const auto size = static_cast<std::size_t>(grid * grid * grid);
  sum_.assign(size, 0.F), weight_.assign(size, 0.F);
  const int m = cap_.nodes();
  const int dx = grid * grid, dy = grid;
  for (int i = from; i < to; ++i) {
    const Eigen::Matrix3f body = turns_[static_cast<std::size_t>(i)].lane_from_body.transpose();
    const float* x = cap_.Row(i);
    const float* seen = cap_.seen.data() + static_cast<std::ptrdiff_t>(i) * m;
    for (int j = 0; j < m; ++j) {
      if (seen[j] == 0) continue;
      const Cell c = CellOf(l, body * cap_.normals[static_cast<std::size_t>(j)]);
      for (int k = 0; k < 8; ++k) {
        const float w = ((k & 4) != 0 ? c.f.x() : 1 - c.f.x()) * ((k & 2) != 0 ? c.f.y() : 1 - c.f.y()) *
                        ((k & 1) != 0 ? c.f.z() : 1 - c.f.z());
        const auto at = static_cast<std::size_t>(c.at + ((k & 4) != 0 ? dx : 0) + ((k & 2) != 0 ? dy : 0) + (k & 1));
        sum_[at] += w * x[j];
        weight_[at] += w;
      }
    }
  }
  for (std::size_t at = 0; at < size; ++at) sum_[at] /= weight_[at] + 0.25F * kShrink;
}

void PatternFit::Normal(int from, int to, const SpinGuess& guess, SpinMatrix* a, SpinVector* b, SpinMatrix* scatter) {
  Turns(guess);
  Splat(from, to, kFine);
  const Lattice l(grid_), coarse(kCoarse);
  const int m = cap_.nodes(), dx = grid_ * grid_, dy = grid_;
  const auto rows = static_cast<std::size_t>((to - from) * m);
  static thread_local std::vector<RowF> mean;
  static thread_local std::vector<Vector3f> turned;  // d level / d turn
  static thread_local std::vector<float> residual, count;
  static thread_local std::vector<int> place;
  turned.assign(rows, Vector3f::Zero());
  residual.assign(rows, 0.F);
  place.assign(rows, -1);
  mean.assign(kCoarse * kCoarse * kCoarse, RowF::Zero());
  count.assign(kCoarse * kCoarse * kCoarse, 0.F);
  double squares = 0, number = 0;
  misfit_.assign(cap_.times.size(), 0);
  for (int i = from; i < to; ++i) {
    const Turn& turn = turns_[static_cast<std::size_t>(i)];
    const Eigen::Matrix3f body = turn.lane_from_body.transpose();
    const float* x = cap_.Row(i);
    const float* seen = cap_.seen.data() + static_cast<std::ptrdiff_t>(i) * m;
    double own = 0;
    int own_number = 0;
    for (int j = 0; j < m; ++j) {
      if (seen[j] == 0) continue;
      const Vector3f& n = cap_.normals[static_cast<std::size_t>(j)];
      const Vector3f on_body = body * n;
      const Cell c = CellOf(l, on_body);
      const auto t = [&](int k) {
        return sum_[static_cast<std::size_t>(c.at + ((k & 4) != 0 ? dx : 0) + ((k & 2) != 0 ? dy : 0) + (k & 1))];
      };
      const float fx = c.f.x(), fy = c.f.y(), fz = c.f.z();
      const auto along_z = [&](int k) { return t(k) + fz * (t(k + 1) - t(k)); };
      const float p00 = along_z(0), p01 = along_z(2), p10 = along_z(4), p11 = along_z(6);
      const float low = p00 + fy * (p01 - p00), high = p10 + fy * (p11 - p10);
      const float level = low + fx * (high - low);
      const float gy = (1 - fx) * (p01 - p00) + fx * (p11 - p10);
      const auto step_z = [&](int k) { return t(k + 1) - t(k); };
      const float gz =
          (1 - fx) * ((1 - fy) * step_z(0) + fy * step_z(2)) + fx * ((1 - fy) * step_z(4) + fy * step_z(6));
      const Vector3f slope = l.scale * (turn.lane_from_body * Vector3f(high - low, gy, gz));
      const auto at = static_cast<std::size_t>((i - from) * m + j);
      // d level / d turn . t = slope . (n x t)
      turned[at] = slope.cross(n);
      residual[at] = x[j] - level;
      place[at] = coarse.Nearest(on_body);
      mean[static_cast<std::size_t>(place[at])] += turn.by_guess.transpose() * turned[at];
      count[static_cast<std::size_t>(place[at])] += 1;
      squares += static_cast<double>(residual[at]) * residual[at];
      number += 1;
      own += static_cast<double>(residual[at]) * residual[at], ++own_number;
    }
    if (own_number > 0) misfit_[static_cast<std::size_t>(i)] = own / own_number;
  }
  const double width = std::sqrt(std::max(squares / std::max(number, 1.0), 1e-6));
  const auto cut = static_cast<float>(kHuber * width);
  a->setZero(), b->setZero();
  std::vector<SpinVector> blocks(kTimeBlocks * 4, SpinVector::Zero());
  SpinMatrix placing = SpinMatrix::Zero();
  for (int i = from; i < to; ++i) {
    const auto block = static_cast<std::size_t>((i - from) * kTimeBlocks / (to - from));
    std::array<RowF, 4> part;
    part.fill(RowF::Zero());
    RowsF sum_a = RowsF::Zero();
    Eigen::Matrix<float, kSpinUnknowns, 3> by_turn = Eigen::Matrix<float, kSpinUnknowns, 3>::Zero();
    for (int j = 0; j < m; ++j) {
      const auto at = static_cast<std::size_t>((i - from) * m + j);
      if (place[at] < 0) continue;
      const auto p = static_cast<std::size_t>(place[at]);
      const RowF row = turns_[static_cast<std::size_t>(i)].by_guess.transpose() * turned[at] - mean[p] / count[p];
      const float r = residual[at], w = std::abs(r) < cut ? 1.F : cut / std::abs(r);
      sum_a += w * row * row.transpose();
      const auto node = static_cast<std::size_t>(j);
      const std::size_t quarter = (cap_.across[node] > 0 ? 1U : 0U) + (cap_.up[node] > 0 ? 2U : 0U);
      part[quarter] += w * r * row;
      if (scatter != nullptr) by_turn += w * row * turned[at].transpose();
    }
    *a += sum_a.cast<double>();
    for (std::size_t q = 0; q < 4; ++q) {
      *b += part[q].cast<double>();
      blocks[block * 4 + q] += part[q].cast<double>();
    }
    if (scatter != nullptr) {
      const Eigen::Matrix<double, kSpinUnknowns, 3> off = kPlacing * by_turn.cast<double>();
      placing += off * off.transpose();
    }
  }
  const double scale = 1 / (width * width * share_);
  *a *= scale, *b *= scale;
  if (scatter == nullptr) return;
  scatter->setZero();
  for (const SpinVector& g : blocks) *scatter += g * g.transpose();
  constexpr double kBlocks = kTimeBlocks * 4;
  *scatter = (*scatter * (kBlocks / (kBlocks - kSpinUnknowns)) + placing) * (scale * scale);
}

void PatternFit::AddPrior(const SpinGuess& guess, SpinMatrix* a, SpinVector* b) const {
  const ChangeVector off = ChangeVector::UnitX() - guess.change;
  for (int k = 0; k < kChanges; ++k) {
    (*a)(3 + k, 3 + k) += 1 / (change_sd_[k] * change_sd_[k]);
    (*b)[3 + k] += off[k] / (change_sd_[k] * change_sd_[k]);
  }
}

void PatternFit::Step(int from, int to, double most_step, SpinGuess* guess) {
  SpinMatrix a;
  SpinVector b;
  Normal(from, to, *guess, &a, &b, nullptr);
  AddPrior(*guess, &a, &b);
  // Where the pattern says nothing the guess stays.
  for (int k = 0; k < 3; ++k) a(k, k) += 1e-4 * a.topLeftCorner<3, 3>().trace() + 1e-9;
  SpinVector d = a.ldlt().solve(b);
  if (!d.allFinite()) return;
  const double length = d.head<3>().norm();
  if (length > most_step) d *= most_step / length;
  guess->spin += d.head<3>();
  guess->change += d.tail<kChanges>();
}

double PatternFit::Predicted(int from, int to, const SpinGuess& guess) {
  Turns(guess);
  const Lattice l(kCoarse);
  constexpr std::size_t kSize = kCoarse * kCoarse * kCoarse;
  const int m = cap_.nodes();
  static thread_local std::vector<float> sum, weight, own_sum, own_weight;
  static thread_local std::vector<int> place, touched;
  sum.assign(kSize, 0.F), weight.assign(kSize, 0.F), own_sum.assign(kSize, 0.F), own_weight.assign(kSize, 0.F);
  place.assign(static_cast<std::size_t>((to - from) * m), -1);
  double all = 0;
  for (int i = from; i < to; ++i) {
    const Eigen::Matrix3f body = turns_[static_cast<std::size_t>(i)].lane_from_body.transpose();
    const float* x = cap_.Row(i);
    const float* seen = cap_.seen.data() + static_cast<std::ptrdiff_t>(i) * m;
    for (int j = 0; j < m; ++j) {
      if (seen[j] == 0) continue;
      const int p = l.Nearest(body * cap_.normals[static_cast<std::size_t>(j)]);
      place[static_cast<std::size_t>((i - from) * m + j)] = p;
      sum[static_cast<std::size_t>(p)] += x[j];
      weight[static_cast<std::size_t>(p)] += 1;
      all += static_cast<double>(x[j]) * x[j];
    }
  }
  double told = 0;
  for (int i = from; i < to; ++i) {
    const float* x = cap_.Row(i);
    touched.clear();
    for (int j = 0; j < m; ++j) {
      const int p = place[static_cast<std::size_t>((i - from) * m + j)];
      if (p < 0) continue;
      if (own_weight[static_cast<std::size_t>(p)] == 0) touched.push_back(p);
      own_sum[static_cast<std::size_t>(p)] += x[j];
      own_weight[static_cast<std::size_t>(p)] += 1;
    }
    for (const int p : touched) {
      const auto at = static_cast<std::size_t>(p);
      const float guess_of_others = (sum[at] - own_sum[at]) / (weight[at] - own_weight[at] + kShrink);
      told +=
          static_cast<double>(2 * own_sum[at] * guess_of_others - own_weight[at] * guess_of_others * guess_of_others);
      own_sum[at] = 0, own_weight[at] = 0;
    }
  }
  return all > 0 ? told / all : 0;
}

void PatternFit::TakeLightOut(const SpinGuess& guess) {
  const int n = static_cast<int>(cap_.times.size()), m = cap_.nodes();
  Turns(guess);
  Splat(0, n, kFine);
  const Lattice l(grid_);
  std::vector<float> light(cap_.raw.size());
  const int dx = grid_ * grid_, dy = grid_;
  for (int i = 0; i < n; ++i) {
    const Eigen::Matrix3f body = turns_[static_cast<std::size_t>(i)].lane_from_body.transpose();
    for (int j = 0; j < m; ++j) {
      const auto at = static_cast<std::size_t>(i * m + j);
      if (cap_.seen[at] == 0) continue;
      const Cell c = CellOf(l, body * cap_.normals[static_cast<std::size_t>(j)]);
      float level = 0;
      for (int k = 0; k < 8; ++k)
        level += ((k & 4) != 0 ? c.f.x() : 1 - c.f.x()) * ((k & 2) != 0 ? c.f.y() : 1 - c.f.y()) *
                 ((k & 1) != 0 ? c.f.z() : 1 - c.f.z()) *
                 sum_[static_cast<std::size_t>(c.at + ((k & 4) != 0 ? dx : 0) + ((k & 2) != 0 ? dy : 0) + (k & 1))];
      light[at] = cap_.raw[at] - level;
    }
  }
  cap_.TakeTrendOut(light);
}

void PatternFit::LearnNoise(const SpinGuess& guess) {
  SpinMatrix a;
  SpinVector b;
  SpinMatrix scatter;
  share_ = 1;
  Normal(0, static_cast<int>(cap_.times.size()), guess, &a, &b, &scatter);
  // Of the spin itself: of how it changes a short stretch says too little.
  const Eigen::Matrix3d ratio = a.topLeftCorner<3, 3>().ldlt().solve(scatter.topLeftCorner<3, 3>());
  if (ratio.allFinite()) share_ = std::max(1.0, ratio.trace() / 3);
}

void PatternFit::DropOddPictures(const SpinGuess& guess) {
  SpinMatrix a;
  SpinVector b;
  const int n = static_cast<int>(cap_.times.size()), m = cap_.nodes();
  Normal(0, n, guess, &a, &b, nullptr);
  std::vector<double> sorted = misfit_;
  std::nth_element(sorted.begin(), sorted.begin() + n / 2, sorted.end());
  const double most = kOddPicture * sorted[static_cast<std::size_t>(n / 2)];
  for (int i = 0; i < n; ++i)
    if (misfit_[static_cast<std::size_t>(i)] > most) {
      const auto row = cap_.seen.begin() + static_cast<std::ptrdiff_t>(i) * m;
      std::fill(row, row + m, 0.F);
      const auto level = cap_.level.begin() + static_cast<std::ptrdiff_t>(i) * m;
      std::fill(level, level + m, 0.F);
    }
}

SpinMatrix PatternFit::Covariance(const SpinGuess& guess) {
  SpinMatrix a;
  SpinVector b;
  SpinMatrix scatter;
  Normal(0, static_cast<int>(cap_.times.size()), guess, &a, &b, &scatter);
  SpinMatrix prior = SpinMatrix::Zero();
  AddPrior(guess, &prior, &b);
  const SpinMatrix inverse = (a + prior).inverse();
  return inverse * (scatter + prior) * inverse.transpose();
}

}  // namespace hookline::motion
