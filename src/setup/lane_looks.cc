#include "setup/lane_looks.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <vector>

#include "camera/projection.h"
#include "lane/lane_spec.h"
#include "lane/units.h"

namespace hookline::setup {
namespace {

constexpr double kStep = 0.08;       // of the distance from the camera, between two rows of places
constexpr double kAcross = 0.07;     // of the lane's width, between two places of a row
constexpr double kOutermost = 0.42;  // of it
constexpr std::size_t kLeastPlaces = 7;
constexpr std::size_t kLikeness = 4;  // one in so many
constexpr int kUnlike = 40;           // grey levels over luma and chroma

using Pixel = std::array<int, 3>;

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

double ShareUnlikeLanes(const Background& background, const LaneSetup& setup) {
  int asked = 0, unlike = 0;
  const double from = std::max(1.0, lane::MetresFromFeet(1) - setup.camera.position_in_lane.y());
  std::vector<int> off;
  for (double distance = from;; distance *= 1 + kStep) {
    const double y = distance + setup.camera.position_in_lane.y();
    if (y > lane::kHeadPinY - lane::MetresFromFeet(4)) break;
    const std::vector<Pixel> own = Row(background, setup, 0, y);
    std::vector<Pixel> looks = own;
    for (const NeighbourLane& n : setup.neighbours) {
      const std::vector<Pixel> row = Row(background, setup, n.centre_x, y);
      looks.insert(looks.end(), row.begin(), row.end());
    }
    if (looks.size() < kLeastPlaces) continue;
    for (const Pixel& p : own) {
      off.clear();
      for (const Pixel& q : looks) off.push_back(std::abs(p[0] - q[0]) + std::abs(p[1] - q[1]) + std::abs(p[2] - q[2]));
      const auto at_share = off.begin() + static_cast<std::ptrdiff_t>(off.size() / kLikeness);
      std::nth_element(off.begin(), at_share, off.end());
      ++asked;
      unlike += *at_share > kUnlike;
    }
  }
  return asked > 0 ? static_cast<double>(unlike) / asked : 0;
}

}  // namespace hookline::setup
