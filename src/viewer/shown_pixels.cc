#include "viewer/shown_pixels.h"

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/core/hal/intrin.hpp>
#include <opencv2/imgproc.hpp>
#include <utility>

#include "viewer/colour_matrix.h"

namespace hookline::viewer {
namespace {

// R'G'B' with three binary digits behind the point: (v << 7) * (k << 12) >> 16.
struct FixedMatrix {
  short y, r_from_cr, g_from_cb, g_from_cr, b_from_cb, black;
};

FixedMatrix FixedOf(const media::ShownForm& form) {
  const ColourMatrix m = ColourMatrixOf(form.matrix, form.full_range);
  const auto fixed = [&](int row, int column) {
    return static_cast<short>(std::lround(m.rgb_from_ycc(row, column) * 4096));
  };
  return {fixed(0, 0), fixed(0, 2), fixed(1, 1),
          fixed(1, 2), fixed(2, 1), static_cast<short>(std::lround(m.ycc_zero[0] * 255))};
}

void ColourRow(const FixedMatrix& m, const uchar* y, const uchar* cb, const uchar* cr, uchar* out, int count) {
  int i = 0;
#if CV_SIMD128
  using namespace cv;
  const auto all = [](int v) { return v_setall_s16(static_cast<short>(v)); };
  const v_int16x8 black = all(m.black), grey = all(128), half = all(4);
  const v_int16x8 ky = all(m.y), rv = all(m.r_from_cr), gu = all(m.g_from_cb), gv = all(m.g_from_cr),
                  bu = all(m.b_from_cb);
  const v_uint8x16 opaque = v_setall_u8(255);
  const auto wide = [](const uchar* p) { return v_reinterpret_as_s16(v_load_expand(p)); };
  for (; i + 16 <= count; i += 16) {
    v_int16x8 r[2], g[2], b[2];
    for (int k = 0; k < 2; ++k) {
      const v_int16x8 luma = v_mul_hi((wide(y + i + 8 * k) - black) << 7, ky) + half;
      const v_int16x8 u = (wide(cb + i + 8 * k) - grey) << 7, v = (wide(cr + i + 8 * k) - grey) << 7;
      r[k] = (luma + v_mul_hi(v, rv)) >> 3;
      g[k] = (luma + v_mul_hi(u, gu) + v_mul_hi(v, gv)) >> 3;
      b[k] = (luma + v_mul_hi(u, bu)) >> 3;
    }
    v_store_interleave(out + 4 * i, v_pack_u(b[0], b[1]), v_pack_u(g[0], g[1]), v_pack_u(r[0], r[1]), opaque);
  }
#endif
  const auto part = [](int v, int k) { return (v * 128 * k) >> 16; };
  const auto byte = [](int v) { return static_cast<uchar>(std::clamp(v >> 3, 0, 255)); };
  for (; i < count; ++i) {
    const int luma = part(y[i] - m.black, m.y) + 4, u = cb[i] - 128, v = cr[i] - 128;
    out[4 * i] = byte(luma + part(u, m.b_from_cb));
    out[4 * i + 1] = byte(luma + part(u, m.g_from_cb) + part(v, m.g_from_cr));
    out[4 * i + 2] = byte(luma + part(v, m.r_from_cr));
    out[4 * i + 3] = 255;
  }
}

}  // namespace

bool ShownPixels::Can(const Picture& picture) {
  return !picture.luma.empty() && picture.luma.cols == 2 * picture.cb.cols && picture.luma.rows == 2 * picture.cb.rows;
}

const cv::Mat& ShownPixels::Make(const Picture& picture, const media::ShownForm& form, cv::Size shown,
                                 const Eigen::Vector4d& part, cv::Size size) {
  // The visible part in the stored planes: the turns taken back, then the pixels' own shape.
  double left = part[0] / shown.width, right = part[2] / shown.width;
  double top = part[1] / shown.height, bottom = part[3] / shown.height;
  if (form.flip_x) left = 1 - std::exchange(right, 1 - left);
  if (form.flip_y) top = 1 - std::exchange(bottom, 1 - top);
  if (form.transpose) std::swap(left, top), std::swap(right, bottom);
  const int columns = picture.cb.cols, rows = picture.cb.rows;
  const auto from = [](double v, int n) { return std::clamp(static_cast<int>(std::floor(v * n + 1e-6)), 0, n - 1); };
  const auto to = [](double v, int n, int begin) {
    return std::clamp(static_cast<int>(std::ceil(v * n - 1e-6)), begin + 1, n);
  };
  // In chroma pixels, so that all planes are cut alike.
  const int x0 = from(left, columns), x1 = to(right, columns, x0), y0 = from(top, rows), y1 = to(bottom, rows, y0);
  const cv::Rect cut(x0, y0, x1 - x0, y1 - y0);
  const cv::Size stored_size = form.transpose ? cv::Size(size.height, size.width) : size;
  // The cut reaches a little over the part; it is scaled as the part is, and the rest left away.
  const double scale_x = stored_size.width / ((right - left) * columns);
  const double scale_y = stored_size.height / ((bottom - top) * rows);
  const cv::Size scaled(std::max(stored_size.width, static_cast<int>(std::lround(cut.width * scale_x))),
                        std::max(stored_size.height, static_cast<int>(std::lround(cut.height * scale_y))));
  const int skip_x =
      std::clamp(static_cast<int>(std::lround((left * columns - x0) * scale_x)), 0, scaled.width - stored_size.width);
  const int skip_y =
      std::clamp(static_cast<int>(std::lround((top * rows - y0) * scale_y)), 0, scaled.height - stored_size.height);
  const cv::Rect visible({skip_x, skip_y}, stored_size);
  const cv::Mat* planes[3] = {&picture.luma, &picture.cb, &picture.cr};
  cv::Mat ready[3];
  for (int i = 0; i < 3; ++i) {
    const int n = i == 0 ? 2 : 1;
    const cv::Mat source = (*planes[i])(cv::Rect(n * cut.x, n * cut.y, n * cut.width, n * cut.height));
    const bool shrinks = source.cols > 2 * scaled.width && source.rows > 2 * scaled.height;
    cv::resize(source, scaled_[i], scaled, 0, 0, shrinks ? cv::INTER_AREA : cv::INTER_LINEAR);
    ready[i] = scaled_[i](visible);
    if (form.transpose) {
      cv::transpose(ready[i], turned_[i]);
      ready[i] = turned_[i];
    }
    // Upside down is had for nothing below.
    if (form.flip_x) {
      cv::Mat flipped;
      cv::flip(ready[i], flipped, 1);
      ready[i] = flipped;
    }
  }
  out_.create(size, CV_8UC4);
  const FixedMatrix matrix = FixedOf(form);
  for (int y = 0; y < size.height; ++y)
    ColourRow(matrix, ready[0].ptr(y), ready[1].ptr(y), ready[2].ptr(y),
              out_.ptr(form.flip_y ? size.height - 1 - y : y), size.width);
  return out_;
}

}  // namespace hookline::viewer
