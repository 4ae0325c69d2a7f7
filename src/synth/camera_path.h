// The made camera over time, and the clip's clock.
//
// A frame's p_in_camera = R_j R (p_in_lane - C): R and C of the still camera (model/camera_model.h), R_j the turn of
// shake, knock and drift. On undistorted pixels that is the homography K R_j K^-1. Line l of the sensor, one of n, is
// exposed around pts + ((l + 0.5) / n - 0.5) readout; lines are the rows of the picture as stored, which in a clip that
// is turned for display may be columns.
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
  // The sensor's line that holds a place of the displayed picture, whole at pixel centres.
  double LineOf(double u, double v) const {
    switch (turned_deg_) {
      case 90:
        return still_.width - 1 - u;
      case 180:
        return still_.height - 1 - v;
      case 270:
        return u;
      default:
        return v;
    }
  }
  int lines() const { return turned_deg_ % 180 == 0 ? still_.height : still_.width; }
  double LineTime(double frame_time_s, double line) const {
    return frame_time_s + ((line + 0.5) / lines() - 0.5) * readout_;
  }

 private:
  struct Wave {
    double amplitude, rate, phase;
  };
  CameraModel still_;
  Eigen::Matrix3d rotation_;
  bool moves_ = false;
  double readout_ = 0;
  int turned_deg_ = 0;  // clockwise, of the stored picture for display
  CameraSpec spec_;
  std::vector<Wave> waves_[3];
};

}  // namespace hookline::synth
