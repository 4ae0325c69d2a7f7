#include "setup/background.h"

#include <algorithm>
#include <cassert>
#include <opencv2/core/utility.hpp>
#include <opencv2/imgproc.hpp>
#include <utility>

#include "setup/patch_flow.h"

namespace hookline::setup {
namespace {

// Pairs to compare and exchange that sort n numbers (Batcher's odd-even merge sort, any n).
std::vector<std::pair<std::size_t, std::size_t>> SortingNetwork(std::size_t n) {
  std::vector<std::pair<std::size_t, std::size_t>> pairs;
  for (std::size_t p = 1; p < n; p *= 2)
    for (std::size_t k = p; k >= 1; k /= 2)
      for (std::size_t j = k % p; j + k < n; j += 2 * k)
        for (std::size_t i = 0; i < std::min(k, n - j - k); ++i)
          if ((i + j) / (2 * p) == (i + j + k) / (2 * p)) pairs.emplace_back(i + j, i + j + k);
  return pairs;
}

// Pixel-wise order statistics of a stack of planes. A sorting network works on whole rows at once, which the compiler
// turns into vector instructions: some fifty times faster than selecting pixel by pixel.
void OrderStatistics(const std::vector<cv::Mat>& planes, cv::Mat* median, cv::Mat* spread) {
  const cv::Size size = planes[0].size();
  median->create(size, CV_8UC1);
  if (spread) spread->create(size, CV_8UC1);
  const std::size_t n = planes.size();
  const std::size_t lo = n * 16 / 100, hi = n - 1 - lo, mid = n / 2;
  const auto network = SortingNetwork(n);
  constexpr int kTile = 512;  // columns at a time: the stack of a tile stays in the first cache
  cv::parallel_for_(cv::Range(0, size.height), [&](const cv::Range& rows) {
    std::vector<unsigned char> stack(n * kTile);
    for (int y = rows.start; y < rows.end; ++y)
      for (int x0 = 0; x0 < size.width; x0 += kTile) {
        const auto width = static_cast<std::size_t>(std::min(kTile, size.width - x0));
        for (std::size_t k = 0; k < n; ++k) std::copy_n(planes[k].ptr(y) + x0, width, stack.data() + k * kTile);
        for (const auto& [i, j] : network) {
          // The two rows never overlap; said so, the loop becomes vector instructions.
          unsigned char* __restrict a = stack.data() + i * kTile;
          unsigned char* __restrict b = stack.data() + j * kTile;
          for (std::size_t x = 0; x < width; ++x) {
            const unsigned char low = a[x] < b[x] ? a[x] : b[x], high = a[x] < b[x] ? b[x] : a[x];
            a[x] = low;
            b[x] = high;
          }
        }
        std::copy_n(stack.data() + mid * kTile, width, median->ptr(y) + x0);
        if (spread) {
          const unsigned char* a = stack.data() + lo * kTile;
          const unsigned char* b = stack.data() + hi * kTile;
          unsigned char* out = spread->ptr(y) + x0;
          for (std::size_t x = 0; x < width; ++x) out[x] = static_cast<unsigned char>((b[x] - a[x]) / 2);
        }
      }
  });
}

// Pictures turned onto the first one where the camera moved by more than a tenth of a pixel. Those that cannot be
// matched are left out.
std::vector<Picture> Aligned(const std::vector<Picture>& pictures) {
  const PatchFlow flow(pictures[0].luma, 150);
  std::vector<Picture> out = {pictures[0]};
  for (std::size_t i = 1; i < pictures.size(); ++i) {
    const Picture& p = pictures[i];
    auto found = flow.Find(p.luma, flow.places());
    std::vector<double> moved;
    for (const auto& f : found) moved.push_back((f.p_in_picture - flow.places()[f.patch]).norm());
    if (moved.size() >= flow.places().size() / 3) {
      const auto mid = moved.begin() + static_cast<std::ptrdiff_t>(moved.size() / 2);
      std::nth_element(moved.begin(), mid, moved.end());
      if (!moved.empty() && *mid < 0.1) {
        out.push_back(p);
        continue;
      }
    }
    if (flow.places().size() < 12) {  // too plain a picture to tell; taken as it is
      out.push_back(p);
      continue;
    }
    found = flow.FindFar(p.luma);
    const auto h = HomographyFrom(flow, found);
    if (!h) continue;
    // warpPerspective with WARP_INVERSE_MAP takes picture-from-reference as it is.
    Picture q = p;
    const auto turned = [](const cv::Mat& plane, const cv::Mat& m) {
      cv::Mat w;
      cv::warpPerspective(plane, w, m, plane.size(), cv::INTER_LINEAR | cv::WARP_INVERSE_MAP, cv::BORDER_REPLICATE);
      return w;
    };
    q.luma = turned(p.luma, *h);
    if (!p.cb.empty() && !p.cr.empty()) {
      // Chroma pixel i has its centre at luma 2i + 1/2: u_luma = 2 u + 1/2.
      const cv::Mat up = (cv::Mat_<double>(3, 3) << 2, 0, 0.5, 0, 2, 0.5, 0, 0, 1);
      const cv::Mat hc = up.inv() * *h * up;
      q.cb = turned(p.cb, hc);
      q.cr = turned(p.cr, hc);
    }
    out.push_back(q);
  }
  return out;
}

}  // namespace

Background StillBackground(const std::vector<Picture>& all) {
  assert(!all.empty());
  const std::vector<Picture> pictures = Aligned(all);
  Background b;
  b.pictures = static_cast<int>(pictures.size());
  std::vector<cv::Mat> planes;
  for (const Picture& p : pictures) planes.push_back(p.luma);
  OrderStatistics(planes, &b.luma, &b.spread);
  constexpr std::size_t kLayers = 6;
  for (std::size_t k = 0; k < std::min(kLayers, pictures.size()); ++k)
    b.layers.push_back(
        pictures[k * (pictures.size() - 1) / std::max<std::size_t>(1, std::min(kLayers, pictures.size()) - 1)]);
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
