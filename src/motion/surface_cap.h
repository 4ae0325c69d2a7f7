// What is seen of a ball's surface, on a grid of normals that stands still in the lane frame while the ball turns.
//
// The grid is even in the plane across the mean line of sight: n = a e1 + b e2 + sqrt(1 - a^2 - b^2) e3, e3 towards the
// camera, a^2 + b^2 <= kCapRim^2. Each picture is sampled there through the camera; luma and chroma are put together
// along the direction in which they vary most. Not a door of the room.
#pragma once

#include <Eigen/Core>
#include <vector>

#include "model/camera_model.h"

namespace hookline::motion {

struct SurfaceView;

inline constexpr int kCapGrid = 27;
inline constexpr double kCapRim = 0.86;

// Spin at the middle time, and how it changes: `change` times the columns of SurfaceCap::drift.
inline constexpr int kChanges = 3, kSpinUnknowns = 3 + kChanges;
using ChangeVector = Eigen::Matrix<double, kChanges, 1>;
using SpinVector = Eigen::Matrix<double, kSpinUnknowns, 1>;
using SpinMatrix = Eigen::Matrix<double, kSpinUnknowns, kSpinUnknowns>;
struct SpinGuess {
  Eigen::Vector3d spin = Eigen::Vector3d::Zero();  // rad/s
  ChangeVector change = ChangeVector::UnitX();
};

struct SurfaceCap {
  std::vector<double> times;  // s, of the pictures
  double middle_s = 0;        // time at which the turn is none
  // rad/s, of the spin at each time against that at the middle, all along the friction: what the path tells; friction
  // that grows or falls with time, a parabola as high as the path's whole change; the
  // landing, 1 rad/s less before it.
  std::vector<Eigen::Matrix<double, 3, kChanges>> drift;
  Eigen::Vector3d along = Eigen::Vector3d::Zero();  // unit, in which friction changes the spin
  std::vector<Eigen::Vector3f> normals;             // of the nodes
  std::vector<float> across, up;                    // a, b of the nodes
  std::vector<float> seen;                          // pictures x nodes, 1 or 0
  std::vector<float> raw;                           // pictures x nodes, in widths; light still in it
  std::vector<float> level;                         // the same without the light, 0 where not seen
  bool any_pattern = false;                         // there is something beyond the light
  Eigen::Matrix3f basis;                            // rows e1, e2, e3
  std::vector<int> index;                           // kCapGrid^2, node or -1

  int nodes() const { return static_cast<int>(normals.size()); }
  const float* Row(int picture) const { return level.data() + static_cast<std::ptrdiff_t>(picture) * nodes(); }
  // The node whose cell holds a direction, -1 outside the cap.
  int NodeAt(const Eigen::Vector3f& n) const {
    const Eigen::Vector3f p = basis * n;
    if (p.z() < 0.3F) return -1;
    const int c = static_cast<int>((p.x() + 1) * (kCapGrid / 2.0F)),
              r = static_cast<int>((p.y() + 1) * (kCapGrid / 2.0F));
    if (c < 0 || r < 0 || c >= kCapGrid || r >= kCapGrid) return -1;
    return index[static_cast<std::size_t>(r * kCapGrid + c)];
  }
  // level = raw minus the straight line in time through each node's `light` (pictures x nodes).
  void TakeTrendOut(const std::vector<float>& light);
  Eigen::Vector3d SpinAt(const SpinGuess& g, std::size_t picture) const { return g.spin + drift[picture] * g.change; }
};

SurfaceCap MakeCap(const std::vector<const SurfaceView*>& views, const CameraModel& camera, double ball_radius_m,
                   double ball_k, double landing_s);

}  // namespace hookline::motion
