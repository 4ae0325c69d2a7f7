#include "setup/order_statistics.h"

#include <algorithm>
#include <opencv2/core/utility.hpp>
#include <utility>

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

}  // namespace

// A sorting network works on whole rows at once, which the compiler turns into vector instructions: some fifty times
// faster than selecting pixel by pixel.
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

}  // namespace hookline::setup
