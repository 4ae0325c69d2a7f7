// Reading a picture between its pixels.
#pragma once

#include <algorithm>
#include <cmath>
#include <opencv2/core/mat.hpp>

namespace hookline::setup {

// Bilinear value of a CV_32F or CV_8U plane at (u, v); outside the picture the nearest border pixel counts.
template <typename Pixel>
inline double BilinearOf(const cv::Mat& plane, double u, double v) {
  u = std::clamp(u, 0.0, static_cast<double>(plane.cols - 1));
  v = std::clamp(v, 0.0, static_cast<double>(plane.rows - 1));
  const int x = std::min(static_cast<int>(u), plane.cols - 2), y = std::min(static_cast<int>(v), plane.rows - 2);
  const double a = u - x, b = v - y;
  const Pixel* p = plane.ptr<Pixel>(y) + x;
  const Pixel* q = plane.ptr<Pixel>(y + 1) + x;
  return (1 - b) * ((1 - a) * p[0] + a * p[1]) + b * ((1 - a) * q[0] + a * q[1]);
}

inline double Bilinear(const cv::Mat& plane, double u, double v) {
  return plane.type() == CV_8UC1 ? BilinearOf<unsigned char>(plane, u, v) : BilinearOf<float>(plane, u, v);
}

}  // namespace hookline::setup
