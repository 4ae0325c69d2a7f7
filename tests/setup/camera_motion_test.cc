#include "setup/camera_motion.h"

#include <doctest/doctest.h>

#include <Eigen/Dense>
#include <opencv2/imgproc.hpp>
#include <random>

#include "camera/projection.h"

using namespace hookline;
using Eigen::Vector3d;

namespace {

cv::Mat Texture() {
  cv::Mat noise(720, 1280, CV_8UC1);
  std::mt19937 random(7);
  for (int y = 0; y < noise.rows; ++y)
    for (int x = 0; x < noise.cols; ++x) noise.at<unsigned char>(y, x) = static_cast<unsigned char>(random() % 256);
  cv::Mat out;
  cv::GaussianBlur(noise, out, cv::Size(0, 0), 4);
  cv::normalize(out, out, 20, 235, cv::NORM_MINMAX);
  return out;
}

LaneSetup Setup() {
  LaneSetup s;
  s.camera.width = 1280;
  s.camera.height = 720;
  s.camera.focal_px = 1000;
  s.camera.centre_u = 639.5;
  s.camera.centre_v = 359.5;
  return s;
}

// What a turned camera sees of the reference: K R K^-1, by OpenCV's warpPerspective (the outside reference for the
// model's sign and frame).
cv::Mat Turned(const cv::Mat& reference, const CameraModel& c, const Vector3d& rotation) {
  Eigen::Matrix3d k;
  k << c.focal_px, 0, c.centre_u, 0, c.focal_px, c.centre_v, 0, 0, 1;
  const Eigen::Matrix3d h = k * camera::RotationFromAngleAxis<double>(rotation) * k.inverse();
  cv::Mat m(3, 3, CV_64F), out;
  for (int i = 0; i < 3; ++i)
    for (int j = 0; j < 3; ++j) m.at<double>(i, j) = h(i, j);
  cv::warpPerspective(reference, out, m, reference.size(), cv::INTER_CUBIC, cv::BORDER_REFLECT);
  return out;
}

void CheckTurn(const cv::Mat& reference, setup::CameraMotion& motion, const Vector3d& rotation, double tolerance_px) {
  Picture p;
  p.luma = Turned(reference, Setup().camera, rotation);
  const FrameMotion m = motion.Estimate(p);
  REQUIRE(m.known);
  for (const Eigen::Vector2d& at : {Eigen::Vector2d(640, 360), Eigen::Vector2d(200, 200), Eigen::Vector2d(1000, 600)}) {
    FrameMotion truth;
    for (int k = 0; k < 3; ++k) truth.rotation[k] = rotation[k];
    CHECK((camera::FrameFromReference(Setup().camera, m, at) - camera::FrameFromReference(Setup().camera, truth, at))
              .norm() < tolerance_px);
  }
}

}  // namespace

TEST_CASE("small turns, a drift and a knock are found to a few hundredths of a pixel") {
  Background b;
  b.luma = Texture();
  setup::CameraMotion motion(Setup(), b);
  CheckTurn(b.luma, motion, {0, 0, 0}, 0.02);
  CheckTurn(b.luma, motion, {0.0004, -0.0003, 0.0002}, 0.05);
  CheckTurn(b.luma, motion, {0.0016, -0.0010, 0.0010}, 0.05);
  CheckTurn(b.luma, motion, {0.022, -0.016, 0.008}, 0.08);  // a knock of some 25 px from one frame to the next
}

TEST_CASE("a person in front of half the picture does not turn the camera") {
  Background b;
  b.luma = Texture();
  setup::CameraMotion motion(Setup(), b);
  Picture p;
  p.luma = b.luma.clone();
  cv::Mat other;
  cv::flip(b.luma, other, 1);
  other(cv::Rect(300, 0, 560, 720)).copyTo(p.luma(cv::Rect(300, 0, 560, 720)));
  const FrameMotion m = motion.Estimate(p);
  REQUIRE(m.known);
  CHECK(Vector3d(m.rotation[0], m.rotation[1], m.rotation[2]).norm() * 1000 < 0.05);
}

TEST_CASE("a covered lens is told, not guessed") {
  Background b;
  b.luma = Texture();
  setup::CameraMotion motion(Setup(), b);
  Picture p;
  p.luma = cv::Mat(720, 1280, CV_8UC1, cv::Scalar(90));
  CHECK_FALSE(motion.Estimate(p).known);
}
