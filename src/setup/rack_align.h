// Aligns a rack of ten standing pins, drawn as a camera would see it, with the picture: shift and size to a fraction of
// a pixel.
#pragma once

#include <Eigen/Core>
#include <array>
#include <opencv2/core/mat.hpp>
#include <optional>

#include "model/lane_setup.h"

namespace hookline::setup {

struct RackAlignment {
  Eigen::Vector2d centre = Eigen::Vector2d::Zero();  // px, point about which the size changed
  Eigen::Vector2d shift = Eigen::Vector2d::Zero();   // px
  double growth = 0;                                 // size relative to expected, minus one
  double match = 0;                                  // correlation after alignment, 0..1
  std::array<Eigen::Vector3d, 3>
      points_in_lane;  // m, in the rack's own lane: at half height of pins 7, 10 and of the head pin
  Eigen::Vector2d Moved(const Eigen::Vector2d& expected) const {
    return centre + (1 + growth) * (expected - centre) + shift;
  }
};

// centre_x: of the rack's lane, m. nullopt when the rack is not wholly in the picture or no alignment lies within the
// window.
std::optional<RackAlignment> AlignRack(const cv::Mat& luma, const LaneSetup& trial, double centre_x, double window_px);

}  // namespace hookline::setup
