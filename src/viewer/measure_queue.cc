#include "viewer/measure_queue.h"

#include <algorithm>
#include <cmath>
#include <exception>

namespace hookline::viewer {

MeasureQueue::MeasureQueue(std::function<void()> on_change) : on_change_(std::move(on_change)) {
  worker_ = std::thread([this] { Work(); });
}

MeasureQueue::~MeasureQueue() {
  {
    const std::lock_guard lock(mutex_);
    stop_ = true;
    if (running_stop_) running_stop_->RequestStop();
  }
  changed_.notify_all();
  worker_.join();
}

void MeasureQueue::Add(int id, const std::string& file, const pipeline::MeasureOptions& options) {
  {
    const std::lock_guard lock(mutex_);
    jobs_.push_back({id, file, options});
  }
  changed_.notify_all();
}

void MeasureQueue::Cancel(int id) {
  const std::lock_guard lock(mutex_);
  if (running_ && running_->id == id && running_stop_) running_stop_->RequestStop();
  const auto mine = [id](const Job& j) { return j.id == id; };
  if (std::any_of(jobs_.begin(), jobs_.end(), mine)) {
    std::erase_if(jobs_, mine);
    done_.push_back({id, {StatusCode::kStopped, "Stopped."}, nullptr});
  }
}

void MeasureQueue::CancelAll() {
  const std::lock_guard lock(mutex_);
  if (running_stop_) running_stop_->RequestStop();
  for (const Job& job : jobs_) done_.push_back({job.id, {StatusCode::kStopped, "Stopped."}, nullptr});
  jobs_.clear();
}

std::optional<MeasureQueue::Running> MeasureQueue::Now() const {
  const std::lock_guard lock(mutex_);
  return running_;
}

std::size_t MeasureQueue::waiting() const {
  const std::lock_guard lock(mutex_);
  return jobs_.size();
}

std::vector<MeasureQueue::Done> MeasureQueue::TakeDone() {
  const std::lock_guard lock(mutex_);
  return std::exchange(done_, {});
}

void MeasureQueue::Finish(int id, Status status, std::shared_ptr<const pipeline::ClipRun> run) {
  {
    const std::lock_guard lock(mutex_);
    running_.reset();
    running_stop_.reset();
    done_.push_back({id, std::move(status), std::move(run)});
  }
  on_change_();
}

void MeasureQueue::Work() {
  while (true) {
    Job job;
    std::shared_ptr<StopToken> stop;
    {
      std::unique_lock lock(mutex_);
      changed_.wait(lock, [this] { return stop_ || !jobs_.empty(); });
      if (stop_) return;
      job = std::move(jobs_.front());
      jobs_.pop_front();
      stop = running_stop_ = std::make_shared<StopToken>();
      running_ = Running{job.id, "opening", -1};
    }
    on_change_();
    const auto progress = [this](std::string_view stage, double share) {
      bool news = false;
      {
        const std::lock_guard lock(mutex_);
        if (!running_) return;
        // Every frame reports; a window redrawn for each would cost more than it tells.
        news = running_->stage != stage || std::abs(share - running_->share) >= 0.01;
        if (news) running_->stage = stage, running_->share = share;
      }
      if (news) on_change_();
    };
    try {
      auto run = pipeline::MeasureClip(job.file, job.options, progress, *stop);
      if (run.ok()) {
        Finish(job.id, Status::Ok(), std::make_shared<const pipeline::ClipRun>(std::move(*run)));
      } else {
        Finish(job.id, run.status(), nullptr);
      }
    } catch (const std::exception& e) {
      Finish(job.id, {StatusCode::kInternal, "\"" + job.file + "\" could not be measured (" + e.what() + ")."},
             nullptr);
    }
  }
}

}  // namespace hookline::viewer
