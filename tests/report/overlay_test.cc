#include "report/overlay.h"

#include <doctest/doctest.h>

#include <opencv2/core.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "camera/projection.h"
#include "report/canvas.h"
#include "report/fixture.h"

using namespace hookline;

namespace {

// The result's picture, plain mid grey, and the ball's centres where the camera sees them.
ClipResult Drawable(int width, int height) {
  ClipResult r = test::TwoShots();
  r.clip.width = width;
  r.clip.height = height;
  r.lane_setup->camera = test::BehindTheLane(width, height);
  r.shots.resize(1);
  Shot& shot = r.shots[0];
  shot.measures[MeasureId::kBreakpointFt] = Measure::Of(38, 1.2);
  shot.measures[MeasureId::kBreakpointBoard] = Measure::Of(8.9, 0.14);
  shot.measures[MeasureId::kSkidEndFt] = Measure::Of(41, 1);
  shot.measures[MeasureId::kRollStartFt] = Measure::Of(51, 1);
  for (PathPoint& p : shot.path) {
    const auto pixel = camera::ImageFromLane(r.lane_setup->camera, {p.x, p.y, lane::kBallDiameter / 2});
    p.u_px = pixel->x();
    p.v_px = pixel->y();
  }
  return r;
}

cv::Mat Drawn(const ClipResult& r, double time_s, const FrameMotion& motion = {}) {
  const auto overlay = report::Overlay::Make(r);
  REQUIRE(overlay.ok());
  cv::Mat bgr(r.clip.height, r.clip.width, CV_8UC3, cv::Scalar::all(110));
  (*overlay)->Draw(bgr, time_s, motion);
  return bgr;
}

// Whether the colour is found within a few px of the place.
bool Near(const cv::Mat& bgr, const Eigen::Vector2d& p, report::Colour c, int reach = 4) {
  for (int v = -reach; v <= reach; ++v) {
    for (int u = -reach; u <= reach; ++u) {
      const int col = cvRound(p.x()) + u, row = cvRound(p.y()) + v;
      if (col < 0 || row < 0 || col >= bgr.cols || row >= bgr.rows) continue;
      const cv::Vec3b& q = bgr.at<cv::Vec3b>(row, col);
      if (std::abs(q[0] - c.blue) + std::abs(q[1] - c.green) + std::abs(q[2] - c.red) < 12) return true;
    }
  }
  return false;
}

}  // namespace

TEST_CASE("the path is drawn where the camera sees it, and only as far as the ball has come") {
  for (const auto& [w, h] : {std::pair{1920, 1080}, {1280, 720}, {3840, 2160}, {1080, 1920}}) {
    const ClipResult r = Drawable(w, h);
    CAPTURE(r.clip.width);
    const std::vector<PathPoint>& path = r.shots[0].path;
    const std::size_t now = path.size() / 2;
    const cv::Mat bgr = Drawn(r, path[now].time_s);
    const auto on_lane = [&](std::size_t i) {
      return *camera::ImageFromLane(r.lane_setup->camera, {path[i].x, path[i].y, 0});
    };
    for (std::size_t i = 40; i + 6 < now; i += 9) CHECK(Near(bgr, on_lane(i), report::kAmber));
    for (std::size_t i = now + 10; i < path.size(); i += 9) CHECK_FALSE(Near(bgr, on_lane(i), report::kAmber, 2));
  }
}

TEST_CASE("end of skid and start of roll are strokes across the path, once the ball has passed them") {
  const ClipResult r = Drawable(1920, 1080);
  const auto across = [&](double ft, double time_s) {
    const cv::Mat bgr = Drawn(r, time_s);
    const double y = lane::MetresFromFeet(ft);
    double x = 0;
    for (const PathPoint& p : r.shots[0].path)
      if (p.y < y) x = p.x;
    const double board = lane::BoardWidth(r.lane_setup->lane.width);
    return Near(bgr, *camera::ImageFromLane(r.lane_setup->camera, {x + 1.2 * board, y, 0}), report::kPaper) &&
           Near(bgr, *camera::ImageFromLane(r.lane_setup->camera, {x - 1.2 * board, y, 0}), report::kPaper);
  };
  CHECK(across(41, 100));
  CHECK(across(51, 100));
  CHECK_FALSE(across(51, r.shots[0].path[100].time_s));
}

TEST_CASE("drawings follow a camera that turned") {
  const ClipResult r = Drawable(1920, 1080);
  FrameMotion turned;
  turned.rotation[1] = 0.03;
  const cv::Mat bgr = Drawn(r, 100, turned);
  const PathPoint& p = r.shots[0].path[60];
  const Eigen::Vector2d reference = *camera::ImageFromLane(r.lane_setup->camera, {p.x, p.y, 0});
  const Eigen::Vector2d frame = camera::FrameFromReference(r.lane_setup->camera, turned, reference);
  CHECK((frame - reference).norm() > 30);
  CHECK(Near(bgr, frame, report::kAmber));
  CHECK_FALSE(Near(bgr, reference, report::kAmber));
}

TEST_CASE("before the first shot there is the lane and its ruler, but no path and no panel") {
  const ClipResult r = Drawable(1920, 1080);
  const cv::Mat bgr = Drawn(r, 0);
  cv::Mat amber;
  cv::inRange(bgr, cv::Scalar(40, 170, 244), cv::Scalar(48, 182, 255), amber);
  CHECK(cv::countNonZero(amber) == 0);
  const lane::LaneSpec spec;
  const auto tip = camera::ImageFromLane(r.lane_setup->camera, {0, spec.ArrowLineY(0), 0});
  CHECK(Near(bgr, *tip, report::kPaper));
}

TEST_CASE("the breakpoint is marked once it is passed; a straight ball has none") {
  ClipResult r = Drawable(1920, 1080);
  const PathPoint* at = nullptr;
  for (const PathPoint& p : r.shots[0].path) {
    if (!at && p.y >= lane::MetresFromFeet(38)) at = &p;
  }
  REQUIRE(at);
  const Eigen::Vector2d mark = *camera::ImageFromLane(r.lane_setup->camera, {at->x, at->y, 0});
  CHECK_FALSE(Near(Drawn(r, at->time_s - 0.2), mark, report::kSky));
  CHECK(Near(Drawn(r, 100), mark, report::kSky));
  r.shots[0].measures[MeasureId::kBreakpointFt] = Measure::None("a straight ball");
  r.shots[0].measures[MeasureId::kBreakpointBoard] = Measure::None("a straight ball");
  CHECK_FALSE(Near(Drawn(r, 100), mark, report::kSky));
}

TEST_CASE("without a lane nothing can be drawn, and that is said") {
  ClipResult r = Drawable(1280, 720);
  r.lane_setup.reset();
  r.lane_reason = "no foul line";
  const auto overlay = report::Overlay::Make(r);
  REQUIRE_FALSE(overlay.ok());
  CHECK(overlay.status().code() == StatusCode::kLaneNotFound);
}

TEST_CASE("a lane setup is drawn along its edges") {
  const ClipResult r = Drawable(1920, 1080);
  cv::Mat bgr(1080, 1920, CV_8UC3, cv::Scalar::all(110));
  REQUIRE(report::DrawLaneSetup(bgr, *r.lane_setup, {}).ok());
  for (double y : {8.0, 11.0, 14.0}) {
    for (double x : {-0.5, 0.5}) {
      CHECK(Near(bgr, *camera::ImageFromLane(r.lane_setup->camera, {x * r.lane_setup->lane.width, y, 0}),
                 report::kAmber));
    }
  }
  const std::string png = report::PngFromBgr(bgr);
  const cv::Mat back = cv::imdecode(std::vector<unsigned char>(png.begin(), png.end()), cv::IMREAD_COLOR);
  CHECK(cv::norm(back, bgr, cv::NORM_INF) == 0);
}

TEST_CASE("colours are those of ITU-R BT.709, studio range") {
  // 100 % colour bars in Y, Cb, Cr: ITU-R BT.709-6, item 3.2 to 3.4 and quantisation 4.5, 4.6, worked out for 8 bit.
  struct Bar {
    int y, cb, cr, r, g, b;
  };
  for (const Bar& bar : {Bar{235, 128, 128, 255, 255, 255},
                         {16, 128, 128, 0, 0, 0},
                         {63, 102, 240, 255, 0, 0},
                         {173, 42, 26, 0, 255, 0},
                         {32, 240, 118, 0, 0, 255},
                         {219, 16, 138, 255, 255, 0}}) {
    Picture p;
    p.luma = cv::Mat(5, 7, CV_8UC1, cv::Scalar(bar.y));  // odd sizes
    p.cb = cv::Mat(3, 4, CV_8UC1, cv::Scalar(bar.cb));
    p.cr = cv::Mat(3, 4, CV_8UC1, cv::Scalar(bar.cr));
    const cv::Mat bgr = report::BgrFromPicture(p);
    REQUIRE(bgr.size() == p.luma.size());
    const cv::Vec3b q = bgr.at<cv::Vec3b>(2, 3);
    CHECK(std::abs(q[0] - bar.b) <= 2);
    CHECK(std::abs(q[1] - bar.g) <= 2);
    CHECK(std::abs(q[2] - bar.r) <= 2);
  }
}

TEST_CASE("chroma lies in the middle of its four luma pixels") {
  Picture p;
  p.luma = cv::Mat(4, 16, CV_8UC1, cv::Scalar(120));
  p.cb = cv::Mat(2, 8, CV_8UC1, cv::Scalar(128));
  p.cr = cv::Mat(2, 8, CV_8UC1);
  for (int i = 0; i < 8; ++i) p.cr.col(i).setTo(100 + 8 * i);
  const cv::Mat bgr = report::BgrFromPicture(p);
  // A ramp of 8 a chroma pixel is 4 a luma pixel, and chroma pixel i has its value between luma pixels 2i and 2i+1.
  const double per_cr = (255.0 / 112) * (1 - 0.2126);
  for (int u = 2; u < 13; ++u) {
    const double cr = 100 + 8 * ((u - 0.5) / 2);
    const double red = (120 - 16) * 255.0 / 219 + per_cr * (cr - 128);
    CHECK(std::abs(bgr.at<cv::Vec3b>(1, u)[2] - std::clamp(red, 0.0, 255.0)) <= 1.7);
  }
}
