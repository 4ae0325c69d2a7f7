#include "viewer/compare_table.h"

#include <cmath>

#include "report/number_text.h"

namespace hookline::viewer {

std::vector<CompareRow> CompareShots(const Shot& first, const Shot& second) {
  std::vector<CompareRow> rows;
  for (std::size_t i = 0; i < kMeasureCount; ++i) {
    const auto id = static_cast<MeasureId>(i);
    const Measure &a = first.measures[id], &b = second.measures[id];
    const bool have_a = report::Given(a), have_b = report::Given(b);
    if (!have_a && !have_b) continue;
    CompareRow row;
    row.id = id;
    row.label = kMeasureTable[i].label;
    row.unit = kMeasureTable[i].unit;
    row.first = report::MeasureText(id, a);
    row.second = report::MeasureText(id, b);
    row.first_reason = report::ReasonOf(a);
    row.second_reason = report::ReasonOf(b);
    if (have_a && have_b) {
      const Measure d = Measure::Of(*b.value - *a.value, std::hypot(a.sd, b.sd));
      row.difference = (*d.value > 0 ? "+" : "") + report::MeasureText(id, d);
      row.says = std::abs(*d.value) > kClearSd * d.sd ? Difference::kClear : Difference::kWithinDoubt;
      row.says_text = row.says == Difference::kClear ? "clear" : "within the doubt";
    } else {
      row.difference = "–";
      row.says_text = "not both given";
    }
    rows.push_back(std::move(row));
  }
  return rows;
}

}  // namespace hookline::viewer
