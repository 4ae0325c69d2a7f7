// Where playing is: a position in a clip's own time that moves with a clock handed in from outside, slowed down,
// looped, or standing still. No threads, no wall clock of its own, so that it can be tested.
#pragma once

#include <optional>

namespace hookline::viewer {

struct Stretch {
  double from_s = 0, to_s = 0;  // stream time, from < to
};

class PlayClock {
 public:
  // Times of the clip's first and last picture.
  void SetRange(double first_s, double last_s);

  void Play(double now_s);  // from the beginning (of the loop, if any) when it stands at the end
  void Pause(double now_s);
  bool playing() const { return playing_; }
  // Stands or goes on playing from there; kept within the range.
  void Seek(double position_s, double now_s);
  // Stream seconds a second: 0.05 to 4.
  void SetRate(double rate, double now_s);
  double rate() const { return rate_; }
  // A stretch played over and over; empty: to the end. Kept within the range; a stretch of no length is refused.
  bool SetLoop(std::optional<Stretch> loop, double now_s);
  const std::optional<Stretch>& loop() const { return loop_; }

  double PositionAt(double now_s) const;
  // Playing came to the end: stops there. True when it did so now.
  bool StopAtEnd(double now_s);
  // Pictures were not there in time: the clock is held where they are, so that none is skipped for good.
  void HoldAt(double position_s, double now_s);

  double first_s() const { return first_s_; }
  double last_s() const { return last_s_; }

 private:
  double first_s_ = 0, last_s_ = 0;
  bool playing_ = false;
  double rate_ = 1;
  double anchor_position_s_ = 0, anchor_now_s_ = 0;
  std::optional<Stretch> loop_;
};

}  // namespace hookline::viewer
