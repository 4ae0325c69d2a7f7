// Clips waiting to be measured, one after the other, on a thread of its own: with pipeline::MeasureCorrected and
// pipeline::Refit, so that the numbers are those of the command line.
//
// Functions belong to one thread; `on_change` is called from the worker's, when there is progress to show (a hundred
// times a stage at most) or a clip is done. Going away stops the clip that is being measured within a frame or two.
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
#include "pipeline/refit.h"

namespace hookline::viewer {

using RunPtr = std::shared_ptr<const pipeline::ClipRun>;

struct MeasureJob {
  int id = 0;  // of the clip
  std::string file;
  pipeline::MeasureOptions options;
  Corrections corrections;
  RunPtr base;  // as measured before; null: not yet
  // Both may be empty, and are called from the worker's thread: a run kept from before, and keeping a new one.
  std::function<Result<pipeline::ClipRun>()> load;
  std::function<void(const pipeline::ClipRun&)> keep;
};

class MeasureQueue {
 public:
  explicit MeasureQueue(std::function<void()> on_change);
  ~MeasureQueue();
  MeasureQueue(const MeasureQueue&) = delete;
  MeasureQueue& operator=(const MeasureQueue&) = delete;

  // A job of that clip that still waits is replaced.
  void Add(MeasureJob job);
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
    RunPtr base, run;  // null when the status is not ok
  };
  std::vector<Done> TakeDone();

 private:
  void Work();
  Done Do(const MeasureJob& job, const StopToken& stop);
  void Report(std::string_view stage, double share);

  const std::function<void()> on_change_;
  mutable std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<MeasureJob> jobs_;
  std::optional<Running> running_;
  std::shared_ptr<StopToken> running_stop_;
  std::vector<Done> done_;
  bool stop_ = false;
  std::thread worker_;
};

}  // namespace hookline::viewer
