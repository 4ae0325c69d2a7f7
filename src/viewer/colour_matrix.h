// From a stream's luma and chroma to R'G'B', as a matrix and the values that black has.
//
//   R'G'B' = rgb_from_ycc (ycc - ycc_zero)         all within 0..1, stored bytes divided by 255
//
// With Kr, Kb of the stream's matrix (ITU-R BT.601-7 section 2.5: 0.299, 0.114; BT.709-6 section 3: 0.2126, 0.0722;
// BT.2020-2 table 4: 0.2627, 0.0593) and 219 and 224 steps of luma and chroma in limited range, 255 in full range.
#pragma once

#include <Eigen/Core>

#include "media/clip_frames.h"

namespace hookline::viewer {

struct ColourMatrix {
  Eigen::Matrix3d rgb_from_ycc;
  Eigen::Vector3d ycc_zero;
};
ColourMatrix ColourMatrixOf(media::ColourMatrix matrix, bool full_range);

}  // namespace hookline::viewer
