// Friction that goes from one value in front to another down the lane, as where the oil ends, and is higher towards the
// gutters, where there is less oil, times small deviations.
//
//   mu(x, y) = mu_least + F e^(o b(x)) + (B - F e^(o b(x))) / (1 + exp(-(y - c) / w))
//   b(x) = 1 / (1 + exp(-(|x| - x_o) / 2 cm)),   the curve's l_k = log(g (mu - mu_least)) at each knot's x, y, + d_k
//
// F and B are the excess over the least friction (motion/skid_curve.h) as accelerations, m/s^2; c is where friction
// passes half way, 4.39 w the way from 10 to 90 percent of the step. The knots' places are those of a fit made before
// and held. Few numbers in place of one for every knot: where the lane is like this the path's end and the roll's start
// are told much better, and whether it is like this the evidence of the fit decides (motion/path_fit.h). Oil is thinner
// outside on most lanes, many times over (association's page on lane dressing).
#pragma once

#include <Eigen/Core>

namespace hookline::motion {

enum TwoFrictionParameter : Eigen::Index {
  kLogFront = 0,  // log F, m/s^2
  kLogBack = 1,   // log B, m/s^2
  kChangeY = 2,   // c, m
  kLogWidth = 3,  // log w, m
  kOutside = 4,   // o
  kOutsideX = 5   // x_o, m from the lane's middle
};
inline constexpr Eigen::Index kTwoFriction = 6;
using FrictionShape = Eigen::Matrix<double, kTwoFriction, 1>;

// l of a knot without its deviation; derivatives by the shape when asked for.
double TwoFrictionLog(const FrictionShape& shape, double x, double y, FrictionShape* by_shape);

// The friction coefficients in front (inside) and down the lane, and anywhere.
double FrontFriction(const FrictionShape& shape);
double BackFriction(const FrictionShape& shape);
double FrictionAt(const FrictionShape& shape, double x, double y);

// From a friction coefficient to F or B; coefficients at or below the least give a very small one.
double LogExcess(double friction);

}  // namespace hookline::motion
