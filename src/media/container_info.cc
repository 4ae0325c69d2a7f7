#include "media/container_info.h"

#include <cmath>

namespace hookline::media {

ClipInfo InfoOfContainer(const std::string& file, const VideoSource& source, const PictureMaker& maker) {
  ClipInfo info;
  info.file = file;
  info.width = maker.shown_size().width;
  info.height = maker.shown_size().height;
  info.duration_s = source.DurationSeconds();
  const AVRational mean = source.stream().avg_frame_rate, base = source.stream().r_frame_rate;
  if (mean.num > 0 && mean.den > 0) info.frame_rate_mean = av_q2d(mean);
  // The container's two rates agree when every interval is the shortest one.
  info.variable_rate =
      info.frame_rate_mean > 0 && base.num > 0 && std::abs(av_q2d(base) / info.frame_rate_mean - 1) > 0.02;
  info.rotation_deg = maker.orientation().clockwise_deg();
  info.codec = source.CodecName();
  if (source.stream().nb_frames > 0) info.frames = source.stream().nb_frames;
  return info;
}

}  // namespace hookline::media
