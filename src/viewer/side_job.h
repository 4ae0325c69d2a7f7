// One piece of work on a thread of its own, such as writing a page or a clip, with its progress, a way to stop it and
// its end, for a sheet that shows them. Functions belong to one thread; `on_change` is called from the worker's, a
// hundred times a stage at most. Going away stops the work.
#pragma once

#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <thread>

#include "core/progress.h"
#include "core/status.h"

namespace hookline::viewer {

class SideJob {
 public:
  explicit SideJob(std::function<void()> on_change);
  ~SideJob();
  SideJob(const SideJob&) = delete;
  SideJob& operator=(const SideJob&) = delete;

  // Nothing happens while one runs. `first_stage`: shown until the work reports one of its own; `what` stands in the
  // sentence when it throws: "The page could not be made (...)".
  using Work = std::function<Status(const ProgressFn&, const StopToken&)>;
  void Begin(const std::string& first_stage, const std::string& what, Work work);
  void Stop();

  struct News {
    bool busy = false;
    std::string stage;
    double share = -1;  // 0..1; negative: not known
    bool done = false;  // the last one ended: `status` says how
    Status status;
  };
  News Look() const;

 private:
  const std::function<void()> on_change_;
  mutable std::mutex mutex_;
  News news_;
  std::unique_ptr<StopToken> stop_;
  std::thread worker_;
};

}  // namespace hookline::viewer
