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
constexpr int kDark = 0, kWhite = 1, kRight = 2, kFront = 3, kAbove = 4, kNeck = 5, kRim = 6, kPictures = 7;

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

double LitRack::BloomBeyond(const Eigen::VectorXd& image) const {
  const Eigen::VectorXd weight = (pictures.transpose() * pictures).ldlt().solve(pictures.transpose() * image);
  // At a pin's outline the normal points aside, so what is white there is the even part and little else.
  return weight[kWhite] > 0 ? std::clamp(weight[kRim] / weight[kWhite], -0.3, 0.3) : 0;
}

LitRack DrawLitRack(const std::vector<PinOnScreen>& pins, const SampleGrid& grid, double bloom, double blur) {
  std::array<cv::Mat, kPictures> drawn;
  for (cv::Mat& m : drawn) m = cv::Mat::zeros(grid.ny, grid.nx, CV_32F);
  drawn[kDark].setTo(1);
  double reach = 0;
  for (const PinOnScreen& p : pins) reach = std::max(reach, 0.5 * lane::kPinMaxDiameter * p.px_per_metre + bloom + 2);
  for (int j = 0; j < grid.ny; ++j)
    for (int i = 0; i < grid.nx; ++i)
      // A sample's share is the mean of four.
      for (int quarter = 0; quarter < 4; ++quarter) {
        const double u = grid.u_lo + (i + 0.5 * (quarter % 2) - 0.25) * grid.step,
                     v = grid.v_lo + (j + 0.5 * (quarter / 2) - 0.25) * grid.step;
        double open = 1;  // share of the sample that no pin nearer the camera covers
        for (const PinOnScreen& p : pins) {
          if (open <= 0) break;
          if (u < std::min(p.foot.x(), p.top.x()) - reach || u > std::max(p.foot.x(), p.top.x()) + reach) continue;
          const PlaceOnPin at = LookAtPin(p, u, v);
          const auto cover = [&](double beyond) { return std::clamp(at.inside + bloom + beyond + 0.5, 0.0, 1.0); };
          constexpr double kStep = 0.15;  // px
          const double white = cover(0), share = 0.25 * open;
          const double band = std::max(0.0, 1 - std::abs(at.height - kBand) / kBandReach);
          const auto add = [&](int picture, double value) {
            drawn[static_cast<std::size_t>(picture)].at<float>(j, i) += static_cast<float>(share * value);
          };
          add(kWhite, white);
          add(kRight, white * at.normal.x());
          add(kFront, white * at.normal.y());
          add(kAbove, white * at.normal.z());
          add(kNeck, white * band);
          add(kRim, (cover(kStep) - cover(-kStep)) / (2 * kStep));
          open *= 1 - white;
        }
      }
  LitRack rack;
  rack.pictures.resize(grid.nx * grid.ny, kPictures);
  for (int k = 0; k < kPictures; ++k) {
    cv::Mat& m = drawn[static_cast<std::size_t>(k)];
    if (k != kDark) cv::GaussianBlur(m, m, cv::Size(0, 0), std::max(0.4, blur / grid.step));
    for (int j = 0; j < grid.ny; ++j)
      for (int i = 0; i < grid.nx; ++i) rack.pictures(j * grid.nx + i, k) = static_cast<double>(m.at<float>(j, i));
  }
  const Eigen::HouseholderQR<Eigen::MatrixXd> qr(rack.pictures);
  rack.basis = qr.householderQ() * Eigen::MatrixXd::Identity(rack.pictures.rows(), kPictures);
  return rack;
}

}  // namespace hookline::setup
