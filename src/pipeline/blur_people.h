// Blurs people other than the bowler before a picture leaves the program, in two ways at once:
//
//  - what moves: regions that differ from the clip's still background, taller than a ball, whose foot is on the floor
//    beside the bowler's own approach;
//  - what looks like a person: upright people found by histograms of gradients (OpenCV's own detector, nothing is
//    downloaded), of a height that fits their place, with the foot beside the bowler's own approach.
//
// The bowler is who stands on the approach of the measured lane, within half a metre of the lane's edges. It is a help,
// no promise: docs/report.md says what is missed. Boxes given by a person are always blurred.
#pragma once

#include <memory>
#include <opencv2/core/mat.hpp>
#include <string>
#include <vector>

#include "core/status.h"
#include "model/lane_setup.h"
#include "model/picture.h"

namespace hookline::pipeline {

struct BlurOptions {
  bool others = false;             // look for people
  std::vector<cv::Rect2d> boxes;   // always blurred, px of the displayed picture
  int pictures_between_looks = 6;  // looking for upright people costs 0.1 to 0.3 s; boxes are kept in between
  bool any() const { return others || !boxes.empty(); }
  Status Check() const;
};

class PeopleBlur {
 public:
  // Looks at the clip's still background when people are looked for. kBadFile.
  static Result<std::unique_ptr<PeopleBlur>> Make(const std::string& clip, const LaneSetup& setup,
                                                  const BlurOptions& options);
  ~PeopleBlur();
  PeopleBlur(const PeopleBlur&) = delete;
  PeopleBlur& operator=(const PeopleBlur&) = delete;

  // `bgr` is the picture as displayed, nothing drawn on it yet. Pictures in order of time, or single ones.
  void Apply(cv::Mat& bgr, const FrameMotion& motion);
  // What the last Apply() blurred: CV_8UC1, 255 where blurred.
  const cv::Mat& mask() const;

 private:
  struct State;
  explicit PeopleBlur(std::unique_ptr<State> state);
  std::unique_ptr<State> state_;
};

}  // namespace hookline::pipeline
