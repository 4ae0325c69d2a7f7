// Reads a clip's pictures in order of time, as they are to be shown. libav lives behind this door only.
//
// Any container and codec libav reads; 8 and 10 bit; rotation by display matrix and non-square pixels are applied
// (nearest quarter turn; square pixels by widening or narrowing the picture), edit lists honoured, sound ignored,
// variable rate kept: the time stamp of each picture is the stream's own, from the first picture delivered.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/status.h"
#include "model/picture.h"

namespace hookline::media {

struct ClipReaderOptions {
  int threads = 0;  // decoder threads, 0: all cores
  // Memory that pictures decoded ahead of Next() may take, in units of 1e6 bytes; never fewer than four pictures. More
  // than that lets decoding go on beside other work before the first Next().
  int ahead_mb = 0;
  bool chroma = true;  // also deliver cb and cr; false leaves them empty and saves their copy
  Status Check() const;
};

class ClipReader {
 public:
  // One clear sentence when the file is missing, a folder, empty, no video, or cannot be decoded at all (kBadFile).
  static Result<std::unique_ptr<ClipReader>> Open(const std::string& file, const ClipReaderOptions& options = {});
  virtual ~ClipReader() = default;

  // What the container says; `frames`, `frame_rate_mean` and `variable_rate` become exact once Next() has returned
  // nullopt.
  virtual const ClipInfo& info() const = 0;

  // The next picture; nullopt at the end. A cut-off or damaged file gives what it holds: the end comes early and
  // warnings() says so.
  virtual std::optional<Picture> Next() = 0;

  virtual const std::vector<std::string>& warnings() const = 0;
};

// What the container says of a clip, and its first picture; no more of it is decoded. Errors as ClipReader::Open().
Result<ClipInfo> LookAtClip(const std::string& file);

// Up to `count` pictures spread evenly over the clip (or over its first `within_s` seconds when positive), cheaply: key
// frames where the file has enough of them, otherwise by decoding on with unreferenced pictures skipped. In order of
// time, time stamps on the same clock as ClipReader's, index -1 (not counted). Fewer when the clip holds fewer. Cheap
// means that where key frames are seconds apart only the beginning of each stretch is looked at; `thorough` spreads
// the pictures over all of it, which may cost as much as decoding half the clip.
Result<std::vector<Picture>> SamplePictures(const std::string& file, int count, double within_s = 0,
                                            bool thorough = false);

}  // namespace hookline::media
