#include "setup/lane_looks.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <vector>

#include "camera/projection.h"
#include "lane/lane_spec.h"
#include "lane/units.h"

namespace hookline::setup {
namespace {

constexpr double kAcross = 0.07;     // of the lane's width, between two places of a row
constexpr double kOutermost = 0.42;  // of it
constexpr std::size_t kLeastPlaces = 7;
constexpr std::size_t kLikeness = 4;  // one in so many

std::vector<Pixel> Row(const Background& b, const LaneSetup& setup, double centre_x, double y) {
  std::vector<Pixel> out;
  for (double f = -kOutermost; f <= kOutermost + 1e-9; f += kAcross) {
    const auto p = camera::ImageFromLane(setup.camera, {centre_x + f * setup.lane.width, y, 0});
    if (!p || !(p->x() >= 0) || !(p->y() >= 0)) continue;
    const int u = static_cast<int>(p->x()), v = static_cast<int>(p->y());
    if (u >= b.luma.cols || v >= b.luma.rows) continue;
    Pixel at{b.luma.at<unsigned char>(v, u), 128, 128};
    if (!b.cb.empty() && !b.cr.empty()) {
      const int cu = std::min(u / 2, b.cb.cols - 1), cv = std::min(v / 2, b.cb.rows - 1);
      at[1] = b.cb.at<unsigned char>(cv, cu), at[2] = b.cr.at<unsigned char>(cv, cu);
    }
    out.push_back(at);
  }
  return out;
}

}  // namespace

float Difference(const Pixel& a, const Pixel& b) {
  int sum = 0;
  for (std::size_t i = 0; i < 3; ++i) sum += std::abs(a[i] - b[i]);
  return static_cast<float>(sum);
}

int LaneLooks::StepAt(double from_camera) { return static_cast<int>(std::log(from_camera) / kStep); }

std::optional<float> LaneLooks::Off(int step, const Pixel& colour, std::size_t one_in) const {
  const auto looks = looks_.find(step);
  if (looks == looks_.end() || looks->second.size() < kLeastPlaces) return std::nullopt;
  std::vector<float> off;
  off.reserve(looks->second.size());
  for (const Pixel& look : looks->second) off.push_back(Difference(colour, look));
  const auto at_share = off.begin() + static_cast<std::ptrdiff_t>(off.size() / one_in);
  std::nth_element(off.begin(), at_share, off.end());
  return *at_share;
}

double ShareUnlikeLanes(const Background& background, const LaneSetup& setup) {
  int asked = 0, unlike = 0, row = 0;
  const double from = std::max(1.0, lane::MetresFromFeet(1) - setup.camera.position_in_lane.y());
  for (double distance = from;; distance *= 1 + LaneLooks::kStep, ++row) {
    const double y = distance + setup.camera.position_in_lane.y();
    if (y > lane::kHeadPinY - lane::MetresFromFeet(4)) break;
    LaneLooks looks;
    const std::vector<Pixel> own = Row(background, setup, 0, y);
    for (const Pixel& p : own) looks.Add(row, p);
    for (const NeighbourLane& n : setup.neighbours)
      for (const Pixel& p : Row(background, setup, n.centre_x, y)) looks.Add(row, p);
    for (const Pixel& p : own) {
      const std::optional<float> off = looks.Off(row, p, kLikeness);
      if (!off) break;
      ++asked;
      unlike += *off > LaneLooks::kReach;
    }
  }
  return asked > 0 ? static_cast<double>(unlike) / asked : 0;
}

}  // namespace hookline::setup
