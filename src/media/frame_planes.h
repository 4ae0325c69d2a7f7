// Turns decoded frames into Pictures: 8 bit planes, square pixels, upright, all of the first one's size. Internal to
// this room.
//
// Values keep the range they are stored with (limited or full); more than 8 bit are rounded to 8. Planes that need no
// change are views of the decoder's memory that keep it alive as long as any cv::Mat refers to it. 4:2:2 and 4:4:4
// chroma is averaged to 4:2:0; of an interlaced frame (two half pictures in alternate rows, taken one after the other)
// the half picture that was taken first stays in its rows and the others are filled in between; what is not stored as
// luma and chroma (RGB, palettes, packed orders) goes through libswscale.
#pragma once

#include <array>

#include "media/av_handles.h"
#include "model/picture.h"

namespace hookline::media {

// One of the eight ways to lay a picture on its sides: first transposed, then mirrored.
struct Orientation {
  bool transpose = false;
  bool flip_x = false;
  bool flip_y = false;
  int clockwise_deg() const;  // of the turn in it; a mirror counts as none
};
Orientation OrientationOf(const std::int32_t display_matrix[9]);

class PictureMaker {
 public:
  // Size and orientation are taken from the first frame and its stream.
  PictureMaker(const AVStream& stream, AVFormatContext& format, const AVFrame& first, bool chroma);

  cv::Size shown_size() const;
  const Orientation& orientation() const { return orientation_; }
  bool interlaced() const { return interlaced_; }      // some frame held two half pictures; the first was taken
  bool size_changed() const { return size_changed_; }  // some frame was not of the first one's size

  // time_s and index are left to the caller.
  Picture Make(const AVFrame& frame);
  // The same planes as they are stored: neither turned nor brought to square pixels. For who does that on the GPU.
  Picture MakeStored(const AVFrame& frame);
  cv::Size stored_size() const { return stored_size_; }

 private:
  std::array<cv::Mat, 3> Planes(const AVFrame& frame);
  std::array<cv::Mat, 3> PlanesByScaler(const AVFrame& frame);

  bool chroma_;
  Orientation orientation_;
  cv::Size stored_size_;  // of the coded picture
  cv::Size square_size_;  // of the coded picture with square pixels
  bool size_changed_ = false;
  bool interlaced_ = false;
  SwsPtr scaler_;
  cv::Mat grey_chroma_;
};

}  // namespace hookline::media
