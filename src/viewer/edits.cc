#include "viewer/edits.h"

#include <algorithm>
#include <cmath>
#include <utility>

namespace hookline::viewer {
namespace {

constexpr double kSameFrame_s = 5e-4;  // far below a frame, far above rounding
constexpr double kSameShot_s = 0.3;    // as pipeline/refit takes a time for a shot's
constexpr std::size_t kMostSteps = 1000;

bool SameFrame(double a, double b) { return std::abs(a - b) < kSameFrame_s; }

auto ShotAt(Corrections& c, const ShotSpan& span) {
  const auto within = [&](const ShotCorrection& s) {
    return s.at_s >= span.from_s - kSameFrame_s && s.at_s <= span.to_s + kSameFrame_s;
  };
  // Where something was taken out and a shot added in its stead, that one is meant.
  const auto live =
      std::find_if(c.shots.begin(), c.shots.end(), [&](const ShotCorrection& s) { return !s.removed && within(s); });
  return live != c.shots.end() ? live : std::find_if(c.shots.begin(), c.shots.end(), within);
}

ShotCorrection& NewShot(Corrections& c, const ShotSpan& span) {
  ShotCorrection own;
  own.at_s = (span.from_s + span.to_s) / 2;
  const auto place = std::lower_bound(c.shots.begin(), c.shots.end(), own.at_s,
                                      [](const ShotCorrection& a, double t) { return a.at_s < t; });
  return *c.shots.insert(place, own);
}

ShotCorrection& ShotOf(Corrections& c, const ShotSpan& span) {
  const auto found = ShotAt(c, span);
  return found != c.shots.end() ? *found : NewShot(c, span);
}

void DropSilent(Corrections& c) {
  std::erase_if(c.shots, [](const ShotCorrection& s) { return s.SaysNothing() || (s.added && s.sights.empty()); });
}

void PutSight(ShotCorrection& shot, const HandSight& sight) {
  std::erase_if(shot.no_ball_s, [&](double t) { return SameFrame(t, sight.time_s); });
  std::erase_if(shot.sights, [&](const HandSight& s) { return SameFrame(s.time_s, sight.time_s); });
  const auto place = std::lower_bound(shot.sights.begin(), shot.sights.end(), sight.time_s,
                                      [](const HandSight& a, double t) { return a.time_s < t; });
  shot.sights.insert(place, sight);
}

void PutNoBall(ShotCorrection& shot, double time_s) {
  std::erase_if(shot.sights, [&](const HandSight& s) { return SameFrame(s.time_s, time_s); });
  std::erase_if(shot.no_ball_s, [&](double t) { return SameFrame(t, time_s); });
  shot.no_ball_s.insert(std::lower_bound(shot.no_ball_s.begin(), shot.no_ball_s.end(), time_s), time_s);
}

}  // namespace

Corrections Merged(const Corrections& under, const Corrections& over) {
  Corrections out = under;
  for (const auto& [name, mark] : over.lane_marks) out.lane_marks[name] = mark;
  for (const ShotCorrection& from : over.shots) {
    ShotSpan span{from.at_s - kSameShot_s, from.at_s + kSameShot_s};
    // A shot of clicks alone lasts from its first to its last.
    if (!from.sights.empty()) {
      span.from_s = std::min(span.from_s, from.sights.front().time_s);
      span.to_s = std::max(span.to_s, from.sights.back().time_s);
    }
    if (ShotAt(out, span) == out.shots.end()) span = {from.at_s, from.at_s};
    ShotCorrection& to = ShotOf(out, span);
    to.added = to.added || from.added;
    to.removed = from.removed;
    if (from.release_s) to.release_s = from.release_s;
    if (from.pin_contact_s) to.pin_contact_s = from.pin_contact_s;
    for (const double t : from.no_ball_s) PutNoBall(to, t);
    for (const HandSight& s : from.sights) PutSight(to, s);
  }
  return out;
}

Edits::Edits(Corrections saved) : saved_(std::move(saved)) { steps_.push_back({"", 0, saved_}); }

void Edits::Add(const std::string& name, int gesture, Corrections after) {
  DropSilent(after);
  Step& last = steps_[at_];
  const bool goes_on = gesture != 0 && at_ > 0 && last.gesture == gesture && last.name == name;
  if (!goes_on && after == last.after) return;
  steps_.resize(at_ + 1);
  if (goes_on) {
    steps_.back().after = std::move(after);
    // A drag back to where it began is no step.
    if (steps_[at_].after == steps_[at_ - 1].after) {
      steps_.pop_back();
      --at_;
    }
    return;
  }
  steps_.push_back({name, gesture, std::move(after)});
  if (steps_.size() > kMostSteps) steps_.erase(steps_.begin());
  at_ = steps_.size() - 1;
}

void Edits::PlaceMark(const std::string& name, const Eigen::Vector2d& p_in_frame, double time_s, int gesture) {
  Corrections c = now();
  c.lane_marks[name] = {p_in_frame, time_s};
  Add("Move lane mark", gesture, std::move(c));
}

void Edits::DropMark(const std::string& name) {
  Corrections c = now();
  c.lane_marks.erase(name);
  Add("Lane mark as found", 0, std::move(c));
}

void Edits::PlaceBall(const ShotSpan& shot, double time_s, const Eigen::Vector2d& p_in_frame, double sd_px,
                      int gesture) {
  Corrections c = now();
  PutSight(ShotOf(c, shot), {time_s, p_in_frame, sd_px});
  Add("Place ball", gesture, std::move(c));
}

void Edits::RemoveBall(const ShotSpan& shot, double time_s) {
  Corrections c = now();
  ShotCorrection& s = ShotOf(c, shot);
  if (s.added)  // nothing but the hand's own sights are there to be taken out
    std::erase_if(s.sights, [&](const HandSight& h) { return SameFrame(h.time_s, time_s); });
  else
    PutNoBall(s, time_s);
  Add("Take ball out", 0, std::move(c));
}

void Edits::UnsetBall(const ShotSpan& shot, double time_s) {
  Corrections c = now();
  ShotCorrection& s = ShotOf(c, shot);
  std::erase_if(s.sights, [&](const HandSight& h) { return SameFrame(h.time_s, time_s); });
  std::erase_if(s.no_ball_s, [&](double t) { return SameFrame(t, time_s); });
  Add("Ball as found", 0, std::move(c));
}

void Edits::SetRelease(const ShotSpan& shot, std::optional<double> time_s, int gesture) {
  Corrections c = now();
  ShotOf(c, shot).release_s = time_s;
  Add("Set release", gesture, std::move(c));
}

void Edits::SetPinContact(const ShotSpan& shot, std::optional<double> time_s, int gesture) {
  Corrections c = now();
  ShotOf(c, shot).pin_contact_s = time_s;
  Add("Set impact", gesture, std::move(c));
}

double Edits::AddShot(double time_s, const Eigen::Vector2d& p_in_frame, double sd_px) {
  Corrections c = now();
  const auto there = ShotAt(c, {time_s, time_s});
  ShotCorrection& s = there == c.shots.end() || there->removed ? NewShot(c, {time_s, time_s}) : *there;
  s.added = true;
  PutSight(s, {time_s, p_in_frame, sd_px});
  Add("Add shot", 0, std::move(c));
  return time_s;
}

void Edits::RemoveShot(const ShotSpan& shot) {
  Corrections c = now();
  ShotCorrection& s = ShotOf(c, shot);
  const bool own = s.added;
  const double at_s = s.at_s;
  s = ShotCorrection();
  s.at_s = at_s;
  s.removed = !own;
  Add("Remove shot", 0, std::move(c));
}

void Edits::UnsetShot(const ShotSpan& shot) {
  Corrections c = now();
  if (const auto found = ShotAt(c, shot); found != c.shots.end()) c.shots.erase(found);
  Add("Shot as found", 0, std::move(c));
}

void Edits::UnsetAll() { Add("All as found", 0, {}); }

void Edits::Merge(const Corrections& over) { Add("Take over corrections", 0, Merged(now(), over)); }

void Edits::Undo() {
  if (CanUndo()) --at_;
}

void Edits::Redo() {
  if (CanRedo()) ++at_;
}

}  // namespace hookline::viewer
