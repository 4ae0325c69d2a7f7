#include "setup/rack_search.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <mutex>
#include <opencv2/core/utility.hpp>
#include <opencv2/imgproc.hpp>
#include <tuple>

#include "setup/rack_template.h"

namespace hookline::setup {
namespace {

constexpr double kScaleStep = 1.07;
constexpr double kLeastMatch = 0.42;  // a rack half behind a person still reaches it
constexpr std::array<double, 3> kRises = {1.0, 2.1, 3.5};

// Racks of one size in one picture: normalised correlation on the picture reduced to the template's grid.
void RacksOfScale(const cv::Mat& luma, double px_per_inch, std::vector<RackSighting>* out) {
  const double fx = 1.0 / (px_per_inch * RackTemplate::kStepX), fy = 1.0 / (px_per_inch * RackTemplate::kStepZ);
  cv::Mat reduced;
  cv::resize(luma, reduced, cv::Size(), fx, fy, fx < 1 && fy < 1 ? cv::INTER_AREA : cv::INTER_LINEAR);
  if (reduced.cols < RackTemplate::kNx + 2 || reduced.rows < RackTemplate::kNz + 2) return;
  // Correlation says nothing of how plain a pattern is: a few grey levels of texture must not count as pins.
  cv::Mat wide, mean, square, best;
  reduced.convertTo(wide, CV_32F);
  const cv::Size box(RackTemplate::kNx, RackTemplate::kNz);
  const cv::Point corner(0, 0);
  cv::boxFilter(wide, mean, CV_32F, box, corner);
  cv::sqrBoxFilter(wide, square, CV_32F, box, corner);
  for (const double rise : kRises) {
    const RackTemplate& t = RackFor(rise);
    cv::Mat pins(RackTemplate::kNz, RackTemplate::kNx, CV_32F), found;
    for (int j = 0; j < RackTemplate::kNz; ++j)  // the template's rows go up, the picture's down
      for (int i = 0; i < RackTemplate::kNx; ++i)
        pins.at<float>(RackTemplate::kNz - 1 - j, i) = t.value[static_cast<std::size_t>(j * RackTemplate::kNx + i)];
    cv::matchTemplate(wide, pins, found, cv::TM_CCOEFF_NORMED);
    if (best.empty())
      best = found;
    else
      cv::max(best, found, best);
  }
  for (int y = 1; y + 1 < best.rows; ++y)
    for (int x = 1; x + 1 < best.cols; ++x) {
      const float m = best.at<float>(y, x);
      if (m < kLeastMatch) continue;
      const float var = square.at<float>(y, x) - mean.at<float>(y, x) * mean.at<float>(y, x);
      if (var < 16) continue;
      bool peak = true;
      for (int dy = -1; dy <= 1 && peak; ++dy)
        for (int dx = -1; dx <= 1; ++dx) peak = peak && best.at<float>(y + dy, x + dx) <= m;
      if (!peak) continue;
      RackSighting r;
      r.px_per_inch = px_per_inch;
      r.match = static_cast<double>(m);
      // Template point (0, kBottom) lies at reduced (x + kHalfWidth / kStepX, y + kNz - 1); pixel centres map by + 1/2.
      r.u = (x + RackTemplate::kHalfWidth / RackTemplate::kStepX + 0.5) / fx - 0.5;
      r.v = (y + RackTemplate::kNz - 1 + 0.5) / fy - 0.5 + px_per_inch * RackTemplate::kBottom;
      out->push_back(r);
    }
}

// The strongest of those that cannot stand beside each other.
std::vector<RackSighting> Strongest(std::vector<RackSighting> all) {
  std::sort(all.begin(), all.end(), [](const RackSighting& a, const RackSighting& b) { return a.match > b.match; });
  std::vector<RackSighting> kept;
  for (const RackSighting& r : all) {
    // Neighbouring sizes and shifts of the same pins; a rack of quite another size may well be another hypothesis.
    const bool shadowed = std::any_of(kept.begin(), kept.end(), [&](const RackSighting& k) {
      const double ratio = std::log(k.px_per_inch / r.px_per_inch);
      return std::abs(ratio) < 0.16 && std::abs(k.u - r.u) < 12 * r.px_per_inch &&
             std::abs(k.v - r.v) < 5 * r.px_per_inch;
    });
    if (!shadowed) kept.push_back(r);
    if (kept.size() >= 60) break;
  }
  return kept;
}

RackRow RowThrough(const RackSighting& seed, const std::vector<RackSighting>& all) {
  RackRow row;
  row.racks = {seed};
  for (const RackSighting& r : all) {
    const double q = seed.px_per_inch, du = std::abs(r.u - seed.u);
    if (std::abs(std::log(r.px_per_inch / q)) > 0.13) continue;
    // Roll of the camera and its looking to one side tilt the row; two lanes' middles are at least 60 in apart.
    if (std::abs(r.v - seed.v) > 0.1 * du + 1.5 * q) continue;
    if (std::any_of(row.racks.begin(), row.racks.end(),
                    [&](const RackSighting& k) { return std::abs(k.u - r.u) < 54 * q; }))
      continue;
    row.racks.push_back(r);
  }
  // One straight row: the tilt with the seed that most racks share, weighed by their match.
  const auto off = [&](const RackSighting& r, double tilt) { return std::abs(r.v - seed.v - tilt * (r.u - seed.u)); };
  double best = -1;
  for (double tilt = -0.1; tilt <= 0.1001; tilt += 0.004) {
    double sum = 0;
    for (const RackSighting& r : row.racks)
      sum += std::pow(r.match, 4) * std::max(0.0, 1 - off(r, tilt) / (2 * seed.px_per_inch));
    if (sum > best + 1e-9) {
      best = sum;
      row.tilt = tilt;
    }
  }
  std::erase_if(row.racks, [&](const RackSighting& r) { return off(r, row.tilt) > 2 * seed.px_per_inch; });
  std::sort(row.racks.begin(), row.racks.end(), [](const RackSighting& a, const RackSighting& b) { return a.u < b.u; });
  double weight = 0, log_scale = 0;
  for (const RackSighting& r : row.racks) {
    const double w = std::pow(r.match, 4);
    weight += w;
    log_scale += w * std::log(r.px_per_inch);
  }
  row.px_per_inch = std::exp(log_scale / weight);
  row.score = weight;
  if (row.racks.size() == 1) row.tilt = 0;
  return row;
}

}  // namespace

std::vector<RackRow> FindRackRows(const std::vector<cv::Mat>& pictures, std::size_t max_rows) {
  const cv::Mat& first = pictures.front();
  std::vector<double> scales;
  // A lens with half the longer side as focal length sees a rack 80 ft away at 1/2000 of the longer side per inch; from
  // there to racks a third of the picture wide.
  const double longer = std::max(first.cols, first.rows);
  for (double q = std::max(0.5, longer / 2000); 48 * q < 0.34 * longer; q *= kScaleStep) scales.push_back(q);
  std::vector<RackSighting> all;
  std::mutex mutex;
  const auto jobs = static_cast<int>(scales.size() * pictures.size());
  cv::parallel_for_(cv::Range(0, jobs), [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i) {
      std::vector<RackSighting> found;
      RacksOfScale(pictures[static_cast<std::size_t>(i) / scales.size()],
                   scales[static_cast<std::size_t>(i) % scales.size()], &found);
      const std::lock_guard lock(mutex);
      all.insert(all.end(), found.begin(), found.end());
    }
  });
  // In an order that does not depend on which core was first.
  std::sort(all.begin(), all.end(), [](const RackSighting& a, const RackSighting& b) {
    return std::tie(a.px_per_inch, a.v, a.u, a.match) < std::tie(b.px_per_inch, b.v, b.u, b.match);
  });
  const std::vector<RackSighting> strongest = Strongest(std::move(all));
  std::vector<RackRow> rows;
  for (const RackSighting& seed : strongest) rows.push_back(RowThrough(seed, strongest));
  std::sort(rows.begin(), rows.end(), [](const RackRow& a, const RackRow& b) { return a.score > b.score; });
  std::vector<RackRow> different;
  for (const RackRow& r : rows) {
    const bool same = std::any_of(different.begin(), different.end(), [&](const RackRow& d) {
      const double at = d.racks.front().v + d.tilt * (r.racks.front().u - d.racks.front().u);
      return std::abs(std::log(d.px_per_inch / r.px_per_inch)) < 0.06 &&
             std::abs(at - r.racks.front().v) < 3 * r.px_per_inch;
    });
    if (!same) different.push_back(r);
    if (different.size() == max_rows) break;
  }
  return different;
}

}  // namespace hookline::setup
