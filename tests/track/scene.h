// A small lane drawn in the test: background with boards, gutters and an approach; balls as anti-aliased discs where
// the camera puts them, with mirror image and noise. Light is added up linearly and then raised to 1/2.2, as a camera
// does.
#pragma once

#include <Eigen/Core>
#include <Eigen/Geometry>
#include <cmath>
#include <functional>
#include <opencv2/core/mat.hpp>
#include <random>
#include <vector>

#include "camera/projection.h"
#include "model/lane_setup.h"
#include "model/picture.h"

namespace hookline::track_test {

inline constexpr double kRadius = lane::kBallDiameter / 2;

struct Colour {
  double y = 0, cb = 128, cr = 128;
};

// A ball of the scene at one time: nothing when it is not there.
struct Ball {
  Eigen::Vector3d centre = Eigen::Vector3d::Zero();  // m
  Colour colour;
  double mirror = 0.3;  // strength of its image in the lane
};

// An upright thing that hides what is behind it, px of the reference frame.
struct Box {
  cv::Rect px;
  Colour colour;
};

// Behind the approach, a metre and a half up, looking down the lane; 960 x 540.
inline LaneSetup Setup(double height = 1.5, double x = 0.1) {
  LaneSetup s;
  CameraModel& c = s.camera;
  c.width = 960;
  c.height = 540;
  c.focal_px = 760;
  c.centre_u = 481;
  c.centre_v = 268;
  c.position_in_lane = {x, -4.6, height};
  // Camera axes in the lane frame: x right, y down, z forward and tilted down.
  const double tilt = std::atan2(height - 0.2, 14.0);
  Eigen::Matrix3d r;
  r << 1, 0, 0, 0, -std::sin(tilt), -std::cos(tilt), 0, std::cos(tilt), -std::sin(tilt);
  const Eigen::AngleAxisd a(r);
  c.rotation = a.angle() * a.axis();
  return s;
}

class Scene {
 public:
  explicit Scene(LaneSetup setup, unsigned seed = 1) : setup_(std::move(setup)), random_(seed) { Build(); }

  double noise = 1.5;  // grey levels

  Background StillBackground() const {
    Background b;
    b.luma = Bytes(y_, 0), b.cb = Bytes(cb_, 0), b.cr = Bytes(cr_, 0);
    b.spread = cv::Mat(b.luma.size(), CV_8UC1, cv::Scalar(2));
    b.pictures = 20;
    return b;
  }

  // The picture at one time, the camera turned by `motion`.
  Picture Draw(double time_s, std::int64_t index, const std::vector<Ball>& balls, const std::vector<Box>& boxes = {}) {
    cv::Mat y = y_.clone(), cb = cb_.clone(), cr = cr_.clone();
    for (const Ball& b : balls) {
      if (b.mirror > 0) Disc(b.centre.x(), b.centre.y(), -b.centre.z(), b.colour, b.mirror, y, cb, cr);
      Disc(b.centre.x(), b.centre.y(), b.centre.z(), b.colour, 1, y, cb, cr);
    }
    for (const Box& b : boxes) {
      const cv::Rect px = b.px & cv::Rect(0, 0, y.cols, y.rows), half(px.x / 2, px.y / 2, px.width / 2, px.height / 2);
      y(px).setTo(b.colour.y), cb(half).setTo(b.colour.cb), cr(half).setTo(b.colour.cr);
    }
    Picture p;
    p.luma = Bytes(y, noise), p.cb = Bytes(cb, 0.6 * noise), p.cr = Bytes(cr, 0.6 * noise);
    p.time_s = time_s;
    p.index = index;
    return p;
  }

  Eigen::Vector2d Pixel(const Eigen::Vector3d& p_in_lane) const {
    return *camera::ImageFromLane(setup_.camera, p_in_lane);
  }
  const LaneSetup& setup() const { return setup_; }

 private:
  void Build() {
    const CameraModel& c = setup_.camera;
    y_ = cv::Mat(c.height, c.width, CV_32FC1, cv::Scalar(50));
    cb_ = cv::Mat(c.height / 2, c.width / 2, CV_32FC1, cv::Scalar(126));
    cr_ = cv::Mat(c.height / 2, c.width / 2, CV_32FC1, cv::Scalar(130));
    for (int v = 0; v < c.height; ++v)
      for (int u = 0; u < c.width; ++u) {
        const auto p = camera::LaneFromImage(c, {double(u), double(v)}, 0);
        if (!p || p->y() > lane::kPitY || p->y() < -4) continue;
        const double half = setup_.lane.width / 2, x = std::abs(p->x());
        Colour k{105, 122, 134};  // approach
        if (p->y() > 0) {
          const double board = std::floor((p->x() + half) / (setup_.lane.width / 39));
          k = {135 + 12 * std::sin(2.4 * board) + 4 * std::sin(3 * p->y()), 112, 146};
          if (x > half) k = {40, 128, 128};
          if (x > half + lane::kGutterWidth) k = {70, 127, 129};
        }
        y_.at<float>(v, u) = static_cast<float>(k.y);
        cb_.at<float>(v / 2, u / 2) = static_cast<float>(k.cb);
        cr_.at<float>(v / 2, u / 2) = static_cast<float>(k.cr);
      }
  }

  static double Linear(double level) { return std::pow(std::max(level, 0.0) / 255, 2.2); }
  static double Level(double linear) { return 255 * std::pow(linear, 1 / 2.2); }

  void Disc(double x, double yy, double z, const Colour& k, double strength, cv::Mat& y, cv::Mat& cb,
            cv::Mat& cr) const {
    const auto centre = camera::ImageFromLane(setup_.camera, {x, yy, z});
    if (!centre) return;
    const double r = camera::BallRadiusPx(setup_.camera, {x, yy, z}, kRadius);
    const int u0 = static_cast<int>(centre->x() - r - 2), u1 = static_cast<int>(centre->x() + r + 3);
    const int v0 = static_cast<int>(centre->y() - r - 2), v1 = static_cast<int>(centre->y() + r + 3);
    // Coverage on 8 x 8 points of a pixel a little wider than its pitch: box and lens together.
    const auto cover = [&](double u, double v, double width) {
      int in = 0;
      for (int a = 0; a < 8; ++a)
        for (int b = 0; b < 8; ++b)
          in += std::hypot(u + width * ((a + 0.5) / 8 - 0.5) - centre->x(),
                           v + width * ((b + 0.5) / 8 - 0.5) - centre->y()) < r;
      return in / 64.0;
    };
    for (int v = std::max(0, v0); v <= std::min(y.rows - 1, v1); ++v)
      for (int u = std::max(0, u0); u <= std::min(y.cols - 1, u1); ++u) {
        const double share = strength * cover(u, v, 1.4);
        if (share <= 0) continue;
        // Lit from above: brighter at the top, as a ball is.
        const double shade = 1 - 0.35 * (v - centre->y()) / r;
        float& p = y.at<float>(v, u);
        p = static_cast<float>(Level((1 - share) * Linear(p) + share * Linear(k.y * shade)));
      }
    for (int v = std::max(0, v0 / 2); v <= std::min(cb.rows - 1, v1 / 2); ++v)
      for (int u = std::max(0, u0 / 2); u <= std::min(cb.cols - 1, u1 / 2); ++u) {
        // Sampled at the left of the cell's two columns, between its two rows.
        const double share = strength * cover(2 * u, 2 * v + 0.5, 2.2);
        float& b = cb.at<float>(v, u);
        float& c = cr.at<float>(v, u);
        b = static_cast<float>((1 - share) * b + share * k.cb);
        c = static_cast<float>((1 - share) * c + share * k.cr);
      }
  }

  cv::Mat Bytes(const cv::Mat& m, double sigma) const {
    cv::Mat out(m.size(), CV_8UC1);
    std::normal_distribution<float> n(0, static_cast<float>(sigma > 0 ? sigma : 1));
    for (int v = 0; v < m.rows; ++v)
      for (int u = 0; u < m.cols; ++u)
        out.at<std::uint8_t>(v, u) =
            cv::saturate_cast<std::uint8_t>(m.at<float>(v, u) + (sigma > 0 ? n(random_) : 0.0f));
    return out;
  }

  LaneSetup setup_;
  mutable std::mt19937 random_;
  cv::Mat y_, cb_, cr_;
};

// A hooking ball: 8 m/s slowing by 0.6 m/s^2, out to the right and back. Time from the foul line.
inline Eigen::Vector3d Hook(double t) { return {0.05 + 0.28 * t - 0.16 * t * t, 8.0 * t - 0.3 * t * t, kRadius}; }

}  // namespace hookline::track_test
