// Consent before a picture of a person leaves the program (a page, a PDF, two shots side by side): asked once for each
// bowler, remembered in a small file of the user's own. The rule is a pure function, so that command line and window
// cannot differ; asking is theirs.
//
// What is remembered is the bowlers' names as the result files have them (the empty name for shots without one). It is
// the user's word that consent was given, no proof of it.
#pragma once

#include <set>
#include <string>

#include "core/status.h"

namespace hookline {

struct ConsentState {
  bool shows_a_person = false;  // the export holds pictures
  bool remembered = false;      // an earlier answer covers every bowler in it
  bool stated = false;          // said with this very call (an option, a ticked box)
  bool can_ask = false;         // somebody is there to answer
};

enum class ConsentStep { kGoOn, kGoOnAndRemember, kAsk, kRefuse };
ConsentStep NextConsentStep(const ConsentState& state);

// The question for these bowlers, to be answered yes or no.
std::string ConsentQuestion(const std::set<std::string>& bowlers);
// What is said when there is no consent: nothing was exported, and what can be done.
std::string NoConsentSentence();

// $XDG_STATE_HOME/hookline/consent, or ~/.local/state/hookline/consent; "" when neither is known. Null: not set.
std::string ConsentFile(const char* xdg_state_home, const char* home);

// Whether every bowler's consent is in the file. A file that is not there holds none.
Result<bool> ConsentRemembered(const std::string& file, const std::set<std::string>& bowlers);
// Adds them; makes the folder where it is missing.
Status RememberConsent(const std::string& file, const std::set<std::string>& bowlers);

}  // namespace hookline
