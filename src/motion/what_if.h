// A measured shot, or the mean of several, rolled again by the physics with something changed: feet and eyes moved,
// more or less speed, turn or revs.
//
// The ball's release (place, direction, speed, spin) and a scale of the friction in front and down the lane are fitted
// to the measures, the friction map being the lane; then the same ball is rolled as it was and as changed, for draws
// from the fit's posterior, so the doubt of release and lane is carried into the answer, that
// of the friction on a line nobody rolled on too. The difference of the two is
// better known than either. Limits: the lane's own friction off the lines that were rolled is what the map says there.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "core/status.h"
#include "lane/lane_spec.h"
#include "model/shot.h"
#include "motion/friction_map.h"

namespace hookline::motion {

// Boards inward positive; 0: as it was.
struct Change {
  double feet_boards = 0;  // of stance and laydown
  double eyes_boards = 0;  // of the target at the arrows
  double speed = 0;        // m/s more
  double turn = 0;         // rad more of axis rotation
  double revs = 0;         // rad/s more of spin
};

struct ValueAndSd {
  double value = 0, sd = 0;
};

// Boards of the own hand, ft, deg, mph: the measures' own units. NaN where the ball goes into the gutter or has no such
// place.
struct Outcome {
  ValueAndSd board_at_arrows, board_at_40ft, breakpoint_board, breakpoint_y, entry_board, entry_angle, entry_speed,
      roll_y;
  bool has_breakpoint = true;
  double gutter = 0;                  // probability
  std::vector<Eigen::Vector2d> path;  // m, of the mean
};

struct WhatIfOptions {
  int draws = 200;
  double ball_k = lane::kUsualBallK;
  double revs_rpm = 300;  // prior where the path tells no revs, and its sd
  double revs_sd_rpm = 120;
  double turn_deg = 45;
  double turn_sd_deg = 25;
  Status Check() const;
};

struct WhatIfAnswer {
  Outcome before, after;
  ValueAndSd entry_board_change, entry_angle_change;
  double misfit = 0;  // root mean square of (fitted - measured) / sd: about 1 when the physics explains the shot
};

class WhatIf {
 public:
  // `shots`: of one bowler, ball and line; their mean is rolled. kNotDetermined when they lack what a release is fitted
  // to (speed, boards at the arrows and at the pins).
  static Result<WhatIf> Make(const std::vector<Shot>& shots, const FrictionMap& map, const WhatIfOptions& options = {});
  WhatIfAnswer Ask(const Change& change) const { return Ask(change, options_.draws); }
  // With another number of draws: fewer are quicker, their doubt is rougher. Precondition: 10 or more.
  WhatIfAnswer Ask(const Change& change, int draws) const;
  // Entry board of the mean alone, quick; NaN when the ball does not get there or goes into the gutter.
  double EntryBoard(const Change& change) const;
  lane::Hand hand() const { return hand_; }

 private:
  static constexpr int kParameters = 8;
  using Parameters = Eigen::Matrix<double, kParameters, 1>;
  struct Rolled;
  // Sd of the log friction on the changed line against that on the rolled one, in front and down the lane.
  Eigen::Vector2d NewLineSd(const Rolled& before, const Rolled& after) const;
  Rolled Roll(const Parameters& p, const Change& change) const;
  WhatIfOptions options_;
  lane::Hand hand_ = lane::Hand::kRight;
  std::shared_ptr<const FrictionMap> map_;
  FrictionField field_;
  double step_y_ = 0, step_width_ = 1;
  double laydown_y_ = 0;
  double arrows_y_ = 0;
  Parameters fit_ = Parameters::Zero();
  Eigen::MatrixXd root_;  // of the posterior's covariance
  double misfit_ = 0;
};

}  // namespace hookline::motion
