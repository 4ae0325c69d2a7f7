#include "measure/measure_spin.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "lane/units.h"

namespace hookline::measure {
namespace {

using Eigen::Vector3d;

// The direction of travel is as good as the path's first feet.
constexpr double kHeadingSdDeg = 0.15;
// Light that stays on a surface of few marks makes the turn seem smaller, and a landing before the first view is not
// seen: what clips with exact truth show beyond the reading's own doubt.
constexpr double kLightSdDeg = 1.5;
constexpr double kRateShare = 0.01;

// Rate (rad/s), rotation, tilt (rad).
Vector3d RateAndAxis(const Vector3d& w, const Eigen::Vector2d& velocity, double side) {
  const Eigen::Vector2d ahead = velocity.normalized(), right(ahead.y(), -ahead.x());
  const double rate = w.norm();
  return {rate, std::atan2(-side * w.head<2>().dot(ahead), -w.head<2>().dot(right)),
          std::asin(std::clamp(side * w.z() / rate, -1.0, 1.0))};
}

}  // namespace

SpinMeasures MeasureSpin(const SpinReading& reading, const Eigen::Vector2d& velocity, lane::Hand hand) {
  if (!reading.usable)
    return {Measure::None(reading.reason), Measure::None(reading.reason), Measure::None(reading.reason)};
  const double side = hand == lane::Hand::kRight ? 1 : -1;
  const Vector3d value = RateAndAxis(reading.spin, velocity, side);
  Eigen::Matrix3d jacobian;
  for (int k = 0; k < 3; ++k) {
    const Vector3d h = 1e-4 * Vector3d::Unit(k);
    Vector3d d = RateAndAxis(reading.spin + h, velocity, side) - RateAndAxis(reading.spin - h, velocity, side);
    d.y() = std::remainder(d.y(), 2 * lane::kPi);
    jacobian.col(k) = d / 2e-4;
  }
  const Eigen::Matrix3d covariance = jacobian * reading.covariance * jacobian.transpose();
  const auto sd = [&](int k) { return std::sqrt(std::max(covariance(k, k), 0.0)); };
  return {Measure::Of(value[0] * 30 / lane::kPi, std::hypot(sd(0), kRateShare * value[0]) * 30 / lane::kPi),
          Measure::Of(lane::DegreesFromRadians(value[1]),
                      std::hypot(lane::DegreesFromRadians(sd(1)), kHeadingSdDeg, kLightSdDeg)),
          Measure::Of(lane::DegreesFromRadians(value[2]), lane::DegreesFromRadians(sd(2)))};
}

}  // namespace hookline::measure
