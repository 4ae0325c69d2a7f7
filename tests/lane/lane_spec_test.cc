// The lane against the published rules. Each check names its source: "specification" is the World Bowling / USBC
// equipment specification as transcribed on the page named; "derived" is arithmetic from it.
#include "lane/lane_spec.h"

#include <doctest/doctest.h>

#include <cmath>

#include "lane/units.h"

using namespace hookline::lane;
using doctest::Approx;

TEST_CASE("lengths: specification, via topendsports.com/sport/tenpin/dimensions.htm") {
  CHECK(kHeadPinY == Approx(18.288).epsilon(1e-9));  // 60 ft
  CHECK(kPitY == Approx(19.156).epsilon(1e-4));      // 62 ft 10 3/16 in
  CHECK(InchesFromMetres(kPitY - kHeadPinY) == Approx(34 + 3.0 / 16).epsilon(1e-9));
  CHECK(kNominalWidth == Approx(1.0541).epsilon(1e-9));  // 41 1/2 in
  CHECK(InchesFromMetres(kMinWidth) == Approx(41));
  CHECK(InchesFromMetres(kMaxWidth) == Approx(42));
  // Lane and two gutters: 60 to 60 1/4 in.
  const double with_gutters = InchesFromMetres(kNominalWidth + 2 * kGutterWidth);
  CHECK(with_gutters >= 60 - 1e-9);
  CHECK(with_gutters <= 60.25 + 1e-9);
}

TEST_CASE("gutters: specification, via dimensions.com/element/bowling-lane") {
  CHECK(InchesFromMetres(kGutterWidth) == Approx(9.25));
  CHECK(InchesFromMetres(kGutterDepth) == Approx(1.875));
}

TEST_CASE("ball: specification, via piglix.com/piglix/Bowling_balls") {
  CHECK(InchesFromMetres(kMinBallDiameter) == Approx(8.500));
  CHECK(InchesFromMetres(kMaxBallDiameter) == Approx(8.595));
  CHECK(kBallDiameter > kMinBallDiameter);
  CHECK(kBallDiameter < kMaxBallDiameter);
  // Circumference 26.704 to 27.002 in, same source.
  CHECK(InchesFromMetres(kMinBallDiameter * kPi) == Approx(26.704).epsilon(1e-4));
  CHECK(InchesFromMetres(kMaxBallDiameter * kPi) == Approx(27.002).epsilon(1e-4));
}

TEST_CASE("pins: specification, via longlivebowling.com and measuringknowhow.com") {
  CHECK(InchesFromMetres(kPinHeight) == Approx(15));
  CHECK(InchesFromMetres(kPinMaxDiameter) == Approx(4.766));
  // Pin spots 12 in apart, centre to centre, neighbour to neighbour (topendsports.com).
  const auto p = PinSpots();
  const auto apart = [&](int a, int b) {
    const auto i = static_cast<std::size_t>(a - 1), j = static_cast<std::size_t>(b - 1);
    return InchesFromMetres(std::hypot(p[i].x - p[j].x, p[i].y - p[j].y));
  };
  for (const auto& [first, second] : {std::pair{1, 2},
                                      {1, 3},
                                      {2, 3},
                                      {2, 4},
                                      {2, 5},
                                      {3, 5},
                                      {3, 6},
                                      {4, 7},
                                      {4, 8},
                                      {5, 8},
                                      {5, 9},
                                      {6, 9},
                                      {6, 10},
                                      {4, 5},
                                      {5, 6},
                                      {7, 8},
                                      {8, 9},
                                      {9, 10}}) {
    const int a = first, b = second;
    CAPTURE(a);
    CAPTURE(b);
    CHECK(apart(a, b) == Approx(12.0).epsilon(1e-9));
  }
  CHECK(p[0].x == 0);
  CHECK(p[0].y == kHeadPinY);
  // Derived: rows 10.392 in apart, the back row 31.177 in behind the head pin.
  CHECK(InchesFromMetres(p[1].y - p[0].y) == Approx(10.392).epsilon(1e-4));
  CHECK(InchesFromMetres(p[6].y - p[0].y) == Approx(31.177).epsilon(1e-4));
  // Specification: the back row stands 3 in before the tail plank; it agrees with 34 3/16 in from the head pin to the
  // pit.
  CHECK(InchesFromMetres(kPitY - p[6].y) == Approx(3.0).epsilon(0.01));
  // Derived: the 7 and 10 pin spots are 2.75 in from the edges.
  CHECK(InchesFromMetres(kNominalWidth / 2 + p[6].x) == Approx(2.75).epsilon(1e-9));
  CHECK(InchesFromMetres(kNominalWidth / 2 - p[9].x) == Approx(2.75).epsilon(1e-9));
}

TEST_CASE("boards of the pins: derived from the specification, right-handed count") {
  // Not 15, 10 and 5, as a common slogan has the 3, 6 and 10 pins.
  const auto p = PinSpots();
  const double board[10] = {20.00, 25.64, 14.36, 31.28, 20.00, 8.72, 36.92, 25.64, 14.36, 3.08};
  for (std::size_t i = 0; i < 10; ++i) {
    CAPTURE(i + 1);
    CHECK(std::abs(BoardFromX(p[i].x, kNominalWidth, Hand::kRight) - board[i]) < 0.006);
    CHECK(std::abs(BoardFromX(p[i].x, kNominalWidth, Hand::kLeft) - (40 - board[i])) < 0.006);
  }
}

TEST_CASE(
    "a board: 39 to a lane, mean 1.0641 in (Int. J. Sports Sci. Coaching 2024, doi 10.1177/17479541241306543, for the "
    "39)") {
  CHECK(kBoards == 39);
  CHECK(InchesFromMetres(BoardWidth(kNominalWidth)) == Approx(1.0641).epsilon(1e-4));
  CHECK(BoardWidth(kNominalWidth) == Approx(0.02703).epsilon(1e-3));
  // On a lane of another width a board is that width / 39 (docs/measures.md).
  CHECK(InchesFromMetres(BoardWidth(kMaxWidth)) == Approx(42.0 / 39));
}

TEST_CASE("board numbers: 20 is the centre, board 1 lies at the edge of the own hand") {  // docs/measures.md
  const double half = kNominalWidth / 2;
  for (Hand hand : {Hand::kRight, Hand::kLeft}) {
    CHECK(BoardFromX(0, kNominalWidth, hand) == 20.0);
    const double own_edge = hand == Hand::kRight ? half : -half;
    CHECK(BoardFromX(own_edge, kNominalWidth, hand) == Approx(0.5));    // the outer edge of board 1
    CHECK(BoardFromX(-own_edge, kNominalWidth, hand) == Approx(39.5));  // the outer edge of board 39
    for (double board : {1.0, 5.0, 17.3, 39.0}) {
      CHECK(BoardFromX(XFromBoard(board, kNominalWidth, hand), kNominalWidth, hand) == Approx(board));
    }
    CHECK((XFromBoard(5, kNominalWidth, hand) > 0) == (hand == Hand::kRight));
  }
}

TEST_CASE(
    "arrows: the window is the specification's (hookedonbowling.com: 12 to 16 ft), their places common practice, no "
    "source") {
  const LaneSpec lane;
  CHECK_FALSE(lane.arrows_measured);
  for (double y : lane.arrow_tip_y) {
    CHECK(FeetFromMetres(y) >= 12);
    CHECK(FeetFromMetres(y) <= 16);
  }
  CHECK(InchesFromMetres(lane.ArrowX(0) - lane.ArrowX(1)) == Approx(5.32).epsilon(1e-3));  // derived: 5 boards
  CHECK(lane.ArrowX(3) == 0);
  CHECK(BoardFromX(lane.ArrowX(0), lane.width, Hand::kRight) == Approx(5));
}

TEST_CASE(
    "the line through the arrow tips goes through them and is extended beyond the outer two") {  // docs/measures.md
  LaneSpec lane;
  lane.arrow_tip_y = {3.8, 4.1, 4.5, 4.9, 4.4, 4.2, 3.7};
  for (int i = 0; i < 7; ++i)
    CHECK(lane.ArrowLineY(lane.ArrowX(i)) == Approx(lane.arrow_tip_y[static_cast<std::size_t>(i)]));
  CHECK(lane.ArrowLineY((lane.ArrowX(2) + lane.ArrowX(3)) / 2) == Approx((4.5 + 4.9) / 2));
  const double board = BoardWidth(lane.width);
  CHECK(lane.ArrowLineY(lane.ArrowX(0) + 2.5 * board) == Approx(3.8 - 0.5 * (4.1 - 3.8)));
  CHECK(lane.ArrowLineY(lane.ArrowX(6) - 2.5 * board) == Approx(3.7 - 0.5 * (4.2 - 3.7)));
}

TEST_CASE("units are exact by definition (international yard and pound agreement, 1959)") {
  CHECK(MetresFromInches(1) == 0.0254);
  CHECK(MetresFromFeet(1) == Approx(12 * 0.0254).epsilon(1e-15));
  CHECK(MetresPerSecondFromMph(1) == Approx(5280 * 0.3048 / 3600).epsilon(1e-12));
  CHECK(MphFromMetresPerSecond(MetresPerSecondFromMph(17)) == Approx(17));
  CHECK(DegreesFromRadians(RadiansFromDegrees(33)) == Approx(33));
}
