#include "viewer/frame_server.h"

#include <algorithm>
#include <exception>

namespace hookline::viewer {
namespace {

// Decoding on is cheaper than going back to a key frame as long as the way is no longer than this.
constexpr std::size_t kWorthDecodingOn = 30;

std::size_t Apart(std::size_t a, std::size_t b) { return a > b ? a - b : b - a; }

}  // namespace

FrameServer::FrameServer(std::string file, const FrameServerOptions& options, std::function<void()> on_change)
    : file_(std::move(file)), options_(options), on_change_(std::move(on_change)) {
  worker_ = std::thread([this] { Work(); });
}

FrameServer::~FrameServer() {
  {
    const std::lock_guard lock(mutex_);
    stop_.RequestStop();
  }
  changed_.notify_all();
  worker_.join();
}

ClipPhase FrameServer::phase() const {
  const std::lock_guard lock(mutex_);
  return phase_;
}
std::string FrameServer::failure() const {
  const std::lock_guard lock(mutex_);
  return failure_;
}
ClipInfo FrameServer::info() const {
  const std::lock_guard lock(mutex_);
  return info_;
}
media::ShownForm FrameServer::form() const {
  const std::lock_guard lock(mutex_);
  return form_;
}
FramePtr FrameServer::first() const {
  const std::lock_guard lock(mutex_);
  return first_;
}

std::size_t FrameServer::FrameAt(double time_s) const {
  // A time that was itself a time stamp must find its picture in spite of rounding on the way.
  const auto after = std::upper_bound(times_s_.begin(), times_s_.end(), time_s + 1e-7);
  return after == times_s_.begin() ? 0 : static_cast<std::size_t>(after - times_s_.begin()) - 1;
}

void FrameServer::Want(std::size_t frame, int direction, std::optional<std::size_t> loop_start) {
  {
    const std::lock_guard lock(mutex_);
    if (frame == wanted_ && direction == direction_ && loop_start == loop_start_) return;
    wanted_ = frame;
    direction_ = direction;
    loop_start_ = loop_start;
  }
  changed_.notify_all();
}

FramePtr FrameServer::Get(std::size_t frame) const {
  const std::lock_guard lock(mutex_);
  const auto it = store_.find(frame);
  return it == store_.end() ? nullptr : it->second;
}

FramePtr FrameServer::LastNotAfter(std::size_t frame) const {
  const std::lock_guard lock(mutex_);
  auto it = store_.upper_bound(frame);
  return it == store_.begin() ? nullptr : std::prev(it)->second;
}

void FrameServer::Work() {
  const auto fail = [this](const std::string& sentence) {
    const std::lock_guard lock(mutex_);
    phase_ = ClipPhase::kFailed;
    failure_ = sentence;
  };
  try {
    auto frames = media::ClipFrames::Open(file_, options_.threads);
    if (!frames.ok()) {
      fail(frames.status().sentence());
    } else {
      {
        const std::lock_guard lock(mutex_);
        info_ = (*frames)->info();
        form_ = (*frames)->form();
        first_ = std::make_shared<Picture>((*frames)->first());
        phase_ = ClipPhase::kListing;
      }
      on_change_();
      if (Status listed = (*frames)->ListTimes(stop_); !listed.ok()) {
        fail(listed.sentence());
      } else {
        {
          const std::lock_guard lock(mutex_);
          info_ = (*frames)->info();
          times_s_ = (*frames)->times_s();
          const double bytes = 1.5 * form_.stored_width * form_.stored_height;
          capacity_ = std::max<std::size_t>(16, static_cast<std::size_t>(options_.store_mb * 1e6 / bytes));
          phase_ = ClipPhase::kReady;
        }
        on_change_();
        Serve(**frames);
      }
    }
  } catch (const std::exception& e) {
    fail("\"" + file_ + "\" could not be read on (" + e.what() + ").");
  }
  on_change_();
}

// The first picture that is missing, in the order in which they will be shown.
std::optional<std::size_t> FrameServer::NextTask() const {
  const std::size_t count = times_s_.size();
  const auto missing = [this](std::size_t f) { return store_.find(f) == store_.end(); };
  if (wanted_ < count && missing(wanted_)) return wanted_;
  // Half of the store at most is for what is to come, so that what was decoded ahead is not let go for each other.
  const std::size_t room = capacity_ / 2;
  if (direction_ < 0) {
    const std::size_t reach = std::min({static_cast<std::size_t>(options_.behind), room, wanted_});
    for (std::size_t i = 1; i <= reach; ++i) {
      // A stretch is decoded forward: its first missing picture is where to begin.
      if (missing(wanted_ - i)) return wanted_ - i;
    }
    return std::nullopt;
  }
  const std::size_t reach = std::min(static_cast<std::size_t>(options_.ahead), room);
  for (std::size_t i = 1; i <= reach && wanted_ + i < count; ++i) {
    if (missing(wanted_ + i)) return wanted_ + i;
  }
  if (loop_start_) {
    for (std::size_t f = *loop_start_; f < std::min(count, *loop_start_ + reach / 2); ++f) {
      if (missing(f)) return f;
    }
  }
  return std::nullopt;
}

void FrameServer::Keep(Picture picture) {
  const auto number = static_cast<std::size_t>(picture.index);
  store_[number] = std::make_shared<Picture>(std::move(picture));
  Evict();
}

void FrameServer::Evict() {
  while (store_.size() > capacity_) {
    // The loop's start is kept to hand; everything else counts by how far it is from what is shown.
    const auto cost = [this](std::size_t f) {
      return std::min(Apart(f, wanted_), loop_start_ ? Apart(f, *loop_start_) : SIZE_MAX);
    };
    store_.erase(std::max_element(store_.begin(), store_.end(),
                                  [&](const auto& a, const auto& b) { return cost(a.first) < cost(b.first); }));
  }
}

void FrameServer::Serve(media::ClipFrames& frames) {
  constexpr std::size_t kNowhere = SIZE_MAX;
  std::size_t position = kNowhere;  // the picture that Next() gives
  while (true) {
    std::size_t task = 0;
    {
      std::unique_lock lock(mutex_);
      std::optional<std::size_t> next;
      changed_.wait(lock, [&] { return stop_.stop_requested() || (next = NextTask()); });
      if (stop_.stop_requested()) return;
      task = *next;
    }
    const bool on = position <= task && (task - position <= kWorthDecodingOn || frames.KeyBefore(task) <= position);
    // Where the decoder leaves the picture out it is tried once more from a key frame earlier.
    bool reached = false;
    for (int earlier = on ? -1 : 0; earlier < 2 && !reached; ++earlier) {
      if (earlier >= 0 && !frames.GoToKeyOf(task, earlier)) break;
      // As far as the task in one go: half a way thrown away for a newer wish would never show anything while somebody
      // drags along the clip.
      position = kNowhere;
      while (position == kNowhere || position <= task) {
        std::optional<Picture> picture = frames.Next();
        const std::lock_guard lock(mutex_);
        if (stop_.stop_requested()) return;
        if (!picture) break;
        const auto number = static_cast<std::size_t>(picture->index);
        position = number + 1;
        reached = reached || number == task;
        if (number <= task || number - task < capacity_ / 2) Keep(std::move(*picture));
      }
    }
    {
      const std::lock_guard lock(mutex_);
      if (store_.find(task) == store_.end()) {
        // Damaged: what was before it stands in for it, so that it is not asked for again.
        auto it = store_.upper_bound(task);
        store_[task] = it != store_.begin() ? std::prev(it)->second : first_;
      }
      if (!reached) position = kNowhere;
    }
    on_change_();
  }
}

}  // namespace hookline::viewer
