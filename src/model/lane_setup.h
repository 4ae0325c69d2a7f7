// Where the lane is in the picture: the camera in the lane's frame, the lane's own dimensions, and how sure both are.
#pragma once

#include <Eigen/Core>
#include <limits>
#include <map>
#include <string>
#include <vector>

#include "lane/lane_spec.h"
#include "model/camera_model.h"

namespace hookline {

enum class SetupSource { kAutomatic, kPoints, kFile };

// Parameters of a setup in the order of its covariance: focal_px, centre_u, centre_v, k1, k2, rotation (3), position
// (3), lane width.
inline constexpr int kSetupParameters = 12;
using SetupVector = Eigen::Matrix<double, kSetupParameters, 1>;
using SetupMatrix = Eigen::Matrix<double, kSetupParameters, kSetupParameters>;

// A neighbouring lane seen in the picture, by the x of its centre line in the frame of the chosen lane, m.
struct NeighbourLane {
  int index = 0;  // +1 the next lane to the right, -1 to the left
  double centre_x = 0;
};

struct LaneSetup {
  SetupSource source = SetupSource::kAutomatic;
  CameraModel camera;  // at the reference frame
  lane::LaneSpec lane;
  SetupMatrix covariance = SetupMatrix::Zero();                   // of the parameters above, in their own units
  double residual_px = std::numeric_limits<double>::quiet_NaN();  // rms over the evidence used
  int evidence_points = 0;
  double score = std::numeric_limits<double>::quiet_NaN();  // 0..1, how much of the expected evidence was seen
  std::vector<NeighbourLane> neighbours;
  std::vector<std::string> notes;  // what was and was not seen, a sentence each
  // Marks that a person set, by name, px in the reference frame: the setup was fitted to them.
  std::map<std::string, Eigen::Vector2d> marks_by_hand;
};

}  // namespace hookline
