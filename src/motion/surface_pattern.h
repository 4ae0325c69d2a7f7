// The ball's own pattern under a guessed spin, and the spin that makes it sharpest. Not a door of the room.
//
// T is the mean of all levels that fall on a place of the body, m = R_i^T n; on a lattice of the cube around the unit
// sphere, trilinear. Where the body's place moves by dm = R^T (n x dtheta), dtheta = D_i d(guess) the turn's error by
// then, the residual x - T changes by -(R grad T) . (n x dtheta). The pattern itself follows the guess: of the
// derivative only what differs from its mean over the same place counts (variable projection, Kaufman 1975).
#pragma once

#include <Eigen/Core>
#include <vector>

#include "motion/surface_cap.h"

namespace hookline::motion {

class PatternFit {
 public:
  PatternFit(SurfaceCap& cap, const ChangeVector& change_sd) : cap_(cap), change_sd_(change_sd) {}
  // One Gauss-Newton step on pictures [from, to); the spin changes by most_step rad/s at most.
  void Step(int from, int to, double most_step, SpinGuess* guess);
  // Share of the levels' variance that the other pictures predict of each picture; 0 or less when nothing.
  double Predicted(int from, int to, const SpinGuess& guess);
  // Neighbouring pixels share their noise: how much more the gradient scatters over blocks than noise of single pixels
  // would let it. From then on a pixel counts that much less against what is known beforehand.
  void LearnNoise(const SpinGuess& guess);
  // Leaves out pictures that the pattern explains much worse than the others (a leg in front of the ball).
  void DropOddPictures(const SpinGuess& guess);
  // Takes out of the levels what stays in place, told apart from the pattern of this guess.
  void TakeLightOut(const SpinGuess& guess);
  // Of (spin, change), from the scatter of the gradient over blocks.
  SpinMatrix Covariance(const SpinGuess& guess);

 private:
  struct Turn {
    Eigen::Matrix3f lane_from_body;
    Eigen::Matrix<float, 3, kSpinUnknowns> by_guess;  // d (turn, rad, lane frame) / d (spin, change)
  };
  void AddPrior(const SpinGuess& guess, SpinMatrix* a, SpinVector* b) const;
  void Turns(const SpinGuess& guess);
  void Splat(int from, int to, int grid);
  void Normal(int from, int to, const SpinGuess& guess, SpinMatrix* a, SpinVector* b, SpinMatrix* scatter);

  SurfaceCap& cap_;
  ChangeVector change_sd_;
  std::vector<Turn> turns_;
  double share_ = 40;  // pixels of one independent one; the figure to begin with is rough
  int grid_ = 0;
  std::vector<float> sum_, weight_;
  std::vector<double> misfit_;  // mean squared residual of each picture of the last Normal()
};

}  // namespace hookline::motion
