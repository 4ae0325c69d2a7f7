#include "viewer/play_clock.h"

#include <algorithm>
#include <cmath>

namespace hookline::viewer {

void PlayClock::SetRange(double first_s, double last_s) {
  first_s_ = first_s;
  last_s_ = std::max(first_s, last_s);
  anchor_position_s_ = std::clamp(anchor_position_s_, first_s_, last_s_);
}

void PlayClock::Play(double now_s) {
  double at = PositionAt(now_s);
  if (loop_ && (at < loop_->from_s || at >= loop_->to_s)) at = loop_->from_s;
  if (!loop_ && at >= last_s_) at = first_s_;
  anchor_position_s_ = at;
  anchor_now_s_ = now_s;
  playing_ = true;
}

void PlayClock::Pause(double now_s) {
  anchor_position_s_ = PositionAt(now_s);
  anchor_now_s_ = now_s;
  playing_ = false;
}

void PlayClock::Seek(double position_s, double now_s) {
  anchor_position_s_ = std::clamp(position_s, first_s_, last_s_);
  anchor_now_s_ = now_s;
}

void PlayClock::SetRate(double rate, double now_s) {
  anchor_position_s_ = PositionAt(now_s);
  anchor_now_s_ = now_s;
  rate_ = std::clamp(rate, 0.05, 4.0);
}

bool PlayClock::SetLoop(std::optional<Stretch> loop, double now_s) {
  if (loop) {
    loop->from_s = std::clamp(loop->from_s, first_s_, last_s_);
    loop->to_s = std::clamp(loop->to_s, first_s_, last_s_);
    if (!(loop->to_s > loop->from_s)) return false;
  }
  anchor_position_s_ = PositionAt(now_s);
  anchor_now_s_ = now_s;
  loop_ = loop;
  return true;
}

double PlayClock::PositionAt(double now_s) const {
  if (!playing_) return anchor_position_s_;
  const double at = anchor_position_s_ + (now_s - anchor_now_s_) * rate_;
  if (loop_ && at >= loop_->to_s && anchor_position_s_ < loop_->to_s)
    return loop_->from_s + std::fmod(at - loop_->from_s, loop_->to_s - loop_->from_s);
  return std::min(at, last_s_);
}

bool PlayClock::StopAtEnd(double now_s) {
  if (!playing_ || PositionAt(now_s) < last_s_) return false;
  Pause(now_s);
  return true;
}

void PlayClock::HoldAt(double position_s, double now_s) {
  anchor_position_s_ = std::clamp(position_s, first_s_, last_s_);
  anchor_now_s_ = now_s;
}

}  // namespace hookline::viewer
