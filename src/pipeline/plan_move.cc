#include "pipeline/plan_move.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "advice/lane_read.h"
#include "lane/units.h"
#include "motion/what_if.h"
#include "pipeline/lane_of_ball.h"
#include "report/number_text.h"

namespace hookline::pipeline {
namespace {

using advice::kPocketBoard;
using report::FixedText;

constexpr std::size_t kFewest = 3;
constexpr std::size_t kMapShots = 40;
constexpr int kDoubtDraws = 80;  // the same ones for each kind of move; their doubt is told to a twelfth of itself
constexpr double kMostBoards = 10;

// Boards. Of the means over bowlers about a target that was said; of one bowler's shots at the arrows and at the foul
// line (working values, common practice).
constexpr double kHabitBoards = 0.2, kArrowsSpread = 0.85, kLaydownSpread = 0.45;

struct MeanOf {
  double sum = 0, n = 0;
  void Add(const Shot& shot, MeasureId id) {
    const Measure& m = shot.measures[id];
    if (m.value) sum += *m.value, n += 1;
  }
  std::optional<double> mean() const { return n > 0 ? std::optional<double>(sum / n) : std::nullopt; }
};

// How far the mean over `all` lies above that over `some`; 0 when either has none.
double Above(const std::vector<Shot>& all, const std::vector<Shot>& some, MeasureId id) {
  MeanOf a, b;
  for (const Shot& s : all) a.Add(s, id);
  for (const Shot& s : some) b.Add(s, id);
  return a.mean() && b.mean() ? *a.mean() - *b.mean() : 0;
}

bool SameLine(const Shot& a, const Shot& b) {
  return a.plan == b.plan && a.target.arrows_board == b.target.arrows_board &&
         a.target.stance_board == b.target.stance_board && a.target.target_board == b.target.target_board;
}

double Squared(double x) { return x * x; }

// A bowler's own spread of a measure over shots, what the measuring adds taken off.
double OwnSpread(const std::vector<Shot>& shots, MeasureId id) {
  MeanOf mean;
  for (const Shot& s : shots) mean.Add(s, id);
  if (mean.n < 2) return 0;
  double squares = 0, noise = 0;
  for (const Shot& s : shots)
    if (const Measure& m = s.measures[id]; m.value) squares += Squared(*m.value - *mean.mean()), noise += Squared(m.sd);
  return std::sqrt(std::max(0.0, squares / (mean.n - 1) - noise / mean.n));
}

// The mean of these very shots as one shot. Their releases and where they went are means of the same balls, so their
// spread is no doubt between the two: only the measuring is, where a measure is missing in some the spread for those,
// and a share of it because the mean ball does not roll quite like the mean of the balls. Taken as doubt, the spread
// would leave the friction untold and the miss would be put down to the release.
Shot MeanShot(const std::vector<Shot>& line) {
  constexpr double kUnevenShare = 0.2;
  Shot mean = line.back();
  const double n = static_cast<double>(line.size());
  for (std::size_t i = 0; i < kMeasureCount; ++i) {
    const auto id = static_cast<MeasureId>(i);
    double sum = 0, noise = 0, m = 0;
    for (const Shot& s : line)
      if (const Measure& one = s.measures[id]; one.value) sum += *one.value, noise += Squared(one.sd), m += 1;
    if (m == 0) continue;
    const double spread = OwnSpread(line, id);
    mean.measures[id] = Measure::Of(
        sum / m, std::sqrt(noise / (m * m) + Squared(spread) * (1 / m - 1 / n) + Squared(kUnevenShare * spread) / m));
  }
  return mean;
}

motion::Change Plus(const motion::Change& a, double feet, double eyes) {
  motion::Change out = a;
  out.feet_boards += feet;
  out.eyes_boards += eyes;
  return out;
}

// Boards of feet that bring the entry to the pocket, with eyes `share` of it; nullopt when none within reach does.
std::optional<double> Solve(const motion::WhatIf& what_if, const motion::Change& base, double share) {
  const auto miss = [&](double feet) { return what_if.EntryBoard(Plus(base, feet, share * feet)) - kPocketBoard; };
  const double now = miss(0);
  if (!std::isfinite(now)) return std::nullopt;
  // Outward from where the ball is, both ways: the nearest change of sign.
  constexpr double kStep = 0.5;
  double inner[] = {now, now};
  for (double a = 0; a < kMostBoards; a += kStep)
    for (const int way : {0, 1}) {
      const double side = way == 0 ? 1 : -1;
      double lo = side * a, hi = side * (a + kStep), at_lo = inner[way], at_hi = miss(hi);
      inner[way] = at_hi;
      if (!std::isfinite(at_lo) || !std::isfinite(at_hi) || (at_lo > 0) == (at_hi > 0)) continue;
      // Half a board is nearly straight, and the answer is rounded to one: a chord and another from its better side.
      for (int i = 0; i < 3; ++i) {
        const double mid = lo - at_lo * (hi - lo) / (at_hi - at_lo), at_mid = miss(mid);
        if (std::abs(at_mid) < 0.01) return mid;
        if ((at_mid > 0) == (at_lo > 0)) {
          lo = mid, at_lo = at_mid;
        } else {
          hi = mid, at_hi = at_mid;
        }
      }
      return lo - at_lo * (hi - lo) / (at_hi - at_lo);
    }
  return std::nullopt;
}

std::string Boards(double boards, const char* what) {
  if (boards == 0) return std::string(what) + " where they are";
  return std::string(what) + " " + FixedText(std::abs(boards), 1) + (boards > 0 ? " boards inward" : " boards outward");
}

}  // namespace

void PlanMoveByPhysics(const std::vector<Shot>& shots, Advice& advice) {
  std::vector<Shot> line;
  for (const Shot& shot : shots)
    if (std::find(advice.lane_read.shots.begin(), advice.lane_read.shots.end(), shot.number) !=
        advice.lane_read.shots.end())
      line.push_back(shot);
  if (line.size() < kFewest || !advice.next_move.stance_boards) return;
  const Shot& last = line.back();
  // The same ball's shots teach the lane; the good ones among them, the bowler's own release; those of them on this
  // line, where the bowler lays it down and crosses the arrows, whatever the lane did since.
  std::vector<Shot> good, on_line;
  for (std::size_t i = 0; i < shots.size(); ++i) {
    const Shot& shot = shots[i];
    if (shot.ball != last.ball || shot.bowler != last.bowler || shot.hand != last.hand) continue;
    const CauseChances& causes = advice.shots[i].causes;
    if (causes[Cause::kSlower] >= 0.5 || causes[Cause::kMoreTurn] >= 0.5) continue;
    good.push_back(shot);
    if (SameLine(shot, last) && causes[Cause::kMissedIn] < 0.5 && causes[Cause::kMissedOut] < 0.5)
      on_line.push_back(shot);
  }
  const auto map = LaneOfBall(shots, last, kMapShots);
  if (!map.ok()) return;
  const auto what_if = motion::WhatIf::Make({MeanShot(line)}, *map);
  if (!what_if.ok()) return;
  motion::Change base;
  base.speed = lane::MetresPerSecondFromMph(Above(good, line, MeasureId::kSpeedReleaseMph));
  base.turn = lane::RadiansFromDegrees(Above(good, line, MeasureId::kPathTurnDeg));
  base.revs = Above(good, line, MeasureId::kPathRevRpm) * lane::kPi / 30;
  base.feet_boards = Above(on_line, line, MeasureId::kLaydownBoard);
  base.eyes_boards = Above(on_line, line, MeasureId::kBoardAtArrows);
  MeanOf arrows;
  for (const Shot& s : on_line) arrows.Add(s, MeasureId::kBoardAtArrows);
  if (last.target.arrows_board && arrows.mean()) {
    // A bowler's crossings lie about the target: off it by habit and by the half board to which it is said, or by the
    // luck of a few shots, of which the laydown had its part.
    const double habit = kHabitBoards * kHabitBoards, luck = kArrowsSpread * kArrowsSpread / arrows.n;
    const double by_luck = luck / (habit + luck) * (*last.target.arrows_board - *arrows.mean());
    base.eyes_boards += by_luck;
    base.feet_boards += kLaydownSpread * kLaydownSpread / (kArrowsSpread * kArrowsSpread) * by_luck;
  }
  // How far the mean of so few shots may lie from the bowler's own, where the ball enters.
  const double few = std::sqrt(static_cast<double>(std::max<std::size_t>(good.size(), 1)));
  const double few_on_line = std::sqrt(static_cast<double>(std::max<std::size_t>(on_line.size(), 1)));
  const auto by = [&](motion::Change less, motion::Change more) {
    const double a = what_if->EntryBoard(less), b = what_if->EntryBoard(more);
    return std::isfinite(a) && std::isfinite(b) ? (b - a) / 2 : 0;
  };
  const auto step = [&](double motion::Change::*what, double size) {
    motion::Change less = base, more = base;
    less.*what -= size;
    more.*what += size;
    return by(less, more);
  };
  const double target_share =
      last.target.arrows_board && arrows.mean()
          ? std::sqrt(Squared(kHabitBoards) / (Squared(kHabitBoards) + Squared(kArrowsSpread) / arrows.n))
          : 1;
  const double of_few =
      std::sqrt(Squared(step(&motion::Change::speed, lane::MetresPerSecondFromMph(0.35) / few)) +
                Squared(step(&motion::Change::turn, lane::RadiansFromDegrees(3) / few)) +
                Squared(step(&motion::Change::feet_boards, kLaydownSpread / few_on_line)) +
                Squared(step(&motion::Change::eyes_boards, kArrowsSpread * target_share / few_on_line)));
  const auto doubt = [&](const motion::WhatIfAnswer& answer) {
    return std::hypot(answer.after.entry_board.sd, of_few);
  };
  struct Kind {
    double feet, eyes;
    motion::WhatIfAnswer answer;
  };
  std::optional<Kind> best;
  const motion::WhatIfAnswer stay = what_if->Ask(base, kDoubtDraws);
  const double miss = stay.after.entry_board.value - kPocketBoard;
  if (!std::isfinite(miss)) return;
  NextMove& move = advice.next_move;
  const std::string rests = FixedText(static_cast<double>(line.size()), 0) +
                            " good shots on this line and the friction of " + FixedText(map->shots(), 0) +
                            (map->shots() == 1 ? " shot" : " shots");
  const auto fill = [&](double feet, double eyes, const motion::WhatIfAnswer& answer) {
    // A board of feet moves the entry by this many: its doubt is that of the entry, taken back.
    const double slope = std::abs(
        (what_if->EntryBoard(Plus(base, feet + 0.5, eyes)) - what_if->EntryBoard(Plus(base, feet - 0.5, eyes))));
    move.stance_boards = Measure::Of(feet, doubt(answer) / std::max(std::isfinite(slope) ? slope : 1.5, 0.3));
    move.target_boards = eyes;
    move.speed_mph = 0;
    move.turn_deg = 0;
    move.entry_board = Measure::Of(answer.after.entry_board.value, doubt(answer));
    move.entry_angle_deg = answer.after.entry_angle.value;
    move.shots_used = static_cast<int>(line.size());
  };
  if (std::abs(miss) < std::max(0.5, 0.5 * doubt(stay))) {
    fill(0, 0, stay);
    move.reason = "Stay: by the physics your mean ball enters at board " + FixedText(stay.after.entry_board.value, 1) +
                  " ±" + FixedText(doubt(stay), 1) + ", from " + rests + ".";
    return;
  }
  for (const double share : {0.5, 0.0, 1.0}) {
    const auto exact = Solve(*what_if, base, share);
    if (!exact) continue;
    // Half boards are what a bowler can do: of those about the exact move, the pair that comes nearest.
    double feet = 0, eyes = 0, nearest = INFINITY;
    for (int i = -1; i <= 1; ++i)
      for (int k = -1; k <= 1; ++k) {
        double f = std::round(2 * *exact) / 2 + 0.5 * i;
        const double e = std::round(2 * share * *exact) / 2 + 0.5 * k;
        if (last.target.stance_board)
          f = std::clamp(*last.target.stance_board + f, 1.0, 39.0) - *last.target.stance_board;
        const double off = std::abs(what_if->EntryBoard(Plus(base, f, e)) - kPocketBoard);
        // A gain below a tenth of a board is no reason for a larger move.
        if (!(off + 0.1 * (std::abs(i) + std::abs(k)) < nearest)) continue;
        nearest = off + 0.1 * (std::abs(i) + std::abs(k));
        feet = f;
        eyes = e;
      }
    if (!std::isfinite(nearest)) continue;
    const motion::WhatIfAnswer answer = what_if->Ask(Plus(base, feet, eyes), kDoubtDraws);
    // The lane's edge with half a ball to spare, and no ball in the gutter.
    const double arrows = answer.after.board_at_arrows.value;
    if (!(arrows > 3 && arrows < 37) || answer.after.gutter > 0.05) continue;
    const auto cost = [&](const Kind& k) {
      return std::abs(k.answer.after.entry_board.value - kPocketBoard) + doubt(k.answer) + 0.1 * std::abs(k.feet);
    };
    Kind kind{feet, eyes, answer};
    if (!best || cost(kind) < cost(*best)) best = kind;
  }
  if (!best) return;
  fill(best->feet, best->eyes, best->answer);
  move.reason = "By the physics your mean ball enters at board " + FixedText(stay.after.entry_board.value, 1) + " ±" +
                FixedText(doubt(stay), 1) + "; with the " + Boards(best->feet, "feet") +
                ", the laydown with them, and the " + Boards(best->eyes, "eyes") + " it enters at " +
                FixedText(best->answer.after.entry_board.value, 1) + " ±" + FixedText(doubt(best->answer), 1) +
                " and " + FixedText(best->answer.after.entry_angle.value, 1) + " degrees, from " + rests + ".";
}

}  // namespace hookline::pipeline
