// Sub-pixel centre of a ball's disc in a small piece of the picture, by least squares on its pixels.
//
//   I(p) = (1 - a(p)) (g B(p) + o) + a(p) F(p)      for luma, cb and cr together
//   a(p) = mean over the exposure of Phi((r - |p - c(t)|) / s)
//
// B is the still background, g the frame's gain, o a small offset (a glow or shade around the ball); F the ball's own
// brightness, a low polynomial over the disc, free in each frame (a ball turns 30 degrees a frame, its texture cannot
// be carried over); s the blur of lens and pixel; c(t) moves along the picture's motion during the exposure. F and o
// are linear and eliminated, c (and r where asked) is found by Gauss-Newton with redescending weights, so that lamps in
// the gloss, finger holes and a leg in front do not pull it.
//
// The rim's lowest part is left out: there the contact shadow and the mirror image in the lane stand in for the
// background. Up and down therefore rest on the top arc and the radius, which is known.
#pragma once

#include <Eigen/Core>
#include <cstdint>
#include <limits>
#include <opencv2/core/mat.hpp>

namespace hookline::track {

// Pixels around a ball, kept for the fit: as seen, and the background behind them. The box is in px of the reference
// frame, corner and size even.
struct Patch {
  std::int64_t frame = -1;
  double time_s = 0;
  cv::Rect box;
  cv::Mat luma, cb, cr;
  cv::Mat back_luma, back_cb, back_cr;
  float gain = 1, cb_shift = 0, cr_shift = 0;
};

struct DiscModel {
  double radius = 0;           // px
  double radius_sd = 0;        // px; 0 holds the radius, otherwise it is fitted with this prior
  Eigen::Vector2d down{0, 1};  // unit vector from the centre towards the contact point
  // Offsets from the centre times this make the outline a circle of `radius`: off the optical axis a sphere's picture
  // is an ellipse, longer along the line from the axis. Symmetric, determinant 1.
  Eigen::Matrix2d round = Eigen::Matrix2d::Identity();
  Eigen::Vector2d motion{0, 0};  // px travelled during the exposure
  double blur = 0.75;            // px, s above, the pixel's own box included
  bool linear_light = true;  // luma is composed in linear light, (level / 255)^2.2; otherwise as it stands in the file
  bool colour = true;        // chroma takes part
  bool near = false;         // the start is where an earlier fit ended: no wide look around it
  // A tenth of a pixel is enough, for following a ball: fewer pixels, a plainer brightness and fewer rounds, at a fifth
  // of the cost.
  bool rough = false;
  Eigen::Vector2d chroma_at{
      0, 0};  // px, where chroma was sampled, from its cell's middle; (-0.5, 0) is usual in a landscape file
};

struct DiscFit {
  bool ok = false;
  Eigen::Vector2d p = Eigen::Vector2d::Constant(std::numeric_limits<double>::quiet_NaN());
  Eigen::Matrix2d covariance =
      Eigen::Matrix2d::Zero();  // px^2, from the residuals, taken as independent from pixel to pixel
  // px that the centre moves by to the right when the radius that was held is larger by one px, to a quarter: little
  // where both sides of the rim stand out alike, nearly one or minus one where only one does. Zero where the radius was
  // free.
  double by_radius_u = 0;
  double radius = 0;
  double radius_sd = 0;
  double seen_share = 0;  // of the rim looked at: how much of it was seen and agreed
  double rms = 0;         // grey levels of luma, weighted
  double cost = 0;        // mean squared residual of the pixels near the rim (each cut at 30 grey levels), plus one
  double contrast = 0;    // rms difference of ball and background at the rim over the noise
  int iterations = 0;
};

DiscFit FitDisc(const Patch& patch, const Eigen::Vector2d& start, const DiscModel& model);

}  // namespace hookline::track
