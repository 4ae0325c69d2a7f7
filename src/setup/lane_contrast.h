// Lanes that differ from their gutters in colour more than in brightness: the one mixture of luma and chroma in which
// they differ most.
//
// Fisher's linear discriminant with fixed noise: weights d / sigma^2 for the mean difference d between lane and gutter
// in (Y, Cb, Cr).
#pragma once

#include <opencv2/core/mat.hpp>
#include <vector>

#include "model/lane_setup.h"
#include "model/picture.h"

namespace hookline::setup {

// The background and its layers in that mixture (CV_8U, lanes brighter than gutters), in this order. Empty when luma
// alone shows the lane well enough, when there is no chroma, or when too little of lane and gutters lies in the
// picture.
std::vector<cv::Mat> ContrastPictures(const Background& background, const LaneSetup& trial);

}  // namespace hookline::setup
