// What the files of this room that write JSON share.
#pragma once

#include <cmath>
#include <nlohmann/json.hpp>
#include <optional>

#include "report/number_text.h"

namespace hookline::report {

// Ordered, so that a person reads a file in the order of the documentation.
using Json = nlohmann::ordered_json;

// A number as files have it (FileNumber); null where there is none or it is not finite.
inline Json JsonNumber(double value) { return std::isfinite(value) ? Json(FileNumber(value)) : Json(nullptr); }
inline Json JsonNumber(const std::optional<double>& value) { return value ? JsonNumber(*value) : Json(nullptr); }

}  // namespace hookline::report
