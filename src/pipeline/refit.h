// A measured clip put right by a person: from what the program found and what a person set, the clip's shots again,
// through the very functions that MeasureClip uses and without decoding the clip again.
//
//   lane marks       -> camera and lane (setup/from_points.h) -> the same sights on another lane
//   ball positions   -> sights with the hand's own doubt in place of the tracker's
//   release, impact  -> which sights count
//
// Always from the run as the program found it (the base) and all corrections at once, so that taking one back is
// measuring without it, and no corrections give the base itself. What a person set is marked in the result
// (Shot::by_hand, PathPoint::set_by_hand, LaneSetup::marks_by_hand); where it could not be followed a warning says so.
#pragma once

#include "core/progress.h"
#include "core/status.h"
#include "model/corrections.h"
#include "pipeline/measure_clip.h"

namespace hookline::pipeline {

// The lane as the marks have it, the marks alone deciding: to redraw it while one is dragged (a few milliseconds). The
// base's own lane when there are no marks. kBadUse, kLaneNotFound as LaneFromPoints().
Result<LaneSetup> DraggedLane(const ClipRun& base, const Corrections& corrections);

// True when the pictures are needed again: the base has no lane, the marks put the lane so far from where the base has
// it (a quarter of its width somewhere) that the ball must be looked for there anew, or the base itself was measured on
// a lane of other marks. So the same corrections give the same numbers whatever was tried before them.
bool NeedsClip(const ClipRun& base, const Corrections& corrections);

// The base with the corrections in it: about half a second of work a shot, another half for marks, so not for the
// thread that draws. `options` are those the base was measured with. kBadUse when a correction makes no sense (the
// sentence names it) or NeedsClip().
Result<ClipRun> Refit(const ClipRun& base, const Corrections& corrections, const MeasureOptions& options);

struct CorrectedClip {
  ClipRun base;  // to correct further from
  ClipRun run;   // with the corrections
};

// From the clip itself: measured as MeasureClip does, then the corrections; decoded a second time with the lane of the
// marks where NeedsClip(). What `hookline measure --corrections` and the viewer call.
Result<CorrectedClip> MeasureCorrected(const std::string& file, const Corrections& corrections,
                                       const MeasureOptions& options, const ProgressFn& progress,
                                       const StopToken& stop);

}  // namespace hookline::pipeline
