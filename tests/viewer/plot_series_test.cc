#include "viewer/plot_series.h"

#include <doctest/doctest.h>

#include <cmath>

#include "lane/units.h"
#include "report/fixture.h"
#include "viewer/sample_session.h"

using namespace hookline;
using namespace hookline::viewer;

TEST_CASE("board, speed and angle of a path with a formula") {
  Shot shot = test::HookShot();
  shot.measures[MeasureId::kSpeedReleaseMph] = Measure::Of(17.6, 0.2);
  shot.measures[MeasureId::kSpeedArrowsMph] = Measure::Of(17.5, 0.1);
  shot.measures[MeasureId::kSpeedEntryMph] = Measure::Of(16, 0.4);
  const double width = lane::kNominalWidth;
  // x = 0.30 - 0.22 f^2, f = (y - 38 ft)/38 ft; y at 7.85 m/s.
  const double length = lane::MetresFromFeet(38), y = lane::MetresFromFeet(50), f = (y - length) / length;
  const double x = 0.30 - 0.22 * f * f, slope = -0.44 * f / length;
  const PlotSeries board = SeriesOf(shot, PlotKind::kBoard, width), speed = SeriesOf(shot, PlotKind::kSpeed, width),
                   angle = SeriesOf(shot, PlotKind::kAngle, width);
  CHECK(PointAt(board, 50)->value == doctest::Approx(lane::BoardFromX(x, width, lane::Hand::kRight)).epsilon(1e-4));
  CHECK(PointAt(board, 50)->sd ==
        doctest::Approx(std::hypot(0.002, slope * 0.01) / lane::BoardWidth(width)).epsilon(1e-3));
  CHECK(PointAt(speed, 50)->value ==
        doctest::Approx(lane::MphFromMetresPerSecond(7.85 * std::hypot(1, slope))).epsilon(1e-5));
  CHECK(PointAt(angle, 50)->value == doctest::Approx(lane::DegreesFromRadians(std::atan(-slope))).epsilon(1e-3));
  // Straight between the measures' doubts: at 15 ft 0.1, at 59 ft 0.4, half way 0.25.
  CHECK(PointAt(speed, 15)->sd == doctest::Approx(0.1).epsilon(0.02));
  CHECK(PointAt(speed, 37)->sd == doctest::Approx(0.25).epsilon(0.02));
  CHECK_FALSE(PointAt(board, 0.5));
  CHECK_FALSE(PointAt(board, 62));
}

TEST_CASE("a left hander's board and angle count from the own hand") {
  Shot right = test::HookShot(), left = right;
  left.hand = lane::Hand::kLeft;
  for (PathPoint& p : left.path) p.x = -p.x;
  for (const PlotKind kind : {PlotKind::kBoard, PlotKind::kAngle, PlotKind::kSpeed}) {
    const auto a = PointAt(SeriesOf(right, kind, 1.05), 45), b = PointAt(SeriesOf(left, kind, 1.05), 45);
    CHECK(a->value == doctest::Approx(b->value));
  }
}

TEST_CASE("plots pass through the shot's own measures") {
  // Against simulated shots: the measures carry errors of about their sd, the path none.
  const test::SampleSession session = test::MakeSampleSession();
  for (const Shot& shot : session.shots) {
    CAPTURE(shot.number);
    const auto check = [&](PlotKind kind, double ft, MeasureId id) {
      const Measure& m = shot.measures[id];
      const auto p = PointAt(SeriesOf(shot, kind, lane::kNominalWidth), ft);
      REQUIRE(p);
      CHECK(std::abs(p->value - *m.value) < 4 * m.sd);
    };
    check(PlotKind::kSpeed, 15, MeasureId::kSpeedArrowsMph);
    check(PlotKind::kSpeed, 2, MeasureId::kSpeedReleaseMph);
    check(PlotKind::kBoard, 15, MeasureId::kBoardAt15Ft);
    check(PlotKind::kBoard, 40, MeasureId::kBoardAt40Ft);
  }
}

TEST_CASE("speed and angle that a path keeps are taken as they are, with their doubt") {
  for (const lane::Hand hand : {lane::Hand::kRight, lane::Hand::kLeft}) {
    Shot shot = test::HookShot();
    shot.hand = hand;
    for (PathPoint& p : shot.path) {
      p.speed = 8;
      p.sd_speed = 0.1;
      p.angle = lane::RadiansFromDegrees(-2);  // to the left
      p.sd_angle = lane::RadiansFromDegrees(0.3);
    }
    const auto speed = PointAt(SeriesOf(shot, PlotKind::kSpeed, lane::kNominalWidth), 30),
               angle = PointAt(SeriesOf(shot, PlotKind::kAngle, lane::kNominalWidth), 30);
    CHECK(speed->value == doctest::Approx(lane::MphFromMetresPerSecond(8)));
    CHECK(speed->sd == doctest::Approx(lane::MphFromMetresPerSecond(0.1)));
    CHECK(angle->value == doctest::Approx(hand == lane::Hand::kRight ? 2 : -2));
    CHECK(angle->sd == doctest::Approx(0.3));
  }
}

TEST_CASE("a rough path's speed is not as rough") {
  // Each place off by up to a centimetre: differences of neighbours would swing by 0.9 m/s, 2 mph.
  Shot shot = test::HookShot();
  for (std::size_t i = 0; i < shot.path.size(); ++i) shot.path[i].y += i % 2 == 0 ? 0.0075 : -0.0075;
  const PlotSeries speed = SeriesOf(shot, PlotKind::kSpeed, lane::kNominalWidth);
  for (double ft = 5; ft < 55; ft += 1)
    CHECK(std::abs(PointAt(speed, ft)->value - lane::MphFromMetresPerSecond(7.85)) < 0.25);
}

TEST_CASE("a reading is written as its measure would be") {
  Shot shot = test::HookShot();
  shot.measures[MeasureId::kSpeedReleaseMph] = Measure::Of(17.6, 0.2);
  shot.measures[MeasureId::kSpeedArrowsMph] = shot.measures[MeasureId::kSpeedEntryMph] = Measure::Of(17.5, 0.2);
  CHECK(PointText(SeriesOf(shot, PlotKind::kSpeed, 1.0541), PlotKind::kSpeed, 38) == "17.6 ±0.2 mph");
  CHECK(PointText(SeriesOf(shot, PlotKind::kBoard, 1.0541), PlotKind::kBoard, 38) == "board 8.9 ±0.1");
  CHECK(PointText(SeriesOf(shot, PlotKind::kSpeed, 1.0541), PlotKind::kSpeed, 70).empty());
  for (MeasureId id : {MeasureId::kSpeedReleaseMph, MeasureId::kSpeedArrowsMph, MeasureId::kSpeedEntryMph})
    shot.measures[id] = Measure::None("not measured");
  CHECK(PointText(SeriesOf(shot, PlotKind::kSpeed, 1.0541), PlotKind::kSpeed, 38) == "17.6 mph");
}

TEST_CASE("a shot without a path says what to do") {
  Shot shot = test::HookShot();
  shot.path.resize(2);
  const PlotSeries series = SeriesOf(shot, PlotKind::kBoard, 1.05);
  CHECK(series.points.empty());
  CHECK(series.reason.find("measure its clip") != std::string::npos);
}

TEST_CASE("axes hold their readings in round steps") {
  for (const auto& [low, high, most] : {std::tuple{13.2, 17.9, 6},
                                        {-4.7, 3.1, 8},
                                        {0.001, 0.0042, 5},
                                        {3.0, 3.0, 4},
                                        {0.0, 0.0, 3},
                                        {98.0, 2013.0, 4}}) {
    const double from = low;
    CAPTURE(from);
    const PlotAxis axis = AxisFor(low, high, most);
    CHECK(axis.low <= low);
    CHECK(axis.high >= high);
    CHECK(axis.high > axis.low);
    CHECK((axis.high - axis.low) / axis.step <= most + 0.5);
    const double lead = axis.step / std::pow(10.0, std::floor(std::log10(axis.step) + 1e-9));
    CHECK((std::abs(lead - 1) < 1e-6 || std::abs(lead - 2) < 1e-6 || std::abs(lead - 5) < 1e-6));
    // Neighbouring steps must not be written alike.
    CHECK(axis.Text(axis.low) != axis.Text(axis.low + axis.step));
  }
}
