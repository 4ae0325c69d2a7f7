#include "setup/find_lane.h"

#include <doctest/doctest.h>

#include <cmath>
#include <cstdint>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "camera/projection.h"
#include "setup/background.h"
#include "setup/made_hall.h"
#include "setup/setup_file.h"
#include "synth/render.h"

using namespace hookline;
using Eigen::Vector3d;

namespace {

// A made hall with nobody in it, seen once; truth is the scene's own camera.
struct Seen {
  Background background;
  CameraModel camera;
  lane::LaneSpec lane;
};

Seen Look(synth::Scenario scenario) {
  scenario.shots.clear();
  const setup::HallSeen hall = setup::LookOnce(scenario);
  Picture p;
  p.luma = hall.luma;
  Seen s;
  s.background = setup::StillBackground({p});
  s.camera = hall.camera;
  s.lane.width = lane::MetresFromInches(scenario.lanes.width_in);
  for (std::size_t i = 0; i < 7; ++i) s.lane.arrow_tip_y[i] = lane::MetresFromFeet(scenario.lanes.arrow_tips_ft[i]);
  return s;
}

// Places of the lane in boards and feet where the true camera has them in the picture.
void CheckLane(const Seen& seen, const LaneSetup& found, double front_board, double far_board, double far_ft) {
  for (const double side : {-0.5, 0.5})
    for (const double y : {0.0, 4.5, lane::kHeadPinY}) {
      const auto p = camera::ImageFromLane(seen.camera, {side * seen.lane.width, y, 0});
      REQUIRE(p);
      const auto q = camera::LaneFromImage(found.camera, *p, 0);
      REQUIRE(q);
      const double board = lane::BoardFromX(q->x(), found.lane.width, lane::Hand::kRight) -
                           lane::BoardFromX(side * seen.lane.width, seen.lane.width, lane::Hand::kRight);
      const double share = y / lane::kHeadPinY;
      CHECK(std::abs(board) < front_board + share * (far_board - front_board));
      CHECK(std::abs(lane::FeetFromMetres(q->y() - y)) < 0.08 + share * far_ft);
    }
}

// Where the picture shows a piece of the hall between two places across (in) and two down the lane (ft), its far side
// raised by `top_in`.
std::vector<cv::Point> Quad(const Seen& seen, double from_in, double to_in, double from_ft, double to_ft,
                            double top_in) {
  std::vector<cv::Point> corners;
  for (const Vector3d& at : {Vector3d(from_in, 12 * from_ft, 0), Vector3d(to_in, 12 * from_ft, 0),
                             Vector3d(to_in, 12 * to_ft, top_in), Vector3d(from_in, 12 * to_ft, top_in)}) {
    const auto p = camera::ImageFromLane(seen.camera, at * lane::kMetresPerInch);
    REQUIRE(p);
    corners.emplace_back(static_cast<int>(std::lround(p->x())), static_cast<int>(std::lround(p->y())));
  }
  return corners;
}

}  // namespace

TEST_CASE("the lane is found from behind, with its width, arrows and neighbours") {
  const Seen seen = Look(setup::FourLanes());
  const auto found = setup::FindLane(seen.background);
  REQUIRE(found.ok());
  CheckLane(seen, *found, 0.1, 0.3, 0.4);
  CHECK(found->source == SetupSource::kAutomatic);
  REQUIRE(found->lane.arrows_measured);
  for (std::size_t i = 0; i < 7; ++i)
    CHECK(std::abs(lane::FeetFromMetres(found->lane.arrow_tip_y[i] - seen.lane.arrow_tip_y[i])) < 0.25);
  // The next lanes at their unequal spacings.
  bool right = false, left = false;
  for (const NeighbourLane& n : found->neighbours) {
    if (n.index == 1) right = std::abs(lane::InchesFromMetres(n.centre_x) - 66) < 1;
    if (n.index == -1) left = std::abs(lane::InchesFromMetres(n.centre_x) + 66) < 1;
  }
  CHECK(right);
  CHECK(left);
}

TEST_CASE("from the side, high up, with a roll" * doctest::test_suite("slow")) {
  synth::Scenario s = setup::FourLanes();
  s.camera.position_ft = {4, -18, 7.5};
  s.camera.yaw_deg = -9;
  s.camera.pitch_deg = 12;
  s.camera.roll_deg = 2.5;
  s.camera.focal_px = 1100;
  s.camera.k1 = -0.03;
  const Seen seen = Look(s);
  const auto found = setup::FindLane(seen.background);
  REQUIRE(found.ok());
  CheckLane(seen, *found, 0.15, 0.4, 0.4);
}

TEST_CASE("portrait, a dark lane between light gutters") {
  synth::Scenario s = setup::FourLanes();
  s.video.width = 720;
  s.video.height = 1280;
  s.camera.focal_px = 1150;
  s.camera.pitch_deg = 5;
  s.lanes.lane_colour = "#4a3424";
  s.lanes.lane_colour_2 = "#3c2a1c";
  s.lanes.gutter_colour = "#a0a8b0";
  s.lanes.foul_line_colour = "#c02020";
  s.lanes.width_in = 41.9;
  const Seen seen = Look(s);
  const auto found = setup::FindLane(seen.background);
  REQUIRE(found.ok());
  CheckLane(seen, *found, 0.25, 0.6, 0.6);
}

TEST_CASE("gutters of the lane's own colour: racks and arrows place the lane" * doctest::test_suite("slow")) {
  synth::Scenario s = setup::FourLanes();
  s.lanes.lane_colour = s.lanes.lane_colour_2 = s.lanes.gutter_colour = "#5a4a44";
  s.lanes.mark_colour = "#f0f0e0";
  const Seen seen = Look(s);
  const auto found = setup::FindLane(seen.background);
  REQUIRE_MESSAGE(found.ok(), found.status().sentence());
  CheckLane(seen, *found, 0.3, 0.5, 0.5);
}

TEST_CASE("a bowler who hides the lane aimed at all the time: the gap among the lanes gives it away" *
          doctest::test_suite("slow")) {
  synth::Scenario s = setup::FourLanes();
  s.camera.position_ft = {0.1, -17, 3.2};
  s.camera.pitch_deg = 5;
  s.lanes.centres_in = {-142, -69, 0, 73, 142};
  synth::PersonSpec bowler;
  bowler.way = {{0, -0.2, -1}};
  s.people = {bowler};
  const Seen seen = Look(s);
  const auto found = setup::FindLane(seen.background);
  REQUIRE_MESSAGE(found.ok(), found.status().sentence());
  CheckLane(seen, *found, 0.3, 0.6, 0.6);
}

// Lanes in pairs with a ball return's width between the pairs. Most of the time something stands before the own lane
// whose side runs down the gap like a lane's edge; once it is gone.
TEST_CASE("a hidden lane in a wide gap is put where its own edges show, not where something else's does" *
          doctest::test_suite("slow")) {
  synth::Scenario s = setup::FourLanes();
  s.lanes.centres_in = {-148.75, -65.5, 0, 83.25, 148.75};
  s.camera.position_ft = {0.2, -17, 4};
  s.camera.pitch_deg = 5;
  Seen seen = Look(s);
  Picture free, hidden;
  free.luma = seen.background.luma.clone();
  hidden.luma = free.luma.clone();
  const auto fill = [&](double from_in, double to_in, double top_in, int level) {
    cv::fillConvexPoly(hidden.luma, Quad(seen, from_in, to_in, 0, 63.3, top_in), level, cv::LINE_AA);
  };
  const auto spot = camera::ImageFromLane(seen.camera, {0, 5, 0});
  REQUIRE(spot);
  const int lane_level = free.luma.at<std::uint8_t>(static_cast<int>(spot->y()), static_cast<int>(spot->x()));
  fill(-27, 27, 24, lane_level / 3);
  fill(3.5, 27, 0, lane_level);
  seen.background = setup::StillBackground({hidden, free, hidden, hidden, free, hidden, hidden, hidden});
  const auto found = setup::FindLane(seen.background);
  REQUIRE_MESSAGE(found.ok(), found.status().sentence());
  CheckLane(seen, *found, 0.3, 0.6, 0.6);
}

// At the end of the row, its pins down and its edges faint, as after a first ball: the camera aims at it all the same.
TEST_CASE("a lane aimed at is found by its edges though the others are plainer and its pins are down" *
          doctest::test_suite("slow")) {
  synth::Scenario s = setup::FourLanes();
  s.lanes.centres_in = {-212, -140, -66, 0};
  s.camera.position_ft = {-0.5, -17, 5};
  Seen seen = Look(s);
  cv::Mat& luma = seen.background.luma;
  // Faint: most of the way to one level around the lane, and what stands at its end as dark as the pit.
  cv::Mat where(luma.size(), CV_8UC1, cv::Scalar(0));
  cv::fillConvexPoly(where, Quad(seen, -32, 32, 0.2, 59, 0), 255);
  cv::Mat fainter;
  luma.convertTo(fainter, -1, 0.2, 0.8 * cv::mean(luma, where)[0]);
  fainter.copyTo(luma, where);
  cv::fillConvexPoly(luma, Quad(seen, -24, 24, 59.8, 59.8, 17), 20);
  for (Picture& layer : seen.background.layers) layer.luma = luma;
  const auto found = setup::FindLane(seen.background);
  REQUIRE_MESSAGE(found.ok(), found.status().sentence());
  CheckLane(seen, *found, 0.3, 0.6, 0.6);
}

TEST_CASE("another lane is named by its offset from the one aimed at" * doctest::test_suite("slow")) {
  const Seen seen = Look(setup::FourLanes());
  setup::FindLaneOptions options;
  options.lane_offset = 1;
  const auto right = setup::FindLane(seen.background, options);
  REQUIRE(right.ok());
  const auto own = setup::FindLane(seen.background);
  REQUIRE(own.ok());
  CHECK(lane::InchesFromMetres(own->camera.position_in_lane.x() - right->camera.position_in_lane.x()) ==
        doctest::Approx(66).epsilon(0.02));
  options.lane_offset = 5;
  const auto none = setup::FindLane(seen.background, options);
  REQUIRE_FALSE(none.ok());
  CHECK(none.status().code() == StatusCode::kLaneNotFound);
}

TEST_CASE("no lane: a sentence that says what was missing, never a guess") {
  Picture p;
  p.luma = cv::Mat(480, 640, CV_8UC1, cv::Scalar(80));
  auto none = setup::FindLane(setup::StillBackground({p}));
  REQUIRE_FALSE(none.ok());
  CHECK(none.status().code() == StatusCode::kLaneNotFound);
  CHECK_FALSE(none.status().sentence().empty());
  // Straight lines that run together, as in any corridor, but no pins at their end.
  for (int i = -6; i <= 6; ++i)
    cv::line(p.luma, {320, 160}, {320 + 90 * i, 480}, cv::Scalar(i % 2 ? 200 : 20), 3, cv::LINE_AA);
  none = setup::FindLane(setup::StillBackground({p}));
  CHECK_FALSE(none.ok());
}

TEST_CASE("a saved setup is checked against the clip it is used for" * doctest::test_suite("slow")) {
  const Seen seen = Look(setup::FourLanes());
  const auto found = setup::FindLane(seen.background);
  REQUIRE(found.ok());
  CHECK(setup::CheckSetup(*found, seen.background).fits);
  synth::Scenario moved = setup::FourLanes();
  moved.camera.yaw_deg += 0.6;  // the tripod was bumped between clips: ten pixels
  const setup::SetupCheck check = setup::CheckSetup(*found, Look(moved).background);
  CHECK_FALSE(check.fits);
  CHECK(check.sentence.find("anew") != std::string::npos);
}
