// A corrections file, format "hookline-corrections" version 1 (docs/corrections-file.md): what a person set by hand in
// a clip, so that it can be measured again with it. Numbers are written so that reading gives the very same ones.
#pragma once

#include <string>

#include "core/status.h"
#include "model/corrections.h"

namespace hookline::report {

// `clip` is for people only.
std::string CorrectionsText(const Corrections& corrections, const std::string& clip);

// kBadFile with one sentence that names `file` and what is wrong. A correction that cannot be read is never passed over
// in silence; keys that are not known are.
Result<Corrections> ParseCorrections(const std::string& text, const std::string& file);
Result<Corrections> ReadCorrections(const std::string& file);

}  // namespace hookline::report
