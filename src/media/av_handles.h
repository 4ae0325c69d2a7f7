// libav's C handles as owning pointers, and its error codes as words. Internal to this room.
#pragma once

extern "C" {
#include <libavcodec/avcodec.h>
#include <libavformat/avformat.h>
#include <libavutil/frame.h>
#include <libavutil/log.h>
#include <libswscale/swscale.h>
}

#include <memory>
#include <string>

namespace hookline::media {

struct FreeAv {
  void operator()(AVFormatContext* p) const { avformat_close_input(&p); }
  void operator()(AVCodecContext* p) const { avcodec_free_context(&p); }
  void operator()(AVPacket* p) const { av_packet_free(&p); }
  void operator()(AVFrame* p) const { av_frame_free(&p); }
  void operator()(SwsContext* p) const { sws_freeContext(p); }
};
using InputPtr =
    std::unique_ptr<AVFormatContext, FreeAv>;  // of a file being read; a writer's context is freed otherwise
using CodecPtr = std::unique_ptr<AVCodecContext, FreeAv>;
using PacketPtr = std::unique_ptr<AVPacket, FreeAv>;
using FramePtr = std::unique_ptr<AVFrame, FreeAv>;
using SwsPtr = std::unique_ptr<SwsContext, FreeAv>;

inline std::string AvErrorText(int code) {
  char text[AV_ERROR_MAX_STRING_SIZE] = {0};
  av_strerror(code, text, sizeof text);
  return text;
}

// libav prints to the terminal by itself unless told not to; what a person has to know is in a Status or a warning.
inline void QuietLibav() { av_log_set_level(AV_LOG_QUIET); }

}  // namespace hookline::media
