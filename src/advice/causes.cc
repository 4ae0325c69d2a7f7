#include "advice/causes.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <map>
#include <tuple>

#include "advice/normal.h"

namespace hookline::advice {
namespace {

constexpr double kBoardsPerDegreeAndFoot = 0.197;  // 1 deg over 1 ft (docs: facts of geometry)
constexpr double kLineFt = 28, kArrowsFt = 15;     // the line is told at 28 ft, amid the oil

constexpr double kRevSwing = 20;    // rpm, a bowler's own (common practice, no source)
constexpr double kRollSwing = 2.5;  // ft, of where a bowler's roll begins

// Running mean of a few numbers, and the last of them counts no less than a tenth.
struct Running {
  int count = 0;
  double mean = 0;
  void Add(double v) {
    ++count;
    mean += (v - mean) / std::min(count, 10);
  }
};

struct PlanState {
  OwnBase speed, turn, launch;
  std::string last_ball;
  std::vector<int> shots;
};

struct BowlerState {
  explicit BowlerState(const CauseOptions& o) : lane(o.lane) {}
  LaneLevel lane;
  std::map<std::string, PlanState> plans;
  const Shot* last = nullptr;
  std::string last_plan;
  Running slip_offset, rev;
  std::map<std::string, Running> roll;  // by ball
  std::optional<double> line_origin;
  std::map<std::tuple<std::string, double, double>, Running> line, arrows, laydown;  // by plan, target, stance
};

double Or(const std::optional<double>& v, double other) { return v ? *v : other; }

// The board that the shot was meant to cross at the arrows.
std::optional<double> ArrowsMeant(const Shot& s) {
  return s.target.arrows_board ? s.target.arrows_board : s.target.target_board;
}

// Probability that a board off target (inward positive) is `bound` or more, against within `undecided`. The prior is a
// bowler's own swing of 1.3 boards (facts: 180 average at the arrows), one shot in ten anything.
std::pair<double, double> MissChances(const Estimate& off, double bound, double undecided) {
  double in = 0, out = 0, in_rest = 0, out_rest = 0;
  for (const auto& [share, spread] : {std::pair{0.9, 1.3}, std::pair{0.1, 3.5}}) {
    const double s2 = spread * spread, total = s2 + off.sd * off.sd;
    const double w = share * NormalDensity(off.value, 0, total), mean = s2 / total * off.value;
    const double sd = std::sqrt(s2 * (1 - s2 / total));
    in += w * NormalBelow((mean - bound) / sd);
    in_rest += w * NormalBelow((undecided - mean) / sd);
    out += w * NormalBelow((-mean - bound) / sd);
    out_rest += w * NormalBelow((undecided + mean) / sd);
  }
  const auto share = [](double yes, double no) { return yes + no > 0 ? yes / (yes + no) : 0; };
  return {share(in, in_rest), share(out, out_rest)};
}

double Stretched(double p, const Stretch& by) {
  if (!(p > 0)) return 0;
  if (!(p < 1)) return 1;
  return 1 / (1 + std::exp(-(by.factor * std::log(p / (1 - p)) + by.lift)));
}

TurnSource SourceOf(const std::vector<Shot>& shots) {
  std::size_t path = 0, surface = 0;
  for (const Shot& s : shots) {
    path += Given(s, MeasureId::kPathTurnDeg) ? 1 : 0;
    surface += Given(s, MeasureId::kAxisRotationDeg) ? 1 : 0;
  }
  return surface > path ? TurnSource::kSurface : TurnSource::kPath;
}

// Natural log of how much likelier this launch is with more turn than without; of turns `wider` are launched wider.
double LaunchOdds(const OwnBase& base, const Estimate& launch, double wider) {
  const double without = base.Density(launch.value, launch.sd), wide = base.ChangeDensity(launch.value, launch.sd);
  return std::log((wider * wide + (1 - wider) * without + 1e-12) / (without + 1e-12));
}

}  // namespace

Status CauseOptions::Check() const {
  for (const Status& s : {speed.Check(), turn.Check(), launch.Check(), lane.Check()}) {
    if (!s.ok()) return s;
  }
  if (!(launch_wider >= 0 && launch_wider < 1)) return {StatusCode::kBadUse, "launch_wider must be in 0 to 1."};
  if (!(miss_boards > miss_undecided_boards) || !(miss_undecided_boards > 0) || few_shots < 1) {
    return {StatusCode::kBadUse, "miss_boards must be above miss_undecided_boards, and few_shots at least 1."};
  }
  return Status::Ok();
}

std::vector<ShotVerdict> JudgeShots(const std::vector<Shot>& shots, const CauseOptions& o) {
  assert(o.Check().ok());
  const TurnSource source = SourceOf(shots);
  std::map<std::string, BowlerState> bowlers;
  std::vector<ShotVerdict> verdicts;
  verdicts.reserve(shots.size());
  for (const Shot& shot : shots) {
    ShotVerdict v;
    v.shot = &shot;
    BowlerState& bowler = bowlers.try_emplace(shot.bowler, o).first->second;
    auto found = bowler.plans.find(shot.plan);
    if (found == bowler.plans.end()) {
      PlanState fresh{OwnBase(o.speed), OwnBase(o.turn), OwnBase(o.launch), shot.ball, {}};
      if (bowler.last) {  // the same hand: what is known of it carries over
        const PlanState& before = bowler.plans.at(bowler.last_plan);
        fresh.speed = before.speed;
        fresh.turn = before.turn;
        fresh.launch = before.launch;
        fresh.speed.Loosen(o.plan_speed_mph);
        fresh.turn.Loosen(o.plan_turn_deg);
        fresh.launch.Loosen(2 * o.move_launch_deg);
      }
      found = bowler.plans.emplace(shot.plan, std::move(fresh)).first;
    }
    PlanState& plan = found->second;

    // What the user wrote: another ball, another place.
    if (bowler.last) {
      const Shot& last = *bowler.last;
      v.ball_before = last.ball;
      v.causes[Cause::kNewBall] = shot.ball != last.ball ? 1 : 0;
      if (shot.target.stance_board && last.target.stance_board)
        v.stance_shift = *shot.target.stance_board - *last.target.stance_board;
      const auto to = ArrowsMeant(shot), from = ArrowsMeant(last);
      if (to && from) v.target_shift = *to - *from;
      const bool moved = std::abs(Or(v.stance_shift, 0)) >= 0.5 || std::abs(Or(v.target_shift, 0)) >= 0.5;
      v.causes[Cause::kMoved] = moved ? 1 : 0;
      if (moved) plan.launch.Loosen(o.move_launch_deg);
    }
    if (shot.ball != plan.last_ball) {
      plan.speed.Loosen(o.ball_speed_mph);
      plan.turn.Loosen(o.ball_turn_deg);
      plan.last_ball = shot.ball;
    }

    // The release.
    v.release = StateOf(shot, source);
    v.base_count = plan.speed.count();
    v.turn_count = plan.turn.count();
    const std::size_t keep = std::min<std::size_t>(12, plan.shots.size());
    v.base_shots.assign(plan.shots.end() - static_cast<std::ptrdiff_t>(keep), plan.shots.end());
    const auto slip = Given(shot, MeasureId::kSlipAngleDeg);
    const Estimate slip_offset{bowler.slip_offset.mean, 2.0 / std::sqrt(1.0 + bowler.slip_offset.count)};
    if (slip && v.release.turn_deg && v.release.rev_rpm && v.release.speed_mph) {
      const Estimate speed = *v.release.speed_mph, rev = *v.release.rev_rpm;
      const double offset = slip->value - SlipAngleDeg(speed.value, v.release.turn_deg->value, rev.value);
      if (bowler.slip_offset.count >= 3) {
        v.release.turn_deg = TurnWithSlip(*v.release.turn_deg, *slip, speed, rev, slip_offset);
      }
      bowler.slip_offset.Add(offset);
    }
    const auto launch = Given(shot, MeasureId::kLaunchAngleDeg);
    if (v.release.speed_mph) {
      const Estimate& e = *v.release.speed_mph;
      v.speed = plan.speed.Judge(e.value, e.sd);
      v.causes[Cause::kSlower] = v.speed.change;
    } else {
      v.causes[Cause::kSlower] = plan.speed.Blind();
    }
    // What a launch says rests on the same few shots as the turn itself: the odd one may be that of the base, in both.
    const double known = std::min(1.0, static_cast<double>(plan.launch.count()) / o.few_shots);
    const double odds = launch ? known * LaunchOdds(plan.launch, *launch, o.launch_wider) : 0;
    if (v.release.turn_deg) {
      const Estimate& e = *v.release.turn_deg;
      v.turn = plan.turn.Judge(e.value, e.sd, odds);
      v.causes[Cause::kMoreTurn] = v.turn.change;
    } else {
      double told = odds;
      if (plan.turn.count() >= o.few_shots && v.release.speed_mph && bowler.rev.count > 0) {
        TurnEvidence evidence;
        if (slip && bowler.slip_offset.count >= 3) {
          evidence.slip = Estimate{slip->value - slip_offset.value, std::hypot(slip->sd, slip_offset.sd)};
        }
        evidence.speed_mph = v.release.speed_mph->value;
        evidence.rev_rpm = v.release.rev_rpm.value_or(Estimate{bowler.rev.mean, kRevSwing});
        evidence.no_roll = Given(shot, MeasureId::kEntryBoard) && !Given(shot, MeasureId::kRollStartFt);
        if (const auto usual = bowler.roll.find(shot.ball); usual != bowler.roll.end()) {
          evidence.roll_start_ft = Estimate{usual->second.mean, kRollSwing};
        }
        const double sd = std::hypot(plan.turn.spread(), plan.turn.mean_sd());
        told += TurnOdds(evidence, {plan.turn.mean(), sd, o.turn.change, o.turn.change_sd,
                                    plan.turn.mean() + o.turn.undecided * plan.turn.spread()});
      } else {
        told = std::min(odds, 1.0);
      }
      v.causes[Cause::kMoreTurn] = plan.turn.Blind(told);
    }
    if (launch) v.launch = plan.launch.Judge(launch->value, launch->sd);

    // The line and the target.
    const std::tuple key{shot.plan, Or(ArrowsMeant(shot), -1), Or(shot.target.stance_board, -1)};
    const auto arrows = Given(shot, MeasureId::kBoardAtArrows);
    Running& own_arrows = bowler.arrows[key];
    if (arrows) {
      const auto meant = ArrowsMeant(shot);
      v.target_given = meant.has_value();
      if (meant || own_arrows.count >= o.few_shots) {
        v.off_target = Estimate{arrows->value - (meant ? *meant : own_arrows.mean), arrows->sd};
        std::tie(v.causes[Cause::kMissedIn], v.causes[Cause::kMissedOut]) =
            MissChances(*v.off_target, o.miss_boards, o.miss_undecided_boards);
      }
    }
    Running& own_laydown = bowler.laydown[key];
    if (const auto laydown = Given(shot, MeasureId::kLaydownBoard)) {
      if (own_laydown.count > 0) v.laydown_shift = laydown->value - own_laydown.mean;
      own_laydown.Add(laydown->value);
    }

    // The lane.
    LaneSight sight;
    sight.ball = shot.ball;
    sight.front = FrontFriction(shot);
    sight.back = BackFriction(shot);
    sight.skid_end_ft = Given(shot, MeasureId::kSkidEndFt);
    sight.roll_start_ft = Given(shot, MeasureId::kRollStartFt);
    sight.speed_mph = v.release.speed_mph;
    sight.turn_deg = v.release.turn_deg;
    sight.rev_rpm = v.release.rev_rpm;
    Running& own_line = bowler.line[key];
    sight.new_line = own_line.count == 0 && bowler.last != nullptr;
    if (arrows && launch) {
      const double line = arrows->value - kBoardsPerDegreeAndFoot * (kLineFt - kArrowsFt) * launch->value;
      if (!bowler.line_origin) bowler.line_origin = line;
      sight.line_board = line - *bowler.line_origin;
      sight.off_line = own_line.count > 0 ? line - own_line.mean : 0;
      own_line.Add(line);
    }
    v.lane = bowler.lane.Learn(sight);
    v.causes[Cause::kLaneHooksMore] = Stretched(v.lane.more, o.lane_more);
    v.causes[Cause::kLaneHooksLess] = Stretched(v.lane.less, o.lane_less);

    // What was learned of the bowler.
    if (v.release.speed_mph) plan.speed.Learn(v.release.speed_mph->value, v.release.speed_mph->sd);
    if (v.release.turn_deg) plan.turn.Learn(v.release.turn_deg->value, v.release.turn_deg->sd, odds);
    if (v.release.rev_rpm) bowler.rev.Add(v.release.rev_rpm->value);
    if (const auto roll = Given(shot, MeasureId::kRollStartFt)) bowler.roll[shot.ball].Add(roll->value);
    if (launch) plan.launch.Learn(launch->value, launch->sd);
    if (arrows) own_arrows.Add(arrows->value);
    plan.shots.push_back(shot.number);
    bowler.last = &shot;
    bowler.last_plan = shot.plan;
    verdicts.push_back(std::move(v));
  }
  return verdicts;
}

}  // namespace hookline::advice
