// Single numbers as functions of a path's parameters and the lane's width, and their doubt by differentiation.
#pragma once

#include <Eigen/Core>
#include <functional>
#include <optional>

#include "lane/lane_spec.h"
#include "model/path.h"

namespace hookline::measure {

// m, s, rad; nullopt where the number does not exist for these parameters.
using PathFunction = std::function<std::optional<double>(const Eigen::VectorXd& parameters, double lane_width)>;

struct ValueWithDoubt {
  double value = 0;
  double sd = 0;
};

// Central differences, each step one tenth of the parameter's own sd. nullopt when the function has no value there;
// `one_side_will_do`: no value on one side of a parameter leaves the slope of the other.
std::optional<ValueWithDoubt> Evaluate(const Path& path, double lane_width, const PathFunction& function,
                                       bool one_side_will_do = false);

// Time at which the contact point reaches y, by safeguarded Newton from `guess_s`; nullopt when the path does not move
// down the lane.
std::optional<double> TimeAtY(const Path& path, const Eigen::VectorXd& parameters, double y, double guess_s);

// Time at which it crosses the V through the arrow tips of a lane of the given width.
std::optional<double> TimeAtArrows(const Path& path, const Eigen::VectorXd& parameters, const lane::LaneSpec& lane,
                                   double lane_width, double guess_s);

}  // namespace hookline::measure
