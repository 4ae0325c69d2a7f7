// Between lane and picture. All functions are pure; the template form exists for automatic differentiation.
#pragma once

#include <Eigen/Core>
#include <Eigen/Geometry>
#include <optional>

#include "model/lane_setup.h"
#include "model/picture.h"

namespace hookline::camera {

// The rotation matrix of an angle-axis vector (Rodrigues). T: double or ceres::Jet.
template <typename T>
Eigen::Matrix<T, 3, 3> RotationFromAngleAxis(const Eigen::Matrix<T, 3, 1>& r);

// The same rotation of one vector, without the matrix: for one or two vectors it is the quicker way, above all of jets.
template <typename T>
Eigen::Matrix<T, 3, 1> Turned(const Eigen::Matrix<T, 3, 1>& angle_axis, const Eigen::Matrix<T, 3, 1>& v);

// Pixel of a point of the lane frame (m). Precondition: the point is in front of the camera (z > 0), otherwise the
// result has no meaning; the optional form checks.
std::optional<Eigen::Vector2d> ImageFromLane(const CameraModel& camera, const Eigen::Vector3d& p_in_lane);

// Direction in the lane frame (unit length) of the ray through a distorted pixel. Distortion is inverted by Newton
// steps to 1e-10.
Eigen::Vector3d RayInLane(const CameraModel& camera, const Eigen::Vector2d& p_in_image);

// Where that ray meets the plane z = height (m). nullopt when it does not, or behind the camera.
std::optional<Eigen::Vector3d> LaneFromImage(const CameraModel& camera, const Eigen::Vector2d& p_in_image,
                                             double height);

// Contact point (x, y) of a ball of the given radius whose disc has its centre at the pixel: the ray cut with the plane
// z = radius. The centre of the projected ellipse lies off the projected centre by less than 0.02 px for balls beyond 3
// m; that is ignored.
std::optional<Eigen::Vector2d> ContactFromImage(const CameraModel& camera, const Eigen::Vector2d& p_in_image,
                                                double ball_radius);

// Radius in px of the disc of a ball whose centre is at p_in_lane (silhouette of a sphere: f * asin-based, exact on the
// axis).
double BallRadiusPx(const CameraModel& camera, const Eigen::Vector3d& centre_in_lane, double ball_radius);

// Undistorted normalised coordinates (x/z, y/z) of a distorted pixel, and back.
Eigen::Vector2d NormalisedFromImage(const CameraModel& camera, const Eigen::Vector2d& p_in_image);
Eigen::Vector2d ImageFromNormalised(const CameraModel& camera, const Eigen::Vector2d& p_normalised);

// A pixel of a moved frame in the reference frame, and back.
Eigen::Vector2d ReferenceFromFrame(const CameraModel& camera, const FrameMotion& motion,
                                   const Eigen::Vector2d& p_in_frame);
Eigen::Vector2d FrameFromReference(const CameraModel& camera, const FrameMotion& motion,
                                   const Eigen::Vector2d& p_in_reference);

// The setup's parameters as a vector in the order of kSetupParameters, and a setup with those parameters in place of
// its own.
SetupVector ParametersOf(const LaneSetup& setup);
LaneSetup WithParameters(const LaneSetup& setup, const SetupVector& parameters);

// ---- template definitions ----

template <typename T>
Eigen::Matrix<T, 3, 3> RotationFromAngleAxis(const Eigen::Matrix<T, 3, 1>& r) {
  using std::cos;
  using std::sin;
  using std::sqrt;
  const T a2 = r.squaredNorm();
  Eigen::Matrix<T, 3, 3> k;
  k << T(0), -r.z(), r.y(), r.z(), T(0), -r.x(), -r.y(), r.x(), T(0);
  // Series near zero keep the derivative finite there.
  if (a2 < T(1e-12)) return Eigen::Matrix<T, 3, 3>::Identity() + k + T(0.5) * k * k;
  const T a = sqrt(a2);
  return Eigen::Matrix<T, 3, 3>::Identity() + (sin(a) / a) * k + ((T(1) - cos(a)) / a2) * k * k;
}

template <typename T>
Eigen::Matrix<T, 3, 1> Turned(const Eigen::Matrix<T, 3, 1>& r, const Eigen::Matrix<T, 3, 1>& v) {
  using std::cos;
  using std::sin;
  using std::sqrt;
  const T a2 = r.squaredNorm();
  const Eigen::Matrix<T, 3, 1> across = r.cross(v), back = r.cross(across);
  if (a2 < T(1e-12)) return v + across + T(0.5) * back;
  const T a = sqrt(a2);
  return v + (sin(a) / a) * across + ((T(1) - cos(a)) / a2) * back;
}

// Projection with every parameter free: parameters[0..10] in the order of kSetupParameters (lane width is not used
// here).
template <typename T>
Eigen::Matrix<T, 2, 1> Project(const T* parameters, const Eigen::Matrix<T, 3, 1>& p_in_lane) {
  const Eigen::Matrix<T, 3, 1> r(parameters[5], parameters[6], parameters[7]);
  const Eigen::Matrix<T, 3, 1> c(parameters[8], parameters[9], parameters[10]);
  const Eigen::Matrix<T, 3, 1> p = Turned<T>(r, p_in_lane - c);
  const T a = p.x() / p.z(), b = p.y() / p.z(), r2 = a * a + b * b;
  const T g = T(1) + r2 * (parameters[3] + parameters[4] * r2);
  return {parameters[0] * a * g + parameters[1], parameters[0] * b * g + parameters[2]};
}

}  // namespace hookline::camera
