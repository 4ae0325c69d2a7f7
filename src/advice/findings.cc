#include "advice/findings.h"

#include <algorithm>
#include <cmath>

#include "advice/wording.h"

namespace hookline::advice {
namespace {

Finding Of(Cause cause, const ShotVerdict& v, std::string text) {
  Finding f;
  f.cause = kCauseKeys[static_cast<std::size_t>(cause)];
  f.probability = v.causes[cause];
  f.text = std::move(text);
  f.shots = v.base_shots;
  f.shots.push_back(v.shot->number);
  return f;
}

std::string Rests(const ShotVerdict& v) {
  return v.base_shots.empty() ? std::string("no shot before it") : "shots " + ShotList(v.base_shots);
}

Finding Slower(const ShotVerdict& v) {
  const double less = -v.speed.shift, sd = std::hypot(v.speed.shift_sd, v.speed.base_sd);
  std::string text = "The ball was released " + WithDoubt(less, sd, 1) + " mph slower than your own " +
                     Fixed(v.speed.base, 1) + " mph (" + Rests(v) + "; your own swing is " + Fixed(v.speed.spread, 1) +
                     " mph; " + Percent(v.causes[Cause::kSlower]) + " that it was not that swing).";
  text += v.causes[Cause::kMoreTurn] >= 0.5
              ? " Speed was lost while the turn grew: on the next shot let the swing go, and let the hand be."
              : " A slower ball hooks earlier and finishes inward: repeat the tempo before you move.";
  Finding f = Of(Cause::kSlower, v, text);
  f.measure = "speed_release_mph";
  f.change = v.speed.shift;
  f.sd = sd;
  return f;
}

Finding MoreTurn(const ShotVerdict& v) {
  std::string text;
  if (v.release.turn_deg) {
    const double sd = std::hypot(v.turn.shift_sd, v.turn.base_sd);
    text = "The ball was turned " + WithDoubt(v.turn.shift, sd, 0) + " degrees more than your own " +
           Fixed(v.turn.base, 0) + " (" + Rests(v) + "; your own swing is " + Fixed(v.turn.spread, 0) + " degrees; " +
           Percent(v.causes[Cause::kMoreTurn]) + ")";
    if (v.launch.shift > 1.5 * v.launch.spread) {
      text += ", and launched " + WithDoubt(v.launch.shift, std::hypot(v.launch.shift_sd, v.launch.base_sd), 1) +
              " degrees wider: the two come together";
    }
    text += ". Stay behind the ball longer; do not move for this shot.";
  } else {
    text = "The launch suggests more turn than your own, but the turn itself could not be measured.";
  }
  Finding f = Of(Cause::kMoreTurn, v, text);
  f.measure = "path_turn_deg";
  if (v.release.turn_deg) {
    f.change = v.turn.shift;
    f.sd = std::hypot(v.turn.shift_sd, v.turn.base_sd);
  }
  return f;
}

Finding Missed(const ShotVerdict& v, Cause cause) {
  const Estimate off = v.off_target.value_or(Estimate{});
  std::string text = "The ball crossed the arrows " + WithDoubt(std::abs(off.value), off.sd, 1) + " boards " +
                     (off.value > 0 ? "inward" : "outward") + " of " +
                     (v.target_given ? "the target" : "where you usually cross them") + " (" +
                     Percent(v.causes[cause]) + " that this is a miss)";
  if (v.laydown_shift && std::abs(*v.laydown_shift) >= 1 && *v.laydown_shift * off.value > 0) {
    text += "; " + Inward(*v.laydown_shift, 1) + " of it at the laydown already: look at where you slide.";
  } else if (v.causes[Cause::kMoreTurn] >= 0.5 && cause == Cause::kMissedOut) {
    text += "; the launch was wider because the hand turned: see the turn first.";
  } else {
    text += "; it was laid down where it usually is, so the launch angle did it: look at the target, not at the pins.";
  }
  Finding f = Of(cause, v, text);
  f.measure = "board_at_arrows";
  f.change = off.value;
  f.sd = off.sd;
  f.shots = {v.shot->number};
  return f;
}

Finding LaneChanged(const ShotVerdict& v, Cause cause) {
  const bool more = cause == Cause::kLaneHooksMore;
  std::string text = more ? "The lane hooks more on this line" : "The lane hooks less on this line";
  const int since = v.shot->number - std::max(0, v.lane.shots_ago);
  if (v.lane.front_change) {
    text += ": the friction in front of the breakpoint is " +
            WithDoubt(100 * std::abs(v.lane.front_change->value), 100 * v.lane.front_change->sd, 0) + " % " +
            (v.lane.front_change->value > 0 ? "higher" : "lower") + " since about shot " + std::to_string(since) +
            " (speed, turn and ball taken off; " + Percent(v.causes[cause]) + ")";
  }
  text += more ? ". Move feet and target inward, two to one, and see if the next two shots come back."
               : ". Move feet and target outward, two to one, or take a ball that grips more.";
  Finding f = Of(cause, v, text);
  f.measure = "friction";
  if (v.lane.front_change) {
    f.change = v.lane.front_change->value;
    f.sd = v.lane.front_change->sd;
  }
  return f;
}

// The base does not tell the bowler's own swing yet: what differs is said, and more shots are asked for.
Finding TooFew(const ShotVerdict& v, const CauseOptions& o) {
  const bool few = v.base_count < o.few_shots;
  const int count = few ? v.base_count : v.turn_count;
  Finding f = Of(Cause::kSlower, v, "");
  f.cause = "too_few_shots";
  f.probability = 1;
  f.shots = v.base_shots;
  const std::string more = Count(o.few_shots - count, "more shot", "more shots");
  std::string differs;
  if (few && v.causes[Cause::kSlower] >= 0.5) {
    f.measure = "speed_release_mph";
    f.change = v.speed.shift;
    f.sd = std::hypot(v.speed.shift_sd, v.speed.base_sd);
    differs = WithDoubt(-v.speed.shift, *f.sd, 1) + " mph slower than";
  } else if (v.causes[Cause::kMoreTurn] >= 0.5 && v.release.turn_deg) {
    f.measure = "path_turn_deg";
    f.change = v.turn.shift;
    f.sd = std::hypot(v.turn.shift_sd, v.turn.base_sd);
    differs = "turned " + WithDoubt(v.turn.shift, *f.sd, 0) + " degrees more than";
  }
  const std::string before = Count(count, "shot", "shots");
  f.text = "Too few shots yet (" + std::to_string(count) + " of " + std::to_string(o.few_shots) +
           ") to tell your own swing of speed and turn from a change";
  f.text += differs.empty() ? "."
                            : ": this one was " + differs + " the " + before +
                                  " before it, which may be a change or your own swing.";
  f.text += " Bowl " + more + " on this line before you judge your release.";
  if (!f.shots.empty()) f.shots.push_back(v.shot->number);
  return f;
}

// A shot that finished elsewhere than its base says, with nothing above the bowler's own swing.
std::optional<Finding> Noise(const ShotVerdict& v, const CauseOptions& o) {
  if (v.base_count < o.few_shots) return std::nullopt;
  const bool slow = v.release.speed_mph && v.speed.shift < -0.7 * v.speed.spread;
  const bool turned = v.release.turn_deg && v.turn.shift > 0.7 * v.turn.spread;
  if (!slow && !turned) return std::nullopt;
  Finding f;
  f.cause = "noise";
  f.shots = v.base_shots;
  f.shots.push_back(v.shot->number);
  if (slow) {
    f.measure = "speed_release_mph";
    f.change = v.speed.shift;
    f.sd = std::hypot(v.speed.shift_sd, v.speed.base_sd);
    f.probability = 1 - v.causes[Cause::kSlower];
    f.text = WithDoubt(-v.speed.shift, *f.sd, 1) + " mph slower than your base is within your own swing of " +
             Fixed(v.speed.spread, 1) + " mph: noise, nothing to change.";
  } else {
    f.measure = "path_turn_deg";
    f.change = v.turn.shift;
    f.sd = std::hypot(v.turn.shift_sd, v.turn.base_sd);
    f.probability = 1 - v.causes[Cause::kMoreTurn];
    f.text = WithDoubt(v.turn.shift, *f.sd, 0) + " degrees more turn than your base is within your own swing of " +
             Fixed(v.turn.spread, 0) + " degrees and the measure's doubt: noise, nothing to change.";
  }
  return f;
}

}  // namespace

std::vector<std::vector<Finding>> FindingsOf(const std::vector<ShotVerdict>& verdicts, const CauseOptions& o) {
  std::vector<std::vector<Finding>> all;
  for (const ShotVerdict& v : verdicts) {
    std::vector<Finding> list;
    const auto acted = [&](Cause c) { return v.causes[c] >= 0.5; };
    if (acted(Cause::kNewBall)) {
      list.push_back(Of(
          Cause::kNewBall, v,
          "Another ball than the shot before" +
              (v.shot->ball.empty() || v.ball_before.empty() ? std::string()
                                                             : " (" + v.shot->ball + " after " + v.ball_before + ")") +
              ": what its grip changes is not put down to the lane or to you. Give it three shots before you judge "
              "it."));
      list.back().shots = {v.shot->number};
    }
    if (acted(Cause::kMoved)) {
      std::string text = "You moved";
      if (v.stance_shift && std::abs(*v.stance_shift) >= 0.5) text += " your feet " + Inward(*v.stance_shift, 0);
      if (v.target_shift && std::abs(*v.target_shift) >= 0.5) {
        text += v.stance_shift && std::abs(*v.stance_shift) >= 0.5 ? " and" : "";
        text += " the target " + Inward(*v.target_shift, 0);
      }
      text += ": the line is a new one, and the lane is judged anew on it.";
      list.push_back(Of(Cause::kMoved, v, text));
      list.back().shots = {v.shot->number};
      list.back().measure = v.stance_shift ? "stance_board" : "target_board";
      list.back().change = v.stance_shift ? v.stance_shift : v.target_shift;
      list.back().sd = 0.0;
    }
    // What a base of few shots makes of a release is no more than a question, whatever its chance: no finding yet.
    const bool few = v.base_count < o.few_shots, few_turns = v.turn_count < o.few_shots;
    if (few || (few_turns && acted(Cause::kMoreTurn))) list.push_back(TooFew(v, o));
    const bool release = acted(Cause::kSlower) || acted(Cause::kMoreTurn);
    if (!few && acted(Cause::kSlower)) list.push_back(Slower(v));
    if (!few && !few_turns && acted(Cause::kMoreTurn)) list.push_back(MoreTurn(v));
    for (const Cause c : {Cause::kMissedIn, Cause::kMissedOut}) {
      if (acted(c)) list.push_back(Missed(v, c));
    }
    for (const Cause c : {Cause::kLaneHooksMore, Cause::kLaneHooksLess}) {
      if (acted(c)) list.push_back(LaneChanged(v, c));
    }
    if (!release) {
      if (auto noise = Noise(v, o)) list.push_back(*noise);
    }
    all.push_back(std::move(list));
  }
  return all;
}

std::vector<std::string> CautionsFor(const Advice& advice) {
  bool hand = false;
  for (const ShotAdvice& s : advice.shots) {
    hand |= s.causes[Cause::kSlower] >= 0.5 || s.causes[Cause::kMoreTurn] >= 0.5;
  }
  hand |= advice.next_move.speed_mph.has_value() || advice.next_move.turn_deg.has_value();
  std::vector<std::string> cautions;
  if (hand) {
    cautions = {
        "Speed comes from the swing and the feet, not from force: do not push speed or the wrist beyond what stays "
        "easy.",
        "If a hand, wrist, elbow or back hurts, stop."};
  }
  if (!advice.shots.empty())
    cautions.push_back("These are measurements, not a coach: changes to the release belong to a coach who sees you.");
  return cautions;
}

}  // namespace hookline::advice
