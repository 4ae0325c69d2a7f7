// The pencil of the lane's parallel lines: every line along the lanes (edges, gutters, boards, walls, rows of lamps)
// meets in one vanishing point. Seen from it, a line is its slope s = du/dv, and for a camera without roll s is affine
// in the line's place across the lanes: s = (x - x_camera) cos(pitch) / height. Lanes become stripes of one width.
#pragma once

#include <Eigen/Core>
#include <opencv2/core/mat.hpp>
#include <optional>
#include <vector>

namespace hookline::setup {

struct Segment {
  Eigen::Vector2d a, b;  // ends, px
  double length = 0;     // px
};

// Straight segments of the picture, longer than min_length px.
std::vector<Segment> FindSegments(const cv::Mat& luma, double min_length);

// The point that most length of segments runs towards, refined by least squares. nullopt when no point gathers enough.
std::optional<Eigen::Vector2d> LaneVanishingPoint(const std::vector<Segment>& segments, const cv::Size& size);

// A line of the pencil with an edge along it.
struct PencilEdge {
  double slope = 0;    // s = du/dv
  double support = 0;  // -1..1: share of the ray with an edge of one sign; positive: brighter to the right
};

// Horizontal and vertical derivative (grey levels per px) of the lightly smoothed picture, CV_32F, and the level that
// only edges exceed.
struct Gradient {  // the picture may be CV_8U or CV_32F
  cv::Mat du, dv;
  double edge_level = 0;
};
Gradient GradientOf(const cv::Mat& luma);

// Edges of the pencil below the vanishing point, strongest kept where several lie within two pixels of each other at
// the picture's foot.
std::vector<PencilEdge> FindPencilEdges(const Gradient& gradient, const Eigen::Vector2d& vanishing_point);

}  // namespace hookline::setup
