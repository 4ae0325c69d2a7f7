// One decoded picture as shown: rotated as the file asks, square pixels, 8 bit planes. Pixels may be shared; do not
// write into them.
#pragma once

#include <cstdint>
#include <opencv2/core/mat.hpp>
#include <string>
#include <vector>

namespace hookline {

struct Picture {
  cv::Mat luma;  // CV_8UC1, height x width
  cv::Mat cb,
      cr;  // CV_8UC1, half the size each way (4:2:0, rounded up); chroma pixel (i,j) covers luma 2i..2i+1, 2j..2j+1
  double time_s = 0;        // the stream's time stamp, from the first frame
  std::int64_t index = -1;  // running number in the clip, 0 first; never a clock
};

// What the file says of itself. Sizes are of the displayed picture.
struct ClipInfo {
  std::string file;
  int width = 0;
  int height = 0;
  std::int64_t frames = -1;  // as the container says, -1 when it does not; exact once the whole clip was read
  double duration_s = 0;
  double frame_rate_mean = 0;  // frames per second over the whole clip; for people, never a clock
  bool variable_rate = false;
  int rotation_deg = 0;  // clockwise turn that the display matrix asks for: 0, 90, 180, 270
  std::string codec;
};

// The picture without what moves: a robust average over time in the reference frame's coordinates.
struct Background {
  cv::Mat luma;      // CV_8UC1
  cv::Mat cb, cr;    // CV_8UC1, half size; may be empty
  cv::Mat spread;    // CV_8UC1, half of the luma's 16..84 % range over time, grey levels
  int pictures = 0;  // how many were used
  // CV_8UC1, a px for every few of luma's each way (cells from its corner on): how many of the pictures show the scene
  // there and not somebody before it; empty when not looked at.
  cv::Mat shown;
  // Some of those pictures, turned onto the reference, spread over time: where a person stood still for most of the
  // clip the median shows the person, and a single picture may still show the lane.
  std::vector<Picture> layers;
};

// Camera turn of one frame against the reference frame: p_in_camera_now = R(rotation) * p_in_camera_reference.
struct FrameMotion {
  double rotation[3] = {0, 0, 0};  // angle-axis, rad
  double sd_px = 0;                // one standard deviation of the image shift it explains
  bool known = true;               // false when too little of the background was seen to tell
};

}  // namespace hookline
