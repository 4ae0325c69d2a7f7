// Which sights of a track speak of the ball on the lane, and a first rough path through them.
//
// Left out: sights before the release or after the first pin is touched, after the ball has dropped off the lane's
// edge, and gross mistakes. Contact points are the rays of the sights cut with the plane z = ball radius
// (camera/projection.h).
#pragma once

#include <Eigen/Core>
#include <optional>
#include <vector>

#include "core/status.h"
#include "model/lane_setup.h"
#include "model/readout.h"
#include "model/track.h"

namespace hookline::motion {

struct LaneSight {
  std::size_t index = 0;  // in Track::sights
  double time_s = 0;      // when the sensor read the ball's rows
  Eigen::Vector2d p_in_image = Eigen::Vector2d::Zero();
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();  // px^2
  Eigen::Vector2d lasting_sd = Eigen::Vector2d::Zero();  // px, as the track says
  double by_radius_u = 0;                                // px a px of the rim's radius, as the track says
  double radius_px = 0;
  Eigen::Vector2d contact = Eigen::Vector2d::Zero();     // m, if the ball lies on the lane
  Eigen::Vector2d contact_sd = Eigen::Vector2d::Zero();  // m, from the sight's covariance alone
  bool in_air = false;                                   // as the track says; `contact` means nothing then
  bool near_rough_path = false;                          // not a gross mistake by the rough path
};

// Robust polynomials x(t), y(t) about the middle of the sights; good to a few centimetres, for a first guess only.
struct RoughPath {
  double middle_s = 0;
  Eigen::Vector4d x = Eigen::Vector4d::Zero();  // rising powers of (t - middle_s)
  Eigen::Vector4d y = Eigen::Vector4d::Zero();
  Eigen::Vector2d At(double time_s) const;
  Eigen::Vector2d VelocityAt(double time_s) const;
};

struct SelectedSights {
  std::vector<LaneSight> sights;  // in order of time, on the lane, before pins and gutter
  RoughPath rough;
  std::optional<double> left_lane_s;  // time of the first sight beyond the lane's edge for good
  bool left_on_right = false;
};

// kNotDetermined with a sentence when fewer than `least` sights remain or they do not move down the lane.
Result<SelectedSights> SelectSights(const Track& track, const LaneSetup& setup, double ball_radius, int least,
                                    const Readout& readout);

// Time at which the rough path is at y, going on beyond the sights: by its mean speed in the quarter of them next to
// that, faster before them by what the oil takes off.
double RoughTimeAt(const SelectedSights& selected, double y);

// Speed down the lane by the rough path over the first and the last third of the sights, m/s, 2 or more.
struct RoughSpeeds {
  double front = 2, back = 2;
};
RoughSpeeds RoughSpeedsOf(const SelectedSights& selected);

}  // namespace hookline::motion
