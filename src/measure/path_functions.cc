#include "measure/path_functions.h"

#include <algorithm>
#include <cmath>

namespace hookline::measure {

std::optional<ValueWithDoubt> Evaluate(const Path& path, double lane_width, const PathFunction& function,
                                       bool one_side_will_do) {
  const auto value = function(path.parameters, lane_width);
  if (!value || !std::isfinite(*value)) return std::nullopt;
  const Eigen::Index n = path.parameters.size();
  Eigen::VectorXd gradient = Eigen::VectorXd::Zero(n), p = path.parameters;
  for (Eigen::Index i = 0; i < n; ++i) {
    const double sd = std::sqrt(std::max(path.covariance(i, i), 0.0));
    if (!(sd > 0)) continue;
    const double step = 0.1 * sd;
    p[i] = path.parameters[i] + step;
    const auto up = function(p, lane_width);
    p[i] = path.parameters[i] - step;
    const auto down = function(p, lane_width);
    p[i] = path.parameters[i];
    if (up && down)
      gradient[i] = (*up - *down) / (2 * step);
    else if ((up || down) && one_side_will_do)
      gradient[i] = (up ? *up - *value : *value - *down) / step;
    else
      return std::nullopt;
  }
  double variance = gradient.dot(path.covariance * gradient);
  if (path.width_variance > 0) {
    const double step = 1e-4 * lane_width;
    const auto up = function(path.parameters, lane_width + step), down = function(path.parameters, lane_width - step);
    if (up && down) {
      const double by_width = (*up - *down) / (2 * step);
      variance += by_width * by_width * path.width_variance;
      if (path.covariance_with_width.size() == n) variance += 2 * by_width * gradient.dot(path.covariance_with_width);
    }
  }
  return ValueWithDoubt{*value, std::sqrt(std::max(variance, 0.0))};
}

std::optional<double> TimeAtY(const Path& path, const Eigen::VectorXd& parameters, double y, double guess_s) {
  double t = guess_s;
  for (int i = 0; i < 40; ++i) {
    const PathState s = path.evaluate(parameters, t);
    if (!(s.vy > 0.2) || !std::isfinite(s.y)) return std::nullopt;
    const double step = std::clamp((y - s.y) / s.vy, -0.5, 0.5);
    t += step;
    if (std::abs(step) < 1e-11) return t;
  }
  return std::nullopt;
}

std::optional<double> TimeAtArrows(const Path& path, const Eigen::VectorXd& parameters, const lane::LaneSpec& lane,
                                   double lane_width, double guess_s) {
  lane::LaneSpec own = lane;
  own.width = lane_width;
  // The V is flat beside the ball's speed down the lane, so this contracts quickly; a kink of the V does no harm.
  double t = guess_s;
  for (int i = 0; i < 40; ++i) {
    const auto next = TimeAtY(path, parameters, own.ArrowLineY(path.evaluate(parameters, t).x), t);
    if (!next) return std::nullopt;
    const double step = *next - t;
    t = *next;
    if (std::abs(step) < 1e-11) return t;
  }
  return std::nullopt;
}

}  // namespace hookline::measure
