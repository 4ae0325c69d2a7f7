// A clip's pictures in any order, by time stamp: for looking at it, not for measuring it.
//
// The file is read through once without decoding, which gives every picture's own time and the key frames; a picture
// is then had by going to the last key frame not after it and decoding on. Pictures come as they are STORED (not
// turned, pixels of their own shape), because a GPU turns them for nothing; ShownForm says what is to be done. Times
// are those of ClipReader.
#pragma once

#include <cstddef>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/progress.h"
#include "core/status.h"
#include "model/picture.h"

namespace hookline::media {

enum class ColourMatrix { kBt601, kBt709, kBt2020 };

// From the stored planes to what is shown: first transposed, then mirrored, then scaled to the shown size.
struct ShownForm {
  int stored_width = 0, stored_height = 0;  // px
  bool transpose = false, flip_x = false, flip_y = false;
  // As the stream says; where it does not, BT.709 from 720 stored lines on and BT.601 below, limited range (common
  // practice, no source).
  ColourMatrix matrix = ColourMatrix::kBt709;
  bool full_range = false;
};

class ClipFrames {
 public:
  // threads: of the decoder, 0 for one a core. kBadFile with one clear sentence.
  static Result<std::unique_ptr<ClipFrames>> Open(const std::string& file, int threads = 0);
  virtual ~ClipFrames() = default;

  // frames, duration and rate are exact once ListTimes() has returned.
  virtual const ClipInfo& info() const = 0;
  virtual const ShownForm& form() const = 0;
  // The first picture, decoded by Open() already.
  virtual const Picture& first() const = 0;

  // Every picture's time, ascending, 0 first. Reads the file without decoding, or, where it cannot be searched, decodes
  // all of it. kStopped. Must be called once before the functions below.
  virtual Status ListTimes(const StopToken& stop) = 0;
  virtual const std::vector<double>& times_s() const = 0;
  // Number of the last key frame not after picture `frame`.
  virtual std::size_t KeyBefore(std::size_t frame) const = 0;

  // Next() starts at that picture's key frame, or so many key frames earlier: where groups of pictures reach over their
  // key frames a decoder may leave out pictures after the one it began with. False when the file cannot be read there.
  virtual bool GoToKeyOf(std::size_t frame, int earlier = 0) = 0;
  // The next picture, its index set to its place in times_s(); nullopt at the end.
  virtual std::optional<Picture> Next() = 0;
};

}  // namespace hookline::media
