#include "setup/lane_contrast.h"

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "camera/projection.h"
#include "setup/sampling.h"

namespace hookline::setup {
namespace {

using Eigen::Vector3d;

// (Y, Cb, Cr) at a luma pixel. Chroma pixel i has its centre at luma 2i + 1/2.
Vector3d ColourAt(const Background& b, double u, double v) {
  return {Bilinear(b.luma, u, v), Bilinear(b.cb, 0.5 * (u - 0.5), 0.5 * (v - 0.5)),
          Bilinear(b.cr, 0.5 * (u - 0.5), 0.5 * (v - 0.5))};
}

cv::Mat Mixed(const cv::Mat& luma, const cv::Mat& cb, const cv::Mat& cr, const Vector3d& w, double offset) {
  // Half-size chroma back to full size with its siting: u_chroma = (u - 1/2) / 2.
  const cv::Mat from_full = (cv::Mat_<double>(2, 3) << 0.5, 0, -0.25, 0, 0.5, -0.25);
  cv::Mat b, r, y, out;
  cv::warpAffine(cb, b, from_full, luma.size(), cv::INTER_LINEAR | cv::WARP_INVERSE_MAP, cv::BORDER_REPLICATE);
  cv::warpAffine(cr, r, from_full, luma.size(), cv::INTER_LINEAR | cv::WARP_INVERSE_MAP, cv::BORDER_REPLICATE);
  luma.convertTo(y, CV_32F, w[0], offset);
  cv::scaleAdd(cv::Mat_<float>(b), w[1], y, y);
  cv::scaleAdd(cv::Mat_<float>(r), w[2], y, y);
  y.convertTo(out, CV_8U);
  return out;
}

}  // namespace

std::vector<cv::Mat> ContrastPictures(const Background& background, const LaneSetup& trial) {
  if (background.cb.empty() || background.cr.empty()) return {};
  Vector3d difference = Vector3d::Zero(), middle = Vector3d::Zero();
  int n = 0;
  const auto seen = [&](double x, double y) {
    const auto p = camera::ImageFromLane(trial.camera, {x, y, 0});
    return p && p->x() > 2 && p->y() > 2 && p->x() < background.luma.cols - 3 && p->y() < background.luma.rows - 3
               ? p
               : std::nullopt;
  };
  for (const double side : {-1.0, 1.0})
    for (double y = 0.5; y < 14; y += 0.2) {
      const auto on = seen(side * 0.36 * trial.lane.width, y),
                 off = seen(side * (0.5 * trial.lane.width + 0.5 * lane::kGutterWidth), y);
      if (!on || !off) continue;
      const Vector3d a = ColourAt(background, on->x(), on->y()), b = ColourAt(background, off->x(), off->y());
      difference += a - b;
      middle += 0.5 * (a + b);
      ++n;
    }
  if (n < 40) return {};
  difference /= n;
  middle /= n;
  // Noise and texture, grey levels: wood's grain shows in luma, the encoder smooths chroma.
  const Vector3d sigma(5, 2, 2);
  const Vector3d signal = difference.cwiseQuotient(sigma);
  if (std::abs(signal[0]) > 0.6 * signal.norm() || signal.norm() < 2) return {};
  Vector3d w = difference.cwiseQuotient(sigma.cwiseProduct(sigma));
  // Spread so that lane and gutter lie eighty levels apart.
  w *= 80.0 / w.dot(difference);
  const double offset = 128 - w.dot(middle);
  std::vector<cv::Mat> out = {Mixed(background.luma, background.cb, background.cr, w, offset)};
  for (const Picture& p : background.layers) {
    if (p.cb.empty() || p.cr.empty()) return {};
    out.push_back(Mixed(p.luma, p.cb, p.cr, w, offset));
  }
  return out;
}

}  // namespace hookline::setup
