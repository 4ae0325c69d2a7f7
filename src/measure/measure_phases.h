// Skid, hook and roll: where friction changes, where rolling begins, and from the roll the spin at release.
//
// Once the ball rolls, its velocity v_f tells what it was given, whatever the friction was (docs/measures.md):
//   w0 = ((1 + k) v_f - v0) / k,   turn = angle from v0 to w0, inward positive,   revs = |w0| / R
// with v0 the velocity before the first touch. The doubt of k is part of the turn's and the revs'.
#pragma once

#include "lane/lane_spec.h"
#include "measure/measure_path.h"
#include "model/measures.h"
#include "model/path.h"

namespace hookline::measure {

// Fills skid end, roll start, path turn and path revs. `outward` is +1 where a right-hander's outside is, else -1.
// Precondition: `out` holds the measures up to the entry; a gutter ball has no roll or skid end beyond its gutter.
void MeasurePhases(const Path& path, const lane::LaneSpec& lane, double outward, const MeasureOptions& options,
                   Measures& out);

}  // namespace hookline::measure
