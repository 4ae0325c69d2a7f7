#include "setup/patch_flow.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <opencv2/calib3d.hpp>
#include <opencv2/imgproc.hpp>
#include <opencv2/video/tracking.hpp>

#include "setup/sampling.h"

namespace hookline::setup {

PatchFlow::PatchFlow(const cv::Mat& reference, int count, const cv::Mat& mask) : reference_(reference) {
  // Corners cell by cell: people and the ball cover one part of the picture, never all of it.
  const int columns = 12, rows = 8, border = kHalf + 4;
  cv::Mat corner;
  cv::cornerMinEigenVal(reference, corner, 5);
  struct Candidate {
    float strength;
    cv::Point p;
  };
  std::vector<Candidate> best;
  for (int j = 0; j < rows; ++j)
    for (int i = 0; i < columns; ++i) {
      const cv::Rect cell(i * reference.cols / columns, j * reference.rows / rows, reference.cols / columns,
                          reference.rows / rows);
      cv::Mat block = corner(cell).clone();
      for (int k = 0; k < 3; ++k) {
        double value = 0;
        cv::Point at;
        cv::minMaxLoc(block, nullptr, &value, nullptr, &at, mask.empty() ? cv::Mat() : mask(cell));
        const cv::Point p = at + cell.tl();
        if (value > 0 && p.x >= border && p.y >= border && p.x < reference.cols - border &&
            p.y < reference.rows - border)
          best.push_back({static_cast<float>(value), p});
        cv::circle(block, at, 2 * kSide, cv::Scalar(0), cv::FILLED);
      }
    }
  std::sort(best.begin(), best.end(), [](const Candidate& a, const Candidate& b) { return a.strength > b.strength; });
  for (const Candidate& c : best) {
    if (static_cast<int>(places_.size()) >= count) break;
    Patch patch;
    Eigen::Matrix2d h = Eigen::Matrix2d::Zero();
    for (int y = -kHalf; y <= kHalf; ++y)
      for (int x = -kHalf; x <= kHalf; ++x) {
        const auto at = [&](int dx, int dy) {
          return static_cast<float>(reference.at<unsigned char>(c.p.y + y + dy, c.p.x + x + dx));
        };
        patch.value.push_back(at(0, 0));
        patch.du.push_back(0.5f * (at(1, 0) - at(-1, 0)));
        patch.dv.push_back(0.5f * (at(0, 1) - at(0, -1)));
      }
    const auto n = static_cast<double>(patch.value.size());
    const auto centred = [n](std::vector<float>* v) {
      double m = 0;
      for (const float f : *v) m += static_cast<double>(f);
      for (float& f : *v) f -= static_cast<float>(m / n);
    };
    // Mean-free gradients make the solution blind to a change of brightness.
    centred(&patch.value);
    centred(&patch.du);
    centred(&patch.dv);
    for (std::size_t k = 0; k < patch.value.size(); ++k) {
      const Eigen::Vector2d g(patch.du[k], patch.dv[k]);
      h += g * g.transpose();
      patch.energy += static_cast<double>(patch.value[k] * patch.value[k]);
    }
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
  std::vector<float> now(static_cast<std::size_t>(kSide * kSide));
  for (std::size_t i = 0; i < patches_.size(); ++i) {
    const Patch& t = patches_[i];
    Eigen::Vector2d p = expected[i];
    bool good = false;
    for (int round = 0; round < 8; ++round) {
      if (p.x() < kHalf + 1 || p.y() < kHalf + 1 || p.x() > picture.cols - kHalf - 2 ||
          p.y() > picture.rows - kHalf - 2)
        break;
      // One fraction for the whole patch: it is moved, not turned.
      const int x0 = static_cast<int>(std::floor(p.x())), y0 = static_cast<int>(std::floor(p.y()));
      const auto a = static_cast<float>(p.x() - x0), b = static_cast<float>(p.y() - y0);
      const float w00 = (1 - a) * (1 - b), w10 = a * (1 - b), w01 = (1 - a) * b, w11 = a * b;
      float mean = 0;
      std::size_t k = 0;
      for (int y = -kHalf; y <= kHalf; ++y) {
        const unsigned char* r0 = picture.ptr(y0 + y) + x0;
        const unsigned char* r1 = picture.ptr(y0 + y + 1) + x0;
        for (int x = -kHalf; x <= kHalf; ++x, ++k) {
          now[k] = w00 * static_cast<float>(r0[x]) + w10 * static_cast<float>(r0[x + 1]) +
                   w01 * static_cast<float>(r1[x]) + w11 * static_cast<float>(r1[x + 1]);
          mean += now[k];
        }
      }
      mean /= static_cast<float>(k);
      Eigen::Vector2d g = Eigen::Vector2d::Zero();
      double difference = 0;
      for (std::size_t j = 0; j < k; ++j) {
        const float e = now[j] - mean - t.value[j];
        g += Eigen::Vector2d(static_cast<double>(t.du[j] * e), static_cast<double>(t.dv[j] * e));
        difference += static_cast<double>(e * e);
      }
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
