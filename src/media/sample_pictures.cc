#include <algorithm>
#include <cmath>

#include "media/clip_reader.h"
#include "media/frame_planes.h"
#include "media/video_source.h"

namespace hookline::media {
namespace {

// Where key frames are few, this share of each stretch between two of them is decoded (in short clips more, up to so
// many seconds in all), and no longer stretch is left unseen than this share of the range. The first two bound the cost
// where key frames are a few seconds apart; the last keeps someone who stands still for a while from filling the sample
// where they are farther apart.
constexpr double kDecodedShare = 0.2;
constexpr double kDecodedSeconds = 2.4;
constexpr double kLongestGap = 1.0 / 3.0;

class Sampler {
 public:
  Sampler(VideoSource& source, int count)
      : source_(source), count_(count), maker_(source.stream(), source.format(), source.first_frame(), true) {}

  void Keep(const AVFrame& frame, std::int64_t stamp) {
    Picture picture = maker_.Make(frame);
    picture.time_s = source_.SecondsOf(stamp);
    pictures_.push_back(std::move(picture));
  }

  // The key frames nearest to even steps of time.
  void FromKeyFrames(const std::vector<KeyFrame>& keys, std::int64_t from, std::int64_t to) {
    std::vector<KeyFrame> chosen;
    if (static_cast<int>(keys.size()) <= count_) {
      chosen = keys;
    } else {
      size_t next = 0;
      for (int i = 0; i < count_; ++i) {
        const double target = static_cast<double>(from) + static_cast<double>(to - from) * (i + 0.5) / count_;
        const size_t last = keys.size() - static_cast<size_t>(count_ - i);  // leaves one for each step still to come
        const auto off = [&](size_t k) { return std::abs(static_cast<double>(keys[k].pts) - target); };
        while (next < last && off(next + 1) <= off(next)) ++next;
        chosen.push_back(keys[next++]);
      }
    }
    for (const StampedFrame& f : source_.DecodeOnly(chosen)) Keep(*f.frame, f.stamp);
  }

  // Key frames are few: from each, the first part of the way to the next.
  void FromRuns(const std::vector<KeyFrame>& keys, std::int64_t from, std::int64_t to, bool thorough) {
    const double range = static_cast<double>(std::max<std::int64_t>(1, to - from));
    const double decoded =
        thorough ? 1 : std::clamp(kDecodedSeconds / (range * source_.TickSeconds()), kDecodedShare, 1.0);
    source_.SkipUnreferenced(true);
    int kept = 0;
    for (size_t k = 0; k < keys.size(); ++k) {
      const std::int64_t start = std::max(keys[k].pts, from);
      const std::int64_t end = k + 1 < keys.size() ? std::min(keys[k + 1].pts, to) : to;
      if (end < start) continue;
      const double length = static_cast<double>(end - start);
      // As many as this stretch's share of the range asks for, the rounding carried over.
      const double share = (static_cast<double>(start - from) + length) / range;
      const int wanted =
          std::max(kept < count_ ? 1 : 0, static_cast<int>(std::lround(count_ * std::min(1.0, share))) - kept);
      if (wanted <= 0 || !source_.StartAt(keys[k])) continue;
      const double run = std::max(decoded * length, length - kLongestGap * range);
      int got = 0;
      while (got < wanted) {
        FramePtr frame = source_.Next();
        if (!frame || source_.stamp() >= end + (k + 1 == keys.size() ? 1 : 0)) break;
        const double target = static_cast<double>(start) + run * got / std::max(1, wanted - 1);
        if (source_.stamp() < start || static_cast<double>(source_.stamp()) < target - 0.5) continue;
        Keep(*frame, source_.stamp());
        ++got;
      }
      kept += got;
    }
  }

  // No way to jump: all of it, kept ever more thinly until the end is known.
  void FromAll(std::int64_t to) {
    source_.SkipUnreferenced(source_.has_true_stamps());
    std::vector<StampedFrame> kept;
    std::int64_t every = 1, seen = 0;
    while (FramePtr frame = source_.Next()) {
      if (source_.stamp() > to) break;
      if (seen++ % every != 0) continue;
      kept.push_back({std::move(frame), source_.stamp()});
      if (static_cast<int>(kept.size()) < 2 * count_) continue;
      for (size_t i = 0; 2 * i < kept.size(); ++i) kept[i] = std::move(kept[2 * i]);
      kept.resize((kept.size() + 1) / 2);
      every *= 2;
    }
    const int n = static_cast<int>(kept.size());
    for (int i = 0; i < std::min(n, count_); ++i) {
      const StampedFrame& f = kept[static_cast<size_t>(n <= count_ ? i : i * (n - 1) / std::max(1, count_ - 1))];
      Keep(*f.frame, f.stamp);
    }
  }

  std::vector<Picture> Take() { return std::move(pictures_); }
  size_t size() const { return pictures_.size(); }

 private:
  VideoSource& source_;
  int count_;
  PictureMaker maker_;
  std::vector<Picture> pictures_;
};

}  // namespace

Result<std::vector<Picture>> SamplePictures(const std::string& file, int count, double within_s, bool thorough) {
  if (count < 1) return Status(StatusCode::kBadUse, "count is " + std::to_string(count) + ", it must be 1 or more.");
  auto opened = VideoSource::Open(file, 0);
  if (!opened.ok()) return opened.status();
  VideoSource& source = **opened;
  Sampler sampler(source, count);

  const std::int64_t from = source.TicksOf(0);
  const double duration = source.DurationSeconds();
  const std::int64_t limit = within_s > 0 ? source.TicksOf(within_s) : INT64_MAX;
  std::vector<KeyFrame> keys = source.FindKeyFrames(limit);
  if (!keys.empty() && duration > 0) {
    const std::int64_t to = std::min(limit, source.TicksOf(duration));
    std::vector<KeyFrame> shown = keys;
    std::erase_if(shown, [&](const KeyFrame& k) { return k.pts < from; });
    if (static_cast<int>(shown.size()) * 4 >= count * 3) {
      sampler.FromKeyFrames(shown, from, to);
    } else {
      sampler.FromRuns(keys, from, to, thorough);
    }
    if (static_cast<int>(sampler.size()) * 2 >= count) return sampler.Take();
  }
  // A file that cannot be searched, or that did not hold what its index says.
  auto again = VideoSource::Open(file, 0);
  if (!again.ok()) return again.status();
  Sampler all(**again, count);
  all.FromAll(limit);
  return all.size() >= sampler.size() ? all.Take() : sampler.Take();
}

}  // namespace hookline::media
