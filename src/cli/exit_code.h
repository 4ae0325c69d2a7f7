// What the program's exit codes mean: the one place that says so.
#pragma once

#include <string_view>

#include "core/status.h"

namespace hookline::cli {

inline constexpr int kExitMeasured = 0;
inline constexpr int kExitInternal = 1;
inline constexpr int kExitBadUse = 2;
inline constexpr int kExitNoShot = 3;
inline constexpr int kExitLaneNotFound = 4;
inline constexpr int kExitBadFile = 5;
inline constexpr int kExitStopped = 130;

inline constexpr std::string_view kExitCodeHelp =
    "Exit codes:\n"
    "  0    measured\n"
    "  2    bad use: an option that makes no sense, or an output that is already there (--force replaces it)\n"
    "  3    no shot in the clip (the reason is given)\n"
    "  4    lane not found (what was missing is given)\n"
    "  5    bad file: missing, no video, not readable or not writable\n"
    "  130  stopped by Ctrl-C; no half-written file is left\n"
    "  1    anything else\n"
    "With several clips the highest code of any clip.\n";

constexpr int ExitCodeOf(StatusCode code) {
  switch (code) {
    case StatusCode::kOk:
      return kExitMeasured;
    case StatusCode::kBadUse:
      return kExitBadUse;
    case StatusCode::kBadFile:
      return kExitBadFile;
    case StatusCode::kLaneNotFound:
      return kExitLaneNotFound;
    case StatusCode::kNotDetermined:
      return kExitNoShot;
    case StatusCode::kStopped:
      return kExitStopped;
    case StatusCode::kInternal:
      break;
  }
  return kExitInternal;
}

}  // namespace hookline::cli
