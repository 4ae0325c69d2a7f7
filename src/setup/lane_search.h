// The coarse view: where lanes, racks of pins and foul line are, found without knowing the camera. Input of the exact
// fit (fit_setup.h).
//
// With the vanishing point (u0, v0) of the lanes known, a lane is a stripe of the pencil of one width w in slope, a
// rack of pins stands at its far end at a row r60 = v - v0 below the vanishing point, and its scale there is fixed by
// the stripe: w * r60 px for one lane width. One number is searched along each stripe, the pins decide. The foul line
// is the row where the edges of gutters and lanes end together; the ratio of its depth to r60 gives the camera's
// distance and so its focal length, with the picture's middle as principal point:
//   r(y) = F / (y + d),  d = 60 ft / (r_foul / r60 - 1),  focal = F w cos(pitch) / lane width,  tan(pitch) = (centre_v
//   - v0) / focal.
#pragma once

#include <Eigen/Core>
#include <opencv2/core/mat.hpp>
#include <string>
#include <vector>

#include "core/status.h"
#include "lane/units.h"
#include "setup/pencil.h"

namespace hookline::setup {

// Lane and two gutters are 60 in wide at least; less 3 % for what a coarse view is off.
inline constexpr double kLeastSpacing = 0.97 * 60 * lane::kMetresPerInch;  // m, between two lanes' centre lines

struct CoarseLane {
  double centre_slope = 0;                     // of the lane's centre line in the pencil
  double left_support = 0, right_support = 0;  // 0..1, edges of the sign all lanes share
  double rack_match = 0;                       // -1..1 correlation with ten standing pins
  double rack_row = 0;                         // r60 of this lane's own best match, px
  bool filled = false;                         // hardly seen itself: the row of lanes has room for one there
};

struct CoarseView {
  Eigen::Vector2d vanishing_point = Eigen::Vector2d::Zero();
  double lane_slope = 0;  // w: width of a lane in slope
  double rack_row = 0;    // r60, px
  double foul_row = 0;    // r at the foul line under the vanishing point (s = 0), px
  double foul_tilt = 0;   // dv/du of the foul line
  double focal_px = 0;
  double lane_sign = 0;               // +1: lanes brighter than gutters, -1: darker
  std::vector<CoarseLane> lanes;      // by slope
  std::vector<CoarseLane> half_seen;  // by slope: one edge and no pins; a lane only where other reasons speak for one
  double score = 0;
  // The picture was turned about the vanishing point by this angle (rad, clockwise on screen) so that the camera had no
  // roll; rows, slopes and tilt above are of the turned picture.
  double turned = 0;
};

// Where the search begins. Pairs of edges tell the lanes' width sharply and cheaply; racks of pins are found where
// edges are faint or other lines outdo them.
enum class SearchBy { kEdges, kRacks };

// pictures: luma of one scene at different times, at least one, the still background first. Lines and foul line are
// taken from the first; a lane or a rack counts when any of them shows it. kLaneNotFound with what was missing. Works
// on any size; the caller scales very large pictures down first.
//
// Up to four different views, the likeliest first: which is right shows only when each is fitted.
Result<std::vector<CoarseView>> SearchLanes(const std::vector<cv::Mat>& pictures, SearchBy by = SearchBy::kEdges);

}  // namespace hookline::setup
