#include "cli/picture_exports.h"

#include <unistd.h>

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <iostream>

#include "cli/terminal.h"
#include "core/consent.h"

namespace hookline::cli {
namespace {

bool AnswerIsYes(const std::string& question) {
  for (;;) {
    std::fprintf(stderr, "%s [y/n] ", question.c_str());
    std::fflush(stderr);
    std::string answer;
    if (!std::getline(std::cin, answer)) return false;
    if (answer == "y" || answer == "Y" || answer == "yes") return true;
    if (answer == "n" || answer == "N" || answer == "no") return false;
  }
}

}  // namespace

Status SettleConsent(const std::set<std::string>& bowlers, bool stated) {
  const std::string file = ConsentFile(std::getenv("XDG_STATE_HOME"), std::getenv("HOME"));
  ConsentState state;
  state.shows_a_person = true;
  state.stated = stated;
  state.can_ask = isatty(STDIN_FILENO) == 1 && isatty(STDERR_FILENO) == 1;
  const auto remembered = ConsentRemembered(file, bowlers);
  if (!remembered.ok()) return remembered.status();
  state.remembered = *remembered;
  switch (NextConsentStep(state)) {
    case ConsentStep::kGoOn:
      return Status::Ok();
    case ConsentStep::kAsk:
      if (!AnswerIsYes(ConsentQuestion(bowlers))) break;
      [[fallthrough]];
    case ConsentStep::kGoOnAndRemember:
      return RememberConsent(file, bowlers);
    case ConsentStep::kRefuse:
      break;
  }
  return {StatusCode::kBadUse, NoConsentSentence()};
}

void RemindOfConsent() {
  if (isatty(STDERR_FILENO) == 1)
    Say("The clip shows a person: hand it on only with that person's consent, a parent's for a minor "
        "(docs/report.md).");
}

Result<cv::Rect2d> BoxOf(const std::string& text) {
  cv::Rect2d box;
  int end = 0;
  if (std::sscanf(text.c_str(), "%lf,%lf,%lf,%lf%n", &box.x, &box.y, &box.width, &box.height, &end) == 4 &&
      static_cast<std::size_t>(end) == text.size() && box.width > 0 && box.height > 0 && box.width < 1e5 &&
      box.height < 1e5 && std::abs(box.x) < 1e5 && std::abs(box.y) < 1e5)
    return box;
  return Status(StatusCode::kBadUse,
                "--blur " + text + ": give X,Y,WIDTH,HEIGHT in px, such as --blur 120,300,180,400.");
}

}  // namespace hookline::cli
