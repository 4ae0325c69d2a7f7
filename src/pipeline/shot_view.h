// A shot looked at again in its clip, from the result file alone: how the camera was turned in a frame, which part of
// the picture matters, when things happened. Drawing needs no new measuring.
#pragma once

#include <opencv2/core/types.hpp>
#include <optional>

#include "model/lane_setup.h"
#include "model/picture.h"
#include "model/shot.h"

namespace hookline::pipeline {

// A result file does not hold every frame's turn, but where the ball was in the picture and on the lane at the same
// time: the mean shift of its places about that time against where a still camera would see them, as a pan and a tilt
// (a roll is not told). No turn when the path says nothing. Good to about a pixel.
FrameMotion TurnFromPath(const LaneSetup& setup, const Shot& shot, double time_s);

// The part of the picture with the lane from the approach to the pins and room for the bowler, inside the picture.
cv::Rect LaneInPicture(const LaneSetup& setup);

enum class ShotMark { kRelease, kArrows, kBreakpoint, kPins };
// When a shot passed a mark, s; nullopt when that was not measured or did not happen.
std::optional<double> TimeOfMark(const Shot& shot, const lane::LaneSpec& lane, ShotMark mark);

}  // namespace hookline::pipeline
