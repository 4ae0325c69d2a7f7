#include "track/change_map.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "camera/projection.h"
#include "core/wide_code.h"

namespace hookline::track {
namespace {

constexpr float kLumaFloor = 1.6f, kChromaFloor = 1.3f;  // grey levels; codecs leave about this
constexpr double kLookEvery = 0.35;                      // s between two looks at what stands still
constexpr int kStillLooks = 5;                           // looks in a row before it counts as background

cv::Rect Half(const cv::Rect& r) { return {r.x / 2, r.y / 2, r.width / 2, r.height / 2}; }

template <int kScale>
float CellLuma(const cv::Mat& m, int row, int column) {
  int sum = 0;
  for (int k = 0; k < kScale; ++k) {
    const std::uint8_t* p = m.ptr<std::uint8_t>(row * kScale + k) + column * kScale;
    for (int i = 0; i < kScale; ++i) sum += p[i];
  }
  return static_cast<float>(sum) * (1.0f / (kScale * kScale));
}

template <int kScale>
float CellChroma(const cv::Mat& m, int row, int column) {
  if constexpr (kScale == 1) return m.at<std::uint8_t>(row / 2, column / 2);
  if constexpr (kScale == 2) return m.at<std::uint8_t>(row, column);
  const std::uint8_t* a = m.ptr<std::uint8_t>(2 * row) + 2 * column;
  const std::uint8_t* b = m.ptr<std::uint8_t>(2 * row + 1) + 2 * column;
  return static_cast<float>(a[0] + a[1] + b[0] + b[1]) * 0.25f;
}

template <int kScale>
void CellMeans(const Corridor& c, const cv::Mat& luma, const cv::Mat& cb, const cv::Mat& cr, std::vector<float>& y,
               std::vector<float>& b, std::vector<float>& r) {
  const std::size_t n = static_cast<std::size_t>(c.rows()) * static_cast<std::size_t>(c.columns());
  y.assign(n, 0), b.assign(n, 128), r.assign(n, 128);
  for (int row = 0; row < c.rows(); ++row)
    for (int col = 0; col < c.columns(); ++col) {
      const std::size_t i =
          static_cast<std::size_t>(row) * static_cast<std::size_t>(c.columns()) + static_cast<std::size_t>(col);
      y[i] = CellLuma<kScale>(luma, row, col);
      if (cb.empty()) continue;
      b[i] = CellChroma<kScale>(cb, row, col);
      r[i] = CellChroma<kScale>(cr, row, col);
    }
}

// Means of the cells of one row from a column on.
HOOKLINE_WIDE_CODE
void LumaOfRow(const cv::Mat& luma, int scale, int row, int begin, int n, float* __restrict y) {
  if (scale == 1)
    for (int k = 0; k < n; ++k) y[k] = CellLuma<1>(luma, row, begin + k);
  if (scale == 2)
    for (int k = 0; k < n; ++k) y[k] = CellLuma<2>(luma, row, begin + k);
  if (scale == 4)
    for (int k = 0; k < n; ++k) y[k] = CellLuma<4>(luma, row, begin + k);
}

HOOKLINE_WIDE_CODE
void ChromaOfRow(const cv::Mat& plane, int scale, int row, int begin, int n, float* __restrict c) {
  if (scale == 1)
    for (int k = 0; k < n; ++k) c[k] = CellChroma<1>(plane, row, begin + k);
  if (scale == 2)
    for (int k = 0; k < n; ++k) c[k] = CellChroma<2>(plane, row, begin + k);
  if (scale == 4)
    for (int k = 0; k < n; ++k) c[k] = CellChroma<4>(plane, row, begin + k);
}

// One row of what Fill() works on, from its first cell in the corridor on.
struct RowSums {
  float *y = nullptr, *weight = nullptr, *d2 = nullptr, *b = nullptr,
        *r = nullptr;  // y, b, r as seen; the rest is made
};
struct RowBackground {
  const float *mean_y = nullptr, *variance = nullptr, *slope = nullptr, *weight = nullptr;
  const float *mean_cb = nullptr, *mean_cr = nullptr;                         // null: no colour
  const float *second_y = nullptr, *second_b = nullptr, *second_r = nullptr;  // null: none in this row
};
struct RowScale {
  float gain = 1, motion_variance = 0, chroma_weight = 0, cb_shift = 0, cr_shift = 0;
};

// How far each cell is from what stood there, in squared noise: step by step over the row, so that each loop becomes
// vector instructions.
HOOKLINE_WIDE_CODE
void ChangeOfRow(const RowBackground& back, const RowScale& scale, int n, const RowSums& sums,
                 std::uint8_t* __restrict out) {
  const float* const __restrict y = sums.y;
  float* const __restrict w = sums.weight;
  float* const __restrict d2 = sums.d2;
  float* const __restrict b = sums.b;
  float* const __restrict r = sums.r;
  const float gain = scale.gain, extra = scale.motion_variance, chroma = scale.chroma_weight;
  if (extra > 0) {
    for (int k = 0; k < n; ++k) w[k] = 1 / (back.variance[k] + extra * back.slope[k] * back.slope[k]);
  } else {
    std::copy_n(back.weight, n, w);
  }
  for (int k = 0; k < n; ++k) {
    const float dy = y[k] - gain * back.mean_y[k];
    d2[k] = dy * dy * w[k];
  }
  if (back.mean_cb) {
    for (int k = 0; k < n; ++k) b[k] -= scale.cb_shift, r[k] -= scale.cr_shift;
    for (int k = 0; k < n; ++k) {
      const float db = b[k] - back.mean_cb[k], dr = r[k] - back.mean_cr[k];
      d2[k] += (db * db + dr * dr) * chroma;
    }
  }
  if (back.second_y) {
    for (int k = 0; k < n; ++k) {
      const float ey = y[k] - gain * back.second_y[k], eb = b[k] - back.second_b[k], er = r[k] - back.second_r[k];
      const float e2 = ey * ey * w[k] + (eb * eb + er * er) * chroma;
      d2[k] = back.second_y[k] >= 0 && e2 < d2[k] ? e2 : d2[k];
    }
  }
  for (int k = 0; k < n; ++k)
    out[k] = static_cast<std::uint8_t>(std::clamp(d2[k] - 3, 0.0f, static_cast<float>(kMaxChange)) *
                                       static_cast<float>(kChangeUnits));
}

float Median(std::vector<float>& v) {
  if (v.empty()) return 0;
  const auto mid = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
  std::nth_element(v.begin(), mid, v.end());
  return *mid;
}

}  // namespace

double FrameView::Mean(int c0, int r0, int c1, int r1) const {
  const int columns = sums.cols - 1, rows = sums.rows - 1;
  c0 = std::clamp(c0, 0, columns), c1 = std::clamp(c1, 0, columns);
  r0 = std::clamp(r0, 0, rows), r1 = std::clamp(r1, 0, rows);
  if (c1 <= c0 || r1 <= r0) return 0;
  const int* top = sums.ptr<int>(r0);
  const int* low = sums.ptr<int>(r1);
  const int sum = low[c1] - low[c0] - top[c1] + top[c0];
  return sum / (kChangeUnits * (c1 - c0) * (r1 - r0));
}

double DiscScore(const FrameView& view, double u, double v, double radius) {
  const auto at = [](double x) { return static_cast<int>(std::lround(x + 0.5)); };
  const double r = radius;
  // The disc as three stacked boxes of about its own area; the lowest part is left out (contact shadow).
  struct Box {
    double half, y0, y1;
  };
  const Box boxes[] = {{0.62, -0.88, -0.5}, {0.90, -0.5, 0.4}, {0.66, 0.4, 0.8}};
  double sum = 0, area = 0;
  for (const Box& b : boxes) {
    const int c0 = at(u - b.half * r), c1 = std::max(at(u + b.half * r), c0 + 1);
    const int r0 = at(v + b.y0 * r), r1 = std::max(at(v + b.y1 * r), r0 + 1);
    const double a = (c1 - c0) * (r1 - r0);
    sum += a * view.Mean(c0, r0, c1, r1);
    area += a;
  }
  const double in = sum / area;
  if (in < 0.5) return 0;
  const double wide = std::max(0.4 * r, 1.0), gap = 1.18 * r + 0.4;
  const int v0 = at(v - 0.7 * r), v1 = std::max(at(v + 0.35 * r), v0 + 1);
  const double left = view.Mean(at(u - gap - wide), v0, at(u - gap), v1);
  const double right = view.Mean(at(u + gap), v0, at(u + gap + wide), v1);
  const double over = view.Mean(at(u - 0.7 * r), at(v - gap - wide), at(u + 0.7 * r), at(v - gap));
  return in - (left + right + over) / 3;
}

ChangeMap::ChangeMap(const Corridor& corridor, const Background& background) : corridor_(corridor), whole_(background) {
  if (corridor.empty()) return;
  const cv::Rect roi = corridor.roi();
  luma_ = background.luma(roi).clone();
  colour_ = !background.cb.empty() && !background.cr.empty();
  if (colour_) {
    cb_ = background.cb(Half(roi)).clone();
    cr_ = background.cr(Half(roi)).clone();
  }
  second_luma_ = luma_.clone(), second_cb_ = cb_.clone(), second_cr_ = cr_.clone();
  cv::Mat spread = background.spread.empty() ? cv::Mat(roi.size(), CV_8UC1, cv::Scalar(2)) : background.spread(roi);
  std::vector<float> spread_mean, unused_b, unused_r;
  const auto means = [&](const cv::Mat& l, const cv::Mat& b, const cv::Mat& r, auto& y, auto& cbm, auto& crm) {
    if (corridor.scale() == 1) CellMeans<1>(corridor, l, b, r, y, cbm, crm);
    if (corridor.scale() == 2) CellMeans<2>(corridor, l, b, r, y, cbm, crm);
    if (corridor.scale() == 4) CellMeans<4>(corridor, l, b, r, y, cbm, crm);
  };
  means(luma_, cb_, cr_, mean_y_, mean_cb_, mean_cr_);
  means(spread, cv::Mat(), cv::Mat(), spread_mean, unused_b, unused_r);

  const int columns = corridor.columns(), rows = corridor.rows();
  std::vector<float> inside;
  for (int row = 0; row < rows; ++row)
    for (int col = corridor.begin(row); col < corridor.end(row); ++col)
      inside.push_back(spread_mean[static_cast<std::size_t>(row * columns + col)]);
  noise_ = std::max(1.0f, Median(inside));
  const float cap = std::max(kLumaFloor, 1.8f * static_cast<float>(noise_));
  variance_y_.resize(mean_y_.size());
  slope_.assign(mean_y_.size(), 0);
  for (int row = 0; row < rows; ++row)
    for (int col = 0; col < columns; ++col) {
      const std::size_t i = static_cast<std::size_t>(row * columns + col);
      const float s = std::clamp(spread_mean[i], kLumaFloor, cap);
      const int l = std::max(col - 1, 0), r = std::min(col + 1, columns - 1), t = std::max(row - 1, 0),
                b = std::min(row + 1, rows - 1);
      const float gx =
          mean_y_[static_cast<std::size_t>(row * columns + r)] - mean_y_[static_cast<std::size_t>(row * columns + l)];
      const float gy =
          mean_y_[static_cast<std::size_t>(b * columns + col)] - mean_y_[static_cast<std::size_t>(t * columns + col)];
      slope_[i] = std::hypot(gx, gy) / static_cast<float>(2 * corridor.scale());  // grey levels per px
      variance_y_[i] = s * s + 0.0225f * slope_[i] * slope_[i];                   // 0.15 px of unrest always
    }
  weight_y_.resize(variance_y_.size());
  std::transform(variance_y_.begin(), variance_y_.end(), weight_y_.begin(), [](float v) { return 1 / v; });
  second_y_.assign(mean_y_.size(), -1), second_b_.assign(mean_y_.size(), 0), second_r_.assign(mean_y_.size(), 0);
  second_in_row_.assign(static_cast<std::size_t>(corridor_.rows()), 0);
  still_.assign(mean_y_.size(), 0);
  change_ = cv::Mat::zeros(rows, columns, CV_8UC1);
  PlaceBody();
  // The gain is measured over the whole picture: the bowler may hide most of the corridor, not most of the house.
  const int step_u = std::max(8, background.luma.cols / 56), step_v = std::max(8, background.luma.rows / 32);
  for (int v = step_v / 2; v < background.luma.rows; v += step_v)
    for (int u = step_u / 2; u < background.luma.cols; u += step_u) {
      const int b = background.luma.at<std::uint8_t>(v, u);
      if (b >= 30 && b <= 235) samples_.emplace_back(u, v);
    }
}

void ChangeMap::PlaceBody() {
  // Places on the upright plane over the foul line, 4 cm apart: a person's leg is three of them wide.
  for (double z = 0.1; z < 1.2; z += 0.04)
    for (double x = -kBodyReach + 0.02; x < kBodyReach; x += 0.04) {
      const auto p = camera::ImageFromLane(corridor_.camera(), {x, 0, z});
      if (!p || p->x() < 2 || p->y() < 2 || p->x() > whole_.luma.cols - 3 || p->y() > whole_.luma.rows - 3) continue;
      const int column = std::clamp(static_cast<int>((x + kBodyReach) / kBodyColumn), 0, kBodyColumns - 1);
      body_points_.push_back({cv::Point(static_cast<int>(p->x()), static_cast<int>(p->y())), column});
      ++body_counts_[static_cast<std::size_t>(column)];
    }
}

void ChangeMap::SeeBody(const Picture& picture, FrameView& view) const {
  if (body_points_.empty()) return;
  // Within a frame's shake the whole plane moves alike.
  cv::Point shift(0, 0);
  if (view.motion.rotation[0] != 0 || view.motion.rotation[1] != 0 || view.motion.rotation[2] != 0) {
    const cv::Point m = body_points_[body_points_.size() / 2].p;
    const Eigen::Vector2d p(m.x, m.y), q = camera::FrameFromReference(corridor_.camera(), view.motion, p);
    shift = {static_cast<int>(std::lround(q.x() - p.x())), static_cast<int>(std::lround(q.y() - p.y()))};
  }
  const bool colour = colour_ && !picture.cb.empty();
  const cv::Rect inside(0, 0, picture.luma.cols & ~1, picture.luma.rows & ~1);
  const float limit = 12 + 3 * static_cast<float>(noise_);
  for (const BodyPoint& b : body_points_) {
    const cv::Point at = b.p + shift;
    if (!inside.contains(at)) continue;
    const float d = static_cast<float>(picture.luma.at<std::uint8_t>(at)) -
                    view.gain * static_cast<float>(whole_.luma.at<std::uint8_t>(b.p));
    bool changed = std::abs(d) > limit;
    if (!changed && colour) {
      const cv::Point h(at.x / 2, at.y / 2), g(b.p.x / 2, b.p.y / 2);
      const int c = std::abs(picture.cb.at<std::uint8_t>(h) - whole_.cb.at<std::uint8_t>(g)) +
                    std::abs(picture.cr.at<std::uint8_t>(h) - whole_.cr.at<std::uint8_t>(g));
      changed = c > 16;
    }
    if (changed) view.body[static_cast<std::size_t>(b.column)] += 1;
  }
  for (std::size_t i = 0; i < view.body.size(); ++i)
    if (body_counts_[i] > 0) view.body[i] /= static_cast<float>(body_counts_[i]);
}

void ChangeMap::Expose(const Picture& picture, FrameView& view) const {
  if (samples_.size() < 50) return;
  std::vector<float> ratio, b, r;
  ratio.reserve(samples_.size());
  for (const cv::Point& p : samples_) {
    ratio.push_back(static_cast<float>(picture.luma.at<std::uint8_t>(p)) /
                    static_cast<float>(whole_.luma.at<std::uint8_t>(p)));
    if (!colour_ || picture.cb.empty()) continue;
    const cv::Point h = p / 2;
    b.push_back(static_cast<float>(picture.cb.at<std::uint8_t>(h) - whole_.cb.at<std::uint8_t>(h)));
    r.push_back(static_cast<float>(picture.cr.at<std::uint8_t>(h) - whole_.cr.at<std::uint8_t>(h)));
  }
  // A median of whole-number ratios, then the mean of those near it, which resolves less than a grey level.
  const auto centre = [](std::vector<float>& v, float reach) {
    const float m = Median(v);
    double sum = 0;
    int n = 0;
    for (const float x : v)
      if (std::abs(x - m) <= reach) sum += x, ++n;
    return n > 0 ? static_cast<float>(sum / n) : m;
  };
  view.gain = std::clamp(centre(ratio, 0.05f), 0.5f, 2.0f);
  if (std::abs(view.gain - 1) < 0.004f) view.gain = 1;
  if (b.empty()) return;
  view.cb_shift = centre(b, 3);
  view.cr_shift = centre(r, 3);
}

void ChangeMap::Fill(const FrameView& view, double motion_sd) {
  const int columns = corridor_.columns();
  const bool colour = colour_ && !view.cb.empty();
  row_.assign(static_cast<std::size_t>(5 * columns), 0);
  RowSums sums;
  sums.y = row_.data();
  sums.weight = sums.y + columns, sums.d2 = sums.weight + columns, sums.b = sums.d2 + columns;
  sums.r = sums.b + columns;
  RowScale scale;
  scale.gain = view.gain;
  scale.motion_variance = static_cast<float>(motion_sd * motion_sd);
  scale.chroma_weight = colour ? 1 / (kChromaFloor * kChromaFloor) : 0.0f;
  scale.cb_shift = view.cb_shift, scale.cr_shift = view.cr_shift;
  for (int row = 0; row < corridor_.rows(); ++row) {
    const int begin = corridor_.begin(row), n = corridor_.end(row) - begin;
    if (n <= 0) continue;
    const std::size_t base = static_cast<std::size_t>(row * columns + begin);
    LumaOfRow(view.luma, corridor_.scale(), row, begin, n, sums.y);
    if (colour) {
      ChromaOfRow(view.cb, corridor_.scale(), row, begin, n, sums.b);
      ChromaOfRow(view.cr, corridor_.scale(), row, begin, n, sums.r);
    }
    RowBackground back;
    back.mean_y = &mean_y_[base], back.variance = &variance_y_[base], back.slope = &slope_[base];
    back.weight = &weight_y_[base];
    if (colour) back.mean_cb = &mean_cb_[base], back.mean_cr = &mean_cr_[base];
    if (second_in_row_[static_cast<std::size_t>(row)] > 0)
      back.second_y = &second_y_[base], back.second_b = &second_b_[base], back.second_r = &second_r_[base];
    ChangeOfRow(back, scale, n, sums, change_.ptr<std::uint8_t>(row) + begin);
  }
}

void ChangeMap::KeepUp(const FrameView& view) {
  if (view.time_s - last_look_s_ < kLookEvery) return;
  last_look_s_ = view.time_s;
  std::vector<float> y, b, r;
  const cv::Mat no;
  const cv::Mat& cb = colour_ ? view.cb : no;
  const cv::Mat& cr = colour_ ? view.cr : no;
  if (corridor_.scale() == 1) CellMeans<1>(corridor_, view.luma, cb, cr, y, b, r);
  if (corridor_.scale() == 2) CellMeans<2>(corridor_, view.luma, cb, cr, y, b, r);
  if (corridor_.scale() == 4) CellMeans<4>(corridor_, view.luma, cb, cr, y, b, r);
  if (!last_y_.empty()) {
    const int columns = corridor_.columns(), s = corridor_.scale();
    const float near_y = static_cast<float>(2.5 * std::max<double>(kLumaFloor, noise_)), near_c = 2.5f * kChromaFloor;
    for (int row = 0; row < corridor_.rows(); ++row)
      for (int col = corridor_.begin(row); col < corridor_.end(row); ++col) {
        const std::size_t i = static_cast<std::size_t>(row * columns + col);
        const bool same = std::abs(y[i] - last_y_[i]) < near_y && std::abs(b[i] - last_b_[i]) < near_c &&
                          std::abs(r[i] - last_r_[i]) < near_c;
        still_[i] = same ? static_cast<std::uint8_t>(std::min(still_[i] + 1, 100)) : std::uint8_t{0};
        if (still_[i] < kStillLooks || change_.at<std::uint8_t>(row, col) < 4 * kChangeUnits) continue;
        if (second_y_[i] < 0) ++second_cells_, ++second_in_row_[static_cast<std::size_t>(row)];
        second_y_[i] = y[i] / view.gain;
        second_b_[i] = b[i] - view.cb_shift;
        second_r_[i] = r[i] - view.cr_shift;
        const cv::Rect cell(col * s, row * s, s, s);
        view.luma(cell).copyTo(second_luma_(cell));
        if (s == 1 || cb.empty()) continue;
        view.cb(Half(cell)).copyTo(second_cb_(Half(cell)));
        view.cr(Half(cell)).copyTo(second_cr_(Half(cell)));
      }
  }
  last_y_.swap(y), last_b_.swap(b), last_r_.swap(r);
}

FrameView ChangeMap::View(const Picture& picture, const FrameMotion& motion) {
  FrameView view;
  view.frame = picture.index;
  view.time_s = picture.time_s;
  view.motion = motion;
  const cv::Rect roi = corridor_.roi();
  const CameraModel& camera = corridor_.camera();
  // How far the frame's picture lies off the reference at the corridor's corners.
  std::vector<cv::Point2f> in_reference, in_frame;
  double shift = 0;
  const bool moved = motion.rotation[0] != 0 || motion.rotation[1] != 0 || motion.rotation[2] != 0;
  if (moved)
    for (const auto& [x, y] :
         {std::pair{0, 0}, {roi.width - 1, 0}, {roi.width - 1, roi.height - 1}, {0, roi.height - 1}}) {
      const Eigen::Vector2d p(roi.x + x, roi.y + y), q = camera::FrameFromReference(camera, motion, p);
      shift = std::max(shift, (q - p).norm());
      in_reference.emplace_back(static_cast<float>(x), static_cast<float>(y));
      in_frame.emplace_back(static_cast<float>(q.x()), static_cast<float>(q.y()));
    }
  const bool colour = colour_ && !picture.cb.empty();
  if (shift > 0.05) {
    // A turn of the camera is a homography of the undistorted picture; over the corridor that of its distorted corners
    // is the same within a few hundredths of a pixel.
    const cv::Mat frame_from_roi = cv::getPerspectiveTransform(in_reference, in_frame);
    cv::warpPerspective(picture.luma, view.luma, frame_from_roi, roi.size(), cv::INTER_CUBIC | cv::WARP_INVERSE_MAP,
                        cv::BORDER_REPLICATE);
    if (colour) {
      for (auto& p : in_reference) p = {(p.x - 0.5f) / 2, (p.y - 0.5f) / 2};
      for (auto& p : in_frame) p = {(p.x - 0.5f) / 2, (p.y - 0.5f) / 2};
      const cv::Mat half = cv::getPerspectiveTransform(in_reference, in_frame);
      const cv::Size size(roi.width / 2, roi.height / 2);
      cv::warpPerspective(picture.cb, view.cb, half, size, cv::INTER_LINEAR | cv::WARP_INVERSE_MAP,
                          cv::BORDER_REPLICATE);
      cv::warpPerspective(picture.cr, view.cr, half, size, cv::INTER_LINEAR | cv::WARP_INVERSE_MAP,
                          cv::BORDER_REPLICATE);
    }
  } else {
    picture.luma(roi).copyTo(view.luma);
    if (colour) {
      picture.cb(Half(roi)).copyTo(view.cb);
      picture.cr(Half(roi)).copyTo(view.cr);
    }
  }
  Expose(picture, view);
  SeeBody(picture, view);
  const double motion_sd = std::max(motion.sd_px, shift > 0.05 ? 0.15 : 0.0);
  Fill(view, motion_sd);
  cv::integral(change_, view.sums, CV_32S);
  KeepUp(view);
  return view;
}

double ChangeMap::PinChange(const FrameView& view, const Eigen::Vector2d& ball, double reach) const {
  const cv::Rect pins = corridor_.pins(), roi = corridor_.roi();
  const int l = static_cast<int>(ball.x() - reach), r = static_cast<int>(ball.x() + reach);
  const int t = static_cast<int>(ball.y() - reach), b = static_cast<int>(ball.y() + 2 * reach);
  std::int64_t sum = 0, count = 0;
  for (int v = pins.y; v < pins.y + pins.height; ++v) {
    const std::uint8_t* now = view.luma.ptr<std::uint8_t>(v - roi.y);
    const std::uint8_t* back = luma_.ptr<std::uint8_t>(v - roi.y);
    for (int u = pins.x; u < pins.x + pins.width; ++u) {
      if (u >= l && u <= r && v >= t && v <= b) continue;
      const int d = now[u - roi.x] - static_cast<int>(view.gain * static_cast<float>(back[u - roi.x]));
      sum += std::min(std::abs(d), 60);
      ++count;
    }
  }
  return count > 0 ? static_cast<double>(sum) / static_cast<double>(count) : -1;
}

void ChangeMap::BackgroundPatch(const FrameView& view, const cv::Rect& box, cv::Mat& luma, cv::Mat& cb,
                                cv::Mat& cr) const {
  luma = luma_(box).clone();
  const cv::Rect half = Half(box);
  if (colour_) cb = cb_(half).clone(), cr = cr_(half).clone();
  if (second_cells_ == 0) return;
  const int s = corridor_.scale();
  for (int row = box.y / s; row * s < box.y + box.height; ++row)
    for (int col = box.x / s; col * s < box.x + box.width; ++col) {
      if (second_y_[static_cast<std::size_t>(row * corridor_.columns() + col)] < 0) continue;
      for (int y = std::max(row * s, box.y); y < std::min(row * s + s, box.y + box.height); ++y)
        for (int x = std::max(col * s, box.x); x < std::min(col * s + s, box.x + box.width); ++x) {
          const int seen = view.luma.at<std::uint8_t>(y, x), second = second_luma_.at<std::uint8_t>(y, x);
          std::uint8_t& first = luma.at<std::uint8_t>(y - box.y, x - box.x);
          if (std::abs(seen - second) >= std::abs(seen - first)) continue;
          first = static_cast<std::uint8_t>(second);
          if (!colour_) continue;
          cb.at<std::uint8_t>((y - box.y) / 2, (x - box.x) / 2) = second_cb_.at<std::uint8_t>(y / 2, x / 2);
          cr.at<std::uint8_t>((y - box.y) / 2, (x - box.x) / 2) = second_cr_.at<std::uint8_t>(y / 2, x / 2);
        }
    }
}

}  // namespace hookline::track
