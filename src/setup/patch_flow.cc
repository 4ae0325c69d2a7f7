#include "setup/patch_flow.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/calib3d.hpp>
#include <opencv2/imgproc.hpp>
#include <opencv2/video/tracking.hpp>

#include "core/wide_code.h"
#include "setup/sampling.h"

namespace hookline::setup {
namespace {

// Sums over a patch laid at a place of a picture.
struct Comparison {
  double du_e = 0, dv_e = 0, e2 = 0;
};

// Rows of kRow, of which kSide count: `value`, du and dv are zero in the rest. w: shares of the four pixels around each
// place, for it is moved, not turned, and they are the same all over the patch.
HOOKLINE_WIDE_CODE
Comparison Compare(const cv::Mat& picture, int x0, int y0, const std::array<float, 4>& w, const float* value,
                   const float* du, const float* dv) {
  constexpr int kRow = PatchFlow::kRow, kSide = PatchFlow::kSide;
  std::array<float, static_cast<std::size_t>(kRow * kSide)> now;
  std::array<float, kRow> sum{}, sum_u{}, sum_v{}, sum_2{};
  for (int y = 0; y < kSide; ++y) {
    const std::uint8_t *r0 = picture.ptr(y0 + y) + x0, *r1 = picture.ptr(y0 + y + 1) + x0;
    float* row = &now[static_cast<std::size_t>(y * kRow)];
    for (std::size_t x = 0; x < kRow; ++x) {
      row[x] = w[0] * static_cast<float>(r0[x]) + w[1] * static_cast<float>(r0[x + 1]) +
               w[2] * static_cast<float>(r1[x]) + w[3] * static_cast<float>(r1[x + 1]);
      sum[x] += row[x];
    }
  }
  float mean = 0;
  for (std::size_t x = 0; x < kSide; ++x) mean += sum[x];
  mean /= static_cast<float>(kSide * kSide);
  for (std::size_t y = 0; y < kSide; ++y)
    for (std::size_t x = 0; x < kRow; ++x) {
      const std::size_t k = y * kRow + x;
      const float e = now[k] - mean - value[k];
      sum_u[x] += du[k] * e;
      sum_v[x] += dv[k] * e;
      sum_2[x] += e * e;
    }
  Comparison out;
  for (std::size_t x = 0; x < kSide; ++x) {
    out.du_e += static_cast<double>(sum_u[x]);
    out.dv_e += static_cast<double>(sum_v[x]);
    out.e2 += static_cast<double>(sum_2[x]);
  }
  return out;
}

}  // namespace

PatchFlow::PatchFlow(const cv::Mat& reference, int count, const cv::Mat& mask) : reference_(reference) {
  // Corners cell by cell: people and the ball cover one part of the picture, never all of it.
  const int columns = 12, rows = 8, border = kHalf + 4;
  struct Candidate {
    float strength;
    cv::Point p;
  };
  // A row of cells each on its own, so that all cores help; the rows beside it are looked at too, for the filters.
  std::vector<std::vector<Candidate>> best_in(rows);
  cv::parallel_for_(cv::Range(0, rows), [&](const cv::Range& range) {
    for (int j = range.start; j < range.end; ++j) {
      constexpr int kBeside = 8;
      const int top = j * reference.rows / rows, height = reference.rows / rows, from = std::max(0, top - kBeside),
                to = std::min(reference.rows, top + height + kBeside);
      cv::Mat corner;
      cv::cornerMinEigenVal(reference.rowRange(from, to), corner, 5);
      for (int i = 0; i < columns; ++i) {
        const cv::Rect cell(i * reference.cols / columns, top, reference.cols / columns, height);
        cv::Mat block = corner(cell - cv::Point(0, from)).clone();
        for (int k = 0; k < 3; ++k) {
          double value = 0;
          cv::Point at;
          cv::minMaxLoc(block, nullptr, &value, nullptr, &at, mask.empty() ? cv::Mat() : mask(cell));
          const cv::Point p = at + cell.tl();
          if (value > 0 && p.x >= border && p.y >= border && p.x < reference.cols - border &&
              p.y < reference.rows - border)
            best_in[static_cast<std::size_t>(j)].push_back({static_cast<float>(value), p});
          cv::circle(block, at, 2 * kSide, cv::Scalar(0), cv::FILLED);
        }
      }
    }
  });
  std::vector<Candidate> best;
  for (const auto& some : best_in) best.insert(best.end(), some.begin(), some.end());
  std::sort(best.begin(), best.end(), [](const Candidate& a, const Candidate& b) { return a.strength > b.strength; });
  for (const Candidate& c : best) {
    if (static_cast<int>(places_.size()) >= count) break;
    Patch patch;
    Eigen::Matrix2d h = Eigen::Matrix2d::Zero();
    for (int y = 0; y < kSide; ++y)
      for (int x = 0; x < kSide; ++x) {
        const auto at = [&](int dx, int dy) {
          return static_cast<float>(reference.at<unsigned char>(c.p.y - kHalf + y + dy, c.p.x - kHalf + x + dx));
        };
        const auto k = static_cast<std::size_t>(y * kRow + x);
        patch.value[k] = at(0, 0);
        patch.du[k] = 0.5f * (at(1, 0) - at(-1, 0));
        patch.dv[k] = 0.5f * (at(0, 1) - at(0, -1));
      }
    constexpr double n = kSide * kSide;
    const auto each = [](const auto& act) {
      for (int y = 0; y < kSide; ++y)
        for (int x = 0; x < kSide; ++x) act(static_cast<std::size_t>(y * kRow + x));
    };
    const auto centred = [&](Patch::Values* v) {
      double m = 0;
      each([&](std::size_t k) { m += static_cast<double>((*v)[k]); });
      each([&](std::size_t k) { (*v)[k] -= static_cast<float>(m / n); });
    };
    // Mean-free gradients make the solution blind to a change of brightness.
    centred(&patch.value);
    centred(&patch.du);
    centred(&patch.dv);
    each([&](std::size_t k) {
      const Eigen::Vector2d g(static_cast<double>(patch.du[k]), static_cast<double>(patch.dv[k]));
      h += g * g.transpose();
      patch.energy += static_cast<double>(patch.value[k] * patch.value[k]);
    });
    // Ten grey levels of contrast in the weaker direction, or noise would lead it astray.
    if (h.eigenvalues().real().minCoeff() < 2.0 * n) continue;
    patch.inverse_hessian = h.inverse();
    places_.emplace_back(c.p.x, c.p.y);
    patches_.push_back(std::move(patch));
  }
}

std::vector<PatchFlow::Found> PatchFlow::Find(const cv::Mat& picture,
                                              const std::vector<Eigen::Vector2d>& expected) const {
  std::vector<Found> found;
  for (std::size_t i = 0; i < patches_.size(); ++i) {
    const Patch& t = patches_[i];
    Eigen::Vector2d p = expected[i];
    bool good = false;
    for (int round = 0; round < 8; ++round) {
      if (p.x() < kHalf + 1 || p.y() < kHalf + 1 || p.x() > picture.cols - kRow + kHalf - 2 ||
          p.y() > picture.rows - kHalf - 2)
        break;
      const int x0 = static_cast<int>(std::floor(p.x())), y0 = static_cast<int>(std::floor(p.y()));
      const auto a = static_cast<float>(p.x() - x0), b = static_cast<float>(p.y() - y0);
      const Comparison c =
          Compare(picture, x0 - kHalf, y0 - kHalf, {(1 - a) * (1 - b), a * (1 - b), (1 - a) * b, a * b}, t.value.data(),
                  t.du.data(), t.dv.data());
      const Eigen::Vector2d g(c.du_e, c.dv_e);
      const double difference = c.e2;
      const Eigen::Vector2d step = t.inverse_hessian * g;
      p -= step;
      if ((p - expected[i]).norm() > 3) break;
      if (step.norm() < 0.02) {
        good = difference < 0.3 * t.energy;
        break;
      }
    }
    if (good) found.push_back({i, p});
  }
  return found;
}

std::vector<PatchFlow::Found> PatchFlow::FindFar(const cv::Mat& picture) const {
  std::vector<cv::Point2f> from, to;
  for (const Eigen::Vector2d& p : places_) from.emplace_back(static_cast<float>(p.x()), static_cast<float>(p.y()));
  std::vector<unsigned char> status;
  std::vector<float> error;
  if (from.empty()) return {};
  cv::calcOpticalFlowPyrLK(reference_, picture, from, to, status, error, cv::Size(21, 21), 5);
  std::vector<Found> found;
  for (std::size_t i = 0; i < from.size(); ++i)
    if (status[i]) found.push_back({i, {static_cast<double>(to[i].x), static_cast<double>(to[i].y)}});
  return found;
}

std::optional<cv::Mat> HomographyFrom(const PatchFlow& flow, const std::vector<PatchFlow::Found>& found) {
  if (found.size() < 12) return std::nullopt;
  std::vector<cv::Point2d> from, to;
  for (const PatchFlow::Found& f : found) {
    from.emplace_back(flow.places()[f.patch].x(), flow.places()[f.patch].y());
    to.emplace_back(f.p_in_picture.x(), f.p_in_picture.y());
  }
  cv::Mat inliers;
  cv::Mat h = cv::findHomography(from, to, cv::RANSAC, 1.0, inliers);
  if (h.empty()) return std::nullopt;
  const int agreed = cv::countNonZero(inliers);
  if (agreed < 12 || 3 * agreed < static_cast<int>(found.size())) return std::nullopt;
  return h;
}

}  // namespace hookline::setup
