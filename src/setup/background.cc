#include "setup/background.h"

#include <algorithm>
#include <cassert>
#include <opencv2/core/utility.hpp>

namespace hookline::setup {
namespace {

// Pixel-wise order statistics of a stack of planes. Rows are independent, so they are shared among OpenCV's threads.
void OrderStatistics(const std::vector<cv::Mat>& planes, cv::Mat* median, cv::Mat* spread) {
  const cv::Size size = planes[0].size();
  median->create(size, CV_8UC1);
  if (spread) spread->create(size, CV_8UC1);
  const std::size_t n = planes.size();
  const std::size_t lo = n * 16 / 100, hi = n - 1 - lo, mid = n / 2;
  cv::parallel_for_(cv::Range(0, size.height), [&](const cv::Range& rows) {
    std::vector<const unsigned char*> in(n);
    std::vector<unsigned char> v(n);
    for (int y = rows.start; y < rows.end; ++y) {
      for (std::size_t k = 0; k < n; ++k) in[k] = planes[k].ptr(y);
      unsigned char* out = median->ptr(y);
      unsigned char* out_spread = spread ? spread->ptr(y) : nullptr;
      for (int x = 0; x < size.width; ++x) {
        for (std::size_t k = 0; k < n; ++k) v[k] = in[k][x];
        std::nth_element(v.begin(), v.begin() + static_cast<std::ptrdiff_t>(mid), v.end());
        out[x] = v[mid];
        if (out_spread) {
          // nth_element left the smaller half in front of mid and the larger behind it.
          const auto m = v.begin() + static_cast<std::ptrdiff_t>(mid);
          if (lo < mid) std::nth_element(v.begin(), v.begin() + static_cast<std::ptrdiff_t>(lo), m);
          if (hi > mid) std::nth_element(m + 1, v.begin() + static_cast<std::ptrdiff_t>(hi), v.end());
          out_spread[x] = static_cast<unsigned char>((v[hi] - v[lo]) / 2);
        }
      }
    }
  });
}

}  // namespace

Background StillBackground(const std::vector<Picture>& pictures) {
  assert(!pictures.empty());
  Background b;
  b.pictures = static_cast<int>(pictures.size());
  std::vector<cv::Mat> planes;
  for (const Picture& p : pictures) planes.push_back(p.luma);
  OrderStatistics(planes, &b.luma, &b.spread);
  const bool chroma =
      std::all_of(pictures.begin(), pictures.end(), [](const Picture& p) { return !p.cb.empty() && !p.cr.empty(); });
  if (chroma) {
    planes.clear();
    for (const Picture& p : pictures) planes.push_back(p.cb);
    OrderStatistics(planes, &b.cb, nullptr);
    planes.clear();
    for (const Picture& p : pictures) planes.push_back(p.cr);
    OrderStatistics(planes, &b.cr, nullptr);
  }
  return b;
}

}  // namespace hookline::setup
