#include <doctest/doctest.h>

#include "camera/projection.h"
#include "lane/units.h"
#include "report/fixture.h"
#include "report/number_text.h"
#include "viewer/compare_clock.h"
#include "viewer/compare_table.h"
#include "viewer/path_in_picture.h"

using namespace hookline;
using namespace hookline::viewer;

namespace {

ShownShot Of(const Shot& shot, int id) {
  ShownShot s;
  s.id = id;
  s.shot = &shot;
  return s;
}

Shot Later(Shot shot, double seconds, double slower) {
  shot.release_s = *shot.release_s + seconds;
  for (PathPoint& p : shot.path) p.time_s = seconds + 0.5 + (p.time_s - 0.5) * slower;
  if (shot.pin_contact_s) shot.pin_contact_s = seconds + 0.5 + (*shot.pin_contact_s - 0.5) * slower;
  return shot;
}

}  // namespace

TEST_CASE("two shots are in step at any mark they share") {
  Shot a = test::HookShot();
  a.measures[MeasureId::kBreakpointFt] = Measure::Of(40, 1);
  const Shot b = Later(a, 12.3, 1.2);
  const ShownShot first = Of(a, 1), second = Of(b, 2);
  CHECK(CompareClock::SharedMarks(first, second).size() == 4);
  for (const Mark mark : kMarks) {
    const auto clock = CompareClock::Make(first, second, mark);
    REQUIRE(clock);
    CHECK(clock->TimeIn(0, 0) == doctest::Approx(*TimeOfMark(a, {}, mark)));
    CHECK(clock->TimeIn(1, 0) == doctest::Approx(*TimeOfMark(b, {}, mark)));
    CHECK(clock->PositionOf(1, clock->TimeIn(1, 0.37)) == doctest::Approx(0.37));
    // Both approaches and both balls are within the positions.
    CHECK(clock->TimeIn(0, clock->first_position()) <= *a.release_s - 2);
    CHECK(clock->TimeIn(1, clock->first_position()) <= *b.release_s - 2);
    CHECK(clock->TimeIn(0, clock->last_position()) >= a.path.back().time_s);
    CHECK(clock->TimeIn(1, clock->last_position()) >= b.path.back().time_s);
  }
  const auto clock = CompareClock::Make(first, second, Mark::kRelease);
  CHECK(LagText(first, second, *clock, Mark::kRelease) == "at the same time");
  CHECK(LagText(first, second, *clock, Mark::kPins) == "0.45 s later");  // a fifth of 2.25 s
  CHECK(LagText(second, first, *CompareClock::Make(second, first, Mark::kRelease), Mark::kPins) == "0.45 s earlier");
}

TEST_CASE("a mark that one shot lacks cannot hold them in step") {
  const Shot a = test::HookShot(), b = test::GutterShot();
  const ShownShot first = Of(a, 1), second = Of(b, 2);
  CHECK_FALSE(CompareClock::Make(first, second, Mark::kPins));
  const std::vector<Mark> marks = CompareClock::SharedMarks(first, second);
  CHECK(std::find(marks.begin(), marks.end(), Mark::kPins) == marks.end());
  CHECK(std::find(marks.begin(), marks.end(), Mark::kRelease) != marks.end());
}

TEST_CASE("a path lies over its own picture where the camera says, and over another's board for board") {
  const Shot shot = test::HookShot();
  LaneSetup own;
  own.camera = test::BehindTheLane();
  FrameMotion still;
  still.known = false;
  const auto line = PathInPicture(shot, own.lane.width, own, still, 1e9);
  REQUIRE(line.size() == shot.path.size());
  for (std::size_t i = 0; i < line.size(); i += 20) {
    const auto expected = camera::ImageFromLane(own.camera, {shot.path[i].x, shot.path[i].y, 0});
    REQUIRE(line[i]);
    CHECK((*line[i] - *expected).norm() < 1e-9);
  }
  // Another camera and a wider lane: the ground under each pixel is the same board at the same distance.
  LaneSetup other;
  other.camera = test::BehindTheLane(1280, 720);
  other.camera.position_in_lane = {-0.6, -3.8, 2.1};
  other.lane.width = lane::kMaxWidth;
  const auto over = PathInPicture(shot, own.lane.width, other, still, 1e9);
  for (std::size_t i = 0; i < over.size(); i += 20) {
    REQUIRE(over[i]);
    const auto ground = camera::LaneFromImage(other.camera, *over[i], 0);
    REQUIRE(ground);
    CHECK(lane::BoardFromX(ground->x(), other.lane.width, shot.hand) ==
          doctest::Approx(lane::BoardFromX(shot.path[i].x, own.lane.width, shot.hand)).epsilon(1e-6));
    CHECK(ground->y() == doctest::Approx(shot.path[i].y).epsilon(1e-6));
  }
}

TEST_CASE("a path is drawn only as far as the ball has come, and turns with the camera") {
  const Shot shot = test::HookShot();
  LaneSetup setup;
  setup.camera = test::BehindTheLane();
  FrameMotion moved;
  moved.rotation[1] = 0.01;
  const double until = shot.path[60].time_s + 0.004;
  const auto line = PathInPicture(shot, setup.lane.width, setup, moved, until);
  CHECK(line.size() == 62);
  FrameMotion still;
  const auto unmoved = PathInPicture(shot, setup.lane.width, setup, still, until);
  CHECK((*line.back() - *unmoved.back()).norm() > 10);
  const auto edge = PathInPicture(shot, setup.lane.width, setup, still, until, 1);
  CHECK(edge.back()->x() > unmoved.back()->x());
}

TEST_CASE("a camera that stands on the lane does not see what is behind it") {
  const Shot shot = test::HookShot();
  LaneSetup setup;
  setup.camera = test::BehindTheLane();
  setup.camera.position_in_lane.y() = 5;
  FrameMotion still;
  const auto line = PathInPicture(shot, setup.lane.width, setup, still, 1e9);
  CHECK_FALSE(line.front());
  CHECK(line.back());
}

TEST_CASE("the table of differences") {
  Shot a, b;
  for (Shot* s : {&a, &b})
    for (Measure& m : s->measures.all) m = Measure::None("not measured");
  a.measures[MeasureId::kEntryBoard] = Measure::Of(17.2, 0.3);
  b.measures[MeasureId::kEntryBoard] = Measure::Of(20.0, 0.4);
  a.measures[MeasureId::kSpeedMeanMph] = Measure::Of(16.50, 0.05);
  b.measures[MeasureId::kSpeedMeanMph] = Measure::Of(16.42, 0.05);
  a.measures[MeasureId::kBreakpointFt] = Measure::Of(41, 2);
  b.measures[MeasureId::kBreakpointFt] = Measure::None("a straight ball");
  const std::vector<CompareRow> rows = CompareShots(a, b);
  REQUIRE(rows.size() == 3);
  CHECK(rows[0].id == MeasureId::kBreakpointFt);
  CHECK(rows[0].second == "–");
  CHECK(rows[0].second_reason == "a straight ball");
  CHECK(rows[0].says == Difference::kNone);
  CHECK(rows[1].first == "17.2 ±0.3");
  CHECK(rows[1].difference == "+2.8 ±0.5");  // root of 0.3^2 + 0.4^2
  CHECK(rows[1].says == Difference::kClear);
  CHECK(rows[2].difference == "-0.08 ±0.07");
  CHECK(rows[2].says == Difference::kWithinDoubt);
}
