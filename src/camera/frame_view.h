// From the lane to the pixels of one frame of a clip, for drawing: the camera's own projection, and the frame's turn
// against the reference frame.
//
// Points nearer to the camera in depth than 0.3 m have no pixel: the lens model means little there.
#pragma once

#include <Eigen/Core>
#include <optional>
#include <vector>

#include "camera/projection.h"
#include "model/lane_setup.h"

namespace hookline::camera {

using MaybePixel = std::optional<Eigen::Vector2d>;

// Keeps references to both: they outlive it.
class FrameView {
 public:
  FrameView(const LaneSetup& setup, const FrameMotion& motion) : setup_(setup), motion_(motion) {
    forward_ = RotationFromAngleAxis<double>(setup.camera.rotation).row(2);
  }
  // Of a point in the lane frame, m.
  MaybePixel Pixel(double x, double y, double z = 0) const {
    constexpr double kNearest = 0.3;  // m
    const Eigen::Vector3d p(x, y, z);
    if (forward_.dot(p - setup_.camera.position_in_lane) < kNearest) return std::nullopt;
    MaybePixel pixel = ImageFromLane(setup_.camera, p);
    if (pixel && motion_.known) pixel = FrameFromReference(setup_.camera, motion_, *pixel);
    return pixel;
  }
  // A straight line on the lane, which is a curve in a picture with distortion. From the nearer to the farther end.
  std::vector<MaybePixel> Straight(double x0, double y0, double x1, double y1) const {
    constexpr int kSteps = 48;
    std::vector<MaybePixel> line;
    for (int i = 0; i <= kSteps; ++i) {
      // Even in 1/distance would be best; squares put more points near the camera, where the picture changes fastest.
      const double f = static_cast<double>(i) / kSteps, g = f * f;
      line.push_back(Pixel(x0 + (x1 - x0) * g, y0 + (y1 - y0) * g));
    }
    return line;
  }
  const LaneSetup& setup() const { return setup_; }

 private:
  const LaneSetup& setup_;
  const FrameMotion& motion_;
  Eigen::Vector3d forward_;
};

}  // namespace hookline::camera
