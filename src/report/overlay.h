// The annotated clip: path so far, board ruler at the arrows, breakpoint, ball, and the numbers with their doubt, drawn
// on a clip's pictures.
//
// Places come from the lane setup's camera and the camera's turn in that frame, so drawings stay on the lane when the
// camera moves. What is drawn at a time is only what has happened by then.
#pragma once

#include <memory>
#include <opencv2/core/mat.hpp>
#include <string>

#include "core/status.h"
#include "model/shot.h"

namespace hookline::report {

// A picture's planes as 8 bit BGR. Colour by the picture's own matrix where it is known; see BgrFromPicture's
// definition.
cv::Mat BgrFromPicture(const Picture& picture);

class Overlay {
 public:
  // kLaneNotFound when the result has no lane; kBadFile when the font is missing. The result is copied.
  // Without the panel only what lies on the lane is drawn, for pictures that have their numbers beside them.
  static Result<std::unique_ptr<Overlay>> Make(const ClipResult& result, bool panel = true);
  ~Overlay();
  Overlay(const Overlay&) = delete;
  Overlay& operator=(const Overlay&) = delete;
  // `bgr` is the frame at time_s as displayed, of the clip's size.
  void Draw(cv::Mat& bgr, double time_s, const FrameMotion& motion) const;

 private:
  struct State;
  explicit Overlay(std::unique_ptr<State> state);
  std::unique_ptr<State> state_;
};

// A lane setup drawn on a picture, for a person to judge: edges, foul line, arrows with boards, the pin spots, lines
// every ten feet, the neighbours' centre lines, and how well it fits.
Status DrawLaneSetup(cv::Mat& bgr, const LaneSetup& setup, const FrameMotion& motion);

// The picture as a PNG file's content.
std::string PngFromBgr(const cv::Mat& bgr);

}  // namespace hookline::report
