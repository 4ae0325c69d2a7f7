// Progress of a long run and the wish to stop it. Both are handed down; nothing below the pipeline owns either.
#pragma once

#include <atomic>
#include <functional>
#include <string_view>

namespace hookline {

// Called with the stage's plain name and the share done in 0..1 (negative: not known). May be called from a worker
// thread.
using ProgressFn = std::function<void(std::string_view stage, double share)>;

// Set once from any thread or a signal handler; long loops look at it at least once a frame.
class StopToken {
 public:
  void RequestStop() { stop_.store(true, std::memory_order_relaxed); }
  bool stop_requested() const { return stop_.load(std::memory_order_relaxed); }

 private:
  std::atomic<bool> stop_{false};
};

}  // namespace hookline
