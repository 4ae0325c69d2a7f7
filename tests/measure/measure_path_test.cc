#include "measure/measure_path.h"

#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "measure/path_functions.h"
#include "measure/two_zone_path.h"

namespace hookline::measure {
namespace {

using closed_form::PathOf;
using closed_form::TwoZones;
using lane::Hand;
using Id = MeasureId;

double ValueOf(const Measures& m, Id id) {
  REQUIRE_MESSAGE(m[id].value.has_value(), m[id].reason);
  return *m[id].value;
}

// A straight ball with free sd of where it is and where it goes: parameters x, slope in x per second.
Path StraightPath(double x, double vx, double vy, double sd_x, double sd_vx) {
  Path path;
  path.parameters = Eigen::Vector2d(x, vx);
  path.covariance = Eigen::Vector2d(sd_x * sd_x, sd_vx * sd_vx).asDiagonal();
  path.evaluate = [vy](const Eigen::VectorXd& p, double t) {
    return PathState{t, p[0] + p[1] * t, vy * t, p[1], vy, 0};
  };
  path.end_s = path.last_sight_s = lane::kEntryY / vy;
  return path;
}

}  // namespace

// Vectors derived from the textbook equations (Hopkins & Patterson 1977, Am. J. Phys. 45, 263; Frohlich 2004, Am. J.
// Phys. 72, 1170) for RG 2.5 in, D 8.55 in, g 9.80665, launch 1.8 deg right from the centre of the foul line, mu 0.04
// to 40 ft then 0.20. Tolerances of the table: 0.02 board, 0.005 deg, 0.001 s.
TEST_CASE("two-zone paths give the published measures") {
  struct Row {
    const char* name;
    TwoZones zones;
    double seconds, boards, mph, entry_deg, out_boards, out_ft;
  };
  const auto with = [](auto change) {
    TwoZones z;
    change(z);
    return z;
  };
  const Row rows[] = {
      {"base", TwoZones{}, 2.4434, 12.76, 15.36, 5.33, 4.89, 27.0},
      {"1 mph slower", with([](TwoZones& z) { z.speed -= 0.44704; }), 2.5923, 17.43, 14.62, 5.69, 4.11, 22.7},
      {"rotation 60", with([](TwoZones& z) { z.rotation_deg = 60; }), 2.4562, 15.99, 14.87, 7.24, 4.86, 26.9},
      {"rotation 75", with([](TwoZones& z) { z.rotation_deg = 75; }), 2.4702, 16.09, 14.27, 8.71, 5.09, 28.1},
      {"300 rpm", with([](TwoZones& z) { z.rpm = 300; }), 2.4746, 3.03, 14.77, 3.54, 7.01, 38.2},
      {"launch 2.8", with([](TwoZones& z) { z.launch_deg = 2.8; }), 2.4429, 0.93, 15.36, 4.33, 11.57, 40.1},
      {"oil to 42 ft", with([](TwoZones& z) { z.front_ft = 42; }), 2.4372, 11.40, 15.36, 5.33, 4.89, 27.0},
  };
  for (const Row& row : rows) {
    CAPTURE(row.name);
    const Path path = PathOf(row.zones, 1e-3, 1e-3);
    const auto pins_s = TimeAtY(path, path.parameters, lane::kHeadPinY, 1.2);
    REQUIRE(pins_s.has_value());
    CHECK(*pins_s == doctest::Approx(row.seconds).epsilon(0.001 / row.seconds));
    CHECK(-path.At(*pins_s).x / lane::BoardWidth(lane::kNominalWidth) ==
          doctest::Approx(row.boards).epsilon(0.02 / row.boards));
    const Measures m = MeasurePath(path, Track{}, lane::LaneSpec{}, Hand::kRight);
    CHECK(ValueOf(m, Id::kEntryAngleDeg) == doctest::Approx(row.entry_deg).epsilon(0.006 / row.entry_deg));
    CHECK(ValueOf(m, Id::kSpeedEntryMph) == doctest::Approx(row.mph).epsilon(0.006 / row.mph));
    CHECK(20 - ValueOf(m, Id::kBreakpointBoard) == doctest::Approx(row.out_boards).epsilon(0.02 / row.out_boards));
    CHECK(ValueOf(m, Id::kBreakpointFt) == doctest::Approx(row.out_ft).epsilon(0.06 / row.out_ft));
    // Slip angle by its definition, w the surface speed of the spin (no tilt): it does not depend on the zones.
    const double w = row.zones.rpm * 2 * lane::kPi / 60 * lane::MetresFromInches(8.55 / 2);
    const double turn = row.zones.rotation_deg * lane::kPi / 180;
    CHECK(
        ValueOf(m, Id::kSlipAngleDeg) ==
        doctest::Approx(lane::DegreesFromRadians(std::atan2(w * std::sin(turn), row.zones.speed - w * std::cos(turn))))
            .epsilon(1e-4));
  }
}

TEST_CASE("places along the base path agree with the published ones, for both hands") {
  // Same source: lateral -0.105 and -0.100 m at 15 and 40 ft, speed 7.817 m/s at 15 ft.
  for (const Hand hand : {Hand::kRight, Hand::kLeft}) {
    TwoZones zones;
    zones.side = hand == Hand::kRight ? 1 : -1;
    const Measures m = MeasurePath(PathOf(zones, 1e-3, 1e-3), Track{}, lane::LaneSpec{}, hand);
    const double board = lane::BoardWidth(lane::kNominalWidth);
    CHECK(ValueOf(m, Id::kBoardAt15Ft) == doctest::Approx(20 - 0.105 / board).epsilon(0.002));
    CHECK(ValueOf(m, Id::kBoardAt40Ft) == doctest::Approx(20 - 0.100 / board).epsilon(0.002));
    CHECK(ValueOf(m, Id::kSpeedArrowsMph) == doctest::Approx(7.817 / lane::kMetresPerSecondPerMph).epsilon(0.0002));
    CHECK(ValueOf(m, Id::kEntryAngleDeg) == doctest::Approx(5.33).epsilon(0.002));
    // From 3 to 10 ft the ball has turned a little already: less than the 1.8 deg of the laydown, outward for either
    // hand.
    CHECK(ValueOf(m, Id::kLaunchAngleDeg) > 1.2);
    CHECK(ValueOf(m, Id::kLaunchAngleDeg) < 1.8);
    const double mean = lane::MphFromMetresPerSecond(ValueOf(m, Id::kSpeedMeanMph) * lane::kMetresPerSecondPerMph);
    CHECK(mean == doctest::Approx(40.909 / 2.4434).epsilon(0.002));  // mph over 60 ft is 40.909 / T
  }
}

TEST_CASE("a straight path: closed answers and closed doubts") {
  const double vy = 8, vx = 0.2, board = lane::BoardWidth(lane::kNominalWidth);
  const Path path = StraightPath(0.1, vx, vy, 0.004, 0);
  lane::LaneSpec spec;
  spec.arrows_measured = true;
  const Measures m = MeasurePath(path, Track{}, spec, Hand::kRight);
  const double at_15 = 0.1 + vx * lane::MetresFromFeet(15) / vy;
  CHECK(ValueOf(m, Id::kBoardAt15Ft) == doctest::Approx(20 - at_15 / board));
  CHECK(m[Id::kBoardAt15Ft].sd == doctest::Approx(0.004 / board).epsilon(1e-4));
  CHECK(ValueOf(m, Id::kLaunchAngleDeg) == doctest::Approx(lane::DegreesFromRadians(std::atan2(vx, vy))));
  CHECK(ValueOf(m, Id::kEntryAngleDeg) == doctest::Approx(-lane::DegreesFromRadians(std::atan2(vx, vy))));
  CHECK(ValueOf(m, Id::kSpeedMeanMph) == doctest::Approx(lane::MphFromMetresPerSecond(vy)));
  CHECK(ValueOf(m, Id::kSpeedReleaseMph) == doctest::Approx(lane::MphFromMetresPerSecond(std::hypot(vx, vy))));
  CHECK_FALSE(m[Id::kBreakpointBoard].value.has_value());
  CHECK_FALSE(m[Id::kBreakpointBoard].reason.empty());
}

TEST_CASE("where a straight ball crosses the V of the arrows") {
  // x = 0.2 m lies between the tips of boards 10 and 15 (13.6 and 14.7 ft) on the default V.
  const Path path = StraightPath(0.2, 0.08, 8, 0.001, 0);
  const lane::LaneSpec spec;
  const auto t = TimeAtArrows(path, path.parameters, spec, spec.width, 0.5);
  REQUIRE(t.has_value());
  const PathState s = path.At(*t);
  const double f = (20 - s.x / lane::BoardWidth(spec.width) - 10) / 5;
  CHECK(lane::FeetFromMetres(s.y) == doctest::Approx(13.6 + f * 1.1));
}

TEST_CASE("the lane's width carries its doubt into boards") {
  Path path = StraightPath(0.3, 0, 8, 1e-6, 0);
  path.width_variance = 0.003 * 0.003;
  const double w = lane::kNominalWidth, by_width = 0.3 * 39 / (w * w);
  CHECK(MeasurePath(path, Track{}, lane::LaneSpec{}, Hand::kRight)[Id::kBoardAt15Ft].sd ==
        doctest::Approx(by_width * 0.003).epsilon(1e-3));
  // A wider lane seen by the same camera puts the ball farther out in proportion: the board stays.
  path.covariance(0, 0) = std::pow(0.3 / w * 0.003, 2) + 1e-12;
  path.covariance_with_width = Eigen::Vector2d(0.3 / w * 0.003 * 0.003, 0);
  CHECK(MeasurePath(path, Track{}, lane::LaneSpec{}, Hand::kRight)[Id::kBoardAt15Ft].sd < 2e-4);
}

TEST_CASE("no breakpoint from a turn that is within its doubt") {
  // Bends inward by a hair: a parabola with a turn of about 0.1 board, known to one board or to a thousandth.
  for (const bool sure : {false, true}) {
    Path path;
    path.parameters = Eigen::VectorXd::Zero(1);
    const double sd = sure ? 1e-4 : 3e-2;
    path.covariance = Eigen::MatrixXd::Constant(1, 1, sd * sd);
    path.evaluate = [](const Eigen::VectorXd& p, double t) {
      const double bend = 0.006 + p[0], middle = 1.4;
      return PathState{t, -bend * (t - middle) * (t - middle), 8 * t, -2 * bend * (t - middle), 8, 0};
    };
    path.end_s = path.last_sight_s = 2.26;
    const Measures m = MeasurePath(path, Track{}, lane::LaneSpec{}, Hand::kRight);
    CHECK(m[Id::kBreakpointBoard].value.has_value() == sure);
    CHECK(m[Id::kBreakpointFt].value.has_value() == sure);
    if (sure) {
      CHECK(ValueOf(m, Id::kBreakpointFt) == doctest::Approx(lane::FeetFromMetres(8 * 1.4)).epsilon(1e-3));
    }
    // The same path for the other hand bends outward: never a breakpoint.
    CHECK_FALSE(MeasurePath(path, Track{}, lane::LaneSpec{}, Hand::kLeft)[Id::kBreakpointBoard].value.has_value());
  }
}

TEST_CASE("a gutter ball keeps what came before and says why the rest is missing") {
  // Leaves the lane's right edge, x = 0.527 m, at 20 ft.
  const double vy = 7, edge = lane::kNominalWidth / 2, y_edge = lane::MetresFromFeet(20);
  const double vx = (edge - 0.2) / (y_edge / vy);
  Path path = StraightPath(0.2, vx, vy, 0.003, 0);
  path.gutter_s = path.end_s = y_edge / vy;
  for (const Hand hand : {Hand::kRight, Hand::kLeft}) {
    const auto crossing = FindGutterCrossing(path, lane::LaneSpec{}, hand);
    REQUIRE(crossing.has_value());
    CHECK(crossing->y == doctest::Approx(y_edge));
    CHECK(crossing->own_side == (hand == Hand::kRight));
    CHECK(crossing->sd_y == doctest::Approx(0.003 * vy / vx).epsilon(1e-3));
    const Measures m = MeasurePath(path, Track{}, lane::LaneSpec{}, hand);
    for (const Id id :
         {Id::kLaunchAngleDeg, Id::kBoardAtArrows, Id::kBoardAt15Ft, Id::kSpeedReleaseMph, Id::kSpeedArrowsMph})
      CHECK(m[id].value.has_value());
    for (const Id id : {Id::kBoardAt40Ft, Id::kBreakpointBoard, Id::kBreakpointFt, Id::kEntryBoard, Id::kEntryAngleDeg,
                        Id::kSpeedEntryMph, Id::kSpeedMeanMph}) {
      CHECK_FALSE(m[id].value.has_value());
      CHECK(m[id].reason.find("gutter") != std::string::npos);
    }
  }
}

TEST_CASE("a number too uncertain is withheld with a sentence") {
  const Measures m = MeasurePath(StraightPath(0, 0.1, 8, 0.01, 0.03), Track{}, lane::LaneSpec{}, Hand::kRight);
  CHECK(m[Id::kBoardAt15Ft].value.has_value());
  CHECK_FALSE(m[Id::kEntryBoard].value.has_value());  // 0.03 m/s over 2.27 s are 2.5 boards
  CHECK(m[Id::kEntryBoard].reason.find("ft") != std::string::npos);
}

TEST_CASE("every measure has either a value with a doubt or a reason") {
  const Measures m = MeasurePath(StraightPath(0.05, 0.1, 8, 0.002, 0.002), Track{}, lane::LaneSpec{}, Hand::kRight);
  for (std::size_t i = 0; i < kMeasureCount; ++i) {
    CAPTURE(kMeasureTable[i].key);
    if (m.all[i].value)
      CHECK(m.all[i].sd >= 0);
    else
      CHECK_FALSE(m.all[i].reason.empty());
  }
}

TEST_CASE("options out of bounds are named") {
  MeasureOptions options;
  options.wide = 0;
  CHECK(options.Check().sentence().find("wide") != std::string::npos);
  CHECK(MeasureOptions{}.Check().ok());
}

}  // namespace hookline::measure
