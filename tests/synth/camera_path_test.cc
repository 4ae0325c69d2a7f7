// The made camera against OpenCV, and the clip's clock.
#include "synth/camera_path.h"

#include <doctest/doctest.h>

#include <cmath>
#include <opencv2/calib3d.hpp>

#include "camera/projection.h"
#include "lane/units.h"
#include "synth/still_picture.h"

namespace hookline::synth {
namespace {

using doctest::Approx;

Scenario Tilted() {
  Scenario s;
  s.camera.position_ft = {1.3, -16.5, 5.7};
  s.camera.yaw_deg = -4.5;
  s.camera.pitch_deg = 9.2;
  s.camera.roll_deg = 1.7;
  s.camera.focal_px = 1130;
  s.camera.centre_offset_px = {6.5, -9};
  s.camera.k1 = -0.06;
  s.camera.k2 = 0.015;
  return s;
}

}  // namespace

TEST_CASE("projection agrees with cv::projectPoints") {
  const CameraPath path(Tilted());
  const CameraModel& c = path.still();
  const Eigen::Vector3d t = -path.rotation() * c.position_in_lane;
  const cv::Mat r = (cv::Mat_<double>(3, 1) << c.rotation.x(), c.rotation.y(), c.rotation.z());
  const cv::Mat shift = (cv::Mat_<double>(3, 1) << t.x(), t.y(), t.z());
  const cv::Mat k = (cv::Mat_<double>(3, 3) << c.focal_px, 0, c.centre_u, 0, c.focal_px, c.centre_v, 0, 0, 1);
  const cv::Mat distortion = (cv::Mat_<double>(4, 1) << c.k1, c.k2, 0, 0);
  std::vector<cv::Point3d> points;
  for (double x : {-1.5, -0.5, 0.0, 0.6, 2.0})
    for (double y : {-1.0, 0.0, 4.5, 18.3})
      for (double z : {0.0, 0.4}) points.emplace_back(x, y, z);
  std::vector<cv::Point2d> theirs;
  cv::projectPoints(points, r, shift, k, distortion, theirs);
  for (std::size_t i = 0; i < points.size(); ++i) {
    const auto ours = camera::ImageFromLane(c, {points[i].x, points[i].y, points[i].z});
    REQUIRE(ours);
    CHECK(ours->x() == Approx(theirs[i].x).epsilon(1e-9));
    CHECK(ours->y() == Approx(theirs[i].y).epsilon(1e-9));
  }
}

TEST_CASE("yaw turns to the right, pitch down, roll clockwise") {
  Scenario s;
  s.camera.pitch_deg = 0;
  s.camera.position_ft = {0, -15, 5};
  const double z = lane::MetresFromFeet(5);
  const Eigen::Vector3d ahead(0, 20, z);
  const auto see = [&](const Eigen::Vector3d& p) { return *camera::ImageFromLane(CameraPath(s).still(), p); };
  CHECK(see(ahead).x() == Approx((s.video.width - 1) / 2.0));
  CHECK(see(ahead).y() == Approx((s.video.height - 1) / 2.0));
  s.camera.yaw_deg = 2;
  CHECK(see(ahead).x() < 610);  // the world moves to the left
  s.camera.yaw_deg = 0;
  s.camera.pitch_deg = 2;
  CHECK(see(ahead).y() < 340);  // and up
  s.camera.pitch_deg = 0;
  s.camera.roll_deg = 5;
  CHECK(see({2, 20, z}).y() > 362);  // the right side sinks
}

TEST_CASE("shake is a homography on undistorted pixels") {
  Scenario s = Tilted();
  s.camera.shake_deg = 0.3;
  s.camera.knock_s = 1;
  s.camera.knock_deg = {0.5, -0.3, 0.4};
  const CameraPath path(s);
  REQUIRE(path.moves());
  const CameraModel& c = path.still();
  for (double t : {0.0, 0.9, 1.1, 3.0}) {
    const Eigen::Vector3d p(0.4, 12, 0.1), q = path.rotation() * (p - c.position_in_lane), moved = path.TurnAt(t) * q;
    const Eigen::Vector3d still(c.focal_px * q.x() / q.z() + c.centre_u, c.focal_px * q.y() / q.z() + c.centre_v, 1);
    const Eigen::Vector3d h = path.HomographyAt(t) * still;
    CHECK(h.x() / h.z() == Approx(c.focal_px * moved.x() / moved.z() + c.centre_u).epsilon(1e-10));
    CHECK(h.y() / h.z() == Approx(c.focal_px * moved.y() / moved.z() + c.centre_v).epsilon(1e-10));
    CHECK((path.TurnAt(t) * path.TurnAt(t).transpose() - Eigen::Matrix3d::Identity()).norm() < 1e-12);
  }
  // Long after the knock what remains is the knock (the shake aside).
  s.camera.shake_deg = 0;
  const Eigen::AngleAxisd rest(CameraPath(s).TurnAt(5));
  CHECK(rest.angle() == Approx(lane::RadiansFromDegrees(std::sqrt(0.25 + 0.09 + 0.16))).epsilon(1e-6));
}

TEST_CASE("the table that undoes distortion is good to 0.001 px") {
  const CameraPath path(Tilted());
  const CameraModel& c = path.still();
  const Undistorter undistort(c, std::hypot(c.width, c.height) / c.focal_px);
  for (float u : {0.0f, 333.3f, 640.0f, 1279.0f}) {
    for (float v : {0.0f, 200.7f, 719.0f}) {
      float x, y;
      undistort(u, v, &x, &y);
      const Eigen::Vector2d back = camera::ImageFromNormalised(c, {x, y});
      CHECK(std::hypot(back.x() - static_cast<double>(u), back.y() - static_cast<double>(v)) < 0.001);
    }
  }
}

TEST_CASE("time stamps grow, start at 0 and are whole ticks of 1/90000 s") {
  Scenario s;
  s.video.fps = 30;
  s.video.time_jitter_s = 0.01;
  s.video.dropped_share = 0.1;
  s.duration_s = 10;
  const std::vector<double> t = FrameTimes(s);
  CHECK(t.front() == 0);
  CHECK(t.size() < 300);
  CHECK(t.size() > 240);
  for (std::size_t i = 1; i < t.size(); ++i) CHECK(t[i] > t[i - 1]);
  for (double x : t) CHECK(x * 90000 == Approx(std::round(x * 90000)).epsilon(1e-12));
  CHECK(FrameTimes(s) == t);
  s.video.time_jitter_s = s.video.dropped_share = 0;
  CHECK(FrameTimes(s).size() == 300);
  CHECK(FrameTimes(s)[30] == Approx(1.0));
}

}  // namespace hookline::synth
