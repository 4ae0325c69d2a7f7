#include "setup/background.h"

#include <algorithm>
#include <cassert>
#include <opencv2/core/utility.hpp>
#include <opencv2/imgproc.hpp>
#include <utility>

#include "setup/clear_view.h"
#include "setup/order_statistics.h"
#include "setup/patch_flow.h"

namespace hookline::setup {
namespace {

constexpr double kStood = 0.1;  // px

double Median(std::vector<double>& v) {
  const auto mid = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
  std::nth_element(v.begin(), mid, v.end());
  return *mid;
}

// How far the camera moved what is seen, px: the shift and, half way to the corners, the roll that the places have in
// common. Noise in single places is not motion.
double Moved(const PatchFlow& flow, const std::vector<PatchFlow::Found>& found, const cv::Size& size) {
  if (found.empty()) return 0;
  const Eigen::Vector2d centre(0.5 * size.width, 0.5 * size.height);
  std::vector<double> du, dv, roll;
  for (const PatchFlow::Found& f : found) {
    const Eigen::Vector2d d = f.p_in_picture - flow.places()[f.patch];
    du.push_back(d.x()), dv.push_back(d.y());
  }
  const Eigen::Vector2d shift(Median(du), Median(dv));
  for (const PatchFlow::Found& f : found) {
    const Eigen::Vector2d d = f.p_in_picture - flow.places()[f.patch] - shift, r = flow.places()[f.patch] - centre;
    roll.push_back((r.x() * d.y() - r.y() * d.x()) / std::max(1.0, r.norm()));
  }
  return shift.norm() + std::abs(Median(roll));
}

// Pictures turned onto the first one where the camera moved by more than a tenth of a pixel. Those that cannot be
// matched are left out.
std::vector<Picture> Aligned(const std::vector<Picture>& pictures) {
  const PatchFlow flow(pictures[0].luma, 150);
  std::vector<Picture> out = {pictures[0]};
  for (std::size_t i = 1; i < pictures.size(); ++i) {
    const Picture& p = pictures[i];
    auto found = flow.Find(p.luma, flow.places());
    // Most places may lie on somebody who has moved on; a dozen that are all where they were say that the camera stood.
    if (found.size() >= std::min<std::size_t>(12, flow.places().size() / 3) &&
        Moved(flow, found, p.luma.size()) < kStood) {
      out.push_back(p);
      continue;
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

unsigned char Usual(const cv::Mat& spread) {
  std::vector<double> some;
  for (int y = 0; y < spread.rows; y += 7)
    for (int x = 0; x < spread.cols; x += 7) some.push_back(spread.at<unsigned char>(y, x));
  return static_cast<unsigned char>(Median(some));
}

// Where people stood before the scene: the mean of the middle half of the pictures that show it (they may be two, whose
// median would be as noisy as one), and their spread, which so few cannot tell to be less than usual. `cell` px of this
// plane.
void Clear(const std::vector<cv::Mat>& planes, const ClearView& view, int cell, cv::Mat* still, cv::Mat* spread) {
  if (view.pictures.empty()) return;
  const unsigned char usual = spread ? Usual(*spread) : 0;
  cv::parallel_for_(cv::Range(0, view.rows), [&](const cv::Range& rows) {
    std::vector<const cv::Mat*> seen;
    std::vector<unsigned char> v;
    for (int row = rows.start; row < rows.end; ++row)
      for (int column = 0; column < view.columns; ++column) {
        const std::uint64_t pictures =
            view.pictures[static_cast<std::size_t>(row) * static_cast<std::size_t>(view.columns) +
                          static_cast<std::size_t>(column)];
        if (pictures == 0) continue;
        seen.clear();
        for (std::size_t k = 0; k < planes.size(); ++k)
          if ((pictures >> k & 1) != 0) seen.push_back(&planes[k]);
        v.resize(seen.size());
        const std::size_t lo = v.size() * 16 / 100, hi = v.size() - 1 - lo, tail = v.size() / 4;
        for (int y = row * cell; y < (row + 1) * cell; ++y)
          for (int x = column * cell; x < (column + 1) * cell; ++x) {
            for (std::size_t k = 0; k < seen.size(); ++k) v[k] = seen[k]->at<unsigned char>(y, x);
            std::sort(v.begin(), v.end());
            std::size_t sum = (v.size() - 2 * tail) / 2;
            for (std::size_t k = tail; k < v.size() - tail; ++k) sum += v[k];
            still->at<unsigned char>(y, x) = static_cast<unsigned char>(sum / (v.size() - 2 * tail));
            if (spread)
              spread->at<unsigned char>(y, x) = std::max(usual, static_cast<unsigned char>((v[hi] - v[lo]) / 2));
          }
      }
  });
}

}  // namespace

Background StillBackground(const std::vector<Picture>& all, const LaneSetup* lanes) {
  assert(!all.empty());
  const std::vector<Picture> pictures = Aligned(all);
  Background b;
  b.pictures = static_cast<int>(pictures.size());
  std::vector<cv::Mat> planes;
  for (const Picture& p : pictures) planes.push_back(p.luma);
  OrderStatistics(planes, &b.luma, &b.spread);
  const ClearView view = FindClearView(pictures, lanes);
  b.shown = view.shown;
  Clear(planes, view, view.cell, &b.luma, &b.spread);
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
    Clear(planes, view, view.cell / 2, &b.cb, nullptr);
    planes.clear();
    for (const Picture& p : pictures) planes.push_back(p.cr);
    OrderStatistics(planes, &b.cr, nullptr);
    Clear(planes, view, view.cell / 2, &b.cr, nullptr);
  }
  return b;
}

}  // namespace hookline::setup
