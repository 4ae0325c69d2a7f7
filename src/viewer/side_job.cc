#include "viewer/side_job.h"

#include <cmath>
#include <exception>
#include <utility>

namespace hookline::viewer {

SideJob::SideJob(std::function<void()> on_change) : on_change_(std::move(on_change)) {}

SideJob::~SideJob() {
  Stop();
  if (worker_.joinable()) worker_.join();
}

void SideJob::Stop() {
  const std::lock_guard lock(mutex_);
  if (stop_) stop_->RequestStop();
}

SideJob::News SideJob::Look() const {
  const std::lock_guard lock(mutex_);
  return news_;
}

void SideJob::Begin(const std::string& first_stage, const std::string& what, Work work) {
  if (Look().busy) return;
  if (worker_.joinable()) worker_.join();
  {
    const std::lock_guard lock(mutex_);
    stop_ = std::make_unique<StopToken>();
    news_ = {};
    news_.busy = true;
    news_.stage = first_stage;
  }
  worker_ = std::thread([this, what, work = std::move(work)] {
    const auto progress = [this](std::string_view stage, double share) {
      {
        const std::lock_guard lock(mutex_);
        if (news_.stage == stage && std::abs(news_.share - share) < 0.01) return;
        news_.stage = stage;
        news_.share = share;
      }
      on_change_();
    };
    Status status;
    try {
      status = work(progress, *stop_);
    } catch (const std::exception& e) {
      status = {StatusCode::kInternal, what + " could not be made (" + e.what() + ")."};
    }
    {
      const std::lock_guard lock(mutex_);
      news_.busy = false;
      news_.done = true;
      news_.status = std::move(status);
    }
    on_change_();
  });
}

}  // namespace hookline::viewer
