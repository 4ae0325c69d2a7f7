#include "setup/rack_align.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "camera/projection.h"
#include "lane/pin_profile.h"
#include "setup/sampling.h"

namespace hookline::setup {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

struct PinOnScreen {
  Vector2d foot, top;
  double px_per_metre = 0;
};

// Share of the pixel covered by white pins.
double Cover(const std::vector<PinOnScreen>& pins, double u, double v) {
  double cover = 0;
  for (const PinOnScreen& p : pins) {
    const Vector2d axis = p.top - p.foot;
    const double t = ((u - p.foot.x()) * axis.x() + (v - p.foot.y()) * axis.y()) / axis.squaredNorm();
    if (t < 0 || t > 1) continue;
    const double off = std::abs((u - p.foot.x()) * axis.y() - (v - p.foot.y()) * axis.x()) / axis.norm();
    cover = std::max(cover, std::clamp(lane::PinRadiusAt(t * lane::kPinHeight) * p.px_per_metre - off + 0.5, 0.0, 1.0));
  }
  return cover;
}

struct Sampled {
  double match = -1;
  Eigen::VectorXd image;  // normalised
};

}  // namespace

std::optional<RackAlignment> AlignRack(const cv::Mat& luma, const LaneSetup& trial, double centre_x, double window_px) {
  std::vector<PinOnScreen> pins;
  double u_lo = 1e9, u_hi = -1e9, v_lo = 1e9, v_hi = -1e9;
  for (const lane::Point2& s : lane::PinSpots()) {
    const Vector3d foot(centre_x + s.x, s.y, 0);
    const auto f = camera::ImageFromLane(trial.camera, foot);
    const auto t = camera::ImageFromLane(trial.camera, foot + Vector3d(0, 0, lane::kPinHeight));
    const auto side = camera::ImageFromLane(trial.camera, foot + Vector3d(0.1, 0, 0));
    if (!f || !t || !side) return std::nullopt;
    pins.push_back({*f, *t, (*side - *f).norm() / 0.1});
    u_lo = std::min(u_lo, f->x());
    u_hi = std::max(u_hi, f->x());
    v_lo = std::min(v_lo, t->y());
    v_hi = std::max(v_hi, f->y());
  }
  const double px_per_inch = pins[0].px_per_metre * lane::kMetresPerInch;
  if (px_per_inch < 0.3) return std::nullopt;
  u_lo -= 5.5 * px_per_inch;
  u_hi += 5.5 * px_per_inch;
  v_lo -= 2.5 * px_per_inch;
  // Feet are left out: the deck seen between them is bright and mirrors them.
  v_hi -= 3.0 * px_per_inch;
  const double margin = window_px + 2;
  if (u_lo < margin || v_lo < margin || u_hi > luma.cols - 1 - margin || v_hi > luma.rows - 1 - margin)
    return std::nullopt;

  // At most about 80 x 40 samples however large the picture.
  const double step = std::max(1.0, (u_hi - u_lo) / 80);
  const int nx = static_cast<int>((u_hi - u_lo) / step) + 1, ny = static_cast<int>((v_hi - v_lo) / step) + 1;
  cv::Mat drawn(ny, nx, CV_32F);
  for (int j = 0; j < ny; ++j)
    for (int i = 0; i < nx; ++i) {
      // Four subsamples make the edge's slope that of a pixel's area.
      double c = 0;
      for (const double a : {-0.25, 0.25})
        for (const double b : {-0.25, 0.25}) c += Cover(pins, u_lo + (i + a) * step, v_lo + (j + b) * step);
      drawn.at<float>(j, i) = static_cast<float>(c / 4);
    }
  cv::GaussianBlur(drawn, drawn, cv::Size(0, 0), std::max(0.4, 0.7 / step));
  const int n = nx * ny;
  Eigen::VectorXd model(n);
  for (int j = 0; j < ny; ++j)
    for (int i = 0; i < nx; ++i) model[j * nx + i] = static_cast<double>(drawn.at<float>(j, i));
  model.array() -= model.mean();
  model.normalize();

  // Half way between grey levels, in which the encoder smears, and light, in which the lens does: pins keep their size.
  static const LightTable kLight(1.5);
  const Vector2d centre(0.5 * (u_lo + u_hi), 0.5 * (v_lo + v_hi));
  const auto sample = [&](const Eigen::Vector3d& p) {  // shift u, v, growth
    Sampled s;
    s.image.resize(n);
    for (int j = 0; j < ny; ++j)
      for (int i = 0; i < nx; ++i) {
        const double u = centre.x() + (1 + p[2]) * (u_lo + i * step - centre.x()) + p[0];
        const double v = centre.y() + (1 + p[2]) * (v_lo + j * step - centre.y()) + p[1];
        s.image[j * nx + i] = BilinearLight(luma, kLight, u, v);
      }
    s.image.array() -= s.image.mean();
    const double norm = s.image.norm();
    if (norm > 2.0 * std::sqrt(static_cast<double>(n))) {
      s.image /= norm;
      s.match = s.image.dot(model);
    }
    return s;
  };
  Eigen::Vector3d best = Eigen::Vector3d::Zero();
  double best_match = -1;
  const double stride = std::max(1.0, px_per_inch);
  const int reach = static_cast<int>(window_px / stride);
  for (int j = -reach; j <= reach; ++j)
    for (int i = -reach; i <= reach; ++i) {
      const Eigen::Vector3d p(i * stride, j * stride, 0);
      const double m = sample(p).match;
      if (m > best_match) {
        best_match = m;
        best = p;
      }
    }
  if (best_match < 0.3) return std::nullopt;
  // Gauss-Newton on the normalised difference with numeric derivatives: three parameters, a few thousand samples.
  for (int round = 0; round < 12; ++round) {
    const Sampled now = sample(best);
    Eigen::MatrixXd jacobian(n, 3);
    const Eigen::Vector3d h(0.25, 0.25, 0.25 / (0.5 * (u_hi - u_lo)));
    for (int k = 0; k < 3; ++k) {
      Eigen::Vector3d a = best, b = best;
      a[k] -= h[k];
      b[k] += h[k];
      jacobian.col(k) = (sample(b).image - sample(a).image) / (2 * h[k]);
    }
    const Eigen::Vector3d delta =
        (jacobian.transpose() * jacobian).ldlt().solve(jacobian.transpose() * (model - now.image));
    if (!delta.allFinite()) return std::nullopt;
    Eigen::Vector3d next =
        best + delta.cwiseMax(Eigen::Vector3d(-1.5, -1.5, -0.04)).cwiseMin(Eigen::Vector3d(1.5, 1.5, 0.04));
    double match = sample(next).match;
    for (int half = 0; half < 4 && match < now.match; ++half) {
      next = 0.5 * (best + next);
      match = sample(next).match;
    }
    if (match <= now.match) break;
    const double moved = (next - best).head<2>().norm() + std::abs(next[2] - best[2]) * 0.5 * (u_hi - u_lo);
    best = next;
    best_match = match;
    if (moved < 0.004) break;
  }
  if (std::abs(best[0]) > window_px + stride || std::abs(best[1]) > window_px + stride || std::abs(best[2]) > 0.25)
    return std::nullopt;
  RackAlignment out;
  out.centre = centre;
  out.shift = best.head<2>();
  out.growth = best[2];
  out.match = best_match;
  const auto spots = lane::PinSpots();
  const double z = 0.5 * lane::kPinHeight;
  out.points_in_lane = {Vector3d(spots[6].x, spots[6].y, z), Vector3d(spots[9].x, spots[9].y, z),
                        Vector3d(0, lane::kHeadPinY, z)};
  return out;
}

}  // namespace hookline::setup
