// Pixel by pixel the order statistics of a stack of planes.
#pragma once

#include <opencv2/core/mat.hpp>
#include <vector>

namespace hookline::setup {

// The median (of an even number the upper one) and, unless spread is null, half of the 16 to 84 % range. Planes of one
// size, CV_8UC1, at least one.
void OrderStatistics(const std::vector<cv::Mat>& planes, cv::Mat* median, cv::Mat* spread);

}  // namespace hookline::setup
