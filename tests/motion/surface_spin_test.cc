#include "motion/surface_spin.h"

#include <doctest/doctest.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <functional>
#include <random>

#include "camera/projection.h"

using namespace hookline;
using namespace hookline::motion;
using Eigen::Vector2d;
using Eigen::Vector3d;

namespace {

constexpr double kRadius = lane::kBallDiameter / 2;

CameraModel Camera() {
  CameraModel c;
  c.width = 1920, c.height = 1080;
  c.focal_px = 1700, c.centre_u = 959.5, c.centre_v = 539.5;
  c.k1 = -0.05;
  // x right, y down, z ahead and 10 degrees down: turned by -100 degrees about x.
  c.rotation = Vector3d(100 * lane::kPi / 180, 0, 0);
  c.position_in_lane = Vector3d(0.3, -4.2, 1.7);
  return c;
}

// What a ball looks like: own level of a place on the body, and light added at a normal of the lane frame.
struct Ball {
  std::function<double(const Vector3d& body)> own;
  std::function<double(const Vector3d& normal, double time_s)> light;
  Vector3d spin;        // rad/s at the first view
  double friction = 0;  // m/s^2, straight against the slip, shared by path and spin
  double frame_s = 1.0 / 60;
  int frames = 30;
  double noise = 1.5;
};

std::vector<SurfaceView> Film(const Ball& ball) {
  const CameraModel camera = Camera();
  std::mt19937 random(7);
  std::normal_distribution<double> normal;
  Vector2d v(-0.25, 8.2);
  Vector3d w = ball.spin, p(0.2, 0.2, kRadius);
  const Vector2d slip = (v + Vector2d(-w.y(), w.x()) * kRadius).normalized();
  Eigen::Matrix3d turn = camera::RotationFromAngleAxis<double>(Vector3d(0.4, 0.9, -0.3));
  std::vector<SurfaceView> views;
  for (int i = 0; i < ball.frames; ++i) {
    SurfaceView view;
    view.time_s = view.patch.time_s = i * ball.frame_s;
    view.centre = p, view.velocity = v;
    const Vector2d at = *camera::ImageFromLane(camera, p);
    const int reach = static_cast<int>(camera::BallRadiusPx(camera, p, kRadius)) + 4;
    view.patch.corner = {2 * (static_cast<int>(at.x() - reach) / 2), 2 * (static_cast<int>(at.y() - reach) / 2)};
    view.patch.luma.create(2 * reach + 2, 2 * reach + 2, CV_8UC1);
    for (int r = 0; r < view.patch.luma.rows; ++r)
      for (int c = 0; c < view.patch.luma.cols; ++c) {
        const Vector3d ray = camera::RayInLane(camera, {view.patch.corner.x + c, view.patch.corner.y + r});
        const Vector3d to = p - camera.position_in_lane;
        const double along = ray.dot(to), under = along * along - to.squaredNorm() + kRadius * kRadius;
        double level = 150;
        if (under > 0) {
          const Vector3d n = ((along - std::sqrt(under)) * ray - to) / kRadius;
          level = ball.own(turn.transpose() * n) + ball.light(n, view.patch.time_s);
        }
        view.patch.luma.at<std::uint8_t>(r, c) =
            static_cast<std::uint8_t>(std::clamp(level + ball.noise * normal(random), 0.0, 255.0));
      }
    views.push_back(view);
    // Small steps of the lane's physics: what friction takes from the travel it gives to the spin.
    constexpr int kSteps = 20;
    for (int k = 0; k < kSteps; ++k) {
      const double dt = ball.frame_s / kSteps;
      turn = camera::RotationFromAngleAxis<double>(w * dt) * turn;
      const Vector2d dv = -ball.friction * dt * slip;
      p.head<2>() += v * dt;
      v += dv;
      w += Vector3d(dv.y(), -dv.x(), 0) / (0.352 * kRadius);
    }
  }
  return views;
}

double Light(const Vector3d& n, double time_s) {
  const double lambert = 40 * std::max(0.0, n.dot(Vector3d(0.2, -0.3, 0.93)));
  // A lamp's gloss that moves over the ball as the ball travels.
  const Vector3d lamp = Vector3d(0.1, -0.75 + 0.5 * time_s, 0.75).normalized();
  return lambert + (n.dot(lamp) > 0.985 ? 70 : 0);
}

// Spots here and there; no symmetry.
double Spots(const Vector3d& m) {
  for (const Vector3d& spot : {Vector3d(1, 0.2, 0.3), Vector3d(-0.4, 0.9, 0.2), Vector3d(0.1, -0.8, 0.6),
                               Vector3d(-0.7, -0.3, -0.6), Vector3d(0.3, 0.4, -0.9), Vector3d(-0.2, 0.3, 0.95)})
    if (m.dot(spot.normalized()) > 0.955) return 150;
  return 70;
}

SurfaceSpinOptions Options() {
  SurfaceSpinOptions o;
  REQUIRE(o.Check().ok());
  return o;
}

}  // namespace

TEST_CASE("spin of a marked ball at 60 frames a second, with friction, light and gloss") {
  const Ball ball{Spots, Light, {-20, -16, 6}, 0.7};
  const SurfaceSpin got = ReadSurfaceSpin(Film(ball), Camera(), Options());
  INFO(got.reason);
  REQUIRE(got.usable);
  CHECK((got.spin - ball.spin).norm() < 0.02 * ball.spin.norm());
  CHECK(got.explained > 0.5);
  CHECK(got.next_best < 0.5 * got.explained);
  // Its doubt holds it: three degrees of freedom, chi squared below 16 with a probability of 0.999.
  CHECK((got.spin - ball.spin).dot(got.covariance.ldlt().solve(got.spin - ball.spin)) < 16);
  CHECK(std::sqrt(got.covariance.trace()) < 0.1 * ball.spin.norm());
}

TEST_CASE("the spin at release is that of the first view less what friction has done since") {
  const Ball ball{Spots, Light, {-20, -16, 6}, 0.7};
  const auto views = Film(ball);
  SurfaceSpinOptions options = Options();
  const SurfaceSpin first = ReadSurfaceSpin(views, Camera(), options);
  options.release_velocity = views.front().velocity + Vector2d(0, 0.05);
  const SurfaceSpin release = ReadSurfaceSpin(views, Camera(), options);
  REQUIRE(first.usable);
  REQUIRE(release.usable);
  const double gained = 0.05 / (options.ball_k * kRadius);
  CHECK(release.spin.x() - first.spin.x() == doctest::Approx(gained * first.friction_scale));
  CHECK(release.spin.y() == doctest::Approx(first.spin.y()));
}

TEST_CASE("a fast ball at 30 frames a second") {
  Ball ball{Spots, Light, {-36, -30, 8}, 0.5};  // 456 rpm: 91 degrees a frame
  ball.frame_s = 1.0 / 30, ball.frames = 18;
  const SurfaceSpin got = ReadSurfaceSpin(Film(ball), Camera(), Options());
  INFO(got.reason);
  REQUIRE(got.usable);
  CHECK((got.spin - ball.spin).norm() < 0.03 * ball.spin.norm());
}

TEST_CASE("a pattern that comes again: the path's slip angle chooses, without it nothing is said") {
  // Four equal stripes around the axis of the spin, which turns by 65 degrees a frame: as well by 25 the other way or
  // by 155.
  const Vector3d axis = Vector3d(-0.8, -0.55, 0.2).normalized();
  const Eigen::Matrix3d start = camera::RotationFromAngleAxis<double>(Vector3d(0.4, 0.9, -0.3));
  const Vector3d on_body = start.transpose() * axis, e = on_body.unitOrthogonal(), f = on_body.cross(e);
  Ball ball;
  ball.own = [=](const Vector3d& m) { return std::cos(4 * std::atan2(m.dot(f), m.dot(e))) > 0.3 ? 150.0 : 70.0; };
  ball.light = Light;
  ball.frame_s = 1.0 / 30, ball.frames = 18;
  ball.spin = axis * (65 * lane::kPi / 180 * 30);
  const auto views = Film(ball);
  SurfaceSpinOptions options = Options();
  const SurfaceSpin alone = ReadSurfaceSpin(views, Camera(), options);
  CHECK_FALSE(alone.usable);
  CHECK(alone.reason.find("Several spins") != std::string::npos);
  const Vector2d v = views.front().velocity, slip = v + Vector2d(-ball.spin.y(), ball.spin.x()) * kRadius;
  options.slip_angle = std::atan2(slip.x(), slip.y()) - std::atan2(v.x(), v.y());
  options.slip_angle_sd = 0.02;
  const SurfaceSpin got = ReadSurfaceSpin(views, Camera(), options);
  INFO(got.reason);
  REQUIRE(got.usable);
  CHECK((got.spin - ball.spin).norm() < 0.05 * ball.spin.norm());
}

TEST_CASE("light alone is not taken for spin") {
  const auto plain = [](const Vector3d&) { return 70.0; };
  const SurfaceSpin got = ReadSurfaceSpin(Film({plain, Light, {-20, -16, 6}}), Camera(), Options());
  CHECK_FALSE(got.usable);
  CHECK(got.reason.size() > 20);
  const SurfaceSpin dull = ReadSurfaceSpin(
      Film({plain, [](const Vector3d& n, double) { return 40 * n.z(); }, {-20, -16, 6}}), Camera(), Options());
  CHECK_FALSE(dull.usable);
}

TEST_CASE("too few or too small views") {
  auto views = Film({Spots, Light, {-20, -16, 6}});
  SurfaceSpinOptions options = Options();
  options.least_radius_px = 80;
  CHECK_FALSE(ReadSurfaceSpin(views, Camera(), options).usable);
  views.resize(5);
  CHECK_FALSE(ReadSurfaceSpin(views, Camera(), Options()).usable);
  CHECK_FALSE(ReadSurfaceSpin({}, Camera(), Options()).usable);
  options.ball_k = 1;
  CHECK(options.Check().sentence().find("ball_k") != std::string::npos);
}
