// One ball down the lane without pictures: the measures of docs/measures.md read off the motion of ball_physics.h,
// exact to its time step.
#pragma once

#include <optional>
#include <vector>

#include "lane/lane_spec.h"
#include "model/measures.h"
#include "synth/ball_physics.h"

namespace hookline::synth {

struct Release {
  lane::Hand hand = lane::Hand::kRight;
  double speed_mph = 17;
  double rev_rpm = 300, axis_rotation_deg = 45, axis_tilt_deg = 10;
  double launch_deg = 1.5;    // outward positive
  double laydown_board = 20;  // on the lane at once, 1 ft past the foul line
};

struct LaneRun {
  Measures measures;  // sd 0 where there is a value
  std::vector<FrictionZone> friction;
  std::optional<double> entry_s, gutter_ft;  // from the release
  bool gutter_own_side = false;
};

// `grip`: the ball's factor on the lane's friction. `step_s`: 0.0005 to 0.01.
LaneRun RunOnLane(const Release& release, const lane::LaneSpec& spec, const Friction& lane, double grip, double k,
                  double step_s);

}  // namespace hookline::synth
