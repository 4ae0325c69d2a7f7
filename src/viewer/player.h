// Plays one clip: a clock, the pictures around it, and exact steps. No window, no OpenGL; the time is handed in.
//
// position_s() is what is asked for, shown() the picture that is on show: the last one whose time stamp is not after
// the position. Stepping goes from picture to picture by their own time stamps, whatever the rate.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>

#include "viewer/frame_server.h"
#include "viewer/play_clock.h"

namespace hookline::viewer {

class Player {
 public:
  Player(const std::string& file, std::function<void()> on_change, const FrameServerOptions& options = {});

  ClipPhase phase() const { return server_.phase(); }
  std::string failure() const { return server_.failure(); }
  ClipInfo info() const { return server_.info(); }
  media::ShownForm form() const { return server_.form(); }
  const std::vector<double>& times_s() const { return server_.times_s(); }
  const std::string& file() const { return file_; }

  // Commands before the clip is ready are kept and done then.
  void Play(double now_s);
  void Pause(double now_s);
  void Toggle(double now_s);
  void Seek(double time_s, double now_s);
  // To the picture so many further (negative: back); stops playing.
  void Step(int pictures, double now_s);
  void SetRate(double rate, double now_s) { clock_.SetRate(rate, now_s); }
  bool SetLoop(std::optional<Stretch> loop, double now_s) { return clock_.SetLoop(loop, now_s); }
  bool playing() const { return clock_.playing(); }
  double rate() const { return clock_.rate(); }
  const std::optional<Stretch>& loop() const { return clock_.loop(); }

  // Goes with another player: at that time, decoding ahead when the other plays.
  void Follow(double time_s, bool playing, double now_s);

  // Moves on to now. True when another picture is to be shown than before.
  bool Tick(double now_s);
  // Seconds until Tick() has something to do; nullopt: only when on_change is called or a command comes.
  std::optional<double> NextTick(double now_s) const;

  double position_s() const { return position_s_; }
  FramePtr shown() const { return shown_; }
  // Time stamp and number of the picture asked for; equal to shown()'s once it is there.
  std::size_t wanted() const { return wanted_; }
  bool settled() const { return shown_ && static_cast<std::size_t>(shown_->index) == wanted_; }

 private:
  void Ready(double now_s);

  std::string file_;
  FrameServer server_;
  PlayClock clock_;
  bool ready_ = false;
  bool play_when_ready_ = false;
  std::optional<double> seek_when_ready_;
  bool following_ = false;
  double position_s_ = 0;
  std::size_t wanted_ = 0;
  int direction_ = 1;
  bool arrived_ = false;  // at the picture that was jumped to
  FramePtr shown_;
};

}  // namespace hookline::viewer
