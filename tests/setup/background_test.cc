#include "setup/background.h"

#include <doctest/doctest.h>

#include <Eigen/Geometry>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <random>

#include "camera/projection.h"
#include "setup/lane_looks.h"

using namespace hookline;

namespace {

// A picture full of corners, the same for the same seed.
cv::Mat Texture(int width, int height, unsigned seed) {
  cv::Mat noise(height, width, CV_8UC1);
  std::mt19937 random(seed);
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) noise.at<unsigned char>(y, x) = static_cast<unsigned char>(random() % 256);
  cv::Mat out;
  cv::GaussianBlur(noise, out, cv::Size(0, 0), 3);
  cv::normalize(out, out, 20, 235, cv::NORM_MINMAX);
  return out;
}

Picture From(const cv::Mat& luma) {
  Picture p;
  p.luma = luma;
  return p;
}

}  // namespace

TEST_CASE("the background is the median, pixel by pixel, and what passes is gone") {
  const cv::Mat still = Texture(320, 200, 1);
  std::vector<Picture> pictures;
  for (int i = 0; i < 9; ++i) {
    cv::Mat m = still.clone();
    cv::rectangle(m, cv::Rect(20 + 30 * i, 60, 40, 80), cv::Scalar(255), cv::FILLED);  // a person walking by
    pictures.push_back(From(m));
  }
  const Background b = setup::StillBackground(pictures);
  CHECK(b.pictures == 9);
  CHECK(cv::norm(b.luma, still, cv::NORM_INF) == 0);
  CHECK(b.layers.size() >= 2);
}

TEST_CASE("the spread is half of the 16 to 84 per cent range") {
  std::vector<Picture> pictures;
  for (int i = 0; i < 25; ++i) pictures.push_back(From(cv::Mat(16, 16, CV_8UC1, cv::Scalar(100 + i))));
  const Background b = setup::StillBackground(pictures);
  CHECK(static_cast<int>(b.luma.at<unsigned char>(8, 8)) == 112);
  // Ranks 4 and 20 of 0..24: (120 - 104) / 2.
  CHECK(static_cast<int>(b.spread.at<unsigned char>(8, 8)) == 8);
}

TEST_CASE("pictures of a camera that moved are turned onto the first") {
  const cv::Mat wide = Texture(480, 320, 2);
  std::vector<Picture> pictures;
  // Whole-pixel shifts, so that the answer is exact but for interpolation.
  for (const cv::Point shift :
       {cv::Point(0, 0), cv::Point(7, 3), cv::Point(-9, 5), cv::Point(14, -6), cv::Point(2, 11)})
    pictures.push_back(From(wide(cv::Rect(60 + shift.x, 50 + shift.y, 360, 220)).clone()));
  const Background b = setup::StillBackground(pictures);
  CHECK(b.pictures == 5);
  const cv::Rect middle(30, 30, 300, 160);
  cv::Mat difference;
  cv::absdiff(b.luma(middle), pictures[0].luma(middle), difference);
  CHECK(cv::mean(difference)[0] < 2.0);
}

namespace {

// A lane between dark gutters, some shade across the floor, noise of about a grey level.
cv::Mat LanePicture(unsigned seed) {
  cv::Mat m(360, 480, CV_8UC1);
  std::mt19937 random(seed);
  std::normal_distribution<double> noise(0, 1);
  for (int y = 0; y < m.rows; ++y)
    for (int x = 0; x < m.cols; ++x) {
      const double half = 20 + 0.2 * y, off = std::abs(x - 240);
      const double level = off < half ? 170 : off < 1.3 * half ? 60 : 110 + 0.05 * x;
      m.at<unsigned char>(y, x) = cv::saturate_cast<unsigned char>(level + noise(random));
    }
  return m;
}

double MeanDifference(const cv::Mat& a, const cv::Mat& b, const cv::Rect& where) {
  cv::Mat difference;
  cv::absdiff(a(where), b(where), difference);
  return cv::mean(difference)[0];
}

}  // namespace

TEST_CASE("a bowler who stands before the lane in most pictures is not the background") {
  const cv::Rect stands(205, 120, 70, 200), aside(60, 100, 80, 240);
  std::vector<Picture> pictures;
  for (unsigned i = 0; i < 18; ++i) {
    cv::Mat m = LanePicture(i);
    const bool away = i % 6 == 5 || i == 10;  // four of eighteen
    cv::rectangle(m, away ? aside : stands, cv::Scalar(90 + 3.0 * (i % 3)), cv::FILLED);
    pictures.push_back(From(m));
  }
  const Background b = setup::StillBackground(pictures);
  CHECK(b.pictures == 18);
  const cv::Mat scene = LanePicture(99);
  const cv::Rect inside(stands.x + 4, stands.y + 4, stands.width - 8, stands.height - 8);
  CHECK(MeanDifference(b.luma, scene, inside) < 2);
  CHECK(MeanDifference(b.luma, scene, aside) < 2);
  // The noise of the lane, not half of the way from the lane to the shirt.
  CHECK(cv::mean(b.spread(inside))[0] < 4);
  REQUIRE_FALSE(b.shown.empty());
  const int cell = 480 / b.shown.cols;
  CHECK(static_cast<int>(b.shown.at<unsigned char>(200 / cell, 240 / cell)) == 4);
  CHECK(static_cast<int>(b.shown.at<unsigned char>(20 / cell, 20 / cell)) == 18);
}

TEST_CASE("pins that stand in most pictures belong to the background, however many were knocked over") {
  std::vector<Picture> pictures;
  const cv::Rect pins(228, 10, 24, 20);
  for (unsigned i = 0; i < 18; ++i) {
    cv::Mat m = LanePicture(i);
    cv::rectangle(m, cv::Rect(215, 5, 50, 26), cv::Scalar(30), cv::FILLED);  // the pit
    if (i % 18 < 11) cv::rectangle(m, pins, cv::Scalar(230), cv::FILLED);
    pictures.push_back(From(m));
  }
  const Background b = setup::StillBackground(pictures);
  CHECK(MeanDifference(b.luma, cv::Mat(b.luma.size(), CV_8UC1, cv::Scalar(230)), pins) < 1);
}

TEST_CASE("who stands there only now and then leaves no trace, before a scene full of edges either") {
  const cv::Mat still = Texture(480, 360, 5);
  std::vector<Picture> pictures;
  for (unsigned i = 0; i < 18; ++i) {
    cv::Mat m = still.clone();
    if (i < 7) cv::rectangle(m, cv::Rect(200, 100, 90, 220), cv::Scalar(250), cv::FILLED);
    pictures.push_back(From(m));
  }
  CHECK(MeanDifference(setup::StillBackground(pictures).luma, still, cv::Rect(0, 0, 480, 360)) < 0.5);
}

namespace {

// Three lanes between dark gutters, seen from behind.
LaneSetup ThreeLanes() {
  LaneSetup s;
  CameraModel& c = s.camera;
  c.width = 480, c.height = 360;
  c.focal_px = 420, c.centre_u = 240, c.centre_v = 170;
  c.position_in_lane = {0, -4.5, 1.6};
  const double tilt = 0.1;
  Eigen::Matrix3d r;
  r << 1, 0, 0, 0, -std::sin(tilt), -std::cos(tilt), 0, std::cos(tilt), -std::sin(tilt);
  const Eigen::AngleAxisd a(r);
  c.rotation = a.angle() * a.axis();
  s.neighbours = {{-1, -1.7}, {1, 1.7}};
  return s;
}

cv::Mat HallPicture(const LaneSetup& s, unsigned seed) {
  cv::Mat m(s.camera.height, s.camera.width, CV_8UC1);
  std::mt19937 random(seed);
  std::normal_distribution<double> noise(0, 1);
  for (int v = 0; v < m.rows; ++v)
    for (int u = 0; u < m.cols; ++u) {
      const auto p = camera::ContactFromImage(s.camera, {u, v}, 0);
      double level = 40;  // beyond the lanes' end
      if (p && p->y() > 0 && p->y() < 20) {
        const double off = std::abs(std::remainder(p->x(), 1.7));
        level = std::abs(p->x()) < 2.55 && off < s.lane.width / 2 ? 150 - 2 * p->y() : 45;
      }
      if (p && p->y() <= 0) level = 200;
      m.at<unsigned char>(v, u) = cv::saturate_cast<unsigned char>(level + noise(random));
    }
  return m;
}

}  // namespace

TEST_CASE("a bowler as dark as the gutters beside him is told from the lane where it is known how lanes lie") {
  const LaneSetup lanes = ThreeLanes();
  // From the dark behind the lanes down over the own lane's left half, its gutter and the divider; he leaves at last.
  const cv::Rect stands(150, 100, 90, 140);
  std::vector<Picture> pictures;
  for (unsigned i = 0; i < 18; ++i) {
    cv::Mat m = HallPicture(lanes, i);
    if (i < 13) cv::rectangle(m, stands, cv::Scalar(42), cv::FILLED);
    pictures.push_back(From(m));
  }
  const cv::Mat scene = HallPicture(lanes, 99);
  const Background by_outline = setup::StillBackground(pictures), by_lanes = setup::StillBackground(pictures, &lanes);
  CHECK(MeanDifference(by_lanes.luma, scene, stands) < 4);
  // What there is to gain, and that it is seen.
  CHECK(MeanDifference(by_outline.luma, scene, stands) > 20);
  CHECK(setup::ShareUnlikeLanes(by_outline, lanes) > 0.03);
  CHECK(setup::ShareUnlikeLanes(by_lanes, lanes) < 0.01);
}

TEST_CASE("lanes that nobody hides stay as they are when it is known where they lie") {
  const LaneSetup lanes = ThreeLanes();
  std::vector<Picture> pictures;
  for (unsigned i = 0; i < 18; ++i) {
    cv::Mat m = HallPicture(lanes, i);
    // Somebody passes, a ball rolls, a shadow lies on half of the lane now and then.
    cv::rectangle(m, cv::Rect(20 + 25 * static_cast<int>(i), 90, 50, 200), cv::Scalar(90), cv::FILLED);
    if (i % 3 == 0) m(cv::Rect(240, 180, 120, 120)) *= 0.8;
    pictures.push_back(From(m));
  }
  const Background b = setup::StillBackground(pictures), with = setup::StillBackground(pictures, &lanes);
  CHECK(MeanDifference(with.luma, HallPicture(lanes, 99), cv::Rect(0, 0, 480, 360)) < 2);
  CHECK(MeanDifference(with.luma, b.luma, cv::Rect(0, 0, 480, 360)) < 0.5);
  CHECK(setup::ShareUnlikeLanes(b, lanes) < 0.02);
}
