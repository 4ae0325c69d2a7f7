#include "setup/rack_align.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "camera/projection.h"
#include "setup/rack_shading.h"
#include "setup/sampling.h"

namespace hookline::setup {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

constexpr double kBlur = 0.7;  // px, of lens and encoder

// How far the pixel lies inside the nearest pin's outline, px; negative outside, far so where no pin shows.
double Inside(const std::vector<PinOnScreen>& pins, double u, double v) {
  double inside = -1e3;
  for (const PinOnScreen& p : pins)
    if (!Beside(p, u)) inside = std::max(inside, LookAtPin(p, u, v).inside);
  return inside;
}

struct Sampled {
  double match = -1;
  Eigen::VectorXd image;  // normalised
};

// Of a vector after the three parts of an alignment, by central differences.
template <typename Value>
Eigen::MatrixXd DerivativesOf(const Value& value, const Eigen::Vector3d& at, const Eigen::Vector3d& step) {
  Eigen::MatrixXd out;
  for (int k = 0; k < 3; ++k) {
    Eigen::Vector3d a = at, b = at;
    a[k] -= step[k];
    b[k] += step[k];
    const Eigen::VectorXd column = (value(b) - value(a)) / (2 * step[k]);
    if (k == 0) out.resize(column.size(), 3);
    out.col(k) = column;
  }
  return out;
}

// Where `cost` is least near `at`, within lo..hi: a few strides downhill, then the parabola through three.
template <typename Cost>
double Settle(double at, double stride, double lo, double hi, const Cost& cost) {
  std::array<double, 3> c = {cost(at - stride), cost(at), cost(at + stride)};
  for (int k = 0; k < 6 && (c[0] < c[1] || c[2] < c[1]); ++k) {
    const double way = c[0] < c[2] ? -1 : 1, next = at + way * stride;
    if (next - stride < lo || next + stride > hi) break;
    const double beyond = cost(next + way * stride);
    c = way < 0 ? std::array{beyond, c[0], c[1]} : std::array{c[1], c[2], beyond};
    at = next;
  }
  const double curve = c[0] - 2 * c[1] + c[2];
  const double fine = curve > 0 ? 0.5 * stride * (c[0] - c[2]) / curve : 0;
  return std::clamp(at + std::clamp(fine, -stride, stride), lo, hi);
}

// The alignment at which the pins, lit in any way, explain the image best. sample: the normalised image where the rack
// is moved by shift u, v (px) and growth; step: of its derivatives. nullopt where that leads away from the place found
// for white pins.
template <typename Sample>
std::optional<Eigen::Vector3d> AlignLit(const std::vector<PinOnScreen>& pins, const SampleGrid& grid,
                                        const Eigen::Vector3d& found, const Eigen::Vector3d& step, double bloom,
                                        const Sample& sample) {
  LitRack rack(pins, grid);
  Eigen::Vector3d best = found;
  double blur = kBlur;
  for (int round = 0; round < 3; ++round) {
    const Eigen::VectorXd image = sample(best);
    const auto left = [&](double b, double s) {
      rack.Draw(b, s);
      return rack.Unexplained(image).squaredNorm();
    };
    bloom = Settle(bloom, 0.15, -0.75, 1.2, [&](double b) { return left(b, blur); });
    blur = Settle(blur, 0.15, 0.15, 1.5, [&](double s) { return left(bloom, s); });
    rack.Draw(bloom, blur);
    const auto rest = [&](const Eigen::Vector3d& p) { return rack.Unexplained(sample(p)); };
    for (int turn = 0; turn < 5; ++turn) {
      const Eigen::VectorXd now = rest(best);
      const Eigen::MatrixXd jacobian = DerivativesOf(rest, best, step);
      const Eigen::Vector3d delta = (jacobian.transpose() * jacobian).ldlt().solve(-jacobian.transpose() * now);
      if (!delta.allFinite()) return std::nullopt;
      double share = 1;
      while (share > 0.05 && rest(best + share * delta).squaredNorm() >= now.squaredNorm()) share *= 0.5;
      if (share <= 0.05) break;
      best += share * delta;
      if (share * delta.head<2>().norm() < 0.004) break;
    }
    // Light moves the seen place by half a pixel, not by pixels: farther off something else was explained.
    if ((best - found).head<2>().norm() > 1 || std::abs(best[2] - found[2]) > 0.03) return std::nullopt;
  }
  return best;
}

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
  const int n = nx * ny;
  // Distances on a grid twice as fine, so that a pixel's share is the mean of four.
  cv::Mat inside(2 * ny, 2 * nx, CV_32F);
  for (int j = 0; j < 2 * ny; ++j)
    for (int i = 0; i < 2 * nx; ++i)
      inside.at<float>(j, i) =
          static_cast<float>(Inside(pins, u_lo + (0.5 * i - 0.25) * step, v_lo + (0.5 * j - 0.25) * step));
  // White pins before a dark pit look larger than they are, by how much lens, exposure and encoder smear them: `bloom`,
  // px, is found from their widths and taken out of their height.
  const auto model_with = [&](double bloom) {
    cv::Mat drawn(ny, nx, CV_32F);
    for (int j = 0; j < ny; ++j)
      for (int i = 0; i < nx; ++i) {
        double c = 0;
        for (int b = 0; b < 2; ++b)
          for (int a = 0; a < 2; ++a)
            c += std::clamp(static_cast<double>(inside.at<float>(2 * j + b, 2 * i + a)) + bloom + 0.5, 0.0, 1.0);
        drawn.at<float>(j, i) = static_cast<float>(c / 4);
      }
    cv::GaussianBlur(drawn, drawn, cv::Size(0, 0), std::max(0.4, kBlur / step));
    Eigen::VectorXd model(n);
    for (int j = 0; j < ny; ++j)
      for (int i = 0; i < nx; ++i) model[j * nx + i] = static_cast<double>(drawn.at<float>(j, i));
    model.array() -= model.mean();
    model.normalize();
    return model;
  };
  Eigen::VectorXd model = model_with(0);

  // Between grey levels, in which the encoder smears, and light, in which the lens does; the bloom takes the rest.
  static const LightTable kLight(1.8);
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
  // Gauss-Newton on the normalised difference with numeric derivatives: three parameters, a few thousand samples; the
  // bloom anew between.
  double bloom = 0;
  const Eigen::Vector3d derivative_step(0.25, 0.25, 0.25 / (0.5 * (u_hi - u_lo)));
  for (int round = 0; round < 16; ++round) {
    if (round == 2 || round == 5 || round == 8) {
      const Eigen::VectorXd image = sample(best).image;
      double most = -1, at = bloom;
      std::array<double, 3> around{};
      const double stride_b = 0.15;
      const auto value = [&](double b) { return model_with(b).dot(image); };
      for (double b = -0.6; b <= 1.21; b += stride_b)
        if (const double m = value(b); m > most) {
          most = m;
          at = b;
        }
      around = {value(at - stride_b), most, value(at + stride_b)};
      const double curve = around[0] - 2 * around[1] + around[2];
      bloom = at + (curve < 0 ? 0.5 * stride_b * (around[0] - around[2]) / curve : 0);
      model = model_with(bloom);
    }
    const Sampled now = sample(best);
    const Eigen::MatrixXd jacobian =
        DerivativesOf([&](const Eigen::Vector3d& p) { return sample(p).image; }, best, derivative_step);
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
    if (match <= now.match) {
      if (round < 8) {
        round = round < 2 ? 1 : round < 5 ? 4 : 7;  // on to the next bloom
        continue;
      }
      break;
    }
    const double moved = (next - best).head<2>().norm() + std::abs(next[2] - best[2]) * 0.5 * (u_hi - u_lo);
    best = next;
    best_match = match;
    if (moved < 0.004) {
      if (round < 8) {
        round = round < 2 ? 1 : round < 5 ? 4 : 7;
        continue;
      }
      break;
    }
  }
  if (std::abs(best[0]) > window_px + stride || std::abs(best[1]) > window_px + stride || std::abs(best[2]) > 0.25)
    return std::nullopt;
  if (const auto lit = AlignLit(pins, {u_lo, v_lo, step, nx, ny}, best, derivative_step, bloom,
                                [&](const Eigen::Vector3d& p) { return sample(p).image; }))
    best = *lit;
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
