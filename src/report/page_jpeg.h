// A picture as JPEG, for the page: a tenth of the size of PNG at a quality where nothing is missed.
#pragma once

#include <opencv2/core/mat.hpp>
#include <string>

#include "core/status.h"

namespace hookline::report {

// CV_8UC3 BGR; quality 1 to 100. kInternal when the library fails.
Result<std::string> JpegFromBgr(const cv::Mat& bgr, int quality = 82);

}  // namespace hookline::report
