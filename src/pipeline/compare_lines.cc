#include "pipeline/compare_lines.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <future>
#include <map>
#include <optional>
#include <random>
#include <tuple>

#include "advice/compare.h"
#include "advice/lane_read.h"
#include "advice/wording.h"
#include "lane/units.h"
#include "motion/what_if.h"
#include "pipeline/lane_of_ball.h"

namespace hookline::pipeline {
namespace {

using advice::kPocketBoard;
using advice::kPocketHalfWidth;

constexpr std::size_t kMapShots = 24, kLineShots = 16;  // the last ones: the lane as it is now, and time
constexpr int kDraws = 40;
constexpr int kDoubtDraws = 80;  // of the fit's doubt: told to a twelfth of itself
// Rolled this many times over the range of errors; a ball meets the friction a little beside, so what lies between is
// smooth.
constexpr int kRolledErrors = 5;
constexpr double kStepBoards = 0.5, kStepMph = 0.25, kWidestBoards = 4, kWidestMph = 2;
constexpr double kFewRevsRpm = 280, kLittleTurnDeg = 8, kFarInsideBoard = 28;

// A usual bowler's own spread (working values, unverified), and what it is worth in shots.
constexpr double kUsualWeight = 3;
struct Spread {
  double laydown = 0.45, launch_deg = 0.27, speed_mph = 0.35, turn_deg = 3, revs_rpm = 12;
};

double SpreadOf(const std::vector<Shot>& shots, MeasureId id, double usual) {
  double n = 0, sum = 0, noise = 0, squares = 0;
  for (const Shot& s : shots)
    if (const Measure& m = s.measures[id]; m.value) n += 1, sum += *m.value, noise += m.sd * m.sd;
  if (n < 2) return usual;
  for (const Shot& s : shots)
    if (const Measure& m = s.measures[id]; m.value) squares += (*m.value - sum / n) * (*m.value - sum / n);
  const double own = std::max(0.0, squares - (n - 1) * noise / n);
  return std::sqrt((own + kUsualWeight * usual * usual) / (n - 1 + kUsualWeight));
}

// One line that a bowler can play: a fitted ball, a change, and draws of the bowler's own spread, always the same ones.
struct Line {
  const motion::WhatIf* roll = nullptr;
  motion::Change base;
  Spread spread;

  // Where each draw enters with so much more at the arrows and of speed.
  std::vector<double> Entries(double boards, double mph) const {
    std::mt19937 random(314159);
    std::normal_distribution<double> normal;
    const double way = lane::MetresFromFeet(13.5) / lane::BoardWidth(lane::kNominalWidth);
    std::vector<double> out;
    for (int i = 0; i < kDraws; ++i) {
      motion::Change c = base;
      const double laydown = spread.laydown * normal(random);
      c.feet_boards += laydown;
      c.eyes_boards += laydown - way * std::tan(lane::RadiansFromDegrees(spread.launch_deg * normal(random))) + boards;
      c.speed += lane::MetresPerSecondFromMph(spread.speed_mph * normal(random) + mph);
      c.turn += lane::RadiansFromDegrees(spread.turn_deg * normal(random));
      c.revs += spread.revs_rpm * lane::kPi / 30 * normal(random);
      out.push_back(roll->EntryBoard(c));
    }
    return out;
  }
};

double PocketShare(const std::vector<double>& entries, double shift = 0) {
  int hits = 0;
  for (const double e : entries) hits += std::abs(e + shift - kPocketBoard) <= kPocketHalfWidth ? 1 : 0;
  return static_cast<double>(hits) / static_cast<double>(entries.size());
}

// Where each draw enters over a range of errors: rolled at kRolledErrors even places, cubic between. Where a draw goes
// into the gutter (NaN) at a place, straight between its neighbours, and the gutter next to it.
class EntriesOver {
 public:
  // `at(kRolledErrors / 2)` is no error.
  EntriesOver(double widest, const std::function<std::vector<double>(double)>& at) : widest_(widest) {
    for (int i = 0; i < kRolledErrors; ++i) rolled_[static_cast<std::size_t>(i)] = at(i * Step() - widest);
  }
  std::vector<double> At(double error) const {
    const double u = std::clamp((error + widest_) / Step(), 0.0, kRolledErrors - 1.0);
    const int i = std::min(static_cast<int>(u), kRolledErrors - 2), first = std::clamp(i - 1, 0, kRolledErrors - 4);
    std::vector<double> out(rolled_[0].size());
    for (std::size_t draw = 0; draw < out.size(); ++draw) {
      const auto entry = [&](int place) { return rolled_[static_cast<std::size_t>(place)][draw]; };
      double cubic = 0;
      for (int a = first; a < first + 4; ++a) {
        double weight = 1;
        for (int b = first; b < first + 4; ++b)
          if (b != a) weight *= (u - b) / (a - b);
        cubic += weight * entry(a);
      }
      out[draw] = std::isfinite(cubic) ? cubic
                  : u - i < 1e-9       ? entry(i)
                  : i + 1 - u < 1e-9   ? entry(i + 1)
                                       : entry(i) + (u - i) * (entry(i + 1) - entry(i));
    }
    return out;
  }

 private:
  double Step() const { return 2 * widest_ / (kRolledErrors - 1); }
  double widest_;
  std::array<std::vector<double>, kRolledErrors> rolled_;
};

// Width over which the share of pocket hits stays at half of its largest or more.
double Width(const EntriesOver& entries, double step, double widest) {
  std::vector<double> at;
  for (double x = -widest; x <= widest + 1e-9; x += step) at.push_back(PocketShare(entries.At(x)));
  const auto top = std::max_element(at.begin(), at.end());
  if (!(*top > 0)) return 0;
  const double half = *top / 2;
  const auto side = [&](std::ptrdiff_t way) {
    double distance = 0;
    for (auto i = top - at.begin();; i += way) {
      const auto next = i + way;
      if (next < 0 || next >= static_cast<std::ptrdiff_t>(at.size())) return distance;
      const double here = at[static_cast<std::size_t>(i)], there = at[static_cast<std::size_t>(next)];
      if (there < half) return distance + step * (here - half) / (here - there);
      distance += step;
    }
  };
  return side(1) + side(-1);
}

struct Simulated {
  Margin margin;
  std::vector<double> entries;  // of the draws, without an error
};

Simulated Simulate(const Line& line) {
  Simulated s;
  s.entries = line.Entries(0, 0);
  s.margin.pocket_share = PocketShare(s.entries);
  const auto over = [&](double boards, double mph) {
    return boards == 0 && mph == 0 ? s.entries : line.Entries(boards, mph);
  };
  s.margin.boards =
      Width(EntriesOver(kWidestBoards, [&](double boards) { return over(boards, 0); }), kStepBoards, kWidestBoards);
  s.margin.speed_mph = Width(EntriesOver(kWidestMph, [&](double mph) { return over(0, mph); }), kStepMph, kWidestMph);
  return s;
}

struct Choice {
  std::vector<Shot> shots;
  std::optional<motion::WhatIf> roll;
  Line line;
  std::optional<Simulated> simulated;
};

using Key = std::tuple<std::string, std::string, std::string>;  // bowler, ball, plan
Key KeyOf(const Shot& s) { return {s.bowler, s.ball, s.plan}; }

template <class T>
std::vector<T> Last(const std::vector<T>& all, std::size_t most) {
  return {all.end() - static_cast<std::ptrdiff_t>(std::min(most, all.size())), all.end()};
}

class Lines {
 public:
  explicit Lines(const std::vector<Shot>& shots) : shots_(shots) {}

  // Fits the choices that these shots belong to, all at once: each looks at the shots only.
  void FitAll(const std::vector<const Shot*>& of) {
    std::vector<std::future<void>> fits;
    for (const Shot* shot : of) {
      const auto [found, is_new] = choices_.try_emplace(KeyOf(*shot));
      if (!is_new) continue;
      Choice* choice = &found->second;
      fits.push_back(std::async(std::launch::async, [this, shot, choice] { Fit(*shot, choice); }));
    }
    for (std::future<void>& fit : fits) fit.get();
  }

  Choice* Of(const Shot& shot) {
    const auto [found, is_new] = choices_.try_emplace(KeyOf(shot));
    Choice& choice = found->second;
    if (is_new) Fit(shot, &choice);
    return choice.roll ? &choice : nullptr;
  }

 private:
  void Fit(const Shot& of, Choice* choice) const {
    // The last shots of this plan, on the target that was played last.
    for (const Shot& s : shots_) {
      if (s.hand != of.hand) continue;
      if (KeyOf(s) != KeyOf(of) || !s.measures[MeasureId::kEntryBoard].value) continue;
      if (!choice->shots.empty() && choice->shots.back().target.stance_board != s.target.stance_board)
        choice->shots.clear();
      choice->shots.push_back(s);
    }
    choice->shots = Last(choice->shots, kLineShots);
    if (choice->shots.size() < 2) return;
    const auto map = LaneOfBall(shots_, of, kMapShots);
    if (!map.ok()) return;
    auto roll = motion::WhatIf::Make(choice->shots, *map);
    if (!roll.ok()) return;
    choice->roll = std::move(*roll);
    choice->line.roll = &*choice->roll;
    const Spread usual;
    choice->line.spread = {SpreadOf(choice->shots, MeasureId::kLaydownBoard, usual.laydown),
                           SpreadOf(choice->shots, MeasureId::kLaunchAngleDeg, usual.launch_deg),
                           SpreadOf(choice->shots, MeasureId::kSpeedReleaseMph, usual.speed_mph),
                           SpreadOf(choice->shots, MeasureId::kPathTurnDeg, usual.turn_deg),
                           SpreadOf(choice->shots, MeasureId::kPathRevRpm, usual.revs_rpm)};
    choice->simulated = Simulate(choice->line);
  }

  const std::vector<Shot>& shots_;
  std::map<Key, Choice> choices_;
};

std::string MarginText(const std::string& name, const Margin& m) {
  return name + " hits the pocket in " + advice::Percent(m.pocket_share) + " and forgives " +
         advice::Fixed(m.boards, 1) + " boards at the arrows and " + advice::Fixed(m.speed_mph, 1) + " mph in all";
}

std::optional<double> MeanOf(const std::vector<Shot>& shots, MeasureId id) {
  double sum = 0, n = 0;
  for (const Shot& s : shots)
    if (const Measure& m = s.measures[id]; m.value) sum += *m.value, n += 1;
  return n > 0 ? std::optional(sum / n) : std::nullopt;
}

// Eyes that bring the ball with this change to the pocket.
std::optional<double> EyesFor(const motion::WhatIf& roll, const motion::Change& change) {
  const auto miss = [&](double eyes) {
    motion::Change c = change;
    c.eyes_boards = eyes;
    return roll.EntryBoard(c) - kPocketBoard;
  };
  const double from = change.feet_boards - 10;
  for (double a = from; a < from + 16; a += 1) {
    double lo = a, hi = a + 1;
    const double at_lo = miss(lo), at_hi = miss(hi);
    if (!std::isfinite(at_lo) || !std::isfinite(at_hi) || (at_lo > 0) == (at_hi > 0)) continue;
    for (int i = 0; i < 10; ++i) {
      const double mid = (lo + hi) / 2;
      ((miss(mid) > 0) == (at_lo > 0) ? lo : hi) = mid;
    }
    return (lo + hi) / 2;
  }
  return std::nullopt;
}

// Chance that the first's pocket rate is the higher one, with the doubt of where either enters.
double ChanceMore(const std::vector<double>& first, double first_sd, const std::vector<double>& second,
                  double second_sd) {
  std::mt19937 random(271828);
  std::normal_distribution<double> normal;
  constexpr int kTrials = 400;
  double more = 0;
  for (int i = 0; i < kTrials; ++i) {
    const double a = PocketShare(first, first_sd * normal(random)), b = PocketShare(second, second_sd * normal(random));
    more += a > b ? 1 : a == b ? 0.5 : 0;
  }
  return more / kTrials;
}

// The line from the far inside beside the one played last; nothing where it cannot be rolled.
std::optional<Comparison> FarInside(const std::vector<Shot>& shots, Lines& lines) {
  const Shot& last = shots.back();
  Choice* now = lines.Of(last);
  if (now == nullptr || !now->simulated) return std::nullopt;
  const auto surface = MeanOf(now->shots, MeasureId::kRevRateRpm), by_path = MeanOf(now->shots, MeasureId::kPathRevRpm);
  const auto revs = surface ? surface : by_path;
  const auto turn = MeanOf(now->shots, MeasureId::kPathTurnDeg), laydown = MeanOf(now->shots, MeasureId::kLaydownBoard);
  if (!revs || *revs >= kFewRevsRpm || !turn || *turn <= kLittleTurnDeg + 5 || !laydown || *laydown >= kFarInsideBoard)
    return std::nullopt;
  Line inside = now->line;
  inside.base.turn = lane::RadiansFromDegrees(kLittleTurnDeg - *turn);
  inside.base.feet_boards = kFarInsideBoard - *laydown;
  const auto eyes = EyesFor(*now->roll, inside.base);
  if (!eyes) return std::nullopt;
  inside.base.eyes_boards = *eyes;
  const auto here = now->roll->Ask({}, kDoubtDraws), there = now->roll->Ask(inside.base, kDoubtDraws);
  if (!std::isfinite(there.after.entry_board.sd) || there.after.gutter > 0.05) return std::nullopt;
  Comparison c;
  c.kind = "plans";
  std::vector<const Shot*> bowled;
  for (const Shot& s : now->shots) bowled.push_back(&s);
  c.first = advice::SummaryOf(last.plan.empty() ? "the line now" : last.plan, bowled);
  c.first.margin = now->simulated->margin;
  c.second.name = "almost no turn from the far inside";
  const Simulated far = Simulate(inside);
  c.second.margin = far.margin;
  c.simulated = true;
  c.first_hits_pocket_more =
      ChanceMore(now->simulated->entries, here.after.entry_board.sd, far.entries, there.after.entry_board.sd);
  const bool first = c.first_hits_pocket_more >= 0.5;
  const double sure = std::max(c.first_hits_pocket_more, 1 - c.first_hits_pocket_more);
  c.margin_text = "Not bowled yet, by simulation with your own spread and " + advice::Fixed(*revs, 0) +
                  " rpm: laid down at board " + advice::Fixed(kFarInsideBoard, 0) + " with a turn of " +
                  advice::Fixed(kLittleTurnDeg, 0) + " degrees and the ball crossing the arrows at board " +
                  advice::Fixed(there.after.board_at_arrows.value, 1) + ", it enters at " +
                  advice::WithDoubt(there.after.entry_angle.value, there.after.entry_angle.sd, 1) + " degrees. " +
                  MarginText(c.first.name, *c.first.margin) + "; " + MarginText(c.second.name, *c.second.margin) + ".";
  c.text = sure < 0.8 ? "Which of the two hits the pocket more is too close to call (" + advice::Percent(sure) +
                            " for " + (first ? c.first.name : c.second.name) + ")."
                      : (first ? c.first.name : c.second.name) + " hits the pocket more with " + advice::Percent(sure) +
                            " probability, by simulation.";
  c.strikes_text =
      "How it strikes given the pocket is not known until it is bowled; flatter angles carry less by the trade's rule.";
  return c;
}

}  // namespace

void CompareLines(const std::vector<Shot>& shots, Advice& advice) {
  if (shots.size() != advice.shots.size() || shots.empty()) return;
  std::map<int, const Shot*> by_number;
  for (std::size_t i = 0; i < shots.size(); ++i) by_number[advice.shots[i].number] = &shots[i];
  const auto shot_of = [&](const ChoiceSummary& choice) -> const Shot* {
    const auto found = choice.shots.empty() ? by_number.end() : by_number.find(choice.shots.back());
    return found == by_number.end() ? nullptr : found->second;
  };
  Lines lines(shots);
  std::vector<const Shot*> asked;
  for (const Comparison& c : advice.comparisons)
    for (const ChoiceSummary* choice : {&c.first, &c.second})
      if (const Shot* shot = shot_of(*choice)) asked.push_back(shot);
  lines.FitAll(asked);
  for (Comparison& c : advice.comparisons) {
    for (ChoiceSummary* choice : {&c.first, &c.second})
      if (const Shot* shot = shot_of(*choice))
        if (const Choice* line = lines.Of(*shot)) choice->margin = line->simulated->margin;
    if (c.first.margin && c.second.margin)
      c.margin_text = "By simulation with your own spread, on the lines as they stand now: " +
                      MarginText(c.first.name, *c.first.margin) + "; " + MarginText(c.second.name, *c.second.margin) +
                      ".";
  }
  if (auto inside = FarInside(shots, lines)) advice.comparisons.push_back(std::move(*inside));
}

}  // namespace hookline::pipeline
