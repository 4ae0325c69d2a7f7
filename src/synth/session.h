// Whole practice sessions with exact truth, without pictures: a bowler with spread, a lane that changes, and scripted
// let-ups, turns, misses, moves and changes of ball.
//
// Each shot is the motion of ball_physics.h from a release on the lane; its measures (docs/measures.md) are read off
// that motion, and a noise of a stated sd is added to each. Where no roll begins before the pins, the measures that
// need one are missing, as in a clip. Truth per cause: 1 acted; 0 did not; empty undecided: a swing of the bowler's own
// beyond 1.5 spreads that nothing scripted explains, a crossing 1.5 to 2 boards off target, a lane that changed more
// than three shots ago or goes on changing.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "core/status.h"
#include "model/advice.h"
#include "model/shot.h"
#include "synth/ball_physics.h"

namespace hookline::synth {

struct SessionOptions {
  std::uint64_t seed = 1;
  int shots = 0;       // 0: 14 to 28 at random
  int base_shots = 5;  // at the beginning nothing is scripted in these; 1 to 100
  // Chances of a shot beyond the base.
  double slower_chance = 0.08, turn_chance = 0.07, miss_chance = 0.08, ball_chance = 0.05, move_chance = 0.04;
  double lane_step_chance = 0.5;  // of a session, once: friction up and oil shorter; of these one in five the other way
  double lane_drift_chance = 0.2;  // of a session without a step: friction rises from shot to shot
  // Sizes, from and to.
  double slower_from_mph = 0.6, slower_to_mph = 2.0, turn_from_deg = 4, turn_to_deg = 16;
  double wider_chance = 0.75;  // of a turn: the launch is wider too, by 0.4 to 1.6 deg
  bool second_plan = true;     // one session in four has a second plan, further out
  Status Check() const;
};

struct SessionShotTruth {
  std::array<std::optional<bool>, kCauseCount> causes;
  double slower_mph = 0, turn_deg = 0;  // scripted
  double speed_mph = 0, axis_rotation_deg = 0, rev_rpm = 0, entry_board = 0, entry_angle_deg = 0;
  // Read off the motion without noise, those of Shot::measures.
  Measures exact;
};

struct SessionTruth {
  double speed_mph = 0, speed_sd_mph = 0, rotation_deg = 0, rotation_sd_deg = 0, rev_rpm = 0, launch_sd_deg = 0,
         laydown_sd_board = 0;
  Friction lane;
  std::optional<int> lane_change_at;  // number of the shot
  std::vector<SessionShotTruth> shots;
};

struct Session {
  std::vector<Shot> shots;
  SessionTruth truth;
};

// Same options, same session. Precondition: options.Check().ok().
Session MakeSession(const SessionOptions& options);

// The truth as text, JSON.
std::string SessionTruthJson(const Session& session);

}  // namespace hookline::synth
