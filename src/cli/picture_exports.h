// What exports of pictures share on the command line. Consent: an option states it, a terminal is asked, otherwise the
// export is refused.
#pragma once

#include <opencv2/core/types.hpp>
#include <set>
#include <string>

#include "core/status.h"

namespace hookline::cli {

inline constexpr const char* kConsentOption = "--consent-given";
inline constexpr const char* kConsentHelp =
    "Everyone shown has agreed, for a minor a parent; asked for once when not given";

// kOk when the export may go on; kBadUse with a sentence when consent was neither given, stated nor remembered.
Status SettleConsent(const std::set<std::string>& bowlers, bool stated);

// One line on standard error, on a terminal only: for clips that are drawn for the user's own use.
void RemindOfConsent();

// "X,Y,WIDTH,HEIGHT" in px, as --blur takes it. kBadUse for anything else.
Result<cv::Rect2d> BoxOf(const std::string& text);

}  // namespace hookline::cli
