#include "media/clip_writer.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>
#include <filesystem>
#include <opencv2/imgproc.hpp>

#include "media/av_handles.h"

extern "C" {
#include <libavutil/display.h>
#include <libavutil/opt.h>
}

namespace hookline::media {
namespace {

constexpr int kTicksPerSecond = 90000;
constexpr int kThreads = 2;

struct Codec {
  const char* name;
  const char* encoder;
  AVPixelFormat eight;
  AVPixelFormat ten;
};
constexpr std::array<Codec, 7> kCodecs = {{
    {"h264", "libx264", AV_PIX_FMT_YUV420P, AV_PIX_FMT_YUV420P10},
    {"hevc", "libx265", AV_PIX_FMT_YUV420P, AV_PIX_FMT_YUV420P10},
    {"vp9", "libvpx-vp9", AV_PIX_FMT_YUV420P, AV_PIX_FMT_YUV420P10},
    {"av1", "libaom-av1", AV_PIX_FMT_YUV420P, AV_PIX_FMT_YUV420P10},
    {"mjpeg", "mjpeg", AV_PIX_FMT_YUVJ420P, AV_PIX_FMT_NONE},
    {"prores", "prores_ks", AV_PIX_FMT_YUV422P10, AV_PIX_FMT_YUV422P10},
    {"ffv1", "ffv1", AV_PIX_FMT_YUV420P, AV_PIX_FMT_YUV420P10},
}};

const Codec* FindCodec(const std::string& name) {
  const auto at = std::find_if(kCodecs.begin(), kCodecs.end(), [&](const Codec& c) { return name == c.name; });
  return at == kCodecs.end() ? nullptr : &*at;
}

struct Container {
  const char* ending;
  const char* muxer;
  bool display_matrix;
};
constexpr std::array<Container, 6> kContainers = {{{".mp4", "mp4", true},
                                                   {".m4v", "mp4", true},
                                                   {".mov", "mov", true},
                                                   {".mkv", "matroska", false},
                                                   {".avi", "avi", false},
                                                   {".webm", "webm", false}}};

Status BadUse(const std::string& sentence) { return {StatusCode::kBadUse, sentence}; }

Status CannotWrite(const std::string& file, int rc) {
  return {StatusCode::kBadFile, "\"" + file + "\" cannot be written (" + AvErrorText(rc) +
                                    "); check that its folder exists, can be written to and has space."};
}

struct FreeOutput {
  void operator()(AVFormatContext* p) const {
    if (p->pb) avio_closep(&p->pb);
    avformat_free_context(p);
  }
};

class LibavClipWriter final : public ClipWriter {
 public:
  LibavClipWriter(std::string file, const ClipWriterOptions& options)
      : file_(std::move(file)), part_(file_ + ".part"), options_(options) {}

  ~LibavClipWriter() override {
    output_.reset();
    std::error_code ignored;
    if (part_made_) std::filesystem::remove(part_, ignored);
  }

  Status Start() {
    QuietLibav();
    const Codec& codec = *FindCodec(options_.codec);
    std::string ending = std::filesystem::path(file_).extension().string();
    std::transform(ending.begin(), ending.end(), ending.begin(),
                   [](char c) { return static_cast<char>(std::tolower(c)); });
    const auto container =
        std::find_if(kContainers.begin(), kContainers.end(), [&](const Container& c) { return ending == c.ending; });
    if (container == kContainers.end()) {
      return BadUse("\"" + file_ + "\" has no ending that says what to write; use .mp4, .mov, .mkv, .avi or .webm.");
    }
    if (options_.rotation_deg != 0 && !container->display_matrix) {
      return BadUse("A " + ending + " file cannot hold a rotation; use .mp4 or .mov for \"" + file_ + "\".");
    }
    const AVCodec* encoder = avcodec_find_encoder_by_name(codec.encoder);
    if (!encoder)
      return BadUse(options_.codec + " cannot be written: this libav has no " + codec.encoder +
                    "; choose another codec.");
    AVFormatContext* format = nullptr;
    if (avformat_alloc_output_context2(&format, nullptr, container->muxer, part_.c_str()) < 0) {
      return {StatusCode::kInternal, "libav cannot write " + ending + " files."};
    }
    output_.reset(format);
    if (avformat_query_codec(format->oformat, encoder->id, FF_COMPLIANCE_NORMAL) != 1) {
      return BadUse("A " + ending + " file cannot hold " + options_.codec + "; choose another ending for \"" + file_ +
                    "\".");
    }
    if (std::filesystem::is_directory(file_)) {
      return {StatusCode::kBadFile, "\"" + file_ + "\" is a folder; give the name of a file."};
    }

    PlanSizes();
    if (Status s = OpenEncoder(encoder, codec, ending == ".avi"); !s.ok()) return s;

    stream_ = avformat_new_stream(format, nullptr);
    if (!stream_ || avcodec_parameters_from_context(stream_->codecpar, encoder_.get()) < 0) return OutOfMemory();
    stream_->time_base = encoder_->time_base;
    stream_->sample_aspect_ratio = encoder_->sample_aspect_ratio;
    if (ending == ".avi") stream_->avg_frame_rate = encoder_->framerate;
    // The tag that Apple's players ask for.
    if (encoder->id == AV_CODEC_ID_HEVC && container->display_matrix)
      stream_->codecpar->codec_tag = MKTAG('h', 'v', 'c', '1');
    if (options_.rotation_deg != 0) {
      auto* matrix = reinterpret_cast<std::int32_t*>(
          av_stream_new_side_data(stream_, AV_PKT_DATA_DISPLAYMATRIX, 9 * sizeof(std::int32_t)));
      if (!matrix) return OutOfMemory();
      av_display_rotation_set(matrix, options_.rotation_deg);
    }

    if (const int rc = avio_open(&format->pb, ("file:" + part_).c_str(), AVIO_FLAG_WRITE); rc < 0)
      return CannotWrite(file_, rc);
    part_made_ = true;
    AVDictionary* settings = nullptr;
    // The index in front: a file cut off on its way to someone still plays.
    if (container->display_matrix) av_dict_set(&settings, "movflags", "+faststart", 0);
    const int rc = avformat_write_header(format, &settings);
    av_dict_free(&settings);
    if (rc < 0) return CannotWrite(file_, rc);
    return Status::Ok();
  }

  Status Add(const cv::Mat& bgr, double time_s) override {
    if (finished_) return BadUse("A picture was added to \"" + file_ + "\" after it was finished.");
    if (bgr.type() != CV_8UC3 || bgr.cols != options_.width || bgr.rows != options_.height) {
      return BadUse("A picture for \"" + file_ + "\" is not " + std::to_string(options_.width) + " x " +
                    std::to_string(options_.height) + " with three 8 bit channels.");
    }
    const double ticks = time_s * encoder_->time_base.den / encoder_->time_base.num;
    if (!std::isfinite(ticks) || std::abs(ticks) > 1e15)
      return BadUse("A picture for \"" + file_ + "\" has no usable time.");
    const std::int64_t stamp = std::llround(ticks);
    if (added_ && stamp <= last_stamp_) {
      return BadUse("Two pictures for \"" + file_ + "\" are at the same time or out of order, at " +
                    std::to_string(time_s) + " s.");
    }
    if (added_) interval_ = stamp - last_stamp_;
    last_stamp_ = stamp;
    added_ = true;

    Fill(bgr);
    frame_->pts = stamp;
    frame_->pict_type = AV_PICTURE_TYPE_NONE;
    if (const int rc = avcodec_send_frame(encoder_.get(), frame_.get()); rc < 0) return EncodeFailed(rc);
    return Drain();
  }

  Status Finish() override {
    if (finished_) return Status::Ok();
    if (!added_) return BadUse("\"" + file_ + "\" was not written: no picture was added.");
    if (const int rc = avcodec_send_frame(encoder_.get(), nullptr); rc < 0) return EncodeFailed(rc);
    if (Status s = Drain(); !s.ok()) return s;
    if (const int rc = av_write_trailer(output_.get()); rc < 0) return CannotWrite(file_, rc);
    if (const int rc = avio_closep(&output_->pb); rc < 0) return CannotWrite(file_, rc);
    std::error_code error;
    std::filesystem::rename(part_, file_, error);
    if (error) return {StatusCode::kBadFile, "\"" + file_ + "\" cannot be written (" + error.message() + ")."};
    part_made_ = false;
    finished_ = true;
    return Status::Ok();
  }

 private:
  // Shown -> turned back -> pixels of the stored shape -> even.
  void PlanSizes() {
    const bool sideways = options_.rotation_deg % 180 != 0;
    upright_ = sideways ? cv::Size(options_.height, options_.width) : cv::Size(options_.width, options_.height);
    shaped_ = upright_;
    if (options_.sample_aspect_num != options_.sample_aspect_den) {
      shaped_.width =
          std::max(2, static_cast<int>(std::lround(static_cast<double>(upright_.width) * options_.sample_aspect_den /
                                                   options_.sample_aspect_num)));
    }
    stored_ = {shaped_.width + shaped_.width % 2, shaped_.height + shaped_.height % 2};
  }

  Status OpenEncoder(const AVCodec* encoder, const Codec& codec, bool constant_rate) {
    encoder_.reset(avcodec_alloc_context3(encoder));
    frame_.reset(av_frame_alloc());
    packet_.reset(av_packet_alloc());
    if (!encoder_ || !frame_ || !packet_) return OutOfMemory();
    AVCodecContext& c = *encoder_;
    c.width = stored_.width;
    c.height = stored_.height;
    c.pix_fmt = options_.bit_depth == 10 ? codec.ten : codec.eight;
    c.framerate = av_d2q(options_.nominal_rate, 100000);
    c.time_base = constant_rate ? av_inv_q(c.framerate) : AVRational{1, kTicksPerSecond};
    c.sample_aspect_ratio = {options_.sample_aspect_num, options_.sample_aspect_den};
    const bool full_range = c.pix_fmt == AV_PIX_FMT_YUVJ420P;
    c.color_range = full_range ? AVCOL_RANGE_JPEG : AVCOL_RANGE_MPEG;
    c.colorspace = AVCOL_SPC_BT709;
    c.color_primaries = AVCOL_PRI_BT709;
    c.color_trc = AVCOL_TRC_BT709;
    c.thread_count = kThreads;
    if (options_.gop > 0) c.gop_size = options_.gop;
    if (output_->oformat->flags & AVFMT_GLOBALHEADER) c.flags |= AV_CODEC_FLAG_GLOBAL_HEADER;
    SetQuality(codec.name);
    if (const int rc = avcodec_open2(&c, encoder, nullptr); rc < 0) {
      return BadUse("The " + options_.codec + " encoder does not accept these options (" + AvErrorText(rc) +
                    ") for \"" + file_ + "\".");
    }

    frame_->format = c.pix_fmt;
    frame_->width = c.width;
    frame_->height = c.height;
    frame_->color_range = c.color_range;
    frame_->colorspace = c.colorspace;
    frame_->sample_aspect_ratio = c.sample_aspect_ratio;
    if (av_frame_get_buffer(frame_.get(), 0) < 0) return OutOfMemory();
    scaler_.reset(sws_getContext(c.width, c.height, AV_PIX_FMT_BGR24, c.width, c.height, c.pix_fmt,
                                 SWS_AREA | SWS_ACCURATE_RND, nullptr, nullptr, nullptr));
    if (!scaler_) return OutOfMemory();
    const int* bt709 = sws_getCoefficients(SWS_CS_ITU709);
    sws_setColorspaceDetails(scaler_.get(), bt709, 1, bt709, full_range ? 1 : 0, 0, 1 << 16, 1 << 16);
    return Status::Ok();
  }

  // One scale of quality, x264's, put on that of each encoder.
  void SetQuality(const std::string& codec) {
    AVCodecContext& c = *encoder_;
    const auto set = [&c](const char* key, const std::string& value) {
      av_opt_set(c.priv_data, key, value.c_str(), 0);
    };
    const bool by_rate = options_.bit_rate > 0;
    c.bit_rate = by_rate ? options_.bit_rate : 0;
    const std::string of_63 = std::to_string(std::min(63, options_.quality * 63 / 51));
    if (codec == "h264" || codec == "hevc") {
      set("preset", options_.preset);
      if (!by_rate) set("crf", std::to_string(options_.quality));
      // No "pools" for the number of threads: x265 3.5 never frees that text.
      if (codec == "hevc") set("x265-params", "log-level=none");
    } else if (codec == "vp9" || codec == "av1") {
      if (!by_rate) set("crf", of_63);
      set("row-mt", "1");
      set("cpu-used", codec == "vp9" ? "5" : "8");
      if (codec == "vp9") set("deadline", "good");
    } else if (codec == "mjpeg" && !by_rate) {
      c.flags |= AV_CODEC_FLAG_QSCALE;
      c.global_quality = FF_QP2LAMBDA * std::clamp(options_.quality / 4, 1, 31);
    }
  }

  void Fill(const cv::Mat& bgr) {
    cv::Mat stored = bgr;
    if (options_.rotation_deg != 0) {
      // The viewer turns clockwise by rotation_deg, so what is stored is turned back by it.
      cv::Mat turned;
      cv::rotate(bgr, turned,
                 options_.rotation_deg == 90    ? cv::ROTATE_90_COUNTERCLOCKWISE
                 : options_.rotation_deg == 180 ? cv::ROTATE_180
                                                : cv::ROTATE_90_CLOCKWISE);
      stored = turned;
    }
    if (shaped_ != upright_) {
      cv::Mat shaped;
      cv::resize(stored, shaped, shaped_, 0, 0, shaped_.width < upright_.width ? cv::INTER_AREA : cv::INTER_LINEAR);
      stored = shaped;
    }
    if (stored_ != shaped_) {
      cv::Mat even;
      cv::copyMakeBorder(stored, even, 0, stored_.height - shaped_.height, 0, stored_.width - shaped_.width,
                         cv::BORDER_REPLICATE);
      stored = even;
    }
    // The encoder may still hold the picture before; libav then gives this frame memory of its own.
    av_frame_make_writable(frame_.get());
    const std::uint8_t* from[4] = {stored.data, nullptr, nullptr, nullptr};
    const int steps[4] = {static_cast<int>(stored.step[0]), 0, 0, 0};
    sws_scale(scaler_.get(), from, steps, 0, stored.rows, frame_->data, frame_->linesize);
  }

  Status Drain() {
    while (true) {
      const int rc = avcodec_receive_packet(encoder_.get(), packet_.get());
      if (rc == AVERROR(EAGAIN) || rc == AVERROR_EOF) return Status::Ok();
      if (rc < 0) return EncodeFailed(rc);
      // Only the last picture's counts: for the others the muxer takes the step to the next one.
      packet_->duration = interval_;
      packet_->stream_index = stream_->index;
      av_packet_rescale_ts(packet_.get(), encoder_->time_base, stream_->time_base);
      if (const int written = av_interleaved_write_frame(output_.get(), packet_.get()); written < 0)
        return CannotWrite(file_, written);
    }
  }

  Status EncodeFailed(int rc) const {
    return {StatusCode::kInternal, "\"" + file_ + "\" could not be encoded (" + AvErrorText(rc) + ")."};
  }
  Status OutOfMemory() const { return {StatusCode::kInternal, "Out of memory while writing \"" + file_ + "\"."}; }

  std::string file_;
  std::string part_;
  ClipWriterOptions options_;
  cv::Size upright_, shaped_, stored_;
  std::unique_ptr<AVFormatContext, FreeOutput> output_;
  AVStream* stream_ = nullptr;
  CodecPtr encoder_;
  FramePtr frame_;
  PacketPtr packet_;
  SwsPtr scaler_;
  std::int64_t last_stamp_ = 0;
  std::int64_t interval_ = 1;
  bool added_ = false;
  bool part_made_ = false;
  bool finished_ = false;
};

}  // namespace

Status ClipWriterOptions::Check() const {
  const auto bad = [](const char* field, const std::string& value, const char* bound) {
    return BadUse(std::string("The clip to write has ") + field + " " + value + "; it must be " + bound + ".");
  };
  if (width < 2 || width > 16384) return bad("width", std::to_string(width), "2 to 16384");
  if (height < 2 || height > 16384) return bad("height", std::to_string(height), "2 to 16384");
  const Codec* c = FindCodec(codec);
  if (!c) return bad("codec", codec, "h264, hevc, vp9, av1, mjpeg, prores or ffv1");
  if (bit_depth != 8 && bit_depth != 10) return bad("bit_depth", std::to_string(bit_depth), "8 or 10");
  if (bit_depth == 10 && c->ten == AV_PIX_FMT_NONE) return bad("bit_depth", "10", "8 with codec mjpeg");
  if (bit_rate < 0) return bad("bit_rate", std::to_string(bit_rate), "0 (by quality) or more");
  if (quality < 0 || quality > 51) return bad("quality", std::to_string(quality), "0 to 51");
  if (gop < 0) return bad("gop", std::to_string(gop), "0 (the encoder's own) or more");
  if (rotation_deg != 0 && rotation_deg != 90 && rotation_deg != 180 && rotation_deg != 270) {
    return bad("rotation_deg", std::to_string(rotation_deg), "0, 90, 180 or 270");
  }
  if (!(nominal_rate >= 1 && nominal_rate <= 1000))
    return bad("nominal_rate", std::to_string(nominal_rate), "1 to 1000");
  // Asked here because x264 complains about a wrong one on the terminal.
  constexpr std::array<const char*, 10> kPresets = {"ultrafast", "superfast", "veryfast", "faster",   "fast",
                                                    "medium",    "slow",      "slower",   "veryslow", "placebo"};
  if (std::find(kPresets.begin(), kPresets.end(), preset) == kPresets.end()) {
    return bad("preset", preset, "one of x264's, ultrafast to placebo");
  }
  const bool shape_ok = sample_aspect_num > 0 && sample_aspect_den > 0 && sample_aspect_num <= 4 * sample_aspect_den &&
                        sample_aspect_den <= 4 * sample_aspect_num;
  if (!shape_ok) {
    return bad("sample aspect", std::to_string(sample_aspect_num) + ":" + std::to_string(sample_aspect_den),
               "between 1:4 and 4:1");
  }
  return Status::Ok();
}

Result<std::unique_ptr<ClipWriter>> ClipWriter::Open(const std::string& file, const ClipWriterOptions& options) {
  if (Status s = options.Check(); !s.ok()) return s;
  auto writer = std::make_unique<LibavClipWriter>(file, options);
  if (Status s = writer->Start(); !s.ok()) return s;
  return std::unique_ptr<ClipWriter>(std::move(writer));
}

}  // namespace hookline::media
