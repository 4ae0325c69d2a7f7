#include "track/disc_fit.h"

#include <doctest/doctest.h>

#include <cmath>
#include <random>

using namespace hookline;
using namespace hookline::track;

namespace {

struct Drawn {
  double radius = 8, ball = 40, lane = 150, noise = 0;
  Eigen::Vector2d centre{31.3, 30.6};
  double chroma = 0;    // how far the ball's cb is off the lane's
  bool shadow = false;  // dark below the ball, as its contact shadow
  bool lamp = false;    // a bright spot inside
  double leg = -1e9;    // everything left of this column is something else ...
  double leg_level = 20, leg_chroma = 0;
};

double Level(double linear) { return 255 * std::pow(linear, 1 / 2.2); }
double Linear(double level) { return std::pow(level / 255, 2.2); }

// 60 x 60 px, the disc's coverage on 16 x 16 points of a pixel of 1.4 px width.
Patch Draw(const Drawn& d, unsigned seed = 3) {
  Patch p;
  p.frame = 0;
  p.box = cv::Rect(0, 0, 60, 60);
  p.luma = cv::Mat(60, 60, CV_8UC1);
  p.back_luma = cv::Mat(60, 60, CV_8UC1);
  p.cb = cv::Mat(30, 30, CV_8UC1, cv::Scalar(128)), p.cr = p.cb.clone();
  p.back_cb = p.cb.clone(), p.back_cr = p.cb.clone();
  std::mt19937 random(seed);
  std::normal_distribution<double> n(0, d.noise > 0 ? d.noise : 1);
  const auto cover = [&](double u, double v, double width) {
    int in = 0;
    for (int a = 0; a < 16; ++a)
      for (int b = 0; b < 16; ++b)
        in += std::hypot(u + width * ((a + 0.5) / 16 - 0.5) - d.centre.x(),
                         v + width * ((b + 0.5) / 16 - 0.5) - d.centre.y()) < d.radius;
    return in / 256.0;
  };
  for (int v = 0; v < 60; ++v)
    for (int u = 0; u < 60; ++u) {
      const double back = d.lane + 8 * std::sin(0.9 * u), a = cover(u, v, 1.4);
      double lit = back, ball = d.ball;
      if (d.shadow && v > d.centre.y() + 0.8 * d.radius) lit *= 0.5;
      if (d.lamp && std::hypot(u - d.centre.x() + 0.3 * d.radius, v - d.centre.y() + 0.3 * d.radius) < 0.2 * d.radius)
        ball = 250;
      double level = Level((1 - a) * Linear(lit) + a * Linear(ball));
      if (u < d.leg) level = d.leg_level;
      p.luma.at<std::uint8_t>(v, u) = cv::saturate_cast<std::uint8_t>(level + (d.noise > 0 ? n(random) : 0));
      p.back_luma.at<std::uint8_t>(v, u) = cv::saturate_cast<std::uint8_t>(back);
    }
  for (int v = 0; v < 30; ++v)
    for (int u = 0; u < 30; ++u)
      p.cb.at<std::uint8_t>(v, u) = cv::saturate_cast<std::uint8_t>(
          128 + (2 * u < d.leg ? d.leg_chroma : d.chroma * cover(2 * u + 0.5, 2 * v + 0.5, 2)) +
          (d.noise > 0 ? 0.6 * n(random) : 0));
  return p;
}

DiscModel ModelFor(const Drawn& d) {
  DiscModel m;
  m.radius = d.radius;
  m.blur = 0.45;  // a box of 1.4 px has a width of 1.4 / sqrt(12)
  return m;
}

}  // namespace

TEST_CASE("a clean disc's centre is found to three hundredths of a pixel") {
  for (const double radius : {4.5, 8.0, 14.0, 22.0})
    for (const double ball : {40.0, 230.0}) {
      Drawn d;
      d.radius = radius, d.ball = ball;
      const DiscFit f = FitDisc(Draw(d), d.centre + Eigen::Vector2d(0.9, -0.8), ModelFor(d));
      CAPTURE(radius);
      CAPTURE(ball);
      REQUIRE(f.ok);
      CHECK((f.p - d.centre).norm() < (radius < 5 ? 0.05 : 0.03));
      CHECK(f.seen_share > 0.8);
    }
}

TEST_CASE("the radius is found too when it is free") {
  Drawn d;
  d.radius = 9;
  DiscModel m = ModelFor(d);
  m.radius = 8.7;
  m.radius_sd = 1;
  const DiscFit f = FitDisc(Draw(d), d.centre + Eigen::Vector2d(0.5, 0.5), m);
  REQUIRE(f.ok);
  CHECK(f.radius == doctest::Approx(9).epsilon(0.01));
  CHECK((f.p - d.centre).norm() < 0.04);
}

TEST_CASE("shadow below, a lamp inside and a leg at the side do not pull the centre") {
  Drawn d;
  d.radius = 13;
  d.shadow = true, d.lamp = true;
  d.noise = 1.5;
  d.leg = d.centre.x() - 9;
  const DiscFit f = FitDisc(Draw(d), d.centre + Eigen::Vector2d(-1.2, 1.0), ModelFor(d));
  REQUIRE(f.ok);
  CHECK((f.p - d.centre).norm() < 0.12);
  CHECK(f.seen_share < 0.95);
}

TEST_CASE("a leg hardly darker than a dim lane does not pull a dark ball's centre") {
  Drawn d;
  d.radius = 15;
  d.lane = 60, d.ball = 27, d.leg_level = 48, d.leg_chroma = 45;
  for (const double covered : {0.3, 0.5}) {
    CAPTURE(covered);
    d.leg = d.centre.x() - (1 - covered) * d.radius;
    double worst = 0;
    for (const unsigned seed : {3U, 4U, 5U}) {
      d.noise = 1.5;
      const DiscFit f = FitDisc(Draw(d, seed), d.centre + Eigen::Vector2d(-0.5, 0.4), ModelFor(d));
      REQUIRE(f.ok);
      worst = std::max(worst, (f.p - d.centre).norm());
    }
    CHECK(worst < 0.1);
  }
}

TEST_CASE("what a rim taken too wide does to the centre is told: little between two sides, all where one melts away") {
  for (const double leg : {-1e9, 24.0}) {  // nothing, or the left side covered
    CAPTURE(leg);
    Drawn d;
    d.radius = 12, d.noise = 0.8, d.leg = leg;
    const Patch patch = Draw(d);
    DiscModel m = ModelFor(d);
    const auto with_radius = [&](double radius) {
      m.radius = radius;
      const DiscFit f = FitDisc(patch, d.centre, m);
      REQUIRE(f.ok);
      return f;
    };
    const DiscFit f = with_radius(12);
    const double moved = (with_radius(12.24).p.x() - with_radius(11.76).p.x()) / 0.48;
    CHECK(std::abs(moved - f.by_radius_u) < 0.25);
    if (leg < 0)
      CHECK(std::abs(f.by_radius_u) < 0.2);
    else
      CHECK(f.by_radius_u < -0.6);  // wider: the right side stays, the centre goes left
  }
}

TEST_CASE("a ball of the lane's brightness is found by its colour") {
  Drawn d;
  d.radius = 9, d.ball = 150, d.chroma = 35, d.noise = 1.5;
  const DiscFit f = FitDisc(Draw(d), d.centre + Eigen::Vector2d(0.6, -0.6), ModelFor(d));
  REQUIRE(f.ok);
  CHECK((f.p - d.centre).norm() < 0.25);
  CHECK(f.contrast > 1.5);
}

TEST_CASE("a bright green ball, lit from one side, is where its light says") {
  // Drawn in red, green and blue: light adds up before the tone curve, chroma is the mean of four pixels.
  const double radius = 12, lane[3] = {0.5, 0.42, 0.34}, ball[3] = {0.14, 0.85, 0.04};
  const Eigen::Vector2d centre(31.3, 30.6);
  Patch p;
  p.box = cv::Rect(0, 0, 60, 60);
  p.luma = cv::Mat(60, 60, CV_8UC1), p.back_luma = p.luma.clone();
  p.cb = cv::Mat(30, 30, CV_8UC1), p.cr = p.cb.clone(), p.back_cb = p.cb.clone(), p.back_cr = p.cb.clone();
  cv::Mat cb(60, 60, CV_64FC1), cr = cb.clone(), back_cb = cb.clone(), back_cr = cb.clone();
  // Rec. ITU-R BT.709, 8 bit.
  const auto code = [](const double light[3], double& y, double& b, double& r) {
    const double red = Level(light[0]), green = Level(light[1]), blue = Level(light[2]);
    y = 0.2126 * red + 0.7152 * green + 0.0722 * blue;
    b = 128 + (blue - y) / 1.8556 * 224 / 219, r = 128 + (red - y) / 1.5748 * 224 / 219;
  };
  for (int v = 0; v < 60; ++v)
    for (int u = 0; u < 60; ++u) {
      int in = 0;
      for (int a = 0; a < 16; ++a)
        for (int b = 0; b < 16; ++b)
          in += std::hypot(u + 1.4 * ((a + 0.5) / 16 - 0.5) - centre.x(),
                           v + 1.4 * ((b + 0.5) / 16 - 0.5) - centre.y()) < radius;
      const double a = in / 256.0, shade = 0.65 - 0.45 * (u - centre.x()) / radius;
      double light[3], y = 0;
      for (int k = 0; k < 3; ++k) light[k] = (1 - a) * lane[k] + a * shade * ball[k];
      code(light, y, cb.at<double>(v, u), cr.at<double>(v, u));
      p.luma.at<std::uint8_t>(v, u) = cv::saturate_cast<std::uint8_t>(y);
      code(lane, y, back_cb.at<double>(v, u), back_cr.at<double>(v, u));
      p.back_luma.at<std::uint8_t>(v, u) = cv::saturate_cast<std::uint8_t>(y);
    }
  const auto halve = [](const cv::Mat& full, cv::Mat& half) {
    for (int v = 0; v < half.rows; ++v)
      for (int u = 0; u < half.cols; ++u)
        half.at<std::uint8_t>(v, u) = cv::saturate_cast<std::uint8_t>(
            (full.at<double>(2 * v, 2 * u) + full.at<double>(2 * v, 2 * u + 1) + full.at<double>(2 * v + 1, 2 * u) +
             full.at<double>(2 * v + 1, 2 * u + 1)) /
            4);
  };
  halve(cb, p.cb), halve(cr, p.cr), halve(back_cb, p.back_cb), halve(back_cr, p.back_cr);
  DiscModel m;
  m.radius = radius;
  m.blur = 0.45;
  const DiscFit f = FitDisc(p, centre + Eigen::Vector2d(0.6, -0.5), m);
  REQUIRE(f.ok);
  MESSAGE("off by ", f.p.x() - centre.x(), " ", f.p.y() - centre.y());
  CHECK((f.p - centre).norm() < 0.06);
}

TEST_CASE("motion during the exposure leaves the middle of the way") {
  // Mean of seven discs along 6 px.
  Drawn d;
  d.radius = 14;
  const Eigen::Vector2d motion(0.5, -6);
  cv::Mat sum = cv::Mat::zeros(60, 60, CV_64FC1);
  Patch p;
  for (int k = 0; k < 13; ++k) {
    Drawn at = d;
    at.centre += motion * (k / 12.0 - 0.5) * 12.0 / 13.0;
    p = Draw(at);
    for (int v = 0; v < 60; ++v)
      for (int u = 0; u < 60; ++u) sum.at<double>(v, u) += Linear(p.luma.at<std::uint8_t>(v, u)) / 13;
  }
  for (int v = 0; v < 60; ++v)
    for (int u = 0; u < 60; ++u)
      p.luma.at<std::uint8_t>(v, u) = cv::saturate_cast<std::uint8_t>(Level(sum.at<double>(v, u)));
  DiscModel m = ModelFor(d);
  m.motion = motion;
  const DiscFit f = FitDisc(p, d.centre + Eigen::Vector2d(0.5, 0.9), m);
  REQUIRE(f.ok);
  CHECK((f.p - d.centre).norm() < 0.08);
}

TEST_CASE("the stated covariance is that of the errors under white noise") {
  Drawn d;
  d.radius = 7;
  d.noise = 3;
  double zu = 0, zv = 0;
  const int n = 120;
  for (int k = 0; k < n; ++k) {
    d.centre = {30 + 0.031 * k, 30.5 - 0.017 * k};
    const DiscFit f =
        FitDisc(Draw(d, 100 + static_cast<unsigned>(k)), d.centre + Eigen::Vector2d(0.3, 0.3), ModelFor(d));
    REQUIRE(f.ok);
    zu += std::pow(f.p.x() - d.centre.x(), 2) / f.covariance(0, 0) / n;
    zv += std::pow(f.p.y() - d.centre.y(), 2) / f.covariance(1, 1) / n;
  }
  // Mean of 120 squares of unit normals: 1 +- 0.13; the fit's own approximations (thinning, weights) are given as much
  // again.
  CHECK(zu > 0.6);
  CHECK(zu < 1.5);
  CHECK(zv > 0.6);
  CHECK(zv < 1.6);
}

TEST_CASE("an empty lane is not seen as a ball") {
  Drawn d;
  d.ball = 150, d.lane = 150, d.noise = 1.5;
  Patch p = Draw(d);
  p.back_luma.copyTo(p.luma);
  const DiscFit f = FitDisc(p, d.centre, ModelFor(d));
  CHECK((!f.ok || f.contrast < 1.5 || f.seen_share < 0.3));
}

TEST_CASE("a patch without pixels gives no fit") {
  Patch p;
  p.box = cv::Rect(0, 0, 4, 4);
  p.luma = cv::Mat(4, 4, CV_8UC1, cv::Scalar(10));
  p.back_luma = p.luma.clone();
  DiscModel m;
  m.radius = 8;
  CHECK_FALSE(FitDisc(p, {2, 2}, m).ok);
  m.radius = 0.5;
  CHECK_FALSE(FitDisc(p, {2, 2}, m).ok);
}
