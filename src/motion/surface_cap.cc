#include "motion/surface_cap.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>

#include "camera/projection.h"
#include "motion/surface_spin.h"

namespace hookline::motion {
namespace {

using Eigen::Vector3d;

constexpr double kLeastFacing = 0.42;  // cosine of normal and line of sight
constexpr double kWinsor = 3.0;        // widths at which a level is cut (a lamp's gloss passing by)
// Light moves over the ball as the ball travels, by some tenths of a radian in this time; marks of a ball that turns
// come and go in a fraction of it.
constexpr double kLightHalf = 0.16;     // s
constexpr double kLeastVariance = 0.3;  // grey levels squared, below which there is nothing

float Bilinear(const cv::Mat& m, double u, double v) {
  const double cu = std::clamp(u, 0.0, m.cols - 1.001), cv = std::clamp(v, 0.0, m.rows - 1.001);
  const int x = static_cast<int>(cu), y = static_cast<int>(cv);
  const auto fx = static_cast<float>(cu - x), fy = static_cast<float>(cv - y);
  const std::uint8_t* p = m.ptr<std::uint8_t>(y) + x;
  const std::uint8_t* q = m.ptr<std::uint8_t>(std::min(y + 1, m.rows - 1)) + x;
  const float top = static_cast<float>(p[0]) + fx * static_cast<float>(p[1] - p[0]);
  const float bottom = static_cast<float>(q[0]) + fx * static_cast<float>(q[1] - q[0]);
  return top + fy * (bottom - top);
}

// Takes out of `from` the light: what `line_of` shows on the average around each time, per node; a straight line
// through the seen levels within kLightHalf.
void TakeLineOut(const SurfaceCap& cap, const std::vector<float>& line_of, const std::vector<float>& from,
                 std::vector<float>& to) {
  const int n = static_cast<int>(cap.times.size()), m = cap.nodes();
  to.assign(from.size(), 0.F);
  // Running sums of 1, t, t^2, y, t y.
  std::vector<std::array<double, 5>> sums(static_cast<std::size_t>(n) + 1);
  std::vector<std::pair<std::size_t, std::size_t>> window(static_cast<std::size_t>(n));
  for (std::size_t i = 0; i < window.size(); ++i) {
    const auto at = [&](double t) {
      return std::lower_bound(cap.times.begin(), cap.times.end(), t) - cap.times.begin();
    };
    // At the ends the same length, to one side.
    const double middle = std::clamp(cap.times[i], std::min(cap.times.front() + kLightHalf, cap.middle_s),
                                     std::max(cap.times.back() - kLightHalf, cap.middle_s));
    window[i] = {static_cast<std::size_t>(at(middle - kLightHalf)), static_cast<std::size_t>(at(middle + kLightHalf))};
  }
  for (int j = 0; j < m; ++j) {
    sums[0] = {};
    for (int i = 0; i < n; ++i) {
      const auto at = static_cast<std::size_t>(i * m + j), k = static_cast<std::size_t>(i);
      sums[k + 1] = sums[k];
      if (cap.seen[at] == 0) continue;
      const double t = cap.times[k] - cap.middle_s, y = line_of[at];
      sums[k + 1][0] += 1, sums[k + 1][1] += t, sums[k + 1][2] += t * t, sums[k + 1][3] += y, sums[k + 1][4] += t * y;
    }
    for (int i = 0; i < n; ++i) {
      const auto at = static_cast<std::size_t>(i * m + j), k = static_cast<std::size_t>(i);
      if (cap.seen[at] == 0) continue;
      std::array<double, 5> s{};
      for (std::size_t q = 0; q < 5; ++q) s[q] = sums[window[k].second][q] - sums[window[k].first][q];
      if (s[0] < 4) continue;
      const double det = s[0] * s[2] - s[1] * s[1], t = cap.times[k] - cap.middle_s;
      const double slope = det > 1e-9 ? (s[0] * s[4] - s[1] * s[3]) / det : 0;
      to[at] = from[at] - static_cast<float>((s[3] - slope * s[1]) / s[0] + slope * t);
    }
  }
}

}  // namespace

void SurfaceCap::TakeTrendOut(const std::vector<float>& light) { TakeLineOut(*this, light, raw, level); }

SurfaceCap MakeCap(const std::vector<const SurfaceView*>& views, const CameraModel& camera, double ball_radius_m,
                   double ball_k, double landing_s) {
  SurfaceCap cap;
  const std::size_t n = views.size();
  Vector3d sight = Vector3d::Zero();
  for (const SurfaceView* v : views) {
    cap.times.push_back(v->time_s);
    sight += (camera.position_in_lane - v->centre).normalized();
  }
  const Vector3d e3 = sight.normalized(), e1 = Vector3d::UnitZ().cross(e3).normalized(), e2 = e3.cross(e1);
  cap.basis << e1.transpose().cast<float>(), e2.transpose().cast<float>(), e3.transpose().cast<float>();
  const std::size_t middle = n / 2;
  cap.middle_s = cap.times[middle];
  const auto spin_of = [&](const Eigen::Vector2d& dv) {
    return Vector3d(Vector3d(dv.y(), -dv.x(), 0) / (ball_k * ball_radius_m));
  };
  const Vector3d whole = spin_of(views.back()->velocity - views.front()->velocity);
  // A path without friction has no direction of it: straight back.
  const Vector3d along = whole.norm() > 1e-6 ? whole.normalized() : spin_of(-views.front()->velocity).normalized();
  cap.along = along;
  const double half = std::max((cap.times.back() - cap.times.front()) / 2, 1e-3);
  for (const SurfaceView* v : views) {
    const double t = v->time_s;
    cap.drift.emplace_back();
    cap.drift.back().col(0) = spin_of(v->velocity - views[middle]->velocity);
    cap.drift.back().col(1) = std::max(whole.norm(), 1.0) * std::pow((t - cap.middle_s) / half, 2) * along;
    cap.drift.back().col(2) = ((t < landing_s ? -1.0 : 0.0) + (cap.middle_s < landing_s ? 1.0 : 0.0)) * along;
  }
  cap.index.assign(kCapGrid * kCapGrid, -1);
  for (int r = 0; r < kCapGrid; ++r)
    for (int c = 0; c < kCapGrid; ++c) {
      const double a = 2 * (c + 0.5) / kCapGrid - 1, b = 2 * (r + 0.5) / kCapGrid - 1;
      if (a * a + b * b > kCapRim * kCapRim) continue;
      cap.index[static_cast<std::size_t>(r * kCapGrid + c)] = cap.nodes();
      cap.normals.push_back((a * e1 + b * e2 + std::sqrt(1 - a * a - b * b) * e3).cast<float>());
      cap.across.push_back(static_cast<float>(a));
      cap.up.push_back(static_cast<float>(b));
    }
  const auto m = static_cast<std::size_t>(cap.nodes());
  cap.seen.assign(n * m, 0.F);
  std::array<std::vector<float>, 3> plane;
  const bool colour = std::all_of(views.begin(), views.end(),
                                  [](const SurfaceView* v) { return !v->patch.cb.empty() && !v->patch.cr.empty(); });
  for (std::vector<float>& p : plane) p.assign(n * m, 0.F);
  const Eigen::Matrix3d camera_from_lane = camera::RotationFromAngleAxis<double>(camera.rotation);
  for (std::size_t i = 0; i < n; ++i) {
    const SurfaceView& view = *views[i];
    const BallPatch& patch = view.patch;
    const Vector3d to_camera = (camera.position_in_lane - view.centre).normalized();
    const double cell = camera::BallRadiusPx(camera, view.centre, ball_radius_m) * 2 / kCapGrid;
    // Enough places in a cell that no pixel is skipped.
    const int places = std::clamp(static_cast<int>(std::ceil(cell / 1.3)), 1, 4);
    for (std::size_t j = 0; j < m; ++j) {
      const Vector3d normal = cap.normals[j].cast<double>();
      if (normal.dot(to_camera) < kLeastFacing) continue;
      const Vector3d p = camera_from_lane * (view.centre + ball_radius_m * normal - camera.position_in_lane);
      const Eigen::Vector2d px = camera::ImageFromNormalised(camera, {p.x() / p.z(), p.y() / p.z()});
      const double u = px.x() - patch.corner.x, v = px.y() - patch.corner.y;
      if (u < 0 || v < 0 || u > patch.luma.cols - 1 || v > patch.luma.rows - 1) continue;
      float sum = 0;
      for (int a = 0; a < places; ++a)
        for (int b = 0; b < places; ++b)
          sum += Bilinear(patch.luma, u + cell * ((a + 0.5) / places - 0.5), v + cell * ((b + 0.5) / places - 0.5));
      const std::size_t at = i * m + j;
      cap.seen[at] = 1;
      plane[0][at] = sum / static_cast<float>(places * places);
      if (!colour) continue;
      plane[1][at] = Bilinear(patch.cb, (u - 0.5) / 2, (v - 0.5) / 2);
      plane[2][at] = Bilinear(patch.cr, (u - 0.5) / 2, (v - 0.5) / 2);
    }
  }
  std::array<std::vector<float>, 3> left;
  for (std::size_t c = 0; c < 3; ++c) TakeLineOut(cap, plane[c], plane[c], left[c]);
  Eigen::Matrix3d spread = Eigen::Matrix3d::Zero();
  double count = 0;
  for (std::size_t at = 0; at < n * m; ++at) {
    if (cap.seen[at] == 0) continue;
    const Vector3d x(left[0][at], left[1][at], left[2][at]);
    spread += x * x.transpose();
    count += 1;
  }
  if (count < 100) return cap;
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d> eigen(spread / count);
  const double variance = eigen.eigenvalues()[2];
  if (!(variance > kLeastVariance)) return cap;
  cap.any_pattern = true;
  const Eigen::Vector3f direction = (eigen.eigenvectors().col(2) / std::sqrt(variance)).cast<float>();
  cap.raw.assign(n * m, 0.F);
  for (std::size_t at = 0; at < n * m; ++at)
    if (cap.seen[at] != 0)
      cap.raw[at] = direction[0] * plane[0][at] + direction[1] * plane[1][at] + direction[2] * plane[2][at];
  cap.TakeTrendOut(cap.raw);
  constexpr auto kCut = static_cast<float>(kWinsor);
  for (std::size_t at = 0; at < n * m; ++at) {
    const float cut = std::clamp(cap.level[at], -kCut, kCut);
    cap.raw[at] += cut - cap.level[at];
    cap.level[at] = cut;
  }
  return cap;
}

}  // namespace hookline::motion
