// The ball's own pattern under a guessed spin, and the spin that makes it sharpest. Not a door of the room.
//
// T is the mean of all levels that fall on a place of the body, m = R_i^T n; on a lattice of the cube around the unit
// sphere, trilinear. Where the body's place moves by dm = R^T (n x dtheta), dtheta = D_i (dw, ds) the turn's error by
// then, the residual x - T changes by -(R grad T) . (n x dtheta). The pattern itself follows the guess: of the
// derivative only what differs from its mean over the same place counts (variable projection, Kaufman 1975).
#pragma once

#include <Eigen/Core>
#include <vector>

#include "motion/surface_cap.h"

namespace hookline::motion {

class PatternFit {
 public:
  PatternFit(SurfaceCap& cap, double scale_sd) : cap_(cap), scale_sd_(scale_sd) {}
  // One Gauss-Newton step on pictures [from, to); the spin changes by most_step rad/s at most.
  void Step(int from, int to, double most_step, SpinGuess* guess);
  // Share of the levels' variance that the other pictures predict of each picture; 0 or less when nothing.
  double Predicted(int from, int to, const SpinGuess& guess);
  // Takes out of the levels what stays in place, told apart from the pattern of this guess.
  void TakeLightOut(const SpinGuess& guess);
  // Of (spin, scale), from the scatter of the gradient over blocks.
  Eigen::Matrix4d Covariance(const SpinGuess& guess);

 private:
  struct Turn {
    Eigen::Matrix3f lane_from_body;
    Eigen::Matrix<float, 3, 4> by_guess;  // d (turn, rad, lane frame) / d (spin, scale)
  };
  void Turns(const SpinGuess& guess);
  void Splat(int from, int to, int grid);
  void Normal(int from, int to, const SpinGuess& guess, Eigen::Matrix4d* a, Eigen::Vector4d* b,
              std::vector<Eigen::Vector4d>* blocks);

  SurfaceCap& cap_;
  double scale_sd_;
  std::vector<Turn> turns_;
  int grid_ = 0;
  std::vector<float> sum_, weight_;
};

}  // namespace hookline::motion
