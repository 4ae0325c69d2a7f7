#include "advice/own_base.h"

#include <algorithm>
#include <cassert>
#include <cmath>

#include "advice/normal.h"

namespace hookline::advice {

Status BaseOptions::Check() const {
  if (!(mean_sd > 0) || !(spread > 0) || !(spread_log_sd > 0) || !(change_sd > 0) || !(other_sd > 0) || !(drift >= 0)) {
    return {StatusCode::kBadUse, "Every sd of a base must be above 0."};
  }
  if (!(unlike_share >= 0 && unlike_share < 1) || !(unlike_log_sd >= spread_log_sd)) {
    return {StatusCode::kBadUse, "unlike_share must be in 0 to 1, and unlike_log_sd no less than spread_log_sd."};
  }
  if (!(change_chance > 0) || !(other_chance > 0) || !(change_chance + other_chance < 1)) {
    return {StatusCode::kBadUse, "change_chance and other_chance must be above 0 and below 1 together."};
  }
  if (!(undecided > 0) || adopt_after < 2) {
    return {StatusCode::kBadUse, "undecided must be above 0 and adopt_after at least 2."};
  }
  return Status::Ok();
}

// Own spreads of speed: elite 0.2 to 0.3 mph, club 0.5 to 0.8 (working values, unverified). Let-ups that matter are
// 0.6 to 2 mph, of which 1.3 and 0.4 are mean and sd: a mile an hour moves the ball by some five boards.
BaseOptions SpeedBase() {
  BaseOptions o;
  o.mean = 17;
  o.change_chance = 0.09;
  o.mean_sd = 3;
  return o;
}

// Own spread of the turn: common practice, no source; turns that matter are 4 to 16 degrees, of which 10 and 3.5 are
// mean and sd: ten degrees move the ball by some three boards.
BaseOptions TurnBase() {
  BaseOptions o;
  o.mean = 50;
  o.mean_sd = 25;
  o.spread = 3;
  o.spread_log_sd = 0.4;
  o.change_chance = 0.075;
  o.change = 10;
  o.change_sd = 3.5;
  o.other_sd = 12;
  o.drift = 0.2;
  return o;
}

// Spread of the board at the arrows over that at the foul line: elite 0.46 boards to 1.46 at an average of 160, which
// over 13 ft is 0.2 to 0.6 deg.
BaseOptions LaunchBase() {
  BaseOptions o;
  o.mean = 1.5;
  o.mean_sd = 1.5;
  o.spread = 0.3;
  o.spread_log_sd = 0.4;
  o.change = 1.0;
  o.change_sd = 0.5;
  o.change_chance = 0.05;
  o.other_chance = 0.12;
  o.other_sd = 1.2;
  o.drift = 0.02;
  return o;
}

OwnBase::OwnBase(const BaseOptions& options) : o_(options) {
  assert(o_.Check().ok());
  double sum = 0;
  // Wider upward: a spread below that of the best changes nothing, one above that of most does.
  const double low = -2.5 * o_.spread_log_sd, high = std::max(2.5 * o_.spread_log_sd, 2 * o_.unlike_log_sd);
  for (std::size_t i = 0; i < kGrid; ++i) {
    const double log = low + (high - low) * static_cast<double>(i) / (kGrid - 1);
    const double weight = (1 - o_.unlike_share) * NormalDensity(log, 0, o_.spread_log_sd * o_.spread_log_sd) +
                          o_.unlike_share * NormalDensity(log, 0, o_.unlike_log_sd * o_.unlike_log_sd);
    nodes_[i] = {o_.spread * std::exp(log), weight, o_.mean, o_.mean_sd * o_.mean_sd};
    sum += weight;
  }
  for (Node& n : nodes_) n.weight /= sum;
}

OwnBase::Parts OwnBase::PartsOf(const Node& n, double value, double sd, double log_odds) const {
  const double s2 = n.spread * n.spread, e2 = sd * sd, seen = n.variance + s2 + e2;
  const double sign = o_.change < 0 ? -1 : 1;
  const auto small = [&](double own2) {  // share of deviations within the bound, given the value
    const double total = n.variance + own2 + e2;
    const double mean = own2 / total * (value - n.mean);
    const double left = std::sqrt(own2 * (1 - own2 / total));
    return NormalBelow((o_.undecided * n.spread - sign * mean) / left);
  };
  Parts p;
  p.own = (1 - o_.change_chance - o_.other_chance) * NormalDensity(value, n.mean, seen);
  p.own_small = p.own * small(s2);
  p.change = o_.change_chance * std::exp(std::clamp(log_odds, -20.0, 20.0)) *
             NormalDensity(value, n.mean + o_.change, seen + o_.change_sd * o_.change_sd);
  const double other2 = s2 + o_.other_sd * o_.other_sd;
  p.other = o_.other_chance * NormalDensity(value, n.mean, n.variance + other2 + e2);
  p.other_small = p.other * small(other2);
  return p;
}

OwnBase::Verdict OwnBase::Judge(double value, double sd, double log_odds) const {
  double change = 0, kept = 0, all = 0;
  for (const Node& n : nodes_) {
    const Parts p = PartsOf(n, value, sd, log_odds);
    change += n.weight * p.change;
    kept += n.weight * (p.own_small + p.other_small + p.change);
    all += n.weight * (p.own + p.other + p.change);
  }
  Verdict v;
  v.change = kept > 0 ? change / kept : 0;
  v.plain_change = all > 0 ? change / all : 0;
  v.base = mean();
  v.base_sd = mean_sd();
  v.spread = spread();
  v.shift = value - v.base;
  v.shift_sd = sd;
  return v;
}

double OwnBase::Blind(double log_odds) const {
  const double c = o_.change_chance * std::exp(std::clamp(log_odds, -20.0, 20.0));
  return c / (c + 1 - o_.change_chance);
}

void OwnBase::Learn(double value, double sd, double log_odds) {
  const bool changed = Judge(value, sd, log_odds).change > 0.5;
  ++count_;
  run_.push_back(value);
  if (!changed) run_.clear();
  if (static_cast<int>(run_.size()) >= o_.adopt_after) {
    double sum = 0;
    for (double v : run_) sum += v;
    const double n = static_cast<double>(run_.size());
    for (Node& node : nodes_) {
      node.mean = sum / n;
      node.variance = (node.spread * node.spread + sd * sd) / n;
    }
    run_.clear();
    return;
  }
  double total = 0;
  for (Node& n : nodes_) {
    const Parts p = PartsOf(n, value, sd, log_odds);
    const double all = p.own + p.other + p.change;
    if (!(all > 0)) {  // beyond what doubles hold: this spread is out of the question
      n.weight = 0;
      continue;
    }
    const double s2 = n.spread * n.spread + sd * sd;
    double mean = 0, second = 0;
    const auto add = [&](double density, double offset, double noise) {
      const double share = density / all, gain = n.variance / (n.variance + noise);
      const double m = n.mean + gain * (value - offset - n.mean), v = n.variance * (1 - gain);
      mean += share * m;
      second += share * (v + m * m);
    };
    add(p.own, 0, s2);
    add(p.change, o_.change, s2 + o_.change_sd * o_.change_sd);
    add(p.other, 0, s2 + o_.other_sd * o_.other_sd);
    n.mean = mean;
    n.variance = std::max(1e-9, second - mean * mean) + o_.drift * o_.drift;
    n.weight *= all;
    total += n.weight;
  }
  if (total > 0) {
    for (Node& n : nodes_) n.weight /= total;
  } else {
    *this = OwnBase(o_);
  }
}

void OwnBase::Loosen(double sd) {
  for (Node& n : nodes_) n.variance += sd * sd;
}

double OwnBase::mean() const {
  double m = 0;
  for (const Node& n : nodes_) m += n.weight * n.mean;
  return m;
}

double OwnBase::mean_sd() const {
  const double m = mean();
  double v = 0;
  for (const Node& n : nodes_) v += n.weight * (n.variance + (n.mean - m) * (n.mean - m));
  return std::sqrt(v);
}

double OwnBase::spread() const {
  double s = 0;
  for (const Node& n : nodes_) s += n.weight * n.spread;
  return s;
}

double OwnBase::Density(double value, double sd) const {
  double d = 0;
  for (const Node& n : nodes_) {
    const Parts p = PartsOf(n, value, sd, 0);
    d += n.weight * (p.own + p.other) / (1 - o_.change_chance);
  }
  return d;
}

double OwnBase::ChangeDensity(double value, double sd) const {
  double d = 0;
  for (const Node& n : nodes_) d += n.weight * PartsOf(n, value, sd, 0).change / o_.change_chance;
  return d;
}

}  // namespace hookline::advice
