// Batch fit of the ball's path over its whole flight to a track, in image space, with a robust loss and a covariance.
//
// Curve: motion/skid_curve.h (one direction of friction, its size free and never negative, then rolling; before laydown
// free flight). Least squares on the sights' pixels: the ball's centre is projected through the setup's camera,
// residuals are whitened by each sight's covariance. Priors, all of them options: how fast the friction may change
// along the path (a random walk of its logarithm), where the hand lets go and how hard a fall from there lands, what
// spin hands give and by it where balls begin to roll, and an error of the seen centre that lasts from picture to
// picture. The posterior is a mixture of normal forms about its maxima: shapes of friction, where the roll begins, and
// which of fall and hops the first sights show. The lane setup is not re-fitted by the ball: its doubt, the ball's
// radius, how wide all rims were taken and the doubt of the readout of the sensor are passed on linearly (dp/ds by one
// Gauss-Newton step) and added to the covariance.
//
// Limits: one ball, one lane, flat; friction may not change sign; the normal form is poor where the roll begins just
// before the last sight.
#pragma once

#include <vector>

#include "core/status.h"
#include "lane/units.h"
#include "model/lane_setup.h"
#include "model/path.h"
#include "model/readout.h"
#include "model/shot.h"
#include "model/track.h"

namespace hookline::motion {

struct PathFitOptions {
  int least_sights = 8;           // usable sights on the lane below which there is no path, 6 or more
  double knot_spacing_s = 0.12;   // of the friction along the path, s, 0.03 to 0.5; smaller costs time
  double friction_start = 0.045;  // friction where the path starts, median of the prior; facts: 0.04 on oil
  double friction_start_log_sd = 1.0;
  double friction_walk = 0.7;    // sd of the change of log friction over one metre
  double friction_level = 0.07;  // weak prior of the friction anywhere, median
  double friction_level_log_sd = 1.5;
  double free_share = 0.1;  // prior probability that friction is of no shape but its own
  // Of friction that goes from one value (friction_start) to another: its values, where and over how much of the lane
  // it changes (oil ends at 32 to 47 ft; w of two_friction.h), and how far the lane may be from that, in log friction.
  double front_log_sd = 0.6;
  double friction_back = 0.18;  // 0.20 is published for dry boards, and called crude there
  double back_log_sd = 0.3;
  double change_ft = 40, change_sd_ft = 6;
  double change_width_ft = 1.2, change_width_log_sd = 0.6;
  // Log of the friction outside over that inside, in front: oil is thinner there on most lanes, many times over.
  double outside_log = 0.6, outside_log_sd = 0.5;
  double outside_boards = 8, outside_sd_boards = 2.5;  // from the lane's edge
  double deviation_log_sd = 0.25;
  double deviation_walk = 0.2;   // sd of its change over one metre
  double close_deviation = 0.2;  // share of these on a lane that is close to that; both kinds are tried
  // Prior of the first touch, ft past the foul line: falls of 1 to 3 in from hands at hand_ft (common practice, no
  // source).
  double laydown_ft = 1.5;
  double laydown_sd_ft = 1.2;
  // Where the hand lets go, ft past the foul line, and how fast the ball then rises or falls, sd, m/s (common practice,
  // no source): with gravity, how hard a ball lands by where it lands.
  double hand_ft = -0.3, hand_sd_ft = 0.6;
  double climb_sd = 0.35;
  // Prior of where rolling begins: for the first look, ft (the last 15 ft or less; common practice, no source), then by
  // the spin that hands give: the part of it along the ball's way, m/s of the ball's surface (common practice, no
  // source: 150 to 450 rpm turned 20 to 75 deg from it).
  double roll_start_ft = 48, roll_start_sd_ft = 8;
  double spin_along = 2.2, spin_along_sd = 1.0;
  // sd of the lasting error of any sight's centre, px: this plus a share of the disc's radius; the sight's own
  // (lasting_sd) comes on top.
  double centre_bias_px = 0.02;
  double centre_bias_share = 0.001;
  double centre_bias_s = 0.2;        // s over which that error lasts
  double ball_radius_sd_m = 0.0004;  // rule: diameter 8.500 to 8.595 in
  Readout readout;                   // of the sensor: sights are timed by it, and its sd is doubted
  // sd of how much too wide or narrow the rims of one track were taken, all alike (tone curve, gloss, blur), px: where
  // one side of the rim melts into the lane the centre is off by as much (docs/accuracy.md).
  double rim_sd_px = 0.18;
  double time_sd_s = 0.0001;  // sd of a time stamp
  double robust_scale = 2.5;  // whitened residual from which a sight loses weight
  double outlier_gate = 4.5;  // whitened residual beyond which it is left out
  Status Check() const;
};

// kNotDetermined with a sentence when the track holds too little (fewer than `least_sights` usable sights on the lane).
Result<Path> FitPath(const Track& track, const LaneSetup& setup, const PathFitOptions& options = {});

// The path at every sight's time from its start to its end, with sd, for drawing and for the result file. u_px, v_px is
// the ball's centre in that very frame: as seen, or (where `between` fills frames without a sight) projected into the
// reference frame.
std::vector<PathPoint> SamplePath(const Path& path, const Track& track, const LaneSetup& setup,
                                  const std::vector<double>& between = {});

}  // namespace hookline::motion
