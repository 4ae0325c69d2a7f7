#include "setup/pencil.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <random>

namespace hookline::setup {

std::vector<Segment> FindSegments(const cv::Mat& luma, double min_length) {
  const cv::Ptr<cv::LineSegmentDetector> detector = cv::createLineSegmentDetector(cv::LSD_REFINE_STD);
  std::vector<cv::Vec4f> lines;
  detector->detect(luma, lines);
  std::vector<Segment> out;
  for (const cv::Vec4f& l : lines) {
    Segment s{{l[0], l[1]}, {l[2], l[3]}, 0};
    s.length = (s.b - s.a).norm();
    if (s.length >= min_length) out.push_back(s);
  }
  return out;
}

namespace {

// Sine of the angle between a segment and the direction from its middle to p.
double Miss(const Segment& s, const Eigen::Vector2d& p) {
  const Eigen::Vector2d d = (s.b - s.a) / s.length, m = p - 0.5 * (s.a + s.b);
  const double n = m.norm();
  return n < 1e-9 ? 1.0 : std::abs(d.x() * m.y() - d.y() * m.x()) / n;
}

}  // namespace

std::optional<Eigen::Vector2d> LaneVanishingPoint(const std::vector<Segment>& all, const cv::Size& size) {
  const double w = size.width, h = size.height;
  std::vector<Segment> segments;
  for (const Segment& s : all) {
    const Eigen::Vector2d d = (s.b - s.a) / s.length;
    // Level lines (foul line, mask, pin decks) say nothing of where the lanes run; upright ones meet at the other
    // vanishing point.
    if (std::abs(d.y()) > 0.03) segments.push_back(s);
  }
  if (segments.size() < 4) return std::nullopt;
  std::vector<double> weights;
  for (const Segment& s : segments) weights.push_back(std::min(s.length, 0.3 * h));
  std::mt19937 random(12345);
  std::discrete_distribution<std::size_t> pick(weights.begin(), weights.end());
  constexpr double kTolerance = 0.012;  // rad; lens distortion bends lines by less
  Eigen::Vector2d best(0, 0);
  double best_score = -1;
  for (int trial = 0; trial < 3000; ++trial) {
    const Segment &p = segments[pick(random)], &q = segments[pick(random)];
    const Eigen::Vector2d dp = (p.b - p.a) / p.length, dq = (q.b - q.a) / q.length;
    const double cross = dp.x() * dq.y() - dp.y() * dq.x();
    if (std::abs(cross) < 0.05) continue;
    const Eigen::Vector2d r = q.a - p.a;
    const Eigen::Vector2d x = p.a + dp * ((r.x() * dq.y() - r.y() * dq.x()) / cross);
    if (x.x() < -0.7 * w || x.x() > 1.7 * w || x.y() < -1.2 * h || x.y() > 0.9 * h) continue;
    double score = 0, left = 0, right = 0;
    for (std::size_t i = 0; i < segments.size(); ++i) {
      const double miss = Miss(segments[i], x) / kTolerance;
      if (miss > 1) continue;
      const double gain = weights[i] * (1 - miss * miss);
      score += gain;
      // Lanes spread below the point to both sides of each other; a bundle of one direction (a wall's top) is not
      // enough.
      const Eigen::Vector2d m = 0.5 * (segments[i].a + segments[i].b) - x;
      const double slope = m.x() / std::max(std::abs(m.y()), 1e-6) * (m.y() > 0 ? 1 : -1);
      (slope < 0 ? left : right) += gain;
    }
    score += std::min(left, right);
    if (score > best_score) {
      best_score = score;
      best = x;
    }
  }
  if (best_score < 0.5 * std::min(w, h)) return std::nullopt;
  // Refine: the point with the least weighted squared distance to the lines, reweighted as misses shrink.
  for (int round = 0; round < 10; ++round) {
    const double tolerance = round < 3 ? kTolerance : 0.006;
    Eigen::Matrix2d a = Eigen::Matrix2d::Zero();
    Eigen::Vector2d b = Eigen::Vector2d::Zero();
    for (const Segment& s : segments) {
      const double miss = Miss(s, best) / tolerance;
      if (miss > 1) continue;
      const Eigen::Vector2d d = (s.b - s.a) / s.length, n(-d.y(), d.x());
      const double reach = (0.5 * (s.a + s.b) - best).norm() + 1;
      const double weight = s.length * s.length * s.length * std::pow(1 - miss * miss, 2) / (reach * reach);
      a += weight * n * n.transpose();
      b += weight * n * n.dot(s.a);
    }
    if (a.determinant() < 1e-12 * a.trace() * a.trace()) break;
    best = a.ldlt().solve(b);
  }
  return best;
}

Gradient GradientOf(const cv::Mat& luma) {
  Gradient g;
  cv::Mat smooth;
  cv::GaussianBlur(luma, smooth, cv::Size(0, 0), 0.8);
  cv::Sobel(smooth, g.du, CV_32F, 1, 0, 3, 1.0 / 8);
  cv::Sobel(smooth, g.dv, CV_32F, 0, 1, 3, 1.0 / 8);
  // Texture and noise fill most of the picture; what only one pixel in fifty exceeds is the picture's own idea of an
  // edge.
  std::vector<float> sample;
  for (int y = 2; y < luma.rows; y += 7)
    for (int x = 2; x < luma.cols; x += 7)
      sample.push_back(std::abs(g.du.at<float>(y, x)) + std::abs(g.dv.at<float>(y, x)));
  const auto at = [&](double share) {
    const auto it = sample.begin() + static_cast<std::ptrdiff_t>(share * static_cast<double>(sample.size() - 1));
    std::nth_element(sample.begin(), it, sample.end());
    return static_cast<double>(*it);
  };
  g.edge_level = std::max({1.0, 3 * at(0.5), 0.5 * at(0.98)});
  return g;
}

std::vector<PencilEdge> FindPencilEdges(const Gradient& g, const Eigen::Vector2d& vp) {
  const cv::Size size = g.du.size();
  const double foot = size.height - 1 - vp.y();  // px from the vanishing point to the picture's foot
  if (foot < 20) return {};
  const double top = std::max(0.04 * foot, 4.0);
  const double step = 0.5 / foot;
  const double smax = std::min(6.0, (std::max(vp.x(), size.width - vp.x()) + size.width * 0.2) / top);
  // Rows in equal ratios: each foot of lane counts about the same whether near or far.
  struct Depth {
    double r = 0;
    std::array<const float*, 4> rows{};  // du above and below, dv above and below
    double below = 0;
  };
  std::vector<Depth> depth;
  for (double r = top; r < foot; r *= 1.02) {
    Depth d{r};
    const double v = vp.y() + r;
    if (v >= 1 && v <= size.height - 2) {
      const int y = static_cast<int>(v);
      d.rows = {g.du.ptr<float>(y), g.du.ptr<float>(y + 1), g.dv.ptr<float>(y), g.dv.ptr<float>(y + 1)};
      d.below = v - y;
    }
    depth.push_back(d);
  }
  std::vector<double> profile, slopes;
  for (double s = -smax; s <= smax; s += step * std::max(1.0, 0.7 * std::abs(s))) slopes.push_back(s);
  profile.assign(slopes.size(), 0.0);
  const double per_level = 1 / g.edge_level;
  cv::parallel_for_(cv::Range(0, static_cast<int>(slopes.size())), [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i) {
      const double s = slopes[static_cast<std::size_t>(i)], norm = per_level / std::sqrt(1 + s * s);
      double sum = 0;
      int n = 0;
      for (const Depth& at : depth) {
        const double u = vp.x() + s * at.r;
        if (!at.rows[0] || u < 1 || u > size.width - 2) continue;
        const int x = static_cast<int>(u);
        const double a = u - x;
        const auto across = [&](const float* row) {
          return static_cast<double>(row[x]) + a * static_cast<double>(row[x + 1] - row[x]);
        };
        const auto mean = [&](const float* above, const float* under) {
          const double p = across(above);
          return p + at.below * (across(under) - p);
        };
        const double d = mean(at.rows[0], at.rows[1]) - s * mean(at.rows[2], at.rows[3]);
        sum += std::clamp(d * norm, -1.0, 1.0);
        ++n;
      }
      // A ray that leaves the picture early has less to say.
      profile[static_cast<std::size_t>(i)] =
          n < 12 ? 0.0 : sum / std::max<double>(n, 0.5 * static_cast<double>(depth.size()));
    }
  });
  std::vector<PencilEdge> edges;
  for (std::size_t i = 1; i + 1 < profile.size(); ++i) {
    const double p = std::abs(profile[i]);
    if (p < 0.15 || p < std::abs(profile[i - 1]) || p < std::abs(profile[i + 1])) continue;
    edges.push_back({slopes[i], profile[i]});
  }
  std::sort(edges.begin(), edges.end(),
            [](const PencilEdge& a, const PencilEdge& b) { return std::abs(a.support) > std::abs(b.support); });
  std::vector<PencilEdge> kept;
  for (const PencilEdge& e : edges) {
    // Distance between two rays where they leave the picture, across them.
    const double s = std::abs(e.slope), reach = std::min(foot, 0.5 * size.width / std::max(s, 1e-6));
    const bool near_stronger = std::any_of(kept.begin(), kept.end(), [&](const PencilEdge& k) {
      return std::abs(k.slope - e.slope) * reach / std::sqrt(1 + s * s) < 5;
    });
    if (!near_stronger) kept.push_back(e);
    if (kept.size() >= 80) break;
  }
  std::sort(kept.begin(), kept.end(), [](const PencilEdge& a, const PencilEdge& b) { return a.slope < b.slope; });
  return kept;
}

}  // namespace hookline::setup
