// What the picture shows of a lane setup, measured to a fraction of a pixel near where a trial setup expects it.
//
// Everything here is measured in the picture and only LOOKED FOR with the trial setup, so that a fit to it, looked for
// again, converges to the picture and not to the trial.
#pragma once

#include <Eigen/Core>
#include <array>
#include <opencv2/core/mat.hpp>
#include <optional>
#include <vector>

#include "model/lane_setup.h"

namespace hookline::setup {

// A lane taking part in the fit: number 0 is the lane of the setup, others are neighbours with a centre line of their
// own.
struct LaneInView {
  int index = 0;
  double centre_x = 0;  // m
};

struct EdgePoint {       // on an edge of a lane, or on a mark on one of its boards
  std::size_t lane = 0;  // into the list of lanes
  double side = 0;       // -1 left edge .. +1 right edge
  bool mark = false;
  double y = 0;  // m, roughly where along the lane
  Eigen::Vector2d p_in_image = Eigen::Vector2d::Zero();
};

struct FoulPoint {     // on the middle of the foul line's strip
  double x = 0;        // m, roughly where across
  bool strip = false;  // seen as a strip between two sides; else only as a step, somewhere within the strip
  Eigen::Vector2d p_in_image = Eigen::Vector2d::Zero();
};

struct RackPoint {  // a point of a pin rack, three for each rack seen
  std::size_t lane = 0;
  Eigen::Vector3d p_in_rack_lane = Eigen::Vector3d::Zero();  // m, in the frame of the rack's own lane
  Eigen::Vector2d p_in_image = Eigen::Vector2d::Zero();
  double match = 0;  // correlation of the aligned rack, 0..1
};

struct Evidence {
  std::vector<EdgePoint> edges;
  std::vector<FoulPoint> foul;
  std::vector<RackPoint> racks;
  int edges_expected = 0;  // places looked at inside the picture
  int foul_expected = 0;
  int racks_expected = 0;
};

struct EvidenceOptions {
  double window_px = 8;  // how far from the expected place is looked
  double lane_sign = 1;  // +1: lanes brighter than gutters, -1: darker
  // Pictures in which edges are looked for instead, same order and size; empty: the same ones. Their values are taken
  // as they are, not as encoded light.
  std::vector<cv::Mat> edge_pictures;
  // Gradient::edge_level of the first picture and of the first edge picture, where they are known already.
  std::optional<double> edge_level, edge_picture_level;
};

// All pictures (luma, CV_8U; at least one, all of one size) show the same scene at different times; each place is
// measured in every one of them and what most agree on counts, so that a person in front of the lane at one time hides
// nothing that another time shows.
Evidence MeasureEvidence(const std::vector<cv::Mat>& pictures, const LaneSetup& trial,
                         const std::vector<LaneInView>& lanes, const EvidenceOptions& options);

}  // namespace hookline::setup
