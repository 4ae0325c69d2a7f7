// The session's advice on a thread of its own: the advisor, then the next move by physics, which takes a while. Of
// sessions that come faster than advice only the newest is advised on.
#pragma once

#include <condition_variable>
#include <functional>
#include <mutex>
#include <optional>
#include <thread>
#include <vector>

#include "model/advice.h"
#include "model/shot.h"

namespace hookline::viewer {

class AdviceMaker {
 public:
  explicit AdviceMaker(std::function<void()> on_change);  // called from the worker's thread
  ~AdviceMaker();
  AdviceMaker(const AdviceMaker&) = delete;
  AdviceMaker& operator=(const AdviceMaker&) = delete;

  // `version` comes back with the advice.
  void Ask(std::vector<Shot> session, long version);
  bool busy() const;
  struct Made {
    Advice advice;
    long version = 0;
  };
  std::optional<Made> Take();

 private:
  void Work();
  const std::function<void()> on_change_;
  mutable std::mutex mutex_;
  std::condition_variable changed_;
  std::optional<std::pair<std::vector<Shot>, long>> next_;
  std::optional<Made> made_;
  bool busy_ = false, stop_ = false;
  std::thread worker_;
};

}  // namespace hookline::viewer
