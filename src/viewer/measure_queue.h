// Clips waiting to be measured, one after the other, on a thread of its own: with pipeline::MeasureClip, so that the
// numbers are those of the command line.
//
// Functions belong to one thread; `on_change` is called from the worker's, when there is progress to show (a hundred
// times a clip at most) or a clip is done. Going away stops the clip that is being measured within a frame or two.
#pragma once

#include <condition_variable>
#include <deque>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "core/progress.h"
#include "core/status.h"
#include "pipeline/measure_clip.h"

namespace hookline::viewer {

class MeasureQueue {
 public:
  explicit MeasureQueue(std::function<void()> on_change);
  ~MeasureQueue();
  MeasureQueue(const MeasureQueue&) = delete;
  MeasureQueue& operator=(const MeasureQueue&) = delete;

  void Add(int id, const std::string& file, const pipeline::MeasureOptions& options);
  // Waiting or running; TakeDone() then says kStopped.
  void Cancel(int id);
  void CancelAll();

  struct Running {
    int id = 0;
    std::string stage;
    double share = -1;
  };
  std::optional<Running> Now() const;
  std::size_t waiting() const;

  struct Done {
    int id = 0;
    Status status;
    std::shared_ptr<const pipeline::ClipRun> run;  // null when the status is not ok
  };
  std::vector<Done> TakeDone();

 private:
  struct Job {
    int id = 0;
    std::string file;
    pipeline::MeasureOptions options;
  };
  void Work();
  void Finish(int id, Status status, std::shared_ptr<const pipeline::ClipRun> run);

  const std::function<void()> on_change_;
  mutable std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<Job> jobs_;
  std::optional<Running> running_;
  std::shared_ptr<StopToken> running_stop_;
  std::vector<Done> done_;
  bool stop_ = false;
  std::thread worker_;
};

}  // namespace hookline::viewer
