#include "motion/two_friction.h"

#include <algorithm>
#include <cmath>

#include "lane/units.h"
#include "motion/skid_curve.h"

namespace hookline::motion {

namespace {
constexpr double kBlend = 0.02;  // m
}

double TwoFrictionLog(const FrictionShape& shape, double x, double y, FrictionShape* by_shape) {
  const double width = std::exp(shape[kLogWidth]);
  const double z = std::clamp((y - shape[kChangeY]) / width, -40.0, 40.0);
  const double step = 1 / (1 + std::exp(-z));
  const double outside = 1 / (1 + std::exp(-std::clamp((std::abs(x) - shape[kOutsideX]) / kBlend, -40.0, 40.0)));
  const double front = std::exp(shape[kLogFront] + shape[kOutside] * outside), back = std::exp(shape[kLogBack]);
  const double value = front + (back - front) * step;
  if (by_shape) {
    const double by_z = (back - front) * step * (1 - step) / value, by_front = front * (1 - step) / value;
    (*by_shape)[kLogFront] = by_front;
    (*by_shape)[kLogBack] = back * step / value;
    (*by_shape)[kChangeY] = -by_z / width;
    (*by_shape)[kLogWidth] = -by_z * z;
    (*by_shape)[kOutside] = by_front * outside;
    (*by_shape)[kOutsideX] = -by_front * shape[kOutside] * outside * (1 - outside) / kBlend;
  }
  return std::log(value);
}

double FrontFriction(const FrictionShape& shape) {
  return (kLeastFriction + std::exp(shape[kLogFront])) / lane::kStandardGravity;
}

double BackFriction(const FrictionShape& shape) {
  return (kLeastFriction + std::exp(shape[kLogBack])) / lane::kStandardGravity;
}

double FrictionAt(const FrictionShape& shape, double x, double y) {
  return (kLeastFriction + std::exp(TwoFrictionLog(shape, x, y, nullptr))) / lane::kStandardGravity;
}

double LogExcess(double friction) {
  return std::log(std::max(friction * lane::kStandardGravity - kLeastFriction, 1e-3));
}

}  // namespace hookline::motion
