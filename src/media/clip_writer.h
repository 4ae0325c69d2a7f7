// Writes an annotated or synthetic clip. The file appears under its own name only when Finish() succeeded; until then
// it is FILE.part beside it, removed when the writer goes away unfinished (Ctrl-C included, through the caller's stop
// token).
//
// Stored as BT.709, limited range (MJPEG: full range), 4:2:0 (ProRes: 4:2:2, 10 bit). A stored size that is odd is made
// even by repeating the last column or row. Time stamps: 1/90000 s in MP4 and MOV; Matroska and WebM hold 1/1000 s; AVI
// has no time stamps but a constant rate, there the times are rounded to nominal_rate. A display matrix exists in MP4
// and MOV only.
#pragma once

#include <cstdint>
#include <memory>
#include <opencv2/core/mat.hpp>
#include <string>

#include "core/status.h"

namespace hookline::media {

struct ClipWriterOptions {
  int width = 0;  // of the displayed picture, px
  int height = 0;
  std::string codec = "h264";  // h264, hevc, vp9, av1, mjpeg, prores, ffv1
  int bit_depth = 8;           // 8 or 10 where the codec has it
  std::int64_t bit_rate = 0;   // bit/s; 0: by quality
  int quality = 20;            // constant quality when bit_rate is 0; smaller is better (x264 scale)
  int gop = 0;                 // pictures between key frames, 0: the encoder's own
  int rotation_deg = 0;  // store turned pictures with this display matrix: a viewer shows the picture as given to Add()
  double nominal_rate = 60;                          // pictures per second, for rate control only; in AVI the clock
  int sample_aspect_num = 1, sample_aspect_den = 1;  // stored pixel shape; the picture given is as displayed
  std::string preset = "veryfast";                   // of x264 and x265, ultrafast to placebo
  Status Check() const;
};

class ClipWriter {
 public:
  // The container follows FILE's ending (mp4, mov, mkv, avi, webm). kBadUse for an ending, codec or option that do not
  // go together, kBadFile when FILE cannot be made.
  static Result<std::unique_ptr<ClipWriter>> Open(const std::string& file, const ClipWriterOptions& options);
  virtual ~ClipWriter() = default;
  // Picture as displayed, CV_8UC3 BGR. time_s must grow from call to call by at least one tick of the file's clock.
  virtual Status Add(const cv::Mat& bgr, double time_s) = 0;
  virtual Status Finish() = 0;
};

}  // namespace hookline::media
