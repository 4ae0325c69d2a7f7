// A page's input made by hand: the shots of fixture.h with names, speed and direction along the way, advice. Invented.
#pragma once

#include <cmath>

#include "report/fixture.h"
#include "report/page.h"

namespace hookline::test {

inline Shot ShotWithSpeeds(Shot shot, int number) {
  shot.number = number;
  for (PathPoint& p : shot.path) {
    p.speed = 8.2 - 0.02 * p.y;
    p.sd_speed = 0.03 + 0.002 * p.y;
    p.angle = 0.05 - 0.008 * p.y;
    p.sd_angle = 0.002;
  }
  return shot;
}

inline report::PageInput OneShotPage() {
  report::PageInput in;
  in.shots = {ShotWithSpeeds(HookShot(), 1)};
  in.shots[0].bowler = "Robin";
  in.shots[0].ball = "blue";
  in.shots[0].measures[MeasureId::kRevRateRpm] = Measure::None("the ball's surface has no marks");
  in.lane_width = {lane::kNominalWidth};
  in.advice.shots.resize(1);
  in.advice.shots[0].number = 1;
  in.advice.cautions = {"If a hand, wrist, elbow or back hurts, stop."};
  return in;
}

inline report::PageInput SessionPage(int shots) {
  report::PageInput in;
  for (int i = 1; i <= shots; ++i) {
    Shot shot = ShotWithSpeeds(i % 4 == 0 ? GutterShot() : HookShot(), i);
    shot.bowler = "Robin";
    for (PathPoint& p : shot.path) p.x += 0.02 * i;
    in.shots.push_back(shot);
    in.lane_width.push_back(lane::kNominalWidth);
    ShotAdvice advice;
    advice.number = i;
    if (i == shots) {
      Finding f;
      f.cause = "slower";
      f.probability = 0.93;
      f.text = "The ball was released 1.2 ± 0.2 mph slower than your own 17.0 mph.";
      advice.findings = {f};
    }
    in.advice.shots.push_back(advice);
  }
  in.advice.next_move.reason = "Feet 2 boards inward, target held.";
  in.advice.next_move.stance_boards = Measure::Of(2, 0.5);
  in.advice.next_move.rule_of_thumb = "3-1-2: two boards.";
  in.advice.lane_read.text = "The last 4 shots came to the pins 1.0 ± 0.3 boards too far inward.";
  return in;
}

}  // namespace hookline::test
