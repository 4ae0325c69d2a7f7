// The desk's measured shots into the library (library/library.h), with what people said of them; the same shots that
// `hookline measure --keep` keeps. Nothing of a window in here.
#pragma once

#include <string>

#include "library/library.h"
#include "viewer/desk.h"

namespace hookline::viewer {

struct KeepWish {
  std::string bowler, place, lane;  // names
  std::string day;                  // YYYY-MM-DD
  Status Check() const;             // kBadUse: what is missing, or a day that is none
};

// What the sheet begins with: the bowler, place and lane of the library's newest session, and the day on which the
// desk's first clip was written.
Result<KeepWish> UsualWish(const library::Library& library, const Desk& desk);

// All of the desk's shots into that session, in one transaction: added, or updated where the clip is known.
Result<library::Kept> KeepDesk(library::Library& library, const Desk& desk, const KeepWish& wish);

}  // namespace hookline::viewer
