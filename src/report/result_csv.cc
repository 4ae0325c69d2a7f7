#include "report/result_csv.h"

#include <optional>
#include <vector>

#include "report/number_text.h"
#include "report/result_json.h"

namespace hookline::report {
namespace {

std::string Quoted(const std::string& cell) {
  if (cell.find_first_of(",\"\r\n") == std::string::npos) return cell;
  std::string quoted = "\"";
  for (char c : cell) quoted += c == '"' ? "\"\"" : std::string(1, c);
  return quoted + "\"";
}

std::string Row(const std::vector<std::string>& cells) {
  std::string row;
  for (std::size_t i = 0; i < cells.size(); ++i) row += (i ? "," : "") + Quoted(cells[i]);
  return row + "\r\n";
}

std::string Number(const std::optional<double>& value) { return value ? FixedText(FileNumber(*value), 6) : ""; }

}  // namespace

std::string ResultCsv(std::span<const ClipResult> results) {
  std::vector<std::string> head = {"file",      "shot",          "lane",      "hand",       "hand_source",
                                   "release_s", "pin_contact_s", "gutter_ft", "gutter_side"};
  for (const MeasureInfo& info : kMeasureTable) {
    for (const char* end : {"", "_sd", "_reason"}) head.push_back(std::string(info.key) + end);
  }
  std::string csv = Row(head);
  for (const ClipResult& result : results) {
    for (const Shot& shot : result.shots) {
      std::vector<std::string> cells = {result.clip.file,
                                        std::to_string(shot.number),
                                        std::to_string(shot.lane),
                                        std::string(HandName(shot.hand)),
                                        std::string(HandSourceName(shot.hand_source)),
                                        Number(shot.release_s),
                                        Number(shot.pin_contact_s),
                                        Number(shot.gutter_ft),
                                        !shot.gutter_ft        ? ""
                                        : shot.gutter_own_side ? "own"
                                                               : "other"};
      for (const Measure& measure : shot.measures.all) {
        const bool given = Given(measure);
        cells.push_back(given ? Number(*measure.value) : "");
        cells.push_back(given ? Number(measure.sd) : "");
        cells.push_back(ReasonOf(measure));
      }
      csv += Row(cells);
    }
  }
  return csv;
}

}  // namespace hookline::report
