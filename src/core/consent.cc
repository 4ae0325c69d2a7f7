#include "core/consent.h"

#include <algorithm>
#include <filesystem>
#include <sstream>

#include "core/whole_file.h"

namespace hookline {
namespace {

namespace fs = std::filesystem;

constexpr const char* kFirstLine = "hookline-consent 1";

// One name a line, behind a mark, so that the empty name is a line too; line ends and backslashes inside are escaped.
std::string LineOf(const std::string& name) {
  std::string line = "=";
  for (const char c : name) {
    if (c == '\\')
      line += "\\\\";
    else if (c == '\n')
      line += "\\n";
    else if (c == '\r')
      line += "\\r";
    else
      line += c;
  }
  return line;
}

Result<std::set<std::string>> LinesOf(const std::string& file) {
  std::set<std::string> lines;
  std::error_code ignored;
  if (!fs::exists(file, ignored)) return lines;
  const auto text = ReadWholeFile(file);
  if (!text.ok()) return text.status();
  std::istringstream in(*text);
  std::string line;
  if (!std::getline(in, line) || line != kFirstLine)
    return Status(StatusCode::kBadFile, file + ": this is no list of consents; move it away and answer once more.");
  while (std::getline(in, line))
    if (!line.empty() && line[0] == '=') lines.insert(line);
  return lines;
}

}  // namespace

ConsentStep NextConsentStep(const ConsentState& s) {
  if (!s.shows_a_person || s.remembered) return ConsentStep::kGoOn;
  if (s.stated) return ConsentStep::kGoOnAndRemember;
  return s.can_ask ? ConsentStep::kAsk : ConsentStep::kRefuse;
}

std::string ConsentQuestion(const std::set<std::string>& bowlers) {
  std::string who;
  for (const std::string& b : bowlers)
    if (!b.empty()) who += (who.empty() ? "" : ", ") + b;
  if (bowlers.count("") > 0) who += who.empty() ? "the person filmed" : ", and of who bowled the shots without a name";
  return "This export shows pictures of " + who +
         ". Has everyone shown agreed to it, and for a minor a parent? Asked once, then remembered on this computer.";
}

std::string NoConsentSentence() {
  return "Nothing was exported: pictures of a person need that person's consent, a parent's for a minor; state it "
         "(--consent-given on the command line), or export without pictures.";
}

std::string ConsentFile(const char* xdg_state_home, const char* home) {
  // The XDG base directory specification: a relative path there is to be passed over.
  if (xdg_state_home && xdg_state_home[0] == '/') return (fs::path(xdg_state_home) / "hookline" / "consent").string();
  if (home && home[0] == '/') return (fs::path(home) / ".local" / "state" / "hookline" / "consent").string();
  return {};
}

Result<bool> ConsentRemembered(const std::string& file, const std::set<std::string>& bowlers) {
  if (file.empty()) return false;
  const auto lines = LinesOf(file);
  if (!lines.ok()) return lines.status();
  return std::all_of(bowlers.begin(), bowlers.end(), [&](const std::string& b) { return lines->count(LineOf(b)) > 0; });
}

Status RememberConsent(const std::string& file, const std::set<std::string>& bowlers) {
  if (file.empty()) return Status::Ok();  // no place of the user's own is known: asked again next time
  auto lines = LinesOf(file);
  if (!lines.ok()) return lines.status();
  for (const std::string& b : bowlers) lines->insert(LineOf(b));
  std::error_code failed;
  fs::create_directories(fs::path(file).parent_path(), failed);
  if (failed)
    return {StatusCode::kBadFile, fs::path(file).parent_path().string() + ": the folder cannot be made (" +
                                      failed.message() + "); the consent cannot be remembered."};
  std::string text = std::string(kFirstLine) + "\n";
  for (const std::string& line : *lines) text += line + "\n";
  return WriteWholeFile(file, text);
}

}  // namespace hookline
