// One path out of several fits of one track: the mean of their curves and the covariance of their mixture, in a linear
// form.
//
// Where the roll begins, the posterior has several maxima and a part without a roll at all. Each is a normal
// distribution of its own weight; together they are summed up by mean and covariance of the state (x, y, vx, vy,
// height) at close times:
//   mean = sum w_i m_i,   C = sum w_i (C_i + (m_i - mean)(m_i - mean)')
// C is then written as U diag(l) U' with few columns; the path's parameters are the coordinates along U, zero at the
// fit, and
//   state(t) = mean(t) + U(t) parameters,  cubic Hermite in between, straight on beyond the ends.
#pragma once

#include <Eigen/Core>
#include <vector>

#include "model/path.h"
#include "motion/skid_curve.h"

namespace hookline::motion {

struct PathComponent {
  double log_weight = 0;          // up to a constant common to all
  Eigen::VectorXd parameters;     // of the curve
  Eigen::MatrixXd covariance;     // by sights and priors
  Eigen::MatrixXd by_considered;  // d parameters / d considered
};

// Friction beyond the last sight of a ball that still slides there. Oil ends somewhere, within some metres, and dry
// boards have 0.20 or so (facts of the lane: Weidert 2007): that it rises from what it was to that is taken as likely
// as not. Over a distance D it rises by  more_friction (1 - exp(-(D / length)^2 / 2)),  plus and minus as much; this
// acts along one direction, itself doubted, and moves velocity and place.
struct UnseenEnd {
  double from_s = 0;                                    // stream time of the last sight
  Eigen::Vector2d direction = Eigen::Vector2d::Zero();  // of the acceleration by friction
  double direction_sd = 0;                              // rad, 0.9 when any that brakes
  double speed = 0;                                     // m/s; 0: no doubt is added
  double more_friction = 0, length = 3;                 // 1, m
};

// Fills parameters, covariance, covariance_with_width, evaluate and laydown_time of `path` for times in [from_s, to_s].
// `considered` is the covariance of what is considered, `width` the row of the lane's width in it. Precondition: not
// empty.
void MixComponents(const SkidGrid& grid, const std::vector<PathComponent>& components,
                   const Eigen::MatrixXd& considered, Eigen::Index width, double from_s, double to_s,
                   double more_laydown_sd_s, const UnseenEnd& unseen, Path& path);

}  // namespace hookline::motion
