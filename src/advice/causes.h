// What acted in each shot of a session: probabilities of the causes against the bowler's base before it.
//
// Each bowler has bases of speed, turn and launch angle (own_base.h), one set a plan, and a lane level (lane_level.h).
// A launch wider than the base is evidence for more turn (they come together), and a launch that is not is evidence
// against it. Where the ball crossed the arrows is judged against the target, or without one against the bowler's own
// mean for the plan: 2 boards or more off is a miss, between 1.5 and 2 undecided. Another ball and a move are what the
// user wrote.
//
// Pure and causal: a shot is judged by the shots before it and itself; one pass, a constant cost a shot.
#pragma once

#include <optional>
#include <vector>

#include "advice/lane_level.h"
#include "advice/own_base.h"
#include "advice/release_state.h"
#include "model/advice.h"
#include "model/shot.h"

namespace hookline::advice {

struct Stretch {
  double factor = 1, lift = 0;  // of log odds
};

struct CauseOptions {
  BaseOptions speed = SpeedBase(), turn = TurnBase(), launch = LaunchBase();
  LaneOptions lane;
  double ball_speed_mph = 0.1, ball_turn_deg = 1.0;  // how much a bowler's base differs with another ball
  double plan_speed_mph = 0.5, plan_turn_deg = 4;    // with another plan
  double move_launch_deg = 0.5;                      // launch after a move
  // The lane's filter doubts its measures on purpose (its own swing, odd shots), so what it states lies nearer to a
  // half than it is true: log odds are stretched, and moved. Settled on generated sessions other than those of the
  // tables (docs/advice.md).
  Stretch lane_more{1.42, 1.09}, lane_less{1.24, 0.97};
  double launch_wider = 0.7;  // share of turns that are launched wider (settled on generated sessions)
  double miss_boards = 2, miss_undecided_boards = 1.5;
  int few_shots = 4;  // below this many shots nothing is said of the bowler's own base
  Status Check() const;
};

// How one shot was judged, for the sentences.
struct ShotVerdict {
  const Shot* shot = nullptr;
  CauseChances causes;
  ReleaseState release;
  OwnBase::Verdict speed, turn, launch;
  LaneLevel::Verdict lane;
  std::optional<Estimate> off_target;  // boards at the arrows, inward positive
  bool target_given = false;
  std::vector<int> base_shots;         // numbers of the shots the base rests on, the last twelve
  int base_count = 0, turn_count = 0;  // shots the base of the speed rests on; of the turn, which is not always seen
  std::optional<double> laydown_shift, stance_shift, target_shift;  // boards, inward positive
  std::string ball_before;
  std::string result;  // what fell, in the user's words; JudgeShots leaves it empty
};

std::vector<ShotVerdict> JudgeShots(const std::vector<Shot>& shots, const CauseOptions& options = {});

}  // namespace hookline::advice
