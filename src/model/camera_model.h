// A phone's camera: pinhole with square pixels and radial distortion, standing still in the lane frame.
//
//   p_in_camera = camera_from_lane_rotation * (p_in_lane - position_in_lane)      camera: x right, y down, z forward;
//   metres a = x/z, b = y/z, r2 = a^2 + b^2, g = 1 + k1 r2 + k2 r2^2 u = focal_px * a * g + centre_u,  v = focal_px * b
//   * g + centre_v
//
// Pixel (0,0) is the CENTRE of the top-left pixel of the displayed (rotated, square-pixel) picture. Projection lives in
// camera/.
#pragma once

#include <Eigen/Core>

namespace hookline {

struct CameraModel {
  int width = 0;  // of the displayed picture, px
  int height = 0;
  double focal_px = 0;
  double centre_u = 0;
  double centre_v = 0;
  double k1 = 0;
  double k2 = 0;
  Eigen::Vector3d rotation = Eigen::Vector3d::Zero();          // angle-axis of camera_from_lane_rotation, rad
  Eigen::Vector3d position_in_lane = Eigen::Vector3d::Zero();  // m
};

}  // namespace hookline
