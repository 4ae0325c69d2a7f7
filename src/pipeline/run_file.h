// A measured clip as bytes, so that a program can be ended and started again without measuring anew: everything that
// Refit() needs, each number exactly as it was. Shots and paths are not in it: they are measured again from the sights
// when it is read, by the same functions, which gives the same numbers.
//
// The form (CBOR) is this program's own and may change with its version; what must last is the result file and the
// corrections file. A version that is not known is refused, and then the clip is measured again.
#pragma once

#include <string>

#include "core/status.h"
#include "pipeline/measure_clip.h"

namespace hookline::pipeline {

// `base` must be a run without a shot's corrections. Some 4 MB for a clip of 1080 lines.
std::string RunBytes(const ClipRun& base);

// kBadFile when the bytes are no run or one of another version (`name` is for the sentence). `options` are those of
// the run.
Result<ClipRun> RunFromBytes(const std::string& bytes, const std::string& name, const MeasureOptions& options);

}  // namespace hookline::pipeline
