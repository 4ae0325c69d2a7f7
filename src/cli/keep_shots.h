// Measured shots into the library as they come: which library, which session, and what is said of them.
#pragma once

#include <CLI/CLI.hpp>
#include <memory>
#include <string>

#include "core/status.h"
#include "library/library.h"
#include "model/shot.h"

namespace hookline::cli {

// The word that stands for the library's lane setup in place of a file.
inline constexpr const char* kSavedSetup = "saved";

struct KeepArguments {
  bool keep = false;
  std::string library, bowler, place, lane, setup_name, day, ball, plan;
  bool wanted() const { return keep || !library.empty(); }
};

void AddKeepOptions(CLI::App& app, KeepArguments& a);
// kBadUse for a day that is none, and for words about a session without --keep.
Status CheckKeep(const KeepArguments& a);
// "YYYY-MM-DD" of the calendar.
bool IsDay(const std::string& text);

// The library's only setup for that place and lane (and name); kBadUse with a sentence when there is none or several.
Result<library::StoredSetup> SavedSetupOf(const KeepArguments& a);

// Opened before the long run, so that a library that cannot be opened costs nothing.
class Keeper {
 public:
  // `hand`: as given by the user; empty: not.
  static Result<std::unique_ptr<Keeper>> Open(const KeepArguments& a, const std::string& hand);
  // The clip's shots; each clip a transaction of its own. Says on standard error where they went.
  Status Put(const std::string& clip, const ClipResult& result);

 private:
  Keeper(std::unique_ptr<library::Library> library, KeepArguments a, std::string hand)
      : library_(std::move(library)), a_(std::move(a)), hand_(std::move(hand)) {}
  std::unique_ptr<library::Library> library_;
  KeepArguments a_;
  std::string hand_;
};

// What became of the shots, as a person reads it: "2 shots added, 0 updated".
std::string KeptText(const library::Kept& kept);

}  // namespace hookline::cli
