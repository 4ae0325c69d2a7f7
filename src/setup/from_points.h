// A lane setup from points that a person marked in the picture, refined by what the picture shows around them.
//
// Names: foul_left, foul_right (middle of the foul line at the lane's edges), headpin_left, headpin_right (the lane's
// edges at 60 ft), arrow_5, arrow_10 .. arrow_35 (far tips, boards counted from the right), pin_1 .. pin_10 (centre of
// the base on its spot), pin_1_top .. pin_10_top. Four are enough when they do not lie on one line and reach from the
// front to the pins.
#pragma once

#include <Eigen/Core>
#include <map>
#include <string>

#include "core/status.h"
#include "model/lane_setup.h"
#include "model/picture.h"

namespace hookline::setup {

// kBadUse: unknown name, fewer than four points, points outside the picture; kLaneNotFound: they fit no lane. `refine`
// may be null: then the marks alone decide, at about 2 px each.
Result<LaneSetup> LaneFromPoints(const std::map<std::string, Eigen::Vector2d>& points, int width, int height,
                                 const Background* refine);

// The setup `found` put right by a person: `points` lie where the person put them, and those of the lane's four corners
// that are not among them stay about where `found` has them, so that one mark dragged moves one end of the lane. One
// mark is enough. Without `refine` it is one small fit, a few milliseconds, to redraw the lane while a mark is dragged;
// with it the picture around the lane decides the rest, unless that takes a mark away from where the person put it:
// then the marks alone stand, and a note of the setup says so. Errors as above. marks_by_hand is set.
Result<LaneSetup> LaneCorrected(const LaneSetup& found, const std::map<std::string, Eigen::Vector2d>& points,
                                const Background* refine);

}  // namespace hookline::setup
