// Pictures of a scene as a phone would take them.
//
// What stands still is cast once, 16 rays a pixel, into a picture of its light (diffuse and mirrored apart) with depth.
// A frame is that picture (turned and resampled when the camera moves, each row at its own time), and over it what
// moves: rays through the pixel at points spread over area and exposure, only in the tiles that a moving thing, its
// mirror image or its shadow can touch. Then the lens's blur, vignette, tone curve and noise. Same scenario, same
// pictures, whatever the number of threads.
#pragma once

#include <memory>
#include <opencv2/core/mat.hpp>

#include "synth/scene.h"

namespace hookline::synth {

class Renderer {
 public:
  explicit Renderer(const Scene& scene);
  ~Renderer();
  // The frame with this time stamp; index is only the seed of its noise. CV_8UC3 BGR of the displayed size.
  void Render(double time_s, std::uint32_t index, cv::Mat& bgr);

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace hookline::synth
