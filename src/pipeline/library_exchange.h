// Shots between result files, tables and the library (docs/library.md).
//
// The library keeps a shot's measured part as the result file's text without what people say of it (bowler, ball, plan,
// target), which it has in columns of its own; here the two are taken apart and put together again. What is exported
// and imported into another library gives the same shots, in JSON as in CSV.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/status.h"
#include "library/library.h"
#include "model/shot.h"

namespace hookline::pipeline {

// The shots of a result file's text, ready for Library::Keep. `file` names the text in sentences. Where the clip that
// it names is there, it is known by its content from now on; `clip` says where it lies, else the text does.
Result<std::vector<library::StoredShot>> ShotsFromResult(const std::string& text, const std::string& file,
                                                         const std::string& clip = "");

// A result file of the library's shots, or of one session's: each with its session, clip, ball, plan, target, result
// and notes; bowlers, balls and lane setups beside them under "library" (all of them, or the session's).
Result<std::string> ExportJson(const library::Library& library, std::optional<std::int64_t> session);
// One session's shots for advice: as ExportJson() has them, but with the paths of the last kPathsForAdvice only, which
// is all that the physics of the next ball looks at; a long session is read in a fraction of the time.
inline constexpr std::size_t kPathsForAdvice = 60;
struct SessionShots {
  std::vector<Shot> shots;
  std::vector<std::string> results;  // of each shot, as ResultsIn()
};
Result<SessionShots> SessionForAdvice(const library::Library& library, std::int64_t session);
// A row a shot, RFC 4180. The last column, "rest", holds what has no column: path, friction, pins.
Result<std::string> ExportCsv(const library::Library& library, std::optional<std::int64_t> session);

struct ImportedSession {
  library::Session session;
  std::vector<library::StoredShot> shots;
};

struct Import {
  std::vector<ImportedSession> sessions;
  std::vector<library::Bowler> bowlers;
  std::vector<library::Ball> balls;
  std::vector<library::StoredSetup> setups;
  std::size_t shots() const;
};

// From the text of an exported file, either form. kBadFile with a sentence.
Result<Import> ReadImport(const std::string& text, const std::string& file);

// What of the library's an import would replace: shots, bowlers, balls and setups that are there and differ.
Result<int> WouldReplace(const library::Library& library, const Import& import);
// All of it or nothing.
Result<library::Kept> PutImport(library::Library& library, const Import& import);

// What fell in each shot of a result file's text, in the user's words; empty where it was not said. No entry at all
// where it was said of none.
std::vector<std::string> ResultsIn(const std::string& text);

}  // namespace hookline::pipeline
