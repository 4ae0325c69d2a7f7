#include "viewer/advice_maker.h"

#include <exception>
#include <utility>

#include "advice/advise.h"
#include "pipeline/plan_move.h"

namespace hookline::viewer {

AdviceMaker::AdviceMaker(std::function<void()> on_change) : on_change_(std::move(on_change)) {
  worker_ = std::thread([this] { Work(); });
}

AdviceMaker::~AdviceMaker() {
  {
    const std::lock_guard lock(mutex_);
    stop_ = true;
  }
  changed_.notify_all();
  worker_.join();
}

void AdviceMaker::Ask(std::vector<Shot> session, long version) {
  {
    const std::lock_guard lock(mutex_);
    next_ = {std::move(session), version};
  }
  changed_.notify_all();
}

bool AdviceMaker::busy() const {
  const std::lock_guard lock(mutex_);
  return busy_ || next_.has_value();
}

std::optional<AdviceMaker::Made> AdviceMaker::Take() {
  const std::lock_guard lock(mutex_);
  return std::exchange(made_, std::nullopt);
}

void AdviceMaker::Work() {
  while (true) {
    std::pair<std::vector<Shot>, long> task;
    {
      std::unique_lock lock(mutex_);
      changed_.wait(lock, [this] { return stop_ || next_; });
      if (stop_) return;
      task = std::move(*next_);
      next_.reset();
      busy_ = true;
    }
    Made made;
    made.version = task.second;
    try {
      made.advice = advice::Advise(task.first);
      pipeline::PlanMoveByPhysics(task.first, made.advice);
    } catch (const std::exception& e) {
      made.advice.warnings.push_back(std::string("No advice could be made (") + e.what() + ").");
    }
    {
      const std::lock_guard lock(mutex_);
      busy_ = false;
      made_ = std::move(made);
    }
    on_change_();
  }
}

}  // namespace hookline::viewer
