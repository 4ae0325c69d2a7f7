// Whether the friction that a bowler's balls meet has changed.
//
// State of the lane: a log of the friction in front, L where the front's friction ends (ft), c log of the friction at
// the back; with them the grip g of each further ball (log, against the first ball, the same in front and at the back),
// the slope b of log friction per board outward (the outside of a lane is drier), and an offset of roll start, which
// rests on k. What a shot measures:
//   log front friction = a + g + b line       skid end = L
//   log back friction  = c + g                roll start = f(speed, turn, revs, friction) + offset
// with `line` the board where the release points at 28 ft, less that of the first shot. Each shot the lane may jump:
// friction up and oil shorter (hooks more), or the other way (hooks less). All that the lane does together is one jump,
// so front, skid end and roll start speak jointly; another ball moves g and not the lane; a slower or turned ball moves
// roll start by physics and not the lane; a shot off the line is given less weight.
//
// Filter: normals, one for every recent jump that may have been (none within `window` shots; more or less at each of
// them), merged beyond. Linearised in roll start. Limits: one lane, one bowler; at most 6 further balls told apart.
#pragma once

#include <Eigen/Core>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "advice/release_state.h"
#include "core/status.h"

namespace hookline::advice {

struct LaneOptions {
  double more_chance = 0.03, less_chance = 0.01;  // of a jump, each shot
  double jump_log = 0.22, jump_log_sd = 0.12;     // of front friction, hooks more; the other way with less
  double jump_ft = 2.5, jump_ft_sd = 2.0;         // of the skid's end, towards the bowler
  double jump_back_sd = 0.06;                     // log of back friction
  double grip_sd = 0.22;                          // log, balls against each other
  double slope = 0.03, slope_sd = 0.03;           // log friction per board outward
  double swing_log = 0.025, swing_ft = 0.5;       // of a shot, beyond what is measured
  double off_line_log = 0.03, off_line_ft = 0.3;  // more per board off the line
  double drift_log = 0.006, drift_ft = 0.1;       // from shot to shot
  double move_log = 0.06, move_ft = 0.7;          // at a new line
  double odd_chance = 0.03, odd_times = 4;        // shots whose measures are worth little
  int window = 5;                                 // shots for which a jump counts as a change against the base
  Status Check() const;
};

struct LaneSight {
  std::string ball;
  std::optional<Estimate> front, back, skid_end_ft, roll_start_ft;
  std::optional<Estimate> speed_mph, turn_deg, rev_rpm;  // roll start is used where all three are there
  double line_board = 0;                                 // inward positive, against the first shot
  double off_line = 0;                                   // boards from the usual line of this target
  bool new_line = false;
};

class LaneLevel {
 public:
  explicit LaneLevel(const LaneOptions& options);

  struct Verdict {
    double more = 0, less = 0;
    std::optional<Estimate> front_change;  // relative, of the most likely jump; sd too
    int shots_ago = -1;                    // of that jump: 0 in this shot
    double level = 0, level_sd = 0;        // log front friction of the lane
  };
  Verdict Learn(const LaneSight& sight);

 private:
  static constexpr int kFixed = 5, kBalls = 6, kMost = kFixed + kBalls;
  using Vector = Eigen::Matrix<double, Eigen::Dynamic, 1, 0, kMost, 1>;
  using Matrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, kMost, kMost>;
  struct Branch {
    double log_weight = 0;
    int sign = 0;  // of the last jump within the window; 0 none
    int ago = 0;
    double before = 0, before_var = 0;  // log front friction of the lane before that jump
    Vector mean;
    Matrix cov;
  };
  double Update(Branch& branch, const LaneSight& sight, int ball, double times) const;
  static void Merge(Branch& into, const Branch& other);

  LaneOptions o_;
  std::vector<Branch> branches_;
  std::map<std::string, int> balls_;  // -1: the first
  bool started_ = false;
};

}  // namespace hookline::advice
