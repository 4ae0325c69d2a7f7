// What stands still, as the still camera sees it: light and depth in a grid of cells, `scale` cells a pixel each way,
// with a margin beyond the picture for a camera that turns. Row-major; cell (0,0) begins at pixel coordinate -0.5 -
// margin.
#pragma once

#include <vector>

#include "synth/scene.h"

namespace hookline::synth {

// Undistorted normalised coordinates of distorted ones by a table over the squared radius.
class Undistorter {
 public:
  Undistorter(const CameraModel& camera, double largest_radius);
  void operator()(float u, float v, float* x, float* y) const;

 private:
  float focal_, cu_, cv_, step_;
  std::vector<float> factor_;
};

struct StillPicture {
  int margin = 0;                      // px on every side
  int width = 0, height = 0;           // px with margins
  int scale = 2;                       // depth cells a pixel
  int light_scale = 1;                 // light cells a pixel
  std::vector<float> diffuse, mirror;  // 3 floats a light cell
  std::vector<float> depth;            // m along the ray, of the cell's middle
  std::vector<std::uint8_t> ground;    // Ground of that place

  std::size_t CellAt(float u, float v) const;  // depth cell of a pixel coordinate of the still camera
};

StillPicture CastStill(const Scene& scene, const Undistorter& undistort, int margin, int scale, int light_scale);

}  // namespace hookline::synth
