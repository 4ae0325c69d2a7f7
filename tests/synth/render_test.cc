// The pictures show what the truth says.
#include "synth/render.h"

#include <doctest/doctest.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <opencv2/core.hpp>

#include "camera/projection.h"
#include "lane/lane_spec.h"
#include "synth/truth.h"

namespace hookline::synth {
namespace {

using doctest::Approx;

// Small, plain, without noise; a white ball without a bowler.
Scenario Plain() {
  Scenario s;
  s.video.width = 640;
  s.video.height = 360;
  s.video.noise = 0;
  s.video.vignette = 0;
  s.video.shutter_s = 0.001;
  s.camera.focal_px = 520;
  s.camera.k1 = -0.03;
  s.lanes.gloss = s.lanes.approach_gloss = 0;
  s.hall.ball_return = false;
  s.shots.emplace_back();
  s.shots[0].release_s = 0.2;
  s.shots[0].bowler_shown = false;
  s.shots[0].ball.gloss = 0;
  s.video.contrast = 1;
  return s;
}

// Linear light of a code value; below the tone curve's shoulder it is the sRGB curve.
double Light(unsigned char code) {
  const double c = code / 255.0;
  return c <= 0.04045 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4);
}

// Middle of where the picture has become bluer: a blue ball, not its shadow, which takes blue away.
Eigen::Vector2d MiddleOfBlue(const cv::Mat& with, const cv::Mat& without) {
  double sum = 0, u = 0, v = 0;
  for (int y = 0; y < with.rows; ++y) {
    for (int x = 0; x < with.cols; ++x) {
      // The share of red that the ball has taken away is its cover of the pixel.
      if (with.at<cv::Vec3b>(y, x)[0] <= without.at<cv::Vec3b>(y, x)[0] + 4) continue;
      const double cover = 1 - Light(with.at<cv::Vec3b>(y, x)[2]) / Light(without.at<cv::Vec3b>(y, x)[2]);
      sum += cover;
      u += cover * x;
      v += cover * y;
    }
  }
  return {u / sum, v / sum};
}

}  // namespace

TEST_CASE("the ball is where the truth has it, with and without a rolling shutter") {
  for (double readout : {0.0, 0.02}) {
    CAPTURE(readout);
    Scenario s = Plain();
    s.video.readout_s = readout;
    s.shots[0].ball.colours = {"#0808ff", "#0808ff", "#0808ff"};
    const Scene scene(s);
    Renderer renderer(scene);
    const double t = 1.0;
    cv::Mat empty, with;
    renderer.Render(0.05, 0, empty);  // before the release nothing is there
    renderer.Render(t, 0, with);
    const nlohmann::json truth = nlohmann::json::parse(TruthJson(scene, {0.0, t}, "x.mp4"));
    const nlohmann::json sample = truth["shots"][0]["samples"][0];
    REQUIRE(sample["frame"] == 1);
    const double u = sample["seen_px"][0].get<double>(), v = sample["seen_px"][1].get<double>(),
                 r = sample["radius_px"].get<double>();
    REQUIRE(sample["visible"].get<double>() > 0.99);
    CHECK(std::abs(MiddleOfBlue(with, empty).x() - u) < 0.12);
    // Below, the ball and its shadow run into each other; its top is clear. Along the middle column the cover from
    // above down to the centre adds up to the radius.
    const int column = static_cast<int>(std::lround(u)), centre = static_cast<int>(std::lround(v));
    double cover = 0;
    for (int y = centre - static_cast<int>(2 * r); y <= centre; ++y)
      cover += 1 - Light(with.at<cv::Vec3b>(y, column)[2]) / Light(empty.at<cv::Vec3b>(y, column)[2]);
    CHECK(std::abs(cover - (centre + 0.5 - v + std::sqrt(r * r - (column - u) * (column - u)))) < 0.2);
    if (readout > 0) CHECK(std::abs(sample["center_px"][1].get<double>() - v) > 0.04);
  }
}

TEST_CASE("the lane's edge and the foul line lie where the landmarks are") {
  Scenario s = Plain();
  s.shots.clear();
  s.lanes.lane_colour = s.lanes.lane_colour_2 = s.lanes.approach_colour = s.lanes.approach_colour_2 = "#e0e0e0";
  s.lanes.gutter_colour = "#101010";
  s.lanes.foul_line_colour = "#000000";
  s.lanes.board_contrast = s.lanes.grain = 0;
  s.lanes.approach_dot_rows_ft.clear();
  const Scene scene(s);
  Renderer renderer(scene);
  cv::Mat m;
  renderer.Render(0, 0, m);
  const CameraModel& c = scene.camera().still();
  const double half = scene.hall().lane_half_width();
  // Across the right edge at 10 ft: the half-way level between lane and gutter.
  const Eigen::Vector2d edge = *camera::ImageFromLane(c, {half, lane::MetresFromFeet(10), 0});
  const int row = static_cast<int>(std::lround(edge.y()));
  const auto level = [&](int u) { return Light(m.at<cv::Vec3b>(row, u)[1]); };
  const double bright = level(static_cast<int>(edge.x()) - 8), dark = level(static_cast<int>(edge.x()) + 6);
  REQUIRE(bright > 3 * dark);
  double at = 0;
  for (int u = static_cast<int>(edge.x()) - 8; u < static_cast<int>(edge.x()) + 6; ++u)
    if (level(u) >= 0.5 * (bright + dark) && level(u + 1) < 0.5 * (bright + dark))
      at = u + (level(u) - 0.5 * (bright + dark)) / (level(u) - level(u + 1));
  // The edge's place in this row, from a second point of the edge.
  const Eigen::Vector2d other = *camera::ImageFromLane(c, {half, lane::MetresFromFeet(10.3), 0});
  const double expected = edge.x() + (row - edge.y()) / (other.y() - edge.y()) * (other.x() - edge.x());
  CHECK(std::abs(at - expected) < 0.15);
  // Down across the foul line: the weighted middle of the dark strip.
  const Eigen::Vector2d line = *camera::ImageFromLane(c, {0, 0, 0});
  double sum = 0, middle = 0;
  const int column = static_cast<int>(std::lround(line.x()));
  for (int v = static_cast<int>(line.y()) - 7; v <= static_cast<int>(line.y()) + 8; ++v) {
    const double d = std::max(0.0, 0.9 * bright - Light(m.at<cv::Vec3b>(v, column)[1]));
    sum += d;
    middle += d * v;
  }
  CHECK(std::abs(middle / sum - line.y()) < 0.35);
}

TEST_CASE("same scenario, same pictures; a still camera's frames differ only where something moves") {
  Scenario s = Plain();
  s.video.noise = 1;
  s.shots[0].bowler_shown = true;
  const Scene scene(s);
  Renderer a(scene), b(scene);
  cv::Mat x, y, first;
  a.Render(0.1, 0, first);
  a.Render(0.5, 3, x);
  b.Render(0.5, 3, y);
  CHECK(cv::norm(x, y, cv::NORM_INF) == 0);
  // Drawn after other frames or at once, it is the same picture.
  a.Render(1.5, 4, y);
  a.Render(0.5, 3, y);
  CHECK(cv::norm(x, y, cv::NORM_INF) == 0);
}

TEST_CASE("a turning camera shows the hall turned") {
  Scenario s = Plain();
  s.shots.clear();
  s.camera.drift_deg_per_s = {0.5, 0, 0};
  const Scene scene(s);
  Renderer renderer(scene);
  cv::Mat now, later;
  renderer.Render(0, 0, now);
  renderer.Render(1, 0, later);
  // Half a degree is focal * tan(0.5 deg) = 4.54 px to the left: near the middle, a shift by 5 px fits better than
  // none.
  const cv::Rect area(250, 150, 140, 60), moved(245, 150, 140, 60);
  CHECK(cv::norm(now(area), later(moved), cv::NORM_L1) < 0.5 * cv::norm(now(area), later(area), cv::NORM_L1));
}

}  // namespace hookline::synth
