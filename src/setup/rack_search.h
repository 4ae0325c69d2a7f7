// Rows of pin racks found in the whole picture, with nothing known of the lanes: ten white pins before a dark pit look
// like nothing else in a bowling hall, whatever the lanes, gutters and walls are painted like. The way in where the
// lanes' edges are hardly seen or are outdone by other lines.
#pragma once

#include <opencv2/core/mat.hpp>
#include <vector>

namespace hookline::setup {

struct RackSighting {
  double u = 0, v = 0;  // px, the head pin's foot, to about 3 in of the lane
  double px_per_inch = 0;
  double match = 0;  // correlation with ten standing pins, -1..1
};

// Racks that can stand side by side at the ends of lanes: one size, one straight row, not overlapping.
struct RackRow {
  std::vector<RackSighting> racks;  // from left to right, at least one
  double px_per_inch = 0;
  double tilt = 0;   // dv/du of their feet; 0 for a single rack
  double score = 0;  // sum of the fourth powers of the racks' matches: one plain rack outweighs several doubtful ones
};

// pictures: luma of one scene at different times, at least one, CV_8U, one size. Up to max_rows different rows, the
// likeliest first; empty when no rack is seen.
std::vector<RackRow> FindRackRows(const std::vector<cv::Mat>& pictures, std::size_t max_rows = 3);

}  // namespace hookline::setup
