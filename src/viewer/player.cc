#include "viewer/player.h"

#include <algorithm>
#include <utility>

namespace hookline::viewer {

Player::Player(const std::string& file, std::function<void()> on_change, const FrameServerOptions& options)
    : file_(file), server_(file, options, std::move(on_change)) {}

void Player::Ready(double now_s) {
  ready_ = true;
  const std::vector<double>& times = server_.times_s();
  if (times.empty()) return;
  clock_.SetRange(times.front(), times.back());
  if (seek_when_ready_) clock_.Seek(*seek_when_ready_, now_s);
  if (play_when_ready_) clock_.Play(now_s);
}

void Player::Play(double now_s) {
  if (!ready_) {
    play_when_ready_ = true;
    return;
  }
  clock_.Play(now_s);
  arrived_ = false;
}

void Player::Pause(double now_s) {
  play_when_ready_ = false;
  clock_.Pause(now_s);
  // Standing, the position is that of the picture seen, so that a step goes on from it.
  if (ready_ && shown_) clock_.Seek(shown_->time_s, now_s);
}

void Player::Toggle(double now_s) { (playing() || play_when_ready_) ? Pause(now_s) : Play(now_s); }

void Player::Seek(double time_s, double now_s) {
  following_ = false;
  if (!ready_) {
    seek_when_ready_ = time_s;
    return;
  }
  clock_.Seek(time_s, now_s);
  direction_ = 1;
  arrived_ = false;
}

void Player::Step(int pictures, double now_s) {
  following_ = false;
  if (!ready_ || server_.times_s().empty()) return;
  if (clock_.playing()) Pause(now_s);
  const auto from = static_cast<std::ptrdiff_t>(server_.FrameAt(clock_.PositionAt(now_s)));
  const auto last = static_cast<std::ptrdiff_t>(server_.times_s().size()) - 1;
  const auto to = static_cast<std::size_t>(std::clamp<std::ptrdiff_t>(from + pictures, 0, last));
  clock_.Seek(server_.times_s()[to], now_s);
  direction_ = pictures < 0 ? -1 : 1;
}

void Player::Follow(double time_s, bool playing, double now_s) {
  following_ = true;
  if (!ready_) {
    seek_when_ready_ = time_s;
    return;
  }
  if (clock_.playing()) clock_.Pause(now_s);
  direction_ = !playing && time_s < position_s_ ? -1 : 1;
  clock_.Seek(time_s, now_s);
}

bool Player::Tick(double now_s) {
  const FramePtr before = shown_;
  if (!ready_) {
    const ClipPhase phase = server_.phase();
    if (phase == ClipPhase::kReady) Ready(now_s);
    if (!shown_) shown_ = server_.first();
    if (!ready_ || server_.times_s().empty()) return shown_ != before;
  }
  clock_.StopAtEnd(now_s);
  position_s_ = clock_.PositionAt(now_s);
  wanted_ = server_.FrameAt(position_s_);
  const std::optional<std::size_t> loop_start =
      clock_.loop() ? std::optional(server_.FrameAt(clock_.loop()->from_s)) : std::nullopt;
  server_.Want(wanted_, clock_.playing() ? 1 : direction_, loop_start);
  const std::size_t shown = shown_ ? static_cast<std::size_t>(shown_->index) : 0;
  if (wanted_ < shown) arrived_ = false;  // a loop came round
  if (FramePtr frame = server_.Get(wanted_)) {
    shown_ = std::move(frame);
    arrived_ = true;
  } else if (shown_ && shown == wanted_) {
    arrived_ = true;  // the very first one, before the store has it
  } else if (clock_.playing() && !arrived_) {
    clock_.HoldAt(position_s_, now_s);
  } else if (clock_.playing()) {
    // The decoder is late. What it has of the way is shown, and the clock waits for it there rather than running away.
    FramePtr late = server_.LastNotAfter(wanted_);
    if (late && static_cast<std::size_t>(late->index) > shown) shown_ = std::move(late);
    const auto next = static_cast<std::size_t>(shown_->index) + 1;
    clock_.HoldAt(next < wanted_ ? server_.times_s()[next] : position_s_, now_s);
    position_s_ = clock_.PositionAt(now_s);
    wanted_ = server_.FrameAt(position_s_);
    server_.Want(wanted_, 1, loop_start);
  }
  return shown_ != before;
}

std::optional<double> Player::NextTick(double now_s) const {
  if (!clock_.playing() || !ready_) return std::nullopt;
  const std::vector<double>& times = server_.times_s();
  const double at = clock_.PositionAt(now_s);
  const std::size_t next = server_.FrameAt(at) + 1;
  double until = next < times.size() ? times[next] : clock_.last_s();
  if (clock_.loop() && at < clock_.loop()->to_s) until = std::min(until, clock_.loop()->to_s);
  return std::max(0.0, (until - at) / clock_.rate());
}

}  // namespace hookline::viewer
