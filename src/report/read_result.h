// Reads a result file back, format "hookline-shots" version 1 (docs/result-file.md), whoever wrote it: this program or
// one that makes sessions without video. The LaneSetup read is what drawing needs, without covariance and neighbours;
// there is none when the file has no camera. Keys that are not known are passed over.
#pragma once

#include <string>

#include "core/status.h"
#include "model/shot.h"

namespace hookline::report {

// kBadFile with one sentence that names `file` and what is wrong. Measures the file does not have are null with that
// reason.
Result<ClipResult> ReadResult(const std::string& file);
Result<ClipResult> ParseResult(const std::string& text, const std::string& file);
// One entry of the list of shots. A text that is none gives a shot without anything.
Shot ParseShot(const std::string& text);

}  // namespace hookline::report
