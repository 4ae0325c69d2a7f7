// Reading a picture between its pixels.
#pragma once

#include <algorithm>
#include <array>
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

// Encoded grey level 0..255 to light 0..255 by a power law. A pixel half on a bright lane and half on a dark gutter
// holds half the light, which the encoding shows as well above half the grey level: edges measured half way in grey
// levels lie up to 0.25 px towards the dark side. An exponent of 2.2 undoes most of it for the curves that phones use.
struct LightTable {
  std::array<double, 256> light;
  explicit LightTable(double exponent) {
    for (std::size_t i = 0; i < light.size(); ++i) light[i] = 255 * std::pow(static_cast<double>(i) / 255, exponent);
  }
};

// Bilinear light of a CV_8U plane at (u, v): pixels are turned into light first, then weighed.
inline double BilinearLight(const cv::Mat& luma, const LightTable& table, double u, double v) {
  u = std::clamp(u, 0.0, static_cast<double>(luma.cols - 1));
  v = std::clamp(v, 0.0, static_cast<double>(luma.rows - 1));
  const int x = std::min(static_cast<int>(u), luma.cols - 2), y = std::min(static_cast<int>(v), luma.rows - 2);
  const double a = u - x, b = v - y;
  const unsigned char* p = luma.ptr(y) + x;
  const unsigned char* q = luma.ptr(y + 1) + x;
  return (1 - b) * ((1 - a) * table.light[p[0]] + a * table.light[p[1]]) +
         b * ((1 - a) * table.light[q[0]] + a * table.light[q[1]]);
}

inline double Bilinear(const cv::Mat& plane, double u, double v) {
  return plane.type() == CV_8UC1 ? BilinearOf<unsigned char>(plane, u, v) : BilinearOf<float>(plane, u, v);
}

}  // namespace hookline::setup
