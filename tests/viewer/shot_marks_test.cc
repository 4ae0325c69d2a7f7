#include "viewer/shot_marks.h"

#include <doctest/doctest.h>

#include "lane/units.h"
#include "report/fixture.h"

using namespace hookline;
using namespace hookline::viewer;

TEST_CASE("the fixture's ball passes the marks when its formula says") {
  Shot shot = test::HookShot();
  shot.measures[MeasureId::kBreakpointFt] = Measure::Of(38, 1);
  const lane::LaneSpec lane;
  // y = 1 ft + 7.85 m/s (t - 0.55 s), straight between the frames.
  const auto time_at = [](double y) { return 0.55 + (y - lane::MetresFromFeet(1.0)) / 7.85; };
  CHECK(*TimeOfMark(shot, lane, Mark::kRelease) == 0.5);
  CHECK(*TimeOfMark(shot, lane, Mark::kPins) == 2.75);
  CHECK(*TimeOfMark(shot, lane, Mark::kBreakpoint) == doctest::Approx(time_at(lane::MetresFromFeet(38))).epsilon(1e-9));
  const auto arrows = PlaceAtArrows(shot, lane);
  REQUIRE(arrows);
  CHECK(arrows->y == doctest::Approx(lane.ArrowLineY(arrows->x)).epsilon(1e-4));
  CHECK(*TimeOfMark(shot, lane, Mark::kArrows) == doctest::Approx(time_at(arrows->y)).epsilon(1e-6));
  CHECK(arrows->sd_x == doctest::Approx(0.002));
}

TEST_CASE("a mark that did not happen has no time") {
  const lane::LaneSpec lane;
  const Shot gutter = test::GutterShot();
  CHECK_FALSE(TimeOfMark(gutter, lane, Mark::kPins));
  CHECK_FALSE(TimeOfMark(gutter, lane, Mark::kBreakpoint));
  Shot bare = test::HookShot();
  bare.path.clear();
  CHECK_FALSE(TimeOfMark(bare, lane, Mark::kArrows));
  CHECK_FALSE(TimeOfMark(bare, lane, Mark::kBreakpoint));
  CHECK(TimeOfMark(bare, lane, Mark::kPins));
  CHECK_FALSE(PlaceAtTime(bare, 1.0));
}

TEST_CASE("a place is found at the path's very ends and not beyond them") {
  const Shot shot = test::HookShot();
  CHECK(PlaceAtTime(shot, shot.path.front().time_s));
  CHECK(PlaceAtTime(shot, shot.path.back().time_s));
  CHECK_FALSE(PlaceAtTime(shot, shot.path.back().time_s + 0.01));
  CHECK_FALSE(PlaceAtY(shot, shot.path.front().y - 0.01));
}
