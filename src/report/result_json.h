// The result file, format "hookline-shots" version 1 (docs/result-file.md): every number with its doubt or the reason
// why there is none.
#pragma once

#include <Eigen/Core>
#include <array>
#include <optional>
#include <string>
#include <string_view>

#include "model/shot.h"

namespace hookline::report {

// The whole document as text, indented, ending in a newline.
std::string ResultJson(const ClipResult& result);

// Where the middle of the foul line meets the lane's edges and where the edges are at y = 60 ft, in the first frame
// used, px of the displayed picture: foul left, foul right, head pin left, head pin right. A corner behind the camera
// is empty.
std::array<std::optional<Eigen::Vector2d>, 4> LaneCorners(const LaneSetup& setup, const FrameMotion& first_frame);

// "right" or "left"; "given", "seen" or "assumed"; "automatic", "points" or "file".
std::string_view HandName(lane::Hand hand);
std::string_view HandSourceName(HandSource source);
std::string_view SetupSourceName(SetupSource source);

}  // namespace hookline::report
