// A ball's spin as read off its surface.
#pragma once

#include <Eigen/Core>
#include <limits>
#include <string>

namespace hookline {

struct SpinReading {
  bool usable = false;
  std::string reason;  // a sentence when not usable
  Eigen::Vector3d spin = Eigen::Vector3d::Constant(std::numeric_limits<double>::quiet_NaN());  // rad/s, lane frame
  Eigen::Matrix3d covariance = Eigen::Matrix3d::Zero();
};

}  // namespace hookline
