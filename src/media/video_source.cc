#include "media/video_source.h"

#include <algorithm>
#include <cerrno>
#include <cmath>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <string_view>

extern "C" {
#include <libavutil/dict.h>
}

namespace hookline::media {
namespace {

Status BadFile(const std::string& file, const std::string& rest) {
  return {StatusCode::kBadFile, "\"" + file + "\" " + rest};
}

// What the file system can say is said before libav is asked: its own words for these are vague.
Status CheckReadable(const std::string& file) {
  std::error_code error;
  const auto status = std::filesystem::status(file, error);
  if (file.empty() || status.type() == std::filesystem::file_type::not_found) {
    return BadFile(file, "does not exist; check the name and the folder.");
  }
  if (error)
    return BadFile(file, "cannot be looked at (" + error.message() + "); check the permissions of its folder.");
  if (std::filesystem::is_directory(status))
    return BadFile(file, "is a folder, not a clip; name the video file in it.");
  if (std::filesystem::is_regular_file(status)) {
    if (std::filesystem::file_size(file, error) == 0 && !error) {
      return BadFile(file, "is empty (0 bytes); copy it from the camera again.");
    }
    errno = 0;
    if (!std::ifstream(file, std::ios::binary)) {
      return BadFile(file, std::string("cannot be opened (") + std::strerror(errno) + "); check its permissions.");
    }
  }
  return Status::Ok();
}

// libav also "plays" text as a terminal's screen and pictures as films of one frame.
bool IsNoFilm(std::string_view demuxer) {
  return demuxer == "tty" || demuxer == "image2" || demuxer.ends_with("_pipe") || demuxer == "bin" || demuxer == "lrc";
}

bool IsMov(const AVFormatContext& format) {
  return std::string_view(format.iformat->name).find("mov") != std::string_view::npos;
}

std::int64_t StampOfPacket(const AVPacket& packet) { return packet.pts != AV_NOPTS_VALUE ? packet.pts : packet.dts; }

}  // namespace

Result<std::unique_ptr<VideoSource>> VideoSource::Open(const std::string& file, int threads) {
  QuietLibav();
  if (Status s = CheckReadable(file); !s.ok()) return s;

  std::unique_ptr<VideoSource> source(new VideoSource);
  AVFormatContext* format = nullptr;
  AVDictionary* options = nullptr;
  // A play list must not lead to other files or to the network.
  av_dict_set(&options, "protocol_whitelist", "file", 0);
  const int opened = avformat_open_input(&format, ("file:" + file).c_str(), nullptr, &options);
  av_dict_free(&options);
  if (opened < 0) {
    return BadFile(file, "is not a video that can be read, or was cut off before its index was written (" +
                             AvErrorText(opened) + "); copy it from the camera again, or give an MP4 or MOV file.");
  }
  source->format_.reset(format);
  if (IsNoFilm(format->iformat->name)) {
    return BadFile(file, "is not a video; give the clip as the camera wrote it (MP4, MOV, MKV, AVI or WebM).");
  }
  if (const int rc = avformat_find_stream_info(format, nullptr); rc < 0) {
    return BadFile(file,
                   "is damaged: its tracks cannot be read (" + AvErrorText(rc) + "); copy it from the camera again.");
  }
  const AVCodec* decoder = nullptr;
  const int index = av_find_best_stream(format, AVMEDIA_TYPE_VIDEO, -1, -1, &decoder, 0);
  if (index == AVERROR_DECODER_NOT_FOUND) {
    return BadFile(file, "holds video in a form that cannot be decoded here; convert it to H.264 in an MP4 file.");
  }
  if (index < 0 || (format->streams[index]->disposition & AV_DISPOSITION_ATTACHED_PIC)) {
    return BadFile(file, "holds no video; give the clip itself, not a sound recording.");
  }
  for (unsigned i = 0; i < format->nb_streams; ++i) {
    if (static_cast<int>(i) != index) format->streams[i]->discard = AVDISCARD_ALL;
  }
  source->stream_ = format->streams[index];
  source->index_at_open_ = avformat_index_get_entries_count(source->stream_);

  source->codec_.reset(avcodec_alloc_context3(decoder));
  AVCodecContext* codec = source->codec_.get();
  source->packet_.reset(av_packet_alloc());
  if (!codec || !source->packet_ || avcodec_parameters_to_context(codec, source->stream_->codecpar) < 0) {
    return Status(StatusCode::kInternal, "Out of memory while opening \"" + file + "\".");
  }
  codec->pkt_timebase = source->stream_->time_base;
  // 0 lets libav take one thread more than there are cores, and never so many that their pictures fill the memory.
  codec->thread_count = std::min(threads, 16);
  codec->thread_type = FF_THREAD_FRAME | FF_THREAD_SLICE;
  if (const int rc = avcodec_open2(codec, decoder, nullptr); rc < 0) {
    return BadFile(file, "cannot be decoded (" + source->CodecName() + ": " + AvErrorText(rc) +
                             "); convert it to H.264 in an MP4 file.");
  }
  source->first_ = source->DecodeNext();
  if (!source->first_) {
    return BadFile(file, "holds a video track (" + source->CodecName() +
                             ") of which not one picture can be decoded; copy it from the camera again.");
  }
  source->origin_ = source->stamp_;
  source->first_copy_.reset(av_frame_clone(source->first_.get()));
  return source;
}

double VideoSource::SecondsOf(std::int64_t stamp) const {
  const AVRational base = stream_->time_base;
  return static_cast<double>(stamp - origin_) * base.num / base.den;
}

std::int64_t VideoSource::TicksOf(double seconds) const {
  const AVRational base = stream_->time_base;
  return origin_ + static_cast<std::int64_t>(std::floor(seconds * base.den / base.num + 1e-6));
}

bool VideoSource::has_true_stamps() const {
  const AVCodecDescriptor* codec = avcodec_descriptor_get(stream_->codecpar->codec_id);
  const bool reorders = !codec || (codec->props & AV_CODEC_PROP_REORDER);
  return !reorders || first_copy_->pts != AV_NOPTS_VALUE;
}

double VideoSource::DurationSeconds() const {
  if (stream_->duration != AV_NOPTS_VALUE && stream_->duration > 0)
    return static_cast<double>(stream_->duration) * TickSeconds();
  if (format_->duration != AV_NOPTS_VALUE && format_->duration > 0)
    return static_cast<double>(format_->duration) / AV_TIME_BASE;
  return 0;
}

double VideoSource::PromisedSeconds() const {
  // libav shortens the duration of a cut AVI file to what is left, but keeps the header's count.
  const AVRational rate = stream_->avg_frame_rate;
  const bool counted = std::string_view(format_->iformat->name) == "avi" && rate.num > 0;
  return std::max(DurationSeconds(), counted ? static_cast<double>(stream_->nb_frames) * rate.den / rate.num : 0.0);
}

FramePtr VideoSource::Next() {
  if (first_) return std::move(first_);
  return DecodeNext();
}

std::int64_t VideoSource::StampOf(const AVFrame& frame) const {
  if (frame.best_effort_timestamp != AV_NOPTS_VALUE) return frame.best_effort_timestamp;
  // Bare streams carry no stamps; there the rate they state is the only clock there is.
  if (!has_last_) return origin_;
  if (frame.pkt_duration > 0) return stamp_ + frame.pkt_duration;
  const AVRational rate = stream_->avg_frame_rate.num > 0 ? stream_->avg_frame_rate : stream_->r_frame_rate;
  return stamp_ + (rate.num > 0 ? std::max<std::int64_t>(1, av_rescale_q(1, av_inv_q(rate), stream_->time_base)) : 1);
}

FramePtr VideoSource::DecodeNext() {
  FramePtr frame(av_frame_alloc());
  while (frame) {
    const int rc = avcodec_receive_frame(codec_.get(), frame.get());
    if (rc == AVERROR_EOF) break;
    if (rc == AVERROR(EAGAIN)) {
      if (!Feed()) break;
      continue;
    }
    if (rc < 0) {
      ++damaged_;
      // A decoder that fails while it is being emptied has nothing more to give.
      if (draining_ && damaged_ > packets_ + 64) break;
      continue;
    }
    if (frame->decode_error_flags || (frame->flags & AV_FRAME_FLAG_CORRUPT)) ++damaged_;
    const std::int64_t stamp = StampOf(*frame);
    if (has_last_ && stamp <= stamp_) {
      ++out_of_order_;
      av_frame_unref(frame.get());
      continue;
    }
    stamp_ = stamp;
    has_last_ = true;
    return frame;
  }
  // In a file with its index up front, fewer packets than the index lists means that the end is missing. Where there is
  // no such index the reader compares the time.
  if (has_full_index() && packets_ < index_at_open_) cut_off_ = true;
  return nullptr;
}

// A file written in fragments lists them one by one, so its index grows while it is read.
bool VideoSource::has_full_index() const {
  return IsMov(*format_) && index_at_open_ > 1 && avformat_index_get_entries_count(stream_) == index_at_open_;
}

bool VideoSource::Feed() {
  if (draining_) return false;
  while (!packet_held_) {
    const int rc = av_read_frame(format_.get(), packet_.get());
    if (rc < 0) {
      if (rc != AVERROR_EOF) cut_off_ = true;
      draining_ = true;
      avcodec_send_packet(codec_.get(), nullptr);
      return true;
    }
    if (packet_->stream_index == stream_->index) {
      packet_held_ = true;
      ++packets_;
    } else {
      av_packet_unref(packet_.get());
    }
  }
  const int rc = avcodec_send_packet(codec_.get(), packet_.get());
  if (rc == AVERROR(EAGAIN)) return true;  // the decoder wants to hand out first
  if (rc < 0) ++damaged_;
  av_packet_unref(packet_.get());
  packet_held_ = false;
  return true;
}

bool VideoSource::Rewind() {
  if (!has_true_stamps()) return false;
  if (format_->iformat->flags & (AVFMT_NOTIMESTAMPS | AVFMT_TS_DISCONT)) return false;
  const std::int64_t start = stream_->start_time != AV_NOPTS_VALUE ? stream_->start_time : 0;
  return av_seek_frame(format_.get(), stream_->index, start, AVSEEK_FLAG_BACKWARD) >= 0;
}

std::vector<ListedFrame> VideoSource::ListFrames(const StopToken& stop) {
  std::vector<ListedFrame> frames;
  if (!Rewind()) return frames;
  PacketPtr packet(av_packet_alloc());
  while (packet && av_read_frame(format_.get(), packet.get()) >= 0) {
    if (stop.stop_requested()) return {};
    const std::int64_t stamp = StampOfPacket(*packet);
    const std::int64_t seek = IsMov(*format_) && packet->dts != AV_NOPTS_VALUE ? packet->dts : stamp;
    // What an edit list cuts away is decoded, for what follows needs it, but not shown.
    const bool shown =
        packet->stream_index == stream_->index && stamp != AV_NOPTS_VALUE && !(packet->flags & AV_PKT_FLAG_DISCARD);
    if (shown && stamp >= origin_) frames.push_back({{stamp, seek}, (packet->flags & AV_PKT_FLAG_KEY) != 0});
    av_packet_unref(packet.get());
  }
  std::stable_sort(frames.begin(), frames.end(),
                   [](const ListedFrame& a, const ListedFrame& b) { return a.at.pts < b.at.pts; });
  const auto same = [](const ListedFrame& a, const ListedFrame& b) { return a.at.pts == b.at.pts; };
  frames.erase(std::unique(frames.begin(), frames.end(), same), frames.end());
  return frames;
}

std::vector<KeyFrame> VideoSource::FindKeyFrames(std::int64_t until) {
  std::vector<KeyFrame> keys;
  if (!Rewind()) return keys;
  // Not with stream_->discard = AVDISCARD_NONKEY: libavformat 59 then gives key frames of MP4 files the presentation
  // offset of another sample. Reading all costs a hundredth of decoding all.
  PacketPtr packet(av_packet_alloc());
  while (packet && av_read_frame(format_.get(), packet.get()) >= 0) {
    const bool wanted = packet->stream_index == stream_->index && (packet->flags & AV_PKT_FLAG_KEY);
    const std::int64_t stamp = StampOfPacket(*packet);
    const std::int64_t seek = IsMov(*format_) && packet->dts != AV_NOPTS_VALUE ? packet->dts : stamp;
    av_packet_unref(packet.get());
    if (stamp == AV_NOPTS_VALUE) continue;
    if (wanted && stamp > until) break;
    if (wanted && (keys.empty() || stamp > keys.back().pts)) keys.push_back({stamp, seek});
  }
  return keys;
}

bool VideoSource::FindPacket(const KeyFrame& key) {
  if (packet_held_) av_packet_unref(packet_.get());
  packet_held_ = false;
  if (av_seek_frame(format_.get(), stream_->index, key.seek, AVSEEK_FLAG_BACKWARD) < 0) return false;
  while (av_read_frame(format_.get(), packet_.get()) >= 0) {
    // A container may land on an earlier key frame than the one asked for.
    if (packet_->stream_index == stream_->index && (packet_->flags & AV_PKT_FLAG_KEY) &&
        StampOfPacket(*packet_) >= key.pts) {
      packet_held_ = true;
      return true;
    }
    av_packet_unref(packet_.get());
  }
  return false;
}

bool VideoSource::StartAt(const KeyFrame& key) {
  first_.reset();
  avcodec_flush_buffers(codec_.get());
  draining_ = false;
  has_last_ = false;
  return FindPacket(key);
}

std::vector<StampedFrame> VideoSource::DecodeOnly(const std::vector<KeyFrame>& keys) {
  first_.reset();
  avcodec_flush_buffers(codec_.get());
  std::vector<StampedFrame> out;
  FramePtr frame(av_frame_alloc());
  const auto collect = [&] {
    for (int failed = 0; failed < 64;) {
      const int rc = avcodec_receive_frame(codec_.get(), frame.get());
      if (rc == AVERROR(EAGAIN) || rc == AVERROR_EOF) return;
      if (rc < 0) {
        ++failed;
        continue;
      }
      if (frame->best_effort_timestamp != AV_NOPTS_VALUE && frame->best_effort_timestamp >= origin_) {
        FramePtr kept(av_frame_alloc());
        av_frame_move_ref(kept.get(), frame.get());
        const std::int64_t stamp = kept->best_effort_timestamp;
        out.push_back({std::move(kept), stamp});
      }
      av_frame_unref(frame.get());
    }
  };
  // Key frames need nothing before them, so the decoder is not emptied between: its threads work on several at once.
  for (const KeyFrame& key : keys) {
    if (!FindPacket(key)) continue;
    while (avcodec_send_packet(codec_.get(), packet_.get()) == AVERROR(EAGAIN)) collect();
    av_packet_unref(packet_.get());
    packet_held_ = false;
    collect();
  }
  avcodec_send_packet(codec_.get(), nullptr);
  collect();
  draining_ = true;
  std::stable_sort(out.begin(), out.end(),
                   [](const StampedFrame& a, const StampedFrame& b) { return a.stamp < b.stamp; });
  return out;
}

}  // namespace hookline::media
