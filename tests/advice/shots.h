// Shots put together by hand, for the advisor's tests: a steady bowler on a lane that does not change.
#pragma once

#include <string>
#include <vector>

#include "model/shot.h"

namespace hookline::test {

struct HandShot {
  double speed = 17, turn = 45, rev = 300, launch = 1.5, arrows = 15, entry = 17.5, front = 0.04, skid = 40, roll = 50;
  std::string ball = "ball A", plan = "one line";
};

// Small swings of a bowler, the same in every test; means are zero over eight shots.
inline double Swing(int number) {
  static constexpr double kSwings[] = {0.9, -0.6, 0.2, -1.1, 0.5, 1.2, -0.8, -0.3};
  return kSwings[number % 8];
}

inline Shot MakeShot(int number, const HandShot& h) {
  Shot s;
  s.number = number;
  s.bowler = "bowler";
  s.ball = h.ball;
  s.plan = h.plan;
  s.target.arrows_board = 15;
  s.target.stance_board = 25;
  const double swing = Swing(number), other = Swing(number + 3);
  Measures& m = s.measures;
  m[MeasureId::kSpeedReleaseMph] = Measure::Of(h.speed + 0.3 * swing, 0.12);
  m[MeasureId::kSpeedArrowsMph] = Measure::Of(h.speed + 0.3 * swing - 0.36, 0.1);
  m[MeasureId::kPathTurnDeg] = Measure::Of(h.turn + 3 * other, 2);
  m[MeasureId::kPathRevRpm] = Measure::Of(h.rev, 10);
  m[MeasureId::kLaunchAngleDeg] = Measure::Of(h.launch + 0.2 * other, 0.06);
  m[MeasureId::kLaydownBoard] = Measure::Of(19 + 0.3 * swing, 0.15);
  m[MeasureId::kBoardAtArrows] = Measure::Of(h.arrows + 0.4 * swing, 0.12);
  m[MeasureId::kEntryBoard] = Measure::Of(h.entry + swing, 0.2);
  m[MeasureId::kEntryAngleDeg] = Measure::Of(4 + 0.2 * swing, 0.2);
  m[MeasureId::kSkidEndFt] = Measure::Of(h.skid + swing, 2);
  m[MeasureId::kRollStartFt] = Measure::Of(h.roll + swing, 1.8);
  s.friction = {{1, 34, h.front * (1 + 0.03 * other), 0.05 * h.front}, {46, 58, 0.17 * (1 + 0.05 * swing), 0.02}};
  return s;
}

inline std::vector<Shot> Steady(int count, const HandShot& h = {}) {
  std::vector<Shot> shots;
  for (int i = 1; i <= count; ++i) shots.push_back(MakeShot(i, h));
  return shots;
}

}  // namespace hookline::test
