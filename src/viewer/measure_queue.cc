#include "viewer/measure_queue.h"

#include <algorithm>
#include <cmath>
#include <exception>
#include <utility>

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

void MeasureQueue::Add(MeasureJob job) {
  {
    const std::lock_guard lock(mutex_);
    std::erase_if(jobs_, [&](const MeasureJob& j) { return j.id == job.id; });
    jobs_.push_back(std::move(job));
  }
  changed_.notify_all();
}

void MeasureQueue::Cancel(int id) {
  const std::lock_guard lock(mutex_);
  if (running_ && running_->id == id && running_stop_) running_stop_->RequestStop();
  if (std::erase_if(jobs_, [id](const MeasureJob& j) { return j.id == id; }) > 0)
    done_.push_back({id, {StatusCode::kStopped, "Stopped."}, nullptr, nullptr});
}

void MeasureQueue::CancelAll() {
  const std::lock_guard lock(mutex_);
  if (running_stop_) running_stop_->RequestStop();
  for (const MeasureJob& job : jobs_) done_.push_back({job.id, {StatusCode::kStopped, "Stopped."}, nullptr, nullptr});
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

void MeasureQueue::Report(std::string_view stage, double share) {
  {
    const std::lock_guard lock(mutex_);
    // Every frame reports; a window redrawn for each would cost more than it tells.
    if (!running_ || (running_->stage == stage && std::abs(share - running_->share) < 0.01)) return;
    running_->stage = stage;
    running_->share = share;
  }
  on_change_();
}

MeasureQueue::Done MeasureQueue::Do(const MeasureJob& job, const StopToken& stop) {
  const auto progress = [this](std::string_view stage, double share) { Report(stage, share); };
  RunPtr base = job.base;
  if (!base && job.load) {
    if (auto kept = job.load(); kept.ok()) base = std::make_shared<const pipeline::ClipRun>(std::move(*kept));
  }
  if (base && !pipeline::NeedsClip(*base, job.corrections)) {
    if (job.corrections.empty()) return {job.id, Status::Ok(), base, base};
    auto run = pipeline::Refit(*base, job.corrections, job.options);
    if (!run.ok()) return {job.id, run.status(), nullptr, nullptr};
    return {job.id, Status::Ok(), base, std::make_shared<const pipeline::ClipRun>(std::move(*run))};
  }
  auto both = pipeline::MeasureCorrected(job.file, job.corrections, job.options, progress, stop);
  if (!both.ok()) return {job.id, both.status(), nullptr, nullptr};
  if (job.keep) job.keep(both->base);
  return {job.id, Status::Ok(), std::make_shared<const pipeline::ClipRun>(std::move(both->base)),
          std::make_shared<const pipeline::ClipRun>(std::move(both->run))};
}

void MeasureQueue::Work() {
  while (true) {
    MeasureJob job;
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
    Done done;
    try {
      done = Do(job, *stop);
    } catch (const std::exception& e) {
      done = {job.id,
              {StatusCode::kInternal, "\"" + job.file + "\" could not be measured (" + e.what() + ")."},
              nullptr,
              nullptr};
    }
    {
      const std::lock_guard lock(mutex_);
      running_.reset();
      running_stop_.reset();
      done_.push_back(std::move(done));
    }
    on_change_();
  }
}

}  // namespace hookline::viewer
