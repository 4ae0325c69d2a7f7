#include "report/result_table.h"

#include <algorithm>
#include <filesystem>
#include <map>
#include <string_view>
#include <vector>

#include "lane/units.h"
#include "report/number_text.h"
#include "report/result_json.h"

namespace hookline::report {
namespace {

constexpr std::size_t kWidest = 110;
constexpr std::size_t kLeastColumn = 11;  // "12.04 ±0.03"
constexpr std::size_t kGap = 2;

struct Column {
  MeasureId id;
  std::string_view head;  // above the unit; short, since the band's title says the rest
  std::string_view unit;
};

struct Band {
  std::string_view title;
  std::vector<Column> columns;
};

// Grouped as a bowler asks: where did it go, how did it go, how did it turn.
const std::vector<Band>& Bands() {
  static const std::vector<Band> bands = {{"Line",
                                           {{MeasureId::kLaydownFt, "laydown", "ft"},
                                            {MeasureId::kLaydownBoard, "laydown", "board"},
                                            {MeasureId::kBoardAtArrows, "arrows", "board"},
                                            {MeasureId::kBoardAt15Ft, "at 15 ft", "board"},
                                            {MeasureId::kBreakpointBoard, "breakpoint", "board"},
                                            {MeasureId::kBreakpointFt, "breakpoint", "ft"},
                                            {MeasureId::kBoardAt40Ft, "at 40 ft", "board"},
                                            {MeasureId::kEntryBoard, "entry", "board"}}},
                                          {"Angles and speeds",
                                           {{MeasureId::kLaunchAngleDeg, "launch", "deg out"},
                                            {MeasureId::kEntryAngleDeg, "entry", "deg in"},
                                            {MeasureId::kSpeedReleaseMph, "release", "mph"},
                                            {MeasureId::kSpeedArrowsMph, "arrows", "mph"},
                                            {MeasureId::kSpeedEntryMph, "pins", "mph"},
                                            {MeasureId::kSpeedMeanMph, "mean", "mph"}}},
                                          {"Skid, roll and spin",
                                           {{MeasureId::kSkidEndFt, "skid end", "ft"},
                                            {MeasureId::kRollStartFt, "roll start", "ft"},
                                            {MeasureId::kSlipAngleDeg, "slip angle", "deg"},
                                            {MeasureId::kPathTurnDeg, "path turn", "deg"},
                                            {MeasureId::kPathRevRpm, "path revs", "rpm"},
                                            {MeasureId::kRevRateRpm, "rev rate", "rpm"},
                                            {MeasureId::kAxisRotationDeg, "rotation", "deg"},
                                            {MeasureId::kAxisTiltDeg, "tilt", "deg"}}}};
  return bands;
}

// The text broken at spaces to the widest line, further lines indented.
std::string Wrapped(std::string_view text, std::size_t indent) {
  std::string out;
  while (TextWidth(text) > kWidest) {
    // A byte is at least as narrow as a character, so the cut may come a little early, never late.
    std::size_t cut = text.rfind(' ', kWidest);
    if (cut == std::string_view::npos || cut <= indent) break;
    out += std::string(text.substr(0, cut)) + "\n" + std::string(indent, ' ');
    text.remove_prefix(cut + 1);
  }
  return out + std::string(text) + "\n";
}

// Letters a, b, .. z, aa, .. for reasons, in the order in which they are met.
class Footnotes {
 public:
  std::string Mark(const std::string& reason) {
    const auto found = std::find(reasons_.begin(), reasons_.end(), reason);
    const auto index = static_cast<std::size_t>(found - reasons_.begin());
    if (found == reasons_.end()) reasons_.push_back(reason);
    return Letter(index);
  }
  std::string Text() const {
    std::string text;
    for (std::size_t i = 0; i < reasons_.size(); ++i) text += Wrapped("  " + PadRight(Letter(i), 3) + reasons_[i], 5);
    return text;
  }

 private:
  static std::string Letter(std::size_t index) {
    std::string s(1, static_cast<char>('a' + index % 26));
    return index < 26 ? s : Letter(index / 26 - 1) + s;
  }
  std::vector<std::string> reasons_;
};

// Beside the number of a shot of which a person set something.
constexpr const char* kByHand = "*";

struct Row {
  std::string name;
  const Shot* shot;
};

bool LaneByHand(const ClipResult& result) { return result.lane_setup && !result.lane_setup->marks_by_hand.empty(); }

std::vector<Row> Rows(std::span<const ClipResult> results) {
  std::vector<Row> rows;
  for (std::size_t c = 0; c < results.size(); ++c) {
    for (const Shot& shot : results[c].shots) {
      const std::string number = std::to_string(shot.number);
      const char* mark = shot.by_hand.Any() || LaneByHand(results[c]) ? kByHand : "";
      rows.push_back({(results.size() == 1 ? number : std::to_string(c + 1) + "." + number) + mark, &shot});
    }
  }
  return rows;
}

std::string Line(std::string line) {
  line.erase(line.find_last_not_of(' ') + 1);
  return line + "\n";
}

bool NothingGiven(const Band& band, const std::vector<Row>& rows) {
  for (const Row& row : rows) {
    for (const Column& column : band.columns) {
      if (Given(row.shot->measures[column.id])) return false;
    }
  }
  return true;
}

// A band of dashes only is put in words: what is missing, and why (the reason of the first shot that has one).
std::string MissingBandText(const Band& band, const std::vector<Row>& rows) {
  std::vector<std::pair<std::string, std::string>> labels_by_reason;
  for (const Column& column : band.columns) {
    const std::string reason = ReasonOf(rows.front().shot->measures[column.id]);
    const std::string label(kMeasureTable[static_cast<std::size_t>(column.id)].label);
    const auto same = std::find_if(labels_by_reason.begin(), labels_by_reason.end(),
                                   [&](const auto& entry) { return entry.first == reason; });
    if (same == labels_by_reason.end()) {
      labels_by_reason.emplace_back(reason, label);
    } else {
      same->second += "; " + label;
    }
  }
  std::string text;
  for (const auto& [reason, labels] : labels_by_reason) {
    text += Wrapped("Not given: " + labels + " (" + reason + ")", 2);
  }
  return text;
}

std::string BandText(const Band& band, const std::vector<Row>& rows, std::size_t name_width, Footnotes* notes) {
  const std::vector<Column>& columns = band.columns;
  std::vector<std::vector<std::string>> cells(rows.size());
  std::size_t width = kLeastColumn;
  for (std::size_t r = 0; r < rows.size(); ++r) {
    for (const Column& column : columns) {
      const Measure& measure = rows[r].shot->measures[column.id];
      std::string cell = MeasureText(column.id, measure);
      if (!Given(measure)) cell += " " + notes->Mark(ReasonOf(measure));
      width = std::max(width, TextWidth(cell));
      cells[r].push_back(std::move(cell));
    }
  }
  std::string text;
  const std::size_t fit = std::max<std::size_t>(1, (kWidest - name_width) / (width + kGap));
  for (std::size_t from = 0; from < columns.size(); from += fit) {
    const std::size_t to = std::min(columns.size(), from + fit);
    std::string heads(name_width, ' '), units = PadLeft("shot", name_width);
    for (std::size_t c = from; c < to; ++c) {
      heads += PadLeft(columns[c].head, width + kGap);
      units += PadLeft(columns[c].unit, width + kGap);
    }
    text += (from == 0 ? std::string(band.title) : std::string()) + "\n" + Line(heads) + Line(units);
    for (std::size_t r = 0; r < rows.size(); ++r) {
      std::string line = PadLeft(rows[r].name, name_width);
      for (std::size_t c = from; c < to; ++c) line += PadLeft(cells[r][c], width + kGap);
      text += Line(line);
    }
  }
  return text + "\n";
}

std::string ClipLine(const ClipResult& result) {
  const ClipInfo& clip = result.clip;
  std::string text = std::filesystem::path(clip.file).filename().string() + "   " + std::to_string(clip.width) + "x" +
                     std::to_string(clip.height) + ", " + FixedText(clip.frame_rate_mean, 1) + " frames/s" +
                     (clip.variable_rate ? " (varying)" : "") + ", " + FixedText(clip.duration_s, 1) + " s; ";
  if (!result.lane_setup) return text + "lane not found";
  static const std::map<SetupSource, std::string_view> how = {{SetupSource::kAutomatic, "found in the picture"},
                                                              {SetupSource::kPoints, "from marked points"},
                                                              {SetupSource::kFile, "from its file"}};
  text += "lane " + std::string(how.at(result.lane_setup->source)) + ", " +
          FixedText(result.lane_setup->residual_px, 2) + " px";
  return text;
}

std::string ShotLine(const Row& row) {
  const Shot& shot = *row.shot;
  std::string text = row.name + "  " + std::string(HandName(shot.hand)) + "-handed (" +
                     std::string(HandSourceName(shot.hand_source)) + ")";
  if (shot.release_s)
    text += ", released at " + FixedText(*shot.release_s, 2) + " s" + (shot.by_hand.release ? kByHand : "");
  if (shot.pin_contact_s)
    text += ", at the pins at " + FixedText(*shot.pin_contact_s, 2) + " s" + (shot.by_hand.pin_contact ? kByHand : "");
  if (shot.gutter_ft) {
    text += ", in the gutter on " + std::string(shot.gutter_own_side ? "the own" : "the other") + " side at " +
            FixedText(*shot.gutter_ft, 0) + " ft";
  }
  return text;
}

// The footnote to the mark: what was set, clip by clip and shot by shot.
std::string ByHandText(std::span<const ClipResult> results, const std::vector<Row>& rows) {
  std::string set;
  const auto add = [&](const std::string& what) { set += (set.empty() ? "" : "; ") + what; };
  for (std::size_t c = 0; c < results.size(); ++c) {
    if (!LaneByHand(results[c])) continue;
    std::string names;
    for (const auto& [name, p] : results[c].lane_setup->marks_by_hand) names += (names.empty() ? "" : ", ") + name;
    add("the lane" + (results.size() > 1 ? " of clip " + std::to_string(c + 1) : std::string()) + " (" + names + ")");
  }
  for (const Row& row : rows) {
    const ByHand& hand = row.shot->by_hand;
    if (!hand.Any()) continue;
    std::string what;
    const auto also = [&](const std::string& part) { what += (what.empty() ? "" : ", ") + part; };
    if (hand.added) also("the whole shot");
    if (hand.release) also("release");
    if (hand.pin_contact) also("time at the pins");
    if (hand.placed > 0) also(std::to_string(hand.placed) + (hand.placed == 1 ? " place" : " places") + " of the ball");
    if (hand.removed > 0) also(std::to_string(hand.removed) + " taken out");
    add("shot " + row.name + " (" + what + ")");
  }
  return set.empty() ? set : Wrapped("  *  set by hand: " + set, 5);
}

}  // namespace

std::string ResultTable(std::span<const ClipResult> results) {
  std::string text;
  const bool several = results.size() > 1;
  for (std::size_t c = 0; c < results.size(); ++c) {
    const ClipResult& result = results[c];
    text += (several ? PadLeft(std::to_string(c + 1), 3) + "  " : std::string()) + ClipLine(result) + "\n";
    const std::string indent = several ? "     " : "";
    if (!result.lane_setup) {
      text += Wrapped(indent + "no numbers: " + result.lane_reason, indent.size() + 2);
    } else if (result.shots.empty()) {
      text += Wrapped(indent + "no shot: " + result.no_shot_reason, indent.size() + 2);
    }
  }
  const std::vector<Row> rows = Rows(results);
  if (!rows.empty()) {
    text += "\n";
    std::size_t name_width = 4;
    for (const Row& row : rows) {
      name_width = std::max(name_width, TextWidth(row.name));
    }
    for (const Row& row : rows) text += Line("shot " + ShotLine(row));
    text += "\n";
    Footnotes notes;
    std::string missing;
    for (const Band& band : Bands()) {
      if (NothingGiven(band, rows)) {
        missing += MissingBandText(band, rows);
      } else {
        text += BandText(band, rows, name_width, &notes);
      }
    }
    text += "± is one standard deviation. Boards count from the edge of the bowler's own hand, 20 is the centre.\n";
    text += ByHandText(results, rows) + notes.Text() + missing;
  }
  for (std::size_t c = 0; c < results.size(); ++c) {
    for (const std::string& warning : results[c].warnings) {
      text +=
          Wrapped("Warning" + (several ? " (clip " + std::to_string(c + 1) + ")" : std::string()) + ": " + warning, 2);
    }
  }
  return text;
}

}  // namespace hookline::report
