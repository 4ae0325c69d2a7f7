#include "setup/rack_shading.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/core/mat.hpp>
#include <opencv2/imgproc.hpp>

#include "lane/lane_spec.h"
#include "lane/pin_profile.h"

namespace hookline::setup {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

// The head is a ball: beyond its middle the distance to that middle counts, so that a pin grows the same way to its top
// as to its sides.
constexpr double kHead = 13.5 / 15.0;
// Bands are painted about the neck (10 in), their number and width as the maker likes: common practice.
constexpr double kBand = 10.2 / 15.0, kBandReach = 1.6 / 15.0;
constexpr std::size_t kDark = 0, kWhite = 1, kRight = 2, kFront = 3, kAbove = 4, kNeck = 5, kPictures = 6;

}  // namespace

PlaceOnPin LookAtPin(const PinOnScreen& pin, double u, double v) {
  PlaceOnPin at;
  const Vector2d axis = pin.top - pin.foot;
  const double length = axis.norm();
  const double t = ((u - pin.foot.x()) * axis.x() + (v - pin.foot.y()) * axis.y()) / (length * length);
  const double off = ((v - pin.foot.y()) * axis.x() - (u - pin.foot.x()) * axis.y()) / length;
  at.height = std::clamp(t, 0.0, 1.0);
  double radius = 0, slope = 0;  // px; of the radius over the height
  if (t > kHead) {
    const double head = lane::PinRadiusAt(kHead * lane::kPinHeight), head_px = head * pin.px_per_metre;
    const double up = (t - kHead) / (1 - kHead), on = std::min(up, 0.98), round = std::sqrt(1 - on * on);
    at.inside = head_px - std::hypot(off, up * head_px);
    radius = head_px * round;
    slope = -head * on / round / ((1 - kHead) * lane::kPinHeight);
  } else {
    constexpr double kAround = 0.006;  // m
    const double z = at.height * lane::kPinHeight;
    const double below = std::max(0.0, z - kAround), above = std::min(kHead * lane::kPinHeight, z + kAround);
    radius = lane::PinRadiusAt(z) * pin.px_per_metre;
    at.inside = radius - std::abs(off);
    slope = (lane::PinRadiusAt(above) - lane::PinRadiusAt(below)) / (above - below);
  }
  const double side = std::clamp(off / std::max(radius, 1e-6), -1.0, 1.0);
  at.normal = Vector3d(side, std::sqrt(1 - side * side), -slope) / std::sqrt(1 + slope * slope);
  return at;
}

bool Beside(const PinOnScreen& pin, double u) {
  const double reach = 0.5 * lane::kPinMaxDiameter * pin.px_per_metre + kMostBeyond;
  return u < std::min(pin.foot.x(), pin.top.x()) - reach || u > std::max(pin.foot.x(), pin.top.x()) + reach;
}

LitRack::LitRack(const std::vector<PinOnScreen>& pins, const SampleGrid& grid) : grid_(grid) {
  for (int sample = 0; sample < grid.nx * grid.ny; ++sample)
    // A sample's share is the mean of four looks.
    for (int look = 0; look < 4; ++look) {
      const double u = grid.u_lo + (sample % grid.nx + 0.5 * (look % 2) - 0.25) * grid.step,
                   v = grid.v_lo + (sample / grid.nx + 0.5 * (look / 2) - 0.25) * grid.step;
      bool first = true;
      for (const PinOnScreen& p : pins) {
        if (Beside(p, u)) continue;
        const PlaceOnPin at = LookAtPin(p, u, v);
        if (at.inside < -kMostBeyond) continue;
        hits_.push_back({sample, first, at});
        first = false;
      }
    }
}

void LitRack::Draw(double bloom, double blur) {
  std::array<cv::Mat, kPictures> drawn;
  for (cv::Mat& m : drawn) m = cv::Mat::zeros(grid_.ny, grid_.nx, CV_32F);
  drawn[kDark].setTo(1);
  double open = 1;  // share of the look that no pin nearer the camera covers
  for (const Hit& hit : hits_) {
    if (hit.first) open = 1;
    const double white = std::clamp(hit.at.inside + bloom + 0.5, 0.0, 1.0), share = 0.25 * open * white;
    open *= 1 - white;
    if (share <= 0) continue;
    const double band = std::max(0.0, 1 - std::abs(hit.at.height - kBand) / kBandReach);
    const auto add = [&](std::size_t picture, double value) {
      drawn[picture].ptr<float>()[hit.sample] += static_cast<float>(share * value);
    };
    add(kWhite, 1);
    add(kRight, hit.at.normal.x());
    add(kFront, hit.at.normal.y());
    add(kAbove, hit.at.normal.z());
    add(kNeck, band);
  }
  pictures_.resize(grid_.nx * grid_.ny, kPictures);
  for (std::size_t k = 0; k < kPictures; ++k) {
    cv::Mat& m = drawn[k];
    if (k != kDark) cv::GaussianBlur(m, m, cv::Size(0, 0), std::max(0.3, blur / grid_.step));
    for (int i = 0; i < grid_.nx * grid_.ny; ++i)
      pictures_(i, static_cast<Eigen::Index>(k)) = static_cast<double>(m.ptr<float>()[i]);
  }
  const Eigen::HouseholderQR<Eigen::MatrixXd> qr(pictures_);
  basis_ = qr.householderQ() * Eigen::MatrixXd::Identity(pictures_.rows(), kPictures);
}

}  // namespace hookline::setup
