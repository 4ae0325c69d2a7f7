// The part of the picture a ball of this lane can be in, and how large the ball is there.
//
// The corridor is what the ball's disc (centre at height R over the lane, |x| up to the gutter's far side, y from just
// before the foul line to the pit) and a rim of surroundings can cover, plus the standing pins. All work of the tracker
// stays inside it. Detection runs on a map of `scale` luma px per cell (1, 2 or 4: chosen so that the ball at the pins
// is still 2 cells or more in radius).
//
// Frames: px are of the REFERENCE frame, (0,0) the centre of the first pixel; cells count from roi's corner, cell (i,j)
// covers luma roi.x + scale i .. + scale - 1, so its centre is roi.x + scale i + (scale - 1) / 2. Lengths in m, lane
// frame.
#pragma once

#include <Eigen/Core>
#include <opencv2/core/mat.hpp>
#include <optional>
#include <vector>

#include "model/lane_setup.h"

namespace hookline::track {

inline constexpr double kBallRadius = lane::kBallDiameter / 2;  // m; rule: 0.10795 to 0.10916
inline constexpr double kFirstY = -0.6;                         // m, where a ball is first looked for
inline constexpr double kLastY = lane::kPitY + 0.1;             // m, beyond it the ball has left

// One place of the detection grid: disc centre in cells, its radius in cells, and the contact point it stands for.
struct GridSpot {
  float u = 0, v = 0, radius = 0;
  float x = 0, y = 0;
};

// A ball's outline in the picture: the ellipse a sphere makes, bent by the lens.
//   cone of half angle a = asin(R / D) about the ray to the centre, t off the optical axis; on the plane z = 1
//   along the line from the axis it reaches from tan(t - a) to tan(t + a), across it to where the cone's edge is
struct Outline {
  double radius = 0;                                    // px, of the circle of the same area
  Eigen::Vector2d shift = Eigen::Vector2d::Zero();      // px, the ellipse's centre from the projected centre
  Eigen::Matrix2d round = Eigen::Matrix2d::Identity();  // makes it a circle of that radius, determinant 1
};

class Corridor {
 public:
  explicit Corridor(const LaneSetup& setup);

  bool empty() const { return spots_.empty(); }
  const cv::Rect& roi() const { return roi_; }  // px, corner and size multiples of 4
  int scale() const { return scale_; }
  int columns() const { return columns_; }  // of the map
  int rows() const { return rows_; }
  const std::vector<GridSpot>& spots() const { return spots_; }
  // Columns [begin, end) of a map row that belong to the corridor; begin == end when none do.
  int begin(int row) const { return begin_[static_cast<std::size_t>(row)]; }
  int end(int row) const { return end_[static_cast<std::size_t>(row)]; }
  // Where standing pins are, px; empty when outside the picture.
  const cv::Rect& pins() const { return pins_; }

  double half_width() const { return half_width_; }  // m, of the lane
  double outer_x() const { return half_width_ + lane::kGutterWidth; }
  const CameraModel& camera() const { return camera_; }

  // Disc centre of a ball whose contact point is (x, y), its centre at height z. nullopt behind the camera.
  std::optional<Eigen::Vector2d> Disc(const Eigen::Vector2d& contact, double z = kBallRadius) const;
  std::optional<Outline> OutlineAt(const Eigen::Vector2d& contact) const;
  double RadiusPx(const Eigen::Vector2d& contact, double z = kBallRadius) const;
  // Contact point of the ball whose disc has its centre there. nullopt above the horizon.
  std::optional<Eigen::Vector2d> Contact(const Eigen::Vector2d& p_in_image) const;
  // d contact / d p_in_image, by central differences of half a pixel.
  std::optional<Eigen::Matrix2d> ContactJacobian(const Eigen::Vector2d& p_in_image) const;
  // Unit vector in the picture from the disc's centre towards the contact point.
  Eigen::Vector2d Down(const Eigen::Vector2d& contact) const;

 private:
  CameraModel camera_;
  double half_width_;
  int scale_ = 2;
  cv::Rect roi_, pins_;
  int columns_ = 0, rows_ = 0;
  std::vector<GridSpot> spots_;
  std::vector<int> begin_, end_;
};

}  // namespace hookline::track
