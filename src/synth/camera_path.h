// The made camera over time, and the clip's clock.
//
// A frame's p_in_camera = R_j R (p_in_lane - C): R and C of the still camera (model/camera_model.h), R_j the turn of
// shake, knock and drift. On undistorted pixels that is the homography K R_j K^-1. Row v of a frame is exposed around
// pts + ((v + 0.5) / height - 0.5) readout.
#pragma once

#include <Eigen/Core>
#include <vector>

#include "model/camera_model.h"
#include "synth/scenario.h"

namespace hookline::synth {

// Time stamps of the frames, s, the first 0, growing, whole multiples of 1/90000 s (what a file keeps). Jitter and
// dropped frames are drawn from the scenario's seed.
std::vector<double> FrameTimes(const Scenario& scenario);

class CameraPath {
 public:
  explicit CameraPath(const Scenario& scenario);
  const CameraModel& still() const { return still_; }
  const Eigen::Matrix3d& rotation() const { return rotation_; }  // camera_from_lane of the still camera
  bool moves() const { return moves_; }
  // R_j at a time.
  Eigen::Matrix3d TurnAt(double time_s) const;
  // K R_j K^-1 at a time.
  Eigen::Matrix3d HomographyAt(double time_s) const;
  double RowTime(double frame_time_s, double v) const {
    return frame_time_s + ((v + 0.5) / still_.height - 0.5) * readout_;
  }

 private:
  struct Wave {
    double amplitude, rate, phase;
  };
  CameraModel still_;
  Eigen::Matrix3d rotation_;
  bool moves_ = false;
  double readout_ = 0;
  CameraSpec spec_;
  std::vector<Wave> waves_[3];
};

}  // namespace hookline::synth
