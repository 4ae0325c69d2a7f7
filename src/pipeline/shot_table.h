// The library's shots as a table for a spreadsheet, and back (docs/library.md): RFC 4180, a header row, '.' as decimal
// mark. Reading takes ';' between cells too, with ',' as decimal mark then, as spreadsheets of some countries write it.
#pragma once

#include <cstdint>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "core/status.h"
#include "library/library.h"

namespace hookline::pipeline {

struct ShotRow {
  library::Session session;  // its names and day
  int number = 0;            // in the session
  std::string clip, clip_fingerprint;
  std::optional<std::int64_t> clip_size;
  nlohmann::ordered_json shot;  // the result file's, with "result" and "notes"; its number is that in the clip
};

std::string ShotTableHead();
std::string ShotTableRow(const ShotRow& row);
// kBadFile with a sentence that names the row.
Result<std::vector<ShotRow>> ReadShotTable(const std::string& text, const std::string& file);

}  // namespace hookline::pipeline
