// The library's tables, version by version. Private to src/library.
#pragma once

#include "core/status.h"
#include "library/database.h"

namespace hookline::library {

// Brings the file to `version` in one transaction; kBadFile for a file from a newer program or one that is no library.
Status Migrate(Database& db, int version);

}  // namespace hookline::library
