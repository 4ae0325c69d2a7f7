#include "model/measures.h"

#include <doctest/doctest.h>

#include <set>

using namespace hookline;

TEST_CASE("every measure has a key of its own that ends in its unit") {  // docs/measures.md
  std::set<std::string_view> keys;
  const std::set<std::string_view> units = {"board", "ft", "deg", "mph", "rpm"};
  for (const MeasureInfo& info : kMeasureTable) {
    CAPTURE(info.key);
    CHECK(keys.insert(info.key).second);
    CHECK(units.count(info.unit) == 1);
    CHECK(info.key.find(info.unit) != std::string_view::npos);
    CHECK_FALSE(info.label.empty());
  }
  CHECK(keys.size() == kMeasureCount);
  CHECK(kMeasureTable[static_cast<std::size_t>(MeasureId::kEntryAngleDeg)].key == "entry_angle_deg");
  CHECK(kMeasureTable[static_cast<std::size_t>(MeasureId::kAxisTiltDeg)].key == "axis_tilt_deg");
}

TEST_CASE("a measure is a value or a reason") {
  CHECK(Measure::Of(17.5, 0.2).value == 17.5);
  CHECK(Measure::None("hidden").reason == "hidden");
  CHECK_FALSE(Measure::None("hidden").value);
  Measures m;
  m[MeasureId::kEntryBoard] = Measure::Of(17.5, 0.2);
  CHECK(m.all[static_cast<std::size_t>(MeasureId::kEntryBoard)].sd == 0.2);
}
