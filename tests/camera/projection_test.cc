#include "camera/projection.h"

#include <doctest/doctest.h>

#include <cmath>
#include <opencv2/calib3d.hpp>
#include <random>

#include "report/fixture.h"

using namespace hookline;
using doctest::Approx;

namespace {

// Cameras of other places, lenses and turns; fixed seed.
std::vector<CameraModel> Cameras() {
  std::mt19937 random(7);
  std::uniform_real_distribution<double> u(-1, 1);
  std::vector<CameraModel> cameras = {test::BehindTheLane(), test::BehindTheLane(1080, 1920)};
  for (int i = 0; i < 6; ++i) {
    CameraModel c = test::BehindTheLane();
    c.focal_px *= 1 + 0.4 * u(random);
    c.centre_u += 20 * u(random);
    c.k1 = 0.15 * u(random);
    c.k2 = 0.03 * u(random);
    c.rotation += 0.08 * Eigen::Vector3d(u(random), u(random), u(random));
    c.position_in_lane += Eigen::Vector3d(u(random), u(random), 0.5 * u(random));
    cameras.push_back(c);
  }
  return cameras;
}

std::vector<Eigen::Vector3d> LanePoints() {
  std::vector<Eigen::Vector3d> points;
  for (double x : {-0.52, 0.0, 0.31}) {
    for (double y : {0.5, 4.6, 12.0, 18.3}) {
      for (double z : {0.0, 0.11, 0.38}) points.emplace_back(x, y, z);
    }
  }
  return points;
}

}  // namespace

TEST_CASE("projection agrees with OpenCV's projectPoints, k1 and k2 alike") {  // calib3d, opencv 4.6: same model,
                                                                               // distortion (k1, k2, 0, 0)
  for (const CameraModel& c : Cameras()) {
    // OpenCV's translation takes lane points to the camera: t = -R C.
    const Eigen::Vector3d t = -(camera::RotationFromAngleAxis<double>(c.rotation) * c.position_in_lane);
    std::vector<cv::Point3d> lane;
    for (const auto& p : LanePoints()) lane.emplace_back(p.x(), p.y(), p.z());
    const cv::Matx33d k(c.focal_px, 0, c.centre_u, 0, c.focal_px, c.centre_v, 0, 0, 1);
    std::vector<cv::Point2d> image;
    cv::projectPoints(lane, cv::Vec3d(c.rotation.x(), c.rotation.y(), c.rotation.z()), cv::Vec3d(t.x(), t.y(), t.z()),
                      k, cv::Vec4d(c.k1, c.k2, 0, 0), image);
    for (std::size_t i = 0; i < lane.size(); ++i) {
      const auto ours = camera::ImageFromLane(c, LanePoints()[i]);
      REQUIRE(ours);
      CHECK(std::abs(ours->x() - image[i].x) < 1e-7);
      CHECK(std::abs(ours->y() - image[i].y) < 1e-7);
    }
  }
}

TEST_CASE("undistortion agrees with OpenCV's undistortPoints") {  // calib3d, opencv 4.6, iterated to convergence
  for (const CameraModel& c : Cameras()) {
    const cv::Matx33d k(c.focal_px, 0, c.centre_u, 0, c.focal_px, c.centre_v, 0, 0, 1);
    for (const auto& p : LanePoints()) {
      const auto pixel = camera::ImageFromLane(c, p);
      REQUIRE(pixel);
      std::vector<cv::Point2d> normalised;
      cv::undistortPoints(std::vector<cv::Point2d>{{pixel->x(), pixel->y()}}, normalised, k,
                          cv::Vec4d(c.k1, c.k2, 0, 0), cv::noArray(), cv::noArray(),
                          cv::TermCriteria(cv::TermCriteria::COUNT + cv::TermCriteria::EPS, 200, 1e-13));
      const Eigen::Vector2d ours = camera::NormalisedFromImage(c, *pixel);
      CHECK(std::abs(ours.x() - normalised[0].x) < 1e-8);
      CHECK(std::abs(ours.y() - normalised[0].y) < 1e-8);
    }
  }
}

TEST_CASE("rotation matrices agree with OpenCV's Rodrigues, near zero too") {  // calib3d, opencv 4.6
  for (const Eigen::Vector3d& r :
       {Eigen::Vector3d(0.3, -1.2, 0.7), Eigen::Vector3d(1e-9, 2e-9, 0), Eigen::Vector3d(1e-4, 0, -2e-4)}) {
    cv::Matx33d theirs;
    cv::Rodrigues(cv::Vec3d(r.x(), r.y(), r.z()), theirs);
    const Eigen::Matrix3d ours = camera::RotationFromAngleAxis<double>(r);
    for (int i = 0; i < 3; ++i) {
      for (int j = 0; j < 3; ++j) CHECK(std::abs(ours(i, j) - theirs(i, j)) < 1e-12);
    }
  }
}

TEST_CASE("lane to image and back is the same place") {
  for (const CameraModel& c : Cameras()) {
    for (const auto& p : LanePoints()) {
      const auto pixel = camera::ImageFromLane(c, p);
      REQUIRE(pixel);
      const auto back = camera::LaneFromImage(c, *pixel, p.z());
      REQUIRE(back);
      CHECK((*back - p).norm() < 1e-7);
      const auto contact = camera::ContactFromImage(c, *pixel, p.z());
      REQUIRE(contact);
      CHECK((*contact - p.head<2>()).norm() < 1e-7);
    }
  }
}

TEST_CASE("the template form, with every parameter free, is the same projection") {
  LaneSetup setup;
  for (const CameraModel& c : Cameras()) {
    setup.camera = c;
    const SetupVector parameters = camera::ParametersOf(setup);
    for (const auto& p : LanePoints()) {
      const Eigen::Vector2d free = camera::Project<double>(parameters.data(), p);
      CHECK((free - *camera::ImageFromLane(c, p)).norm() < 1e-9);
    }
    const LaneSetup again = camera::WithParameters(setup, parameters);
    CHECK((camera::ParametersOf(again) - parameters).norm() == 0);
  }
}

TEST_CASE(
    "pixel (0,0) is the centre of the first pixel: the axis of a camera in the middle falls between the middle "
    "pixels") {
  CameraModel c = test::BehindTheLane(640, 480);
  CHECK(c.centre_u == 319.5);
  CHECK(c.centre_v == 239.5);
  // A point straight ahead.
  const Eigen::Vector3d ahead =
      c.position_in_lane + camera::RotationFromAngleAxis<double>(c.rotation).transpose() * Eigen::Vector3d(0, 0, 5);
  const auto pixel = camera::ImageFromLane(c, ahead);
  REQUIRE(pixel);
  CHECK(pixel->x() == Approx(319.5));
  CHECK(pixel->y() == Approx(239.5));
}

TEST_CASE("what is behind the camera has no pixel, what is above the horizon no place on the lane") {
  const CameraModel c = test::BehindTheLane();
  CHECK_FALSE(camera::ImageFromLane(c, {0, -6, 0}));
  CHECK_FALSE(camera::LaneFromImage(c, {960, 10}, 0));
}

TEST_CASE(
    "axes: to the right on the lane is to the right in the picture, farther is higher, up is up") {  // docs/conventions.md
  const CameraModel c = test::BehindTheLane();
  const auto at = [&](double x, double y, double z) { return *camera::ImageFromLane(c, {x, y, z}); };
  CHECK(at(0.3, 5, 0).x() > at(-0.3, 5, 0).x());
  CHECK(at(0, 15, 0).y() < at(0, 5, 0).y());
  CHECK(at(0, 15, 0.3).y() < at(0, 15, 0).y());
}

TEST_CASE("a ball's disc is as large as the rays that touch it say") {
  CameraModel c = test::BehindTheLane();
  c.k1 = c.k2 = 0;
  const Eigen::Matrix3d turn = camera::RotationFromAngleAxis<double>(c.rotation);
  const double radius = lane::kBallDiameter / 2;
  // On the axis the outline is a circle: half angle asin(r/d), so f tan of it.
  const double d = 9;
  const Eigen::Vector3d centre = c.position_in_lane + turn.transpose() * Eigen::Vector3d(0, 0, d);
  CHECK(camera::BallRadiusPx(c, centre, radius) == Approx(c.focal_px * std::tan(std::asin(radius / d))).epsilon(1e-6));
  CHECK(camera::BallRadiusPx(c, c.position_in_lane, radius) == 0);
}

TEST_CASE(
    "a moved frame's pixels and the reference frame's are each other's inverse; a small turn shifts by f times the "
    "angle") {
  const CameraModel c = test::BehindTheLane();
  FrameMotion motion;
  motion.rotation[0] = 0.002;
  motion.rotation[1] = -0.004;
  motion.rotation[2] = 0.01;
  for (double u : {100.0, 960.0, 1800.0}) {
    for (double v : {50.0, 540.0, 1000.0}) {
      const Eigen::Vector2d p(u, v);
      CHECK((camera::ReferenceFromFrame(c, motion, camera::FrameFromReference(c, motion, p)) - p).norm() < 1e-7);
    }
  }
  FrameMotion yaw;
  yaw.rotation[1] = 0.001;
  const Eigen::Vector2d middle(c.centre_u, c.centre_v);
  CHECK((camera::FrameFromReference(c, yaw, middle) - middle).x() == Approx(c.focal_px * 0.001).epsilon(1e-4));
  CHECK(camera::FrameFromReference(c, FrameMotion{}, middle) == middle);
}
