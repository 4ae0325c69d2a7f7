#include "camera/projection.h"

#include <cmath>

namespace hookline::camera {
namespace {

Eigen::Vector2d Distort(const CameraModel& camera, const Eigen::Vector2d& n) {
  const double r2 = n.squaredNorm();
  return n * (1 + r2 * (camera.k1 + camera.k2 * r2));
}

}  // namespace

Eigen::Vector2d ImageFromNormalised(const CameraModel& camera, const Eigen::Vector2d& p_normalised) {
  const Eigen::Vector2d d = Distort(camera, p_normalised);
  return {camera.focal_px * d.x() + camera.centre_u, camera.focal_px * d.y() + camera.centre_v};
}

Eigen::Vector2d NormalisedFromImage(const CameraModel& camera, const Eigen::Vector2d& p_in_image) {
  const Eigen::Vector2d d((p_in_image.x() - camera.centre_u) / camera.focal_px,
                          (p_in_image.y() - camera.centre_v) / camera.focal_px);
  const double rd = d.norm();
  if (rd == 0) return d;
  // Radial only, so one dimension is enough: solve r (1 + k1 r^2 + k2 r^4) = rd.
  double r = rd;
  for (int i = 0; i < 20; ++i) {
    const double r2 = r * r;
    const double f = r * (1 + r2 * (camera.k1 + camera.k2 * r2)) - rd;
    const double df = 1 + r2 * (3 * camera.k1 + 5 * camera.k2 * r2);
    const double step = df > 0.1 ? f / df : f;
    r -= step;
    if (std::abs(step) < 1e-12) break;
  }
  return d * (r / rd);
}

std::optional<Eigen::Vector2d> ImageFromLane(const CameraModel& camera, const Eigen::Vector3d& p_in_lane) {
  const Eigen::Vector3d p = Turned<double>(camera.rotation, p_in_lane - camera.position_in_lane);
  if (p.z() <= 1e-6) return std::nullopt;
  return ImageFromNormalised(camera, {p.x() / p.z(), p.y() / p.z()});
}

Eigen::Vector3d RayInLane(const CameraModel& camera, const Eigen::Vector2d& p_in_image) {
  const Eigen::Vector2d n = NormalisedFromImage(camera, p_in_image);
  return Turned<double>(-camera.rotation, Eigen::Vector3d(n.x(), n.y(), 1).normalized());
}

std::optional<Eigen::Vector3d> LaneFromImage(const CameraModel& camera, const Eigen::Vector2d& p_in_image,
                                             double height) {
  const Eigen::Vector3d d = RayInLane(camera, p_in_image);
  if (std::abs(d.z()) < 1e-12) return std::nullopt;
  const double s = (height - camera.position_in_lane.z()) / d.z();
  if (s <= 0) return std::nullopt;
  return camera.position_in_lane + s * d;
}

std::optional<Eigen::Vector2d> ContactFromImage(const CameraModel& camera, const Eigen::Vector2d& p_in_image,
                                                double ball_radius) {
  const auto p = LaneFromImage(camera, p_in_image, ball_radius);
  if (!p) return std::nullopt;
  return Eigen::Vector2d(p->x(), p->y());
}

double BallRadiusPx(const CameraModel& camera, const Eigen::Vector3d& centre_in_lane, double ball_radius) {
  const Eigen::Vector3d p = Turned<double>(camera.rotation, centre_in_lane - camera.position_in_lane);
  const double d2 = p.squaredNorm() - ball_radius * ball_radius;
  if (p.z() <= ball_radius || d2 <= 0) return 0;
  // tan of the half angle under which the sphere is seen, times the focal length, times sec of the angle off the axis.
  return camera.focal_px * ball_radius / std::sqrt(d2) * (p.norm() / p.z());
}

Eigen::Vector2d ReferenceFromFrame(const CameraModel& camera, const FrameMotion& motion,
                                   const Eigen::Vector2d& p_in_frame) {
  const Eigen::Vector2d n = NormalisedFromImage(camera, p_in_frame);
  const Eigen::Vector3d r(motion.rotation[0], motion.rotation[1], motion.rotation[2]);
  const Eigen::Vector3d q = Turned<double>(-r, Eigen::Vector3d(n.x(), n.y(), 1));
  return ImageFromNormalised(camera, {q.x() / q.z(), q.y() / q.z()});
}

Eigen::Vector2d FrameFromReference(const CameraModel& camera, const FrameMotion& motion,
                                   const Eigen::Vector2d& p_in_reference) {
  const Eigen::Vector2d n = NormalisedFromImage(camera, p_in_reference);
  const Eigen::Vector3d r(motion.rotation[0], motion.rotation[1], motion.rotation[2]);
  const Eigen::Vector3d q = Turned<double>(r, Eigen::Vector3d(n.x(), n.y(), 1));
  return ImageFromNormalised(camera, {q.x() / q.z(), q.y() / q.z()});
}

SetupVector ParametersOf(const LaneSetup& setup) {
  const CameraModel& c = setup.camera;
  SetupVector p;
  p << c.focal_px, c.centre_u, c.centre_v, c.k1, c.k2, c.rotation, c.position_in_lane, setup.lane.width;
  return p;
}

LaneSetup WithParameters(const LaneSetup& setup, const SetupVector& parameters) {
  LaneSetup s = setup;
  s.camera.focal_px = parameters[0];
  s.camera.centre_u = parameters[1];
  s.camera.centre_v = parameters[2];
  s.camera.k1 = parameters[3];
  s.camera.k2 = parameters[4];
  s.camera.rotation = parameters.segment<3>(5);
  s.camera.position_in_lane = parameters.segment<3>(8);
  s.lane.width = parameters[11];
  return s;
}

}  // namespace hookline::camera
