// The video track of a file as decoded frames with their time stamps: demuxer and decoder in one. Internal to this
// room.
//
// Frames come in the order in which they are shown. A stamp counts in ticks of the stream's time base; SecondsOf(stamp)
// is from the first frame that is shown, which Open() has decoded already, so every user of a file shares that clock
// whatever it seeks to later. A frame whose stamp is not later than the one before it cannot be shown and is left out.
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "core/progress.h"
#include "core/status.h"
#include "media/av_handles.h"

namespace hookline::media {

struct KeyFrame {
  std::int64_t pts = 0;   // ticks; dts where the container has no pts
  std::int64_t seek = 0;  // what av_seek_frame() of this container wants, ticks
};

// One packet of the file that becomes a picture, in order of its time.
struct ListedFrame {
  KeyFrame at;
  bool key = false;
};

struct StampedFrame {
  FramePtr frame;
  std::int64_t stamp = 0;  // ticks
};

class VideoSource {
 public:
  // threads: of the decoder, 0 for one a core. kBadFile with one sentence when no picture can be had from the file.
  static Result<std::unique_ptr<VideoSource>> Open(const std::string& file, int threads);

  // The next frame, or null at the end of what the file holds.
  FramePtr Next();
  std::int64_t stamp() const { return stamp_; }  // of the frame Next() gave last
  double SecondsOf(std::int64_t stamp) const;
  double TickSeconds() const { return av_q2d(stream_->time_base); }
  std::int64_t TicksOf(double seconds) const;  // inverse of SecondsOf, rounded down

  // False in AVI and bare streams whose pictures are stored in another order than shown: those are numbered as they are
  // decoded, so the times are right only when everything is decoded from the start.
  bool has_true_stamps() const;

  // Pictures that no other needs are left out from here on; the rest come out as ever.
  void SkipUnreferenced(bool skip) { codec_->skip_frame = skip ? AVDISCARD_NONREF : AVDISCARD_DEFAULT; }

  // Every key frame whose time is at most `until` ticks, found by reading the file without decoding. Empty when the
  // container cannot be asked (no time stamps, no seeking). Leaves the place in the file undefined: StartAt() must
  // follow.
  std::vector<KeyFrame> FindKeyFrames(std::int64_t until);
  // Every picture of the file that is to be shown, in order of time, and which of them are key frames; like
  // FindKeyFrames() otherwise. Empty too when `stop` was set.
  std::vector<ListedFrame> ListFrames(const StopToken& stop);
  // Goes to a key frame; Next() then starts with it. False when it is not there.
  bool StartAt(const KeyFrame& key);
  // Decodes these key frames only, nothing between them. In order of time; fewer when some cannot be decoded or are not
  // shown.
  std::vector<StampedFrame> DecodeOnly(const std::vector<KeyFrame>& keys);

  const AVStream& stream() const { return *stream_; }
  AVFormatContext& format() const { return *format_; }
  const AVFrame& first_frame() const { return *first_copy_; }
  std::string CodecName() const { return avcodec_get_name(stream_->codecpar->codec_id); }
  double DurationSeconds() const;  // what the container says, 0 when it does not
  double PromisedSeconds() const;  // the same, of the whole file when this one is cut off

  // Known after Next() gave null.
  std::int64_t damaged() const { return damaged_; }  // pictures that could not be decoded, or not wholly
  std::int64_t out_of_order() const { return out_of_order_; }
  bool cut_off() const { return cut_off_; }  // the index lists more than the file holds, or reading failed
  bool has_full_index() const;               // cut_off() can be relied on to see a missing end

 private:
  VideoSource() = default;
  FramePtr DecodeNext();
  bool Feed();
  bool Rewind();
  bool FindPacket(const KeyFrame& key);
  std::int64_t StampOf(const AVFrame& frame) const;

  InputPtr format_;
  CodecPtr codec_;
  AVStream* stream_ = nullptr;
  PacketPtr packet_;
  FramePtr first_;       // decoded by Open(), not yet handed out
  FramePtr first_copy_;  // the same, kept for its side data and shape
  bool packet_held_ = false;
  bool draining_ = false;
  bool cut_off_ = false;
  bool has_last_ = false;
  std::int64_t origin_ = 0;
  std::int64_t stamp_ = 0;
  std::int64_t packets_ = 0;
  std::int64_t damaged_ = 0;
  std::int64_t out_of_order_ = 0;
  int index_at_open_ = 0;
};

}  // namespace hookline::media
