// The shots as a table for a spreadsheet: a row a shot, comma separated, '.' as decimal mark, RFC 4180 quoting.
#pragma once

#include <span>
#include <string>

#include "model/shot.h"

namespace hookline::report {

// Columns: file, shot, lane, hand, hand_source, release_s, pin_contact_s, gutter_ft, gutter_side, then for every
// measure KEY, KEY_sd, KEY_reason. Empty cells where there is nothing. Always with the header row.
std::string ResultCsv(std::span<const ClipResult> results);

}  // namespace hookline::report
