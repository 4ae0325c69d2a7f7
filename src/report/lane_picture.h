// The lane from above, as a picture: distance to the right, boards up the page from the own hand's edge, friction as
// shade, paths as lines. Distance and boards have each their own scale, said at the axes: a lane is 17 times as long as
// wide.
#pragma once

#include <Eigen/Core>
#include <functional>
#include <opencv2/core/mat.hpp>
#include <string>
#include <vector>

#include "core/status.h"
#include "lane/lane_spec.h"

namespace hookline::report {

struct LanePath {
  std::vector<Eigen::Vector2d> points;  // m, lane frame
  std::string name;                     // beside its end; empty: none
  bool second = false;                  // drawn in the second colour and broken
};

struct LaneCell {
  double value = 0, sd = 0;  // friction coefficient
};

struct LanePicture {
  lane::Hand hand = lane::Hand::kRight;
  std::string title;
  std::vector<LanePath> paths;
  // Friction at (x, y), m; empty: none is drawn. Where its doubt is large the shade fades.
  std::function<LaneCell(double x, double y)> friction;
};

// BGR, `width` px wide. kBadFile when the font is missing.
Result<cv::Mat> DrawLane(const LanePicture& picture, int width = 1600);

}  // namespace hookline::report
