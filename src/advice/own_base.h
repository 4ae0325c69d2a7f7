// A bowler's own base of one number (speed, turn, launch angle), learned shot by shot, and whether a shot left it.
//
// Model. A shot is x = m + d, measured with the sd its measure states. m is the bowler's mean, normal with a wide
// prior. d is one of three: the bowler's own swing N(0, s^2); a change that the advisor looks for (let up on speed,
// turned more), N(change, change_sd^2), and on top the swing; or anything else, N(0, other_sd^2). The spread s is not
// known: its prior over the population of bowlers is log-normal for most, and far wider for those who are like nobody
// else (a beginner, somebody who tries another release with each ball), kept on a grid. So what comes next is predicted
// with a Student-like distribution: after one shot almost any difference may be that bowler's own swing, after three it
// is wide, and it narrows as shots come in. Learning weighs a shot by the probability of each of the three, so a let-up
// does not pull the base, nor widen the spread.
//
// What is asked. "More than the bowler's own": a swing of the bowler's own beyond `undecided` spreads in the direction
// looked for, with nothing behind it, is neither a change nor none. The probability is that of a change against that of
// a swing within the bound, such swings left out.
//
// A change that has come `adopt_after` times running is the new base. Any units, the same throughout.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include "core/status.h"

namespace hookline::advice {

struct BaseOptions {
  double mean = 0, mean_sd = 10;                     // prior of the mean
  double spread = 0.4, spread_log_sd = 0.45;         // prior of the bowler's own sd: median, sd of its log
  double unlike_share = 0.2, unlike_log_sd = 1.2;    // of bowlers unlike most: how many, sd of the log of theirs
  double change = -1.3, change_sd = 0.4;             // what is looked for, signed
  double change_chance = 0.08, other_chance = 0.02;  // in any shot
  double other_sd = 1.2;
  double drift = 0.02;     // sd of the mean's walk from shot to shot
  double undecided = 1.5;  // own spreads
  int adopt_after = 5;     // shots
  Status Check() const;
};

BaseOptions SpeedBase();   // mph
BaseOptions TurnBase();    // deg
BaseOptions LaunchBase();  // deg

class OwnBase {
 public:
  explicit OwnBase(const BaseOptions& options);

  struct Verdict {
    double change = 0;        // probability, see above
    double plain_change = 0;  // the same without leaving out undecided swings: the weight in learning
    double base = 0, base_sd = 0;
    double spread = 0;               // posterior mean
    double shift = 0, shift_sd = 0;  // value less base, and its measured doubt
  };
  // `log_odds`: evidence for the change from other measures, natural log of the likelihood ratio.
  Verdict Judge(double value, double sd, double log_odds = 0) const;
  // Probability without a value: the prior, moved by `log_odds`.
  double Blind(double log_odds = 0) const;

  void Learn(double value, double sd, double log_odds = 0);
  // The base may have moved by about `sd`: another ball, another plan.
  void Loosen(double sd);

  int count() const { return count_; }
  double mean() const;
  double mean_sd() const;
  double spread() const;
  // Density of a value that is the bowler's own swing or anything else; of one that is a change.
  double Density(double value, double sd) const;
  double ChangeDensity(double value, double sd) const;

 private:
  static constexpr std::size_t kGrid = 19;
  struct Node {
    double spread = 0, weight = 0, mean = 0, variance = 0;
  };
  struct Parts {
    double own = 0, own_small = 0, change = 0, other = 0, other_small = 0;  // joint densities with the prior chances
  };
  Parts PartsOf(const Node& node, double value, double sd, double log_odds) const;

  BaseOptions o_;
  std::array<Node, kGrid> nodes_;
  int count_ = 0;
  std::vector<double> run_;  // values of the changes that came one after another
};

}  // namespace hookline::advice
