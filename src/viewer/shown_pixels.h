// Stored planes made into the window's own pixels on the CPU, for machines without a GPU: there a shader is carried out
// by the CPU too, three texture look-ups a pixel, at a tenth of the speed of these loops.
//
//   part of the stored planes -> scaled to the size on show -> turned -> R'G'B' by the stream's matrix
//   (colour_matrix.h)
//
// Scaled bilinearly as the shader does it, by areas where the picture shrinks to less than half. Straightening the lens
// is left to the shader.
#pragma once

#include <Eigen/Core>
#include <opencv2/core/mat.hpp>

#include "media/clip_frames.h"
#include "model/picture.h"

namespace hookline::viewer {

class ShownPixels {
 public:
  // Only pictures whose stored planes are even each way: chroma pixels of others do not tile the picture.
  static bool Can(const Picture& picture);
  // `part`: what is visible of the displayed picture, which has `shown` px: left, top, right, bottom, px from its outer
  // corner. `size`: of that part in the window, px. CV_8UC4, of exactly that size: blue, green, red, 255. Where the
  // part does not begin at a stored pixel's edge it lies up to half a window pixel beside its place. Good until the
  // next call.
  const cv::Mat& Make(const Picture& picture, const media::ShownForm& form, cv::Size shown, const Eigen::Vector4d& part,
                      cv::Size size);

 private:
  cv::Mat scaled_[3], turned_[3], out_;
};

}  // namespace hookline::viewer
