#include "viewer/overlay_lines.h"

#include <doctest/doctest.h>

#include "camera/projection.h"
#include "lane/units.h"

using namespace hookline;
using namespace hookline::viewer;

namespace {

// A phone behind the approach, a little above head height, looking down the lane.
LaneSetup Setup() {
  LaneSetup setup;
  setup.camera.width = 1920;
  setup.camera.height = 1080;
  setup.camera.focal_px = 1700;
  setup.camera.centre_u = 960;
  setup.camera.centre_v = 540;
  setup.camera.rotation = {lane::kPi / 2 + 0.09, 0, 0};
  setup.camera.position_in_lane = {0.3, -6, 1.9};
  return setup;
}

Shot StraightShot(const LaneSetup& setup) {
  Shot shot;
  const double radius = lane::kBallDiameter / 2;
  for (int i = 0; i <= 120; ++i) {
    PathPoint p;
    p.time_s = 1 + i / 60.0;
    p.x = 0.2 - 0.1 * i / 120;
    p.y = 18.1 * i / 120;
    p.sd_x = 0.01;
    p.sd_y = 0.02;
    p.seen = true;
    const auto at = camera::ImageFromLane(setup.camera, {p.x, p.y, radius});
    p.u_px = at->x();
    p.v_px = at->y();
    shot.path.push_back(p);
  }
  return shot;
}

}  // namespace

TEST_CASE("the lane's lines lie where the camera has the lane") {
  const LaneSetup setup = Setup();
  const LaneLines lines = LinesOfLane(setup, {}, lane::Hand::kRight);
  REQUIRE(lines.edges.size() == 3);
  CHECK(lines.arrows.size() == 7);
  REQUIRE(lines.ticks.size() == 39);
  const auto corner = camera::ImageFromLane(setup.camera, {-setup.lane.width / 2, 0, 0});
  CHECK((*lines.edges[0].front() - *corner).norm() < 1e-6);
  // Boards count from the own hand's edge: board 1 lies right for a right-hander, left for a left-hander.
  CHECK(lines.ticks.front().board == 1);
  CHECK(lines.ticks.front().at.x() > lines.ticks.back().at.x());
  const LaneLines left = LinesOfLane(setup, {}, lane::Hand::kLeft);
  CHECK(left.ticks.front().at.x() < left.ticks.back().at.x());
}

TEST_CASE("drawings follow the camera's turn in a frame") {
  const LaneSetup setup = Setup();
  FrameMotion turned;
  turned.rotation[1] = 0.01;
  const LaneLines still = LinesOfLane(setup, {}, lane::Hand::kRight),
                  moved = LinesOfLane(setup, turned, lane::Hand::kRight);
  const Eigen::Vector2d expected = camera::FrameFromReference(setup.camera, turned, *still.edges[1].back());
  CHECK((*moved.edges[1].back() - expected).norm() < 1e-6);
  CHECK((*moved.edges[1].back() - *still.edges[1].back()).norm() > 10);
}

TEST_CASE("a shot's path is drawn up to now, its ball at its true size, its places once passed") {
  const LaneSetup setup = Setup();
  const Shot shot = StraightShot(setup);
  const double now = shot.path[60].time_s;
  const ShotLines lines = LinesOfShot(shot, setup.lane.width, setup, {}, now);
  CHECK(lines.whole.size() == shot.path.size());
  CHECK(lines.so_far.size() >= 61);
  CHECK(lines.so_far.size() <= 62);
  REQUIRE(lines.band_left.size() == lines.whole.size());
  CHECK(lines.band_left[60]->x() < lines.whole[60]->x());
  CHECK(lines.band_right[60]->x() > lines.whole[60]->x());
  REQUIRE(lines.ball);
  CHECK(lines.ball->seen);
  CHECK((lines.ball->centre - Eigen::Vector2d(shot.path[60].u_px, shot.path[60].v_px)).norm() < 1e-9);
  // f r / z to first order.
  const double depth = shot.path[60].y + 6;
  CHECK(lines.ball->radius_px == doctest::Approx(1700 * lane::kBallDiameter / 2 / depth).epsilon(0.02));
  REQUIRE(lines.arrows);
  CHECK(lines.arrows->passed);
  const ShotLines early = LinesOfShot(shot, setup.lane.width, setup, {}, 1.1);
  CHECK_FALSE(early.arrows->passed);
  // Before the path begins there is a path to come and no ball.
  const ShotLines before = LinesOfShot(shot, setup.lane.width, setup, {}, 0.2);
  CHECK_FALSE(before.ball);
  CHECK(before.whole.size() == shot.path.size());
}

TEST_CASE("a shot laid over another clip's picture keeps its boards") {
  const LaneSetup setup = Setup();
  const Shot shot = StraightShot(setup);
  LaneSetup other = setup;
  other.lane.width = lane::kMaxWidth;
  const ShotLines lines = LinesOfShot(shot, setup.lane.width, other, {}, shot.path[60].time_s);
  const double x = shot.path[60].x * other.lane.width / setup.lane.width;
  CHECK((*lines.whole[60] - *camera::ImageFromLane(setup.camera, {x, shot.path[60].y, 0})).norm() < 1e-6);
  REQUIRE(lines.ball);
  CHECK_FALSE(lines.ball->seen);
}

TEST_CASE("with numbers alone the ball's centres are the path") {
  const Shot shot = StraightShot(Setup());
  const ShotLines lines = LinesWithoutCamera(shot, shot.path[30].time_s);
  CHECK(lines.whole.size() == shot.path.size());
  CHECK(lines.so_far.size() == 31);
  CHECK_FALSE(lines.ball);
}
