// The exact setup: camera, lens distortion, lane width and the neighbours' places from all evidence at once, by
// nonlinear least squares (Ceres) with a robust loss, with the covariance of the result.
//
// Residuals are whitened by the sigmas in the options. The lane's length is trusted (rule: 60 ft +- 1/2 in), its width
// is fitted with the rule's window as prior. Named priors hold what a picture of one lane can hardly tell: principal
// point, distortion, width.
#pragma once

#include <vector>

#include "core/status.h"
#include "model/lane_setup.h"
#include "setup/evidence.h"

namespace hookline::setup {

// A marked point with a known place, from a person's hand.
struct MarkPoint {
  Eigen::Vector3d p_in_lane = Eigen::Vector3d::Zero();  // m; x is scaled by the fitted width where scales_with_width
  bool scales_with_width = false;
  double sigma_along = 1;  // times mark_sigma_px in v: how much less the place along the lane is known than across
  Eigen::Vector2d p_in_image = Eigen::Vector2d::Zero();
  double sigma = 1;  // times mark_sigma_px, each way
};

struct FitSetupOptions {
  double edge_sigma_px = 0.35;  // of one edge point
  double foul_sigma_px = 0.8;   // of one point of the foul line, its unknown width included
  double rack_sigma_px = 0.25;  // of one point of an aligned rack
  double mark_line_sigma_px =
      0.5;                     // of the middle of one arrow across the lane, its paint's place in the board included
  double mark_sigma_px = 2.0;  // of one point marked by hand
  bool trust_marks = false;    // marks count as they are; false: with a robust loss, as one may be mistaken
  double centre_prior_share = 0.01;  // sd of the principal point about the picture's middle, share of the longer side
  double k1_prior = 0.06;            // sd of k1 about 0
  double k2_prior = 0.02;            // sd of k2 about 0
  double width_prior_m = 0.0045;     // sd of the lane's width about nominal; rule: +- 1/2 in
  // Two errors that all points of a kind share, fitted as nuisances with these sds: how far all edges are seen towards
  // the gutters (lens, tone curve and encoder smear), and how far all racks are seen too high (some 0.1 px of what
  // light from above does is left).
  double edge_smear_px = 0.1;
  double rack_rise_px = 0.15;
  // Where the line shows only as a step from approach to lane, the step lies anywhere in its strip of 3/8 to 1 in: m.
  double foul_step_m = 0.008;
  // Evidence along one edge or rack errs together, not point by point: the covariance is that of this many fewer
  // independent points.
  double correlated_points = 6;
  bool with_covariance = true;  // false saves a third of the time where only the setup is wanted
  Status Check() const;
};

struct SetupFit {
  LaneSetup setup;
  std::vector<LaneInView> lanes;
  double rms_px = -1;       // of edges, foul and racks within 3 sigma
  double edge_rms_px = -1;  // of the edges alone
  int used = 0, offered = 0;
  bool usable = false;
  int edges_used = 0, racks_used = 0;  // of those: edge points; racks with all three points
  bool own_rack_used = false;          // the own lane's rack is one of them
};

// Starts from the trial. lanes[0] must be the setup's own lane (index 0, centre_x 0, held).
SetupFit FitSetup(const LaneSetup& trial, const std::vector<LaneInView>& lanes, const Evidence& evidence,
                  const std::vector<MarkPoint>& marks, const FitSetupOptions& options = {});

}  // namespace hookline::setup
