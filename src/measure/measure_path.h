// From a fitted path to the measures of docs/measures.md. Pure functions.
#pragma once

#include "lane/lane_spec.h"
#include "model/measures.h"
#include "model/path.h"
#include "model/track.h"

namespace hookline::measure {

// Every measure a path can give, each with its sd or a reason. Spin and phases are null with a reason for now.
Measures MeasurePath(const Path& path, const Track& track, const lane::LaneSpec& lane, lane::Hand hand);

}  // namespace hookline::measure
