// Writes an annotated or synthetic clip. The file appears under its own name only when Finish() succeeded; until then it is
// FILE.part beside it, removed when the writer goes away unfinished (Ctrl-C included, through the caller's stop token).
#pragma once

#include <cstdint>
#include <memory>
#include <opencv2/core/mat.hpp>
#include <string>

#include "core/status.h"

namespace hookline::media {

struct ClipWriterOptions {
  int width = 0;                  // of the displayed picture, px
  int height = 0;
  std::string codec = "h264";     // h264, hevc, vp9, av1, mjpeg, prores, ffv1
  int bit_depth = 8;              // 8 or 10 where the codec has it
  std::int64_t bit_rate = 0;      // bit/s; 0: by quality
  int quality = 20;               // constant quality when bit_rate is 0; smaller is better (x264 scale)
  int gop = 0;                    // pictures between key frames, 0: the encoder's own
  int rotation_deg = 0;           // store turned pictures with this display matrix: a viewer shows the picture as given to Add()
  int sample_aspect_num = 1, sample_aspect_den = 1;  // stored pixel shape; the picture given is as displayed
  std::string preset = "veryfast";
  Status Check() const;
};

class ClipWriter {
 public:
  // The container follows FILE's ending (mp4, mov, mkv, avi, webm). Fails (kBadFile) when FILE cannot be made.
  static Result<std::unique_ptr<ClipWriter>> Open(const std::string& file, const ClipWriterOptions& options);
  virtual ~ClipWriter() = default;
  // Picture as displayed, CV_8UC3 BGR. time_s must grow from call to call; kept to 1/90000 s.
  virtual Status Add(const cv::Mat& bgr, double time_s) = 0;
  virtual Status Finish() = 0;
};

}  // namespace hookline::media
