// Balls on a lane made by a closed formula and projected by the camera of report/fixture.h, and a run without shots to
// measure them in.
#pragma once

#include <cmath>
#include <random>
#include <string>
#include <vector>

#include "camera/projection.h"
#include "pipeline/measure_clip.h"
#include "report/fixture.h"

namespace hookline::test {

// A ball that slows down evenly and turns to the left as a parabola, seen at 60 frames a second with 0.2 px of noise.
//   y = 0.3 + 7.9 t - 0.25 t^2,  x = x0 + vx t - curve t^2
inline Track RollingBall(const CameraModel& camera, double start_s, double x0, double vx, double curve, double end_y) {
  std::mt19937 random(11);
  std::normal_distribution<double> noise(0, 0.2);
  Track track;
  for (int i = 0;; ++i) {
    const double t = i / 60.0, x = x0 + vx * t - curve * t * t, y = 0.3 + 7.9 * t - 0.25 * t * t;
    if (y > end_y) break;
    BallSight sight;
    sight.time_s = start_s + t;
    sight.frame = std::llround(60 * sight.time_s);
    const Eigen::Vector3d centre(x, y, lane::kBallDiameter / 2);
    sight.p_in_image = *camera::ImageFromLane(camera, centre) + Eigen::Vector2d(noise(random), noise(random));
    sight.p_in_frame = sight.p_in_image;
    sight.covariance = 0.04 * Eigen::Matrix2d::Identity();
    sight.radius_px = camera::BallRadiusPx(camera, centre, lane::kBallDiameter / 2);
    sight.seen_share = 1;
    track.sights.push_back(sight);
  }
  track.end = TrackEnd::kPins;
  track.pin_contact_s = track.sights.back().time_s + 0.02;
  return track;
}

inline pipeline::ClipRun EmptyRun() {
  pipeline::ClipRun run;
  run.result.lane_setup = LaneSetup{};
  run.result.lane_setup->camera = BehindTheLane();
  for (int i = 0; i < 1200; ++i) {
    run.frame_times_s.push_back(i / 60.0);
    run.motions.emplace_back();
  }
  return run;
}

inline pipeline::MeasureOptions RightHanded() {
  pipeline::MeasureOptions options;
  options.hand = lane::Hand::kRight;
  return options;
}

inline constexpr double kToPins = 18.1;

inline bool Mentions(const std::vector<std::string>& sentences, const std::string& word) {
  for (const std::string& s : sentences) {
    if (s.find(word) != std::string::npos) return true;
  }
  return false;
}

}  // namespace hookline::test
