// From a fitted path to the measures of docs/measures.md. Pure functions.
//
// Every value is a function m(p, W) of the path's parameters p and the lane's width W (boards are W / 39 wide); its sd
// follows from the joint covariance by a numeric gradient, var = g' C g, except the breakpoint's distance, which is not
// linear in p where the path is flat: there it is the spread over draws from the same normal distribution (fixed seed).
#pragma once

#include <optional>
#include <vector>

#include "core/status.h"
#include "lane/lane_spec.h"
#include "model/measures.h"
#include "model/path.h"
#include "model/track.h"

namespace hookline::measure {

struct MeasureOptions {
  double arrow_sd_m = 0.02;          // sd of an arrow tip's y that was measured in the picture
  double arrow_assumed_sd_m = 0.10;  // sd of a tip's y when the common places are assumed (the rule allows 12 to 16 ft)
  double significant_sd = 2.5;  // a breakpoint's turn must exceed this many sd, otherwise the ball counts as straight
  double least_turn_boards = 0.03;    // and this, boards
  double ball_k = lane::kUsualBallK;  // (radius of gyration / radius)^2 of the ball
  double ball_k_sd = 0.02;            // 0 when the ball's radius of gyration is known
  double least_sure = 0.95;  // probability that the ball was seen to roll, below which nothing is said of the roll
  double wide = 2.0;         // a value whose sd exceeds this many times the accuracy asked of hard footage is withheld
  void SetGyration(double radius_m);  // of a ball whose radius of gyration is known
  Status Check() const;
};

// Every measure a path can give, each with its sd or a reason. Spin read off the surface is none of them.
Measures MeasurePath(const Path& path, const Track& track, const lane::LaneSpec& lane, lane::Hand hand,
                     const MeasureOptions& options = {});

// Mean friction met between two places, as far as the path tells it.
std::vector<FrictionZone> MeasureFriction(const Path& path, const lane::LaneSpec& lane);

struct GutterCrossing {
  double time_s = 0;
  double y = 0, sd_y = 0;  // m, where the contact point crosses the lane's edge
  bool own_side = false;   // the edge of the bowler's own hand
};

// nullopt when the ball stayed on the lane.
std::optional<GutterCrossing> FindGutterCrossing(const Path& path, const lane::LaneSpec& lane, lane::Hand hand);

}  // namespace hookline::measure
