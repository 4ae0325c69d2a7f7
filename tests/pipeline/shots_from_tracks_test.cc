// Tracks become shots without any clip: the balls here are made by a closed formula and projected by the camera.
#include "pipeline/shots_from_tracks.h"

#include <doctest/doctest.h>

#include <cmath>

#include "camera/projection.h"
#include "pipeline/rolling_ball.h"

using namespace hookline;
using doctest::Approx;
using test::EmptyRun;
using test::kToPins;
using test::Mentions;
using test::RightHanded;
using test::RollingBall;

TEST_CASE("each track becomes a shot with its number, times, path and measures") {
  pipeline::ClipRun run = EmptyRun();
  const CameraModel& camera = run.result.lane_setup->camera;
  const std::vector<Track> tracks = {RollingBall(camera, 1, 0.12, 0.20, 0.075, kToPins),
                                     RollingBall(camera, 9, 0.05, 0.22, 0.08, kToPins)};
  pipeline::ShotsFromTracks(tracks, RightHanded(), &run);
  REQUIRE(run.result.shots.size() == 2);
  CHECK(run.tracks.size() == 2);
  CHECK(run.paths.size() == 2);
  CHECK(run.result.no_shot_reason.empty());
  for (std::size_t i = 0; i < 2; ++i) {
    const Shot& shot = run.result.shots[i];
    CHECK(shot.number == static_cast<int>(i) + 1);
    CHECK(shot.hand_source == HandSource::kGiven);
    REQUIRE(shot.pin_contact_s);
    CHECK(*shot.pin_contact_s == Approx(*tracks[i].pin_contact_s).epsilon(0.01));
    CHECK(shot.path.size() > 100);
    CHECK_FALSE(shot.pins_reason.empty());
    CHECK_FALSE(shot.gutter_ft);
  }
  // Closed answer: at y = 15 ft = 4.572 m the first ball is at t with 0.25 t^2 - 7.9 t + 4.272 = 0.
  const double t = (7.9 - std::sqrt(7.9 * 7.9 - 4.272)) / 0.5, x = 0.12 + 0.20 * t - 0.075 * t * t;
  const Measure& at15 = run.result.shots[0].measures[MeasureId::kBoardAt15Ft];
  REQUIRE(at15.value);
  CHECK(*at15.value == Approx(lane::BoardFromX(x, lane::kNominalWidth, lane::Hand::kRight)).epsilon(0.01));
}

TEST_CASE("the hand: given beats seen, seen beats assumed, and assuming is said") {
  const Track plain = RollingBall(test::BehindTheLane(), 1, 0.12, 0.20, 0.075, kToPins);
  Track left = plain;
  left.hand = 'l';
  {
    pipeline::ClipRun run = EmptyRun();
    pipeline::ShotsFromTracks({plain, left}, pipeline::MeasureOptions(), &run);
    REQUIRE(run.result.shots.size() == 2);
    CHECK(run.result.shots[0].hand_source == HandSource::kAssumed);
    CHECK(run.result.shots[0].hand == lane::Hand::kRight);
    CHECK(run.result.shots[1].hand_source == HandSource::kSeen);
    CHECK(run.result.shots[1].hand == lane::Hand::kLeft);
    CHECK(Mentions(run.result.warnings, "hand"));
    // The same place counted from the other edge.
    const Measures &r = run.result.shots[0].measures, &l = run.result.shots[1].measures;
    CHECK(*r[MeasureId::kBoardAt15Ft].value + *l[MeasureId::kBoardAt15Ft].value == Approx(40));
  }
  pipeline::ClipRun run = EmptyRun();
  pipeline::ShotsFromTracks({left}, RightHanded(), &run);
  CHECK(run.result.shots[0].hand_source == HandSource::kGiven);
  CHECK(run.result.shots[0].hand == lane::Hand::kRight);
  CHECK_FALSE(Mentions(run.result.warnings, "hand"));
}

TEST_CASE("a track with too little in it is left out, said, and does not take a number") {
  pipeline::ClipRun run = EmptyRun();
  const CameraModel& camera = run.result.lane_setup->camera;
  Track scrap = RollingBall(camera, 1, 0.12, 0.20, 0.075, kToPins);
  scrap.sights.resize(3);
  pipeline::ShotsFromTracks({scrap, RollingBall(camera, 9, 0.05, 0.22, 0.08, kToPins)}, RightHanded(), &run);
  REQUIRE(run.result.shots.size() == 1);
  CHECK(run.result.shots[0].number == 1);
  CHECK(Mentions(run.result.warnings, "not measured"));
}

TEST_CASE("no track, or none that could be measured: the reason says which") {
  pipeline::ClipRun none = EmptyRun();
  pipeline::ShotsFromTracks({}, pipeline::MeasureOptions(), &none);
  CHECK(none.result.shots.empty());
  CHECK_FALSE(none.result.no_shot_reason.empty());
  pipeline::ClipRun scrap = EmptyRun();
  Track track = RollingBall(scrap.result.lane_setup->camera, 1, 0.12, 0.20, 0.075, kToPins);
  track.sights.resize(3);
  pipeline::ShotsFromTracks({track}, pipeline::MeasureOptions(), &scrap);
  CHECK(scrap.result.shots.empty());
  CHECK(scrap.result.no_shot_reason != none.result.no_shot_reason);
}

TEST_CASE("a ball on another lane is not listed") {
  pipeline::ClipRun run = EmptyRun();
  Track neighbour = RollingBall(run.result.lane_setup->camera, 1, 0.12, 0.20, 0.075, kToPins);
  neighbour.lane = 1;
  pipeline::ShotsFromTracks({neighbour}, pipeline::MeasureOptions(), &run);
  CHECK(run.result.shots.empty());
}

TEST_CASE("where the ball was not seen its pixel is that of the moved frame") {
  pipeline::ClipRun run = EmptyRun();
  const CameraModel camera = run.result.lane_setup->camera;
  for (FrameMotion& m : run.motions) m.rotation[1] = 0.02;
  Track track = RollingBall(camera, 1, 0.12, 0.20, 0.075, kToPins);
  const double hidden_s = track.sights[50].time_s;
  for (BallSight& s : track.sights) s.p_in_frame = camera::FrameFromReference(camera, run.motions[0], s.p_in_image);
  track.sights.erase(track.sights.begin() + 50);
  pipeline::ShotsFromTracks({track}, RightHanded(), &run);
  REQUIRE(run.result.shots.size() == 1);
  const std::vector<PathPoint>& path = run.result.shots[0].path;
  for (std::size_t i = 1; i + 1 < path.size(); ++i) {
    if (std::abs(path[i].time_s - hidden_s) > 1e-6) continue;
    CHECK_FALSE(path[i].seen);
    // Between its neighbours, which were seen in the moved frames.
    CHECK(std::abs(path[i].u_px - (path[i - 1].u_px + path[i + 1].u_px) / 2) < 2);
    CHECK(std::abs(path[i].v_px - (path[i - 1].v_px + path[i + 1].v_px) / 2) < 2);
    return;
  }
  FAIL("the hidden frame is missing in the path");
}
