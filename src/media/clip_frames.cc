#include "media/clip_frames.h"

#include <algorithm>

extern "C" {
#include <libavutil/pixdesc.h>
}

#include "media/container_info.h"
#include "media/frame_planes.h"
#include "media/video_source.h"

namespace hookline::media {
namespace {

// Such pictures come from the scaler, as BT.709 in limited range.
bool StoredAsRgb(const AVFrame& frame) {
  const AVPixFmtDescriptor* format = av_pix_fmt_desc_get(static_cast<AVPixelFormat>(frame.format));
  return format && (format->flags & (AV_PIX_FMT_FLAG_RGB | AV_PIX_FMT_FLAG_PAL));
}

ColourMatrix MatrixOf(const AVFrame& frame) {
  if (StoredAsRgb(frame)) return ColourMatrix::kBt709;
  switch (frame.colorspace) {
    case AVCOL_SPC_BT709:
      return ColourMatrix::kBt709;
    case AVCOL_SPC_BT470BG:
    case AVCOL_SPC_SMPTE170M:
    case AVCOL_SPC_FCC:
      return ColourMatrix::kBt601;
    case AVCOL_SPC_BT2020_NCL:
    case AVCOL_SPC_BT2020_CL:
      return ColourMatrix::kBt2020;
    default:
      return std::min(frame.width, frame.height) >= 720 ? ColourMatrix::kBt709 : ColourMatrix::kBt601;
  }
}

bool FullRange(const AVFrame& frame) {
  if (StoredAsRgb(frame)) return false;
  return frame.color_range == AVCOL_RANGE_JPEG || frame.format == AV_PIX_FMT_YUVJ420P ||
         frame.format == AV_PIX_FMT_YUVJ422P || frame.format == AV_PIX_FMT_YUVJ444P;
}

class LibavClipFrames final : public ClipFrames {
 public:
  LibavClipFrames(const std::string& file, int threads, std::unique_ptr<VideoSource> source)
      : file_(file),
        threads_(threads),
        source_(std::move(source)),
        maker_(source_->stream(), source_->format(), source_->first_frame(), true) {
    info_ = InfoOfContainer(file, *source_, maker_);
    const AVFrame& first = source_->first_frame();
    form_.stored_width = maker_.stored_size().width;
    form_.stored_height = maker_.stored_size().height;
    form_.transpose = maker_.orientation().transpose;
    form_.flip_x = maker_.orientation().flip_x;
    form_.flip_y = maker_.orientation().flip_y;
    form_.matrix = MatrixOf(first);
    form_.full_range = FullRange(first);
    first_ = maker_.MakeStored(first);
    first_.index = 0;
  }

  const ClipInfo& info() const override { return info_; }
  const ShownForm& form() const override { return form_; }
  const Picture& first() const override { return first_; }
  const std::vector<double>& times_s() const override { return times_s_; }

  Status ListTimes(const StopToken& stop) override {
    frames_ = source_->ListFrames(stop);
    if (frames_.empty() || !frames_.front().key) {
      frames_.clear();
      if (Status s = ListByDecoding(stop); !s.ok()) return s;
    }
    if (stop.stop_requested()) return {StatusCode::kStopped, "Stopped."};
    for (std::size_t i = 0; i < frames_.size(); ++i) {
      times_s_.push_back(source_->SecondsOf(frames_[i].at.pts));
      if (frames_[i].key) keys_.push_back(i);
    }
    info_.frames = static_cast<std::int64_t>(times_s_.size());
    if (times_s_.size() > 1) {
      info_.frame_rate_mean = static_cast<double>(times_s_.size() - 1) / times_s_.back();
      info_.duration_s = times_s_.back() + times_s_.back() / static_cast<double>(times_s_.size() - 1);
    }
    return Status::Ok();
  }

  std::size_t KeyBefore(std::size_t frame) const override {
    const auto after = std::upper_bound(keys_.begin(), keys_.end(), frame);
    return after == keys_.begin() ? 0 : *(after - 1);
  }

  bool GoToKeyOf(std::size_t frame, int earlier) override {
    floor_ = 0;
    if (!searchable_) return Reopen();
    std::size_t key = KeyBefore(frame);
    for (; earlier > 0 && key > 0; --earlier) key = KeyBefore(key - 1);
    floor_ = frames_[key].at.pts;
    return source_->StartAt(frames_[key].at);
  }

  std::optional<Picture> Next() override {
    while (FramePtr frame = source_->Next()) {
      const std::int64_t stamp = source_->stamp();
      // Pictures that are shown before the key frame but stored after it lack what they were made from.
      if (searchable_ && stamp < floor_) continue;
      const auto at = std::lower_bound(frames_.begin(), frames_.end(), stamp,
                                       [](const ListedFrame& f, std::int64_t s) { return f.at.pts < s; });
      if (at == frames_.end() || at->at.pts != stamp) continue;
      Picture picture = maker_.MakeStored(*frame);
      picture.time_s = source_->SecondsOf(stamp);
      picture.index = at - frames_.begin();
      return picture;
    }
    return std::nullopt;
  }

 private:
  bool Reopen() {
    auto again = VideoSource::Open(file_, threads_);
    if (!again.ok()) return false;
    source_ = std::move(*again);
    return true;
  }

  Status ListByDecoding(const StopToken& stop) {
    searchable_ = false;
    if (!Reopen()) return {StatusCode::kBadFile, "\"" + file_ + "\" could not be opened a second time."};
    while (FramePtr frame = source_->Next()) {
      if (stop.stop_requested()) return {StatusCode::kStopped, "Stopped."};
      frames_.push_back({{source_->stamp(), 0}, frames_.empty()});
    }
    return Status::Ok();
  }

  std::string file_;
  int threads_;
  std::unique_ptr<VideoSource> source_;
  PictureMaker maker_;
  ClipInfo info_;
  ShownForm form_;
  Picture first_;
  std::vector<ListedFrame> frames_;
  std::vector<double> times_s_;
  std::vector<std::size_t> keys_;
  bool searchable_ = true;
  std::int64_t floor_ = 0;
};

}  // namespace

Result<std::unique_ptr<ClipFrames>> ClipFrames::Open(const std::string& file, int threads) {
  auto source = VideoSource::Open(file, threads);
  if (!source.ok()) return source.status();
  return std::unique_ptr<ClipFrames>(new LibavClipFrames(file, threads, std::move(*source)));
}

}  // namespace hookline::media
