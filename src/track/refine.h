// From a chain of rough places to a Track: sub-pixel centres with honest covariances, and how the shot ended.
//
// 1. Every patch is fitted with the radius free. Over the track the fitted radii tell what the fits have in common and
// the lane setup
//    and the rules do not know: radius = (1 + e) expected + d  (a ball of 8.50 to 8.595 in, a setup's scale; the
//    brighter side's glow over the edge, which makes a dark ball look smaller). The exposure's share of the frame's
//    time and the lens blur are chosen where the residuals are least.
// 2. Every patch is fitted again with that radius.
// 3. Sights that do not lie on a smooth piece of path with their neighbours are dropped; how far the others scatter
// about it scales the
//    covariances (codecs make the noise of neighbouring pixels alike, which the fit of one patch cannot see).
// 4. The end: a crossing of the lane's edge is the gutter; the first pin's touch is where the path meets a pin spot,
// chosen by the first
//    change seen among the pins.
#pragma once

#include <optional>
#include <vector>

#include "model/track.h"
#include "track/chain.h"
#include "track/corridor.h"

namespace hookline::track {

// What the refinement found about the picture of this ball; for tests and for the doubts' record.
struct RefineReport {
  double radius_factor = 1;           // 1 + e
  double radius_offset = 0;           // d, px
  double blur = -1;                   // px
  double gamma = -1;                  // of the tone curve, as chosen
  double off_px = -1;                 // median distance of a sight from its neighbours' path
  double exposure_s = -1;             // as chosen
  double scale_u = -1, scale_v = -1;  // what the fits' standard deviations were multiplied by
  int patches = 0, fitted = 0, dropped = 0;
};

// m down the lane that must be seen of a ball; of one whose way before or after is known already.
inline constexpr double kLeastWay = 3, kLeastWayOfKnown = 1;

// nullopt when too little of it can be fitted to be a ball (and then it was none).
std::optional<Track> RefineTrack(const Chain& chain, const Corridor& corridor, double clip_end_s,
                                 double least_way = kLeastWay, RefineReport* report = nullptr);

}  // namespace hookline::track
