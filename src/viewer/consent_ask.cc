#include "viewer/consent_ask.h"

#include <cstdlib>

#include "core/consent.h"

namespace hookline::viewer {

bool ConsentAsk::Settle(const std::set<std::string>& bowlers, std::string* trouble) {
  if (bowlers.empty()) return true;
  const std::string file = ConsentFile(std::getenv("XDG_STATE_HOME"), std::getenv("HOME"));
  const auto remembered = ConsentRemembered(file, bowlers);
  if (!remembered.ok()) {
    *trouble = remembered.status().sentence();
    return false;
  }
  switch (NextConsentStep({true, *remembered, agreed_, true})) {
    case ConsentStep::kGoOn:
      return true;
    case ConsentStep::kGoOnAndRemember:
      if (Status s = RememberConsent(file, bowlers); !s.ok()) {
        *trouble = s.sentence();
        return false;
      }
      return true;
    case ConsentStep::kAsk:
      question_ = ConsentQuestion(bowlers);
      asking_ = true;
      return false;
    case ConsentStep::kRefuse:
      break;
  }
  *trouble = NoConsentSentence();
  return false;
}

void ConsentAsk::Answer(bool yes, std::string* trouble) {
  asking_ = false;
  agreed_ = yes;
  if (!yes) *trouble = NoConsentSentence();
}

}  // namespace hookline::viewer
