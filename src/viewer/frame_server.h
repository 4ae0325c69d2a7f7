// A clip's pictures ready to be shown: a thread that decodes what is wanted and what will be wanted next, and a store
// of the pictures around it. No window, no OpenGL.
//
// Pictures are named by their number in the order of time; only the clip's own time stamps say when each is shown.
// The owner tells what it wants to show with Want(); the thread goes there (over the key frame before it when that is
// shorter), then runs ahead in the direction of the movement. Pictures farthest from the wanted one are let go when
// the store is full. Functions may be called from one thread; `on_change` is called from the decoder's.
#pragma once

#include <condition_variable>
#include <cstddef>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "core/progress.h"
#include "media/clip_frames.h"
#include "model/picture.h"

namespace hookline::viewer {

struct FrameServerOptions {
  int threads = 0;     // of the decoder, 0: one a core
  int store_mb = 320;  // 1e6 bytes; never fewer than 16 pictures
  int ahead = 16;      // pictures decoded ahead
  int behind = 12;     // pictures decoded ahead when going backward
};

enum class ClipPhase { kOpening, kListing, kReady, kFailed };

using FramePtr = std::shared_ptr<const Picture>;  // stored planes; media::ShownForm says how they are shown

class FrameServer {
 public:
  // Opens on its own thread; phase() tells how far it is.
  FrameServer(std::string file, const FrameServerOptions& options, std::function<void()> on_change);
  ~FrameServer();
  FrameServer(const FrameServer&) = delete;
  FrameServer& operator=(const FrameServer&) = delete;

  ClipPhase phase() const;
  std::string failure() const;  // one sentence, when kFailed
  // From kListing on.
  ClipInfo info() const;
  media::ShownForm form() const;
  FramePtr first() const;
  // From kReady on; never changes then.
  const std::vector<double>& times_s() const { return times_s_; }

  // Number of the picture shown at a time: the last one not after it.
  std::size_t FrameAt(double time_s) const;
  // direction: +1 forward, -1 backward, 0 a jump. `loop_start`: played again after the stretch's end.
  void Want(std::size_t frame, int direction, std::optional<std::size_t> loop_start = std::nullopt);
  // The picture, when it is there. Where the file cannot give it (damage), the nearest before it that can be had.
  FramePtr Get(std::size_t frame) const;
  // The nearest one not after it that is there, for playing on when a picture is late.
  FramePtr LastNotAfter(std::size_t frame) const;

 private:
  void Work();
  void Serve(media::ClipFrames& frames);
  std::optional<std::size_t> NextTask() const;  // under the lock
  void Keep(Picture picture);                   // under the lock
  void Evict();                                 // under the lock

  const std::string file_;
  const FrameServerOptions options_;
  const std::function<void()> on_change_;

  mutable std::mutex mutex_;
  std::condition_variable changed_;
  ClipPhase phase_ = ClipPhase::kOpening;
  std::string failure_;
  ClipInfo info_;
  media::ShownForm form_;
  FramePtr first_;
  std::vector<double> times_s_;
  std::map<std::size_t, FramePtr> store_;
  std::size_t capacity_ = 16;
  std::size_t wanted_ = 0;
  int direction_ = 0;
  std::optional<std::size_t> loop_start_;
  StopToken stop_;
  std::thread worker_;
};

}  // namespace hookline::viewer
