// The lane as the published rules have it, in the lane frame: origin on the lane's centre line at the middle of the
// foul line's painted strip, x to the bowler's right, y down the lane, z up; metres. Right-handed.
//
// Sources: World Bowling / USBC equipment specifications as transcribed on topendsports.com (lane length and width,
// pit), dimensions.com (gutters), longlivebowling.com (pin spots, pins), piglix.com (ball). Places marked "common
// practice" are habit, not rule: the rule book gives only windows for arrows (12 to 16 ft) and dots (6 to 8 ft).
#pragma once

#include <array>
#include <cmath>

#include "lane/units.h"

namespace hookline::lane {

inline constexpr int kBoards = 39;
inline constexpr double kCentreBoard = 20.0;
inline constexpr double kNominalWidth = MetresFromInches(41.5);  // rule: 41 to 42 in
inline constexpr double kMinWidth = MetresFromInches(41.0);
inline constexpr double kMaxWidth = MetresFromInches(42.0);
inline constexpr double kHeadPinY = MetresFromFeet(60.0);                   // +- 1/2 in
inline constexpr double kPitY = MetresFromInches(62 * 12 + 10 + 3.0 / 16);  // +- 1/2 in, no tail plank
inline constexpr double kGutterWidth = MetresFromInches(9.25);
inline constexpr double kGutterDepth = MetresFromInches(1.875);
inline constexpr double kPinSpacing = MetresFromInches(12.0);
inline constexpr double kPinHeight = MetresFromInches(15.0);
inline constexpr double kPinMaxDiameter = MetresFromInches(4.766);  // at 4.5 in above the base
inline constexpr double kBallDiameter = MetresFromInches(8.55);     // rule: 8.500 to 8.595 in
// (radius of gyration / radius)^2 of a ball of which nothing is said; legal heavy balls have 0.33 to 0.43 (derived from
// the rule's 2.46 to 2.80 in), most the lower half (common practice, no source).
inline constexpr double kUsualBallK = 0.352;
inline constexpr double kMinBallDiameter = MetresFromInches(8.500);
inline constexpr double kMaxBallDiameter = MetresFromInches(8.595);
inline constexpr double kEntryY = MetresFromFeet(59.5);  // where entry board and angle are read (docs/measures.md)

enum class Hand { kRight, kLeft };

// Board width of a lane of the given width (m).
constexpr double BoardWidth(double lane_width) { return lane_width / kBoards; }

// Board as a continuous coordinate, counted from the edge of the bowler's own hand: 20.0 is the centre line.
constexpr double BoardFromX(double x, double lane_width, Hand hand) {
  const double boards = x / BoardWidth(lane_width);
  return hand == Hand::kRight ? kCentreBoard - boards : kCentreBoard + boards;
}
constexpr double XFromBoard(double board, double lane_width, Hand hand) {
  const double boards = hand == Hand::kRight ? kCentreBoard - board : board - kCentreBoard;
  return boards * BoardWidth(lane_width);
}

struct Point2 {
  double x = 0;  // m, lane frame
  double y = 0;  // m, lane frame
};

// Pin spots 1..10 (index 0 is the head pin) on the equilateral 12 in grid behind the head-pin spot.
inline std::array<Point2, 10> PinSpots() {
  const double row = kPinSpacing * std::sqrt(3.0) / 2.0, half = kPinSpacing / 2.0, y = kHeadPinY;
  return {{{0, y},
           {-half, y + row},
           {half, y + row},
           {-2 * half, y + 2 * row},
           {0, y + 2 * row},
           {2 * half, y + 2 * row},
           {-3 * half, y + 3 * row},
           {-half, y + 3 * row},
           {half, y + 3 * row},
           {3 * half, y + 3 * row}}};
}

// One lane: its width and where its seven arrow tips are, in order of board 5, 10, .. 35 counted from the RIGHT edge.
struct LaneSpec {
  double width = kNominalWidth;                            // m
  std::array<double, 7> arrow_tip_y = DefaultArrowTipY();  // m past the foul line
  bool arrows_measured = false;                            // true when the tips were seen in the picture

  // Tips when a lane's own were not measured: 12.5, 13.6, 14.7, 15.8, 14.7, 13.6, 12.5 ft (common practice, no source).
  static constexpr std::array<double, 7> DefaultArrowTipY() {
    return {MetresFromFeet(12.5), MetresFromFeet(13.6), MetresFromFeet(14.7), MetresFromFeet(15.8),
            MetresFromFeet(14.7), MetresFromFeet(13.6), MetresFromFeet(12.5)};
  }
  // x of arrow i in 0..6, m. Boards 5, 10, .. 35 (common practice).
  double ArrowX(int i) const { return XFromBoard(5.0 * (i + 1), width, Hand::kRight); }
  // y of the V through the seven tips at x, outer legs extended, m.
  double ArrowLineY(double x) const {
    const double f = (ArrowX(0) - x) / (5.0 * BoardWidth(width));  // 0 at board 5, 6 at board 35
    const int i = f <= 1 ? 0 : f >= 5 ? 5 : static_cast<int>(f);
    const double t = f - i;
    return arrow_tip_y[static_cast<std::size_t>(i)] * (1 - t) + arrow_tip_y[static_cast<std::size_t>(i) + 1] * t;
  }
};

}  // namespace hookline::lane
