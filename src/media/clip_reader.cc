#include "media/clip_reader.h"

#include <algorithm>
#include <cmath>
#include <condition_variable>
#include <cstdio>
#include <deque>
#include <map>
#include <mutex>
#include <thread>

#include "media/container_info.h"
#include "media/frame_planes.h"
#include "media/video_source.h"

namespace hookline::media {
namespace {

// Pictures the decoder may be ahead at least. Four hide the unevenness between cheap and costly pictures.
constexpr size_t kAhead = 4;

std::string Seconds(double s) {
  char text[32];
  std::snprintf(text, sizeof text, "%.2f s", s);
  return text;
}

// Intervals between pictures as a histogram: a clip of any length in little memory.
class Intervals {
 public:
  void Add(std::int64_t ticks) { ++count_[ticks], ++total_; }
  std::int64_t Median() const {
    std::int64_t seen = 0;
    for (const auto& [ticks, n] : count_) {
      if ((seen += n) * 2 >= total_) return ticks;
    }
    return 0;
  }
  // Containers round stamps to their tick (1 ms in Matroska), which makes a constant rate look uneven by one tick.
  bool Varies() const {
    const double allowed = std::max(1.5, 0.05 * static_cast<double>(Median()));
    return std::any_of(count_.begin(), count_.end(),
                       [&](const auto& c) { return std::abs(static_cast<double>(c.first - Median())) > allowed; });
  }

 private:
  std::map<std::int64_t, std::int64_t> count_;
  std::int64_t total_ = 0;
};

size_t BytesOf(const Picture& p) { return p.luma.total() + p.cb.total() + p.cr.total(); }

class LibavClipReader final : public ClipReader {
 public:
  LibavClipReader(const std::string& file, std::unique_ptr<VideoSource> source, const ClipReaderOptions& options)
      : source_(std::move(source)),
        maker_(source_->stream(), source_->format(), source_->first_frame(), options.chroma) {
    info_ = InfoOfContainer(file, *source_, maker_);
    ahead_bytes_ = static_cast<size_t>(options.ahead_mb) * 1000000;
    worker_ = std::thread([this] { Work(); });
  }

  ~LibavClipReader() override {
    {
      const std::lock_guard lock(mutex_);
      stop_ = true;
    }
    changed_.notify_all();
    worker_.join();
  }

  const ClipInfo& info() const override { return info_; }
  const std::vector<std::string>& warnings() const override { return warnings_; }

  std::optional<Picture> Next() override {
    std::unique_lock lock(mutex_);
    changed_.wait(lock, [this] { return !ready_.empty() || done_; });
    if (ready_.empty()) {
      if (!closed_) Close();
      return std::nullopt;
    }
    Picture picture = std::move(ready_.front());
    ready_.pop_front();
    ready_bytes_ -= BytesOf(picture);
    lock.unlock();
    changed_.notify_all();
    return picture;
  }

 private:
  void Work() {
    try {
      Decode();
    } catch (const std::exception& e) {
      const std::lock_guard lock(mutex_);
      failure_ = e.what();
    }
    {
      const std::lock_guard lock(mutex_);
      done_ = true;
    }
    changed_.notify_all();
  }

  void Decode() {
    while (FramePtr frame = source_->Next()) {
      Picture picture = maker_.Make(*frame);
      frame.reset();
      const std::int64_t stamp = source_->stamp();
      picture.time_s = source_->SecondsOf(stamp);
      picture.index = pictures_++;
      if (picture.index > 0) intervals_.Add(stamp - last_stamp_);
      last_stamp_ = stamp;
      std::unique_lock lock(mutex_);
      const size_t bytes = BytesOf(picture);
      changed_.wait(lock, [&] { return ready_.size() < kAhead || ready_bytes_ + bytes <= ahead_bytes_ || stop_; });
      if (stop_) return;
      ready_bytes_ += bytes;
      ready_.push_back(std::move(picture));
      lock.unlock();
      changed_.notify_all();
    }
  }

  // The worker has ended: what it counted is ours to read.
  void Close() {
    closed_ = true;
    const double promised = source_->PromisedSeconds();
    const double last_s = source_->SecondsOf(last_stamp_);
    const double interval_s = static_cast<double>(intervals_.Median()) * source_->TickSeconds();
    info_.frames = pictures_;
    info_.duration_s = last_s + interval_s;
    info_.variable_rate = intervals_.Varies();
    if (pictures_ > 1) info_.frame_rate_mean = static_cast<double>(pictures_ - 1) / last_s;

    const std::string name = "\"" + info_.file + "\" ";
    // Containers state durations of the longest track, sound included, rounded up: only a clear lack counts.
    const bool short_of =
        !source_->has_full_index() && promised > 0 && info_.duration_s < promised - std::max(0.5, 0.02 * promised);
    if (source_->cut_off() || short_of) {
      warnings_.push_back(name + "is cut off: " + Seconds(info_.duration_s) +
                          (promised > info_.duration_s ? " of " + Seconds(promised) : "") +
                          " could be read; shots after that are missing.");
    }
    if (source_->damaged() > 0) {
      warnings_.push_back(name + "is damaged: " + std::to_string(source_->damaged()) +
                          " of its pictures could not be decoded, or only in part.");
    }
    if (source_->out_of_order() > 0) {
      warnings_.push_back(name + "has " + std::to_string(source_->out_of_order()) +
                          " pictures whose time stamp is not after the one before; they were left out.");
    }
    if (maker_.size_changed()) {
      warnings_.push_back(name +
                          "changes its picture size on the way; all pictures were brought to the first one's size.");
    }
    if (maker_.interlaced()) {
      warnings_.push_back(name +
                          "is interlaced: each picture holds two that were taken one after the other, in alternate "
                          "rows. The first of them is used, so heights in the picture are known half as well; film "
                          "progressively (\"p\", not \"i\") if the camera can.");
    }
    if (!failure_.empty()) warnings_.push_back(name + "could not be read to its end (" + failure_ + ").");
  }

  std::unique_ptr<VideoSource> source_;
  PictureMaker maker_;
  ClipInfo info_;
  std::vector<std::string> warnings_;
  bool closed_ = false;

  std::mutex mutex_;
  std::condition_variable changed_;
  std::deque<Picture> ready_;
  size_t ready_bytes_ = 0, ahead_bytes_ = 0;
  bool stop_ = false;
  bool done_ = false;
  std::string failure_;

  // The worker's own until done_.
  Intervals intervals_;
  std::int64_t pictures_ = 0;
  std::int64_t last_stamp_ = 0;

  std::thread worker_;
};

}  // namespace

Status ClipReaderOptions::Check() const {
  if (threads < 0 || threads > 256) {
    return {StatusCode::kBadUse, "threads is " + std::to_string(threads) + ", it must be 0 (all cores) to 256."};
  }
  if (ahead_mb < 0 || ahead_mb > 4000) {
    return {StatusCode::kBadUse, "ahead_mb is " + std::to_string(ahead_mb) + ", it must be 0 to 4000."};
  }
  return Status::Ok();
}

Result<std::unique_ptr<ClipReader>> ClipReader::Open(const std::string& file, const ClipReaderOptions& options) {
  if (Status s = options.Check(); !s.ok()) return s;
  auto source = VideoSource::Open(file, options.threads);
  if (!source.ok()) return source.status();
  return std::unique_ptr<ClipReader>(new LibavClipReader(file, std::move(*source), options));
}

Result<ClipInfo> LookAtClip(const std::string& file) {
  const auto source = VideoSource::Open(file, 1);
  if (!source.ok()) return source.status();
  const VideoSource& of = **source;
  return InfoOfContainer(file, of, PictureMaker(of.stream(), of.format(), of.first_frame(), false));
}

}  // namespace hookline::media
