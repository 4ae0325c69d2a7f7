#include "viewer/shot_table.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <cmath>
#include <numeric>
#include <utility>

#include "report/number_text.h"
#include "viewer/advice_lines.h"

namespace hookline::viewer {
namespace {

constexpr std::string_view kDash = "–";

std::string Lower(std::string_view text) {
  std::string out(text);
  // Letters beyond ASCII stay as they are: UTF-8 bytes must not be touched one by one.
  for (char& c : out)
    if (static_cast<unsigned char>(c) < 0x80) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return out;
}

std::string Trimmed(const std::string& text) {
  const auto from = text.find_first_not_of(" \t\r\n");
  if (from == std::string::npos) return {};
  return text.substr(from, text.find_last_not_of(" \t\r\n") - from + 1);
}

// As typed: "17", "17.5".
std::string BoardText(const std::optional<double>& board) {
  if (!board) return {};
  const std::string tenths = report::FixedText(*board, 1);
  return tenths.ends_with(".0") ? tenths.substr(0, tenths.size() - 2) : tenths;
}

struct ShortName {
  MeasureId id;
  const char* title;
  bool shown;
};
// In the order in which a ball passes the places.
constexpr std::array<ShortName, kMeasureCount> kShortNames = {{{MeasureId::kSpeedReleaseMph, "Speed, release", true},
                                                               {MeasureId::kLaunchAngleDeg, "Launch, out", true},
                                                               {MeasureId::kBoardAtArrows, "At arrows", true},
                                                               {MeasureId::kBreakpointBoard, "Breakpoint", true},
                                                               {MeasureId::kBreakpointFt, "Breakpoint", true},
                                                               {MeasureId::kEntryBoard, "Entry", true},
                                                               {MeasureId::kEntryAngleDeg, "Entry, in", true},
                                                               {MeasureId::kPathTurnDeg, "Turn, path", false},
                                                               {MeasureId::kPathRevRpm, "Revs, path", false},
                                                               {MeasureId::kLaydownBoard, "Laydown", false},
                                                               {MeasureId::kLaydownFt, "Laydown", false},
                                                               {MeasureId::kBoardAt15Ft, "At 15 ft", false},
                                                               {MeasureId::kBoardAt40Ft, "At 40 ft", false},
                                                               {MeasureId::kSpeedArrowsMph, "Speed, arrows", false},
                                                               {MeasureId::kSpeedEntryMph, "Speed, pins", false},
                                                               {MeasureId::kSpeedMeanMph, "Speed, mean", false},
                                                               {MeasureId::kSkidEndFt, "Skid ends", false},
                                                               {MeasureId::kRollStartFt, "Roll starts", false},
                                                               {MeasureId::kSlipAngleDeg, "Slip angle", false},
                                                               {MeasureId::kRevRateRpm, "Rev rate", false},
                                                               {MeasureId::kAxisRotationDeg, "Rotation", false},
                                                               {MeasureId::kAxisTiltDeg, "Tilt", false}}};

std::vector<TableColumn> MakeColumns() {
  using K = ColumnKind;
  constexpr MeasureId none = MeasureId::kCount;
  std::vector<TableColumn> columns = {{K::kShot, none, "Shot", "", "The shot's number in this session.", true},
                                      {K::kBall, none, "Ball", "", "In your own words. Click to write it.", true}};
  for (const ShortName& n : kShortNames) {
    const MeasureInfo& info = kMeasureTable[static_cast<std::size_t>(n.id)];
    columns.push_back({K::kMeasure, n.id, n.title, std::string(info.unit),
                       std::string(info.label) + ", with one standard deviation.", n.shown});
  }
  // After the numbers: in a narrow panel those are what is looked for first.
  columns.push_back(
      {K::kResult, none, "Result", "", "What fell or stood, in your own words: strike, 9, 7-10 split.", true});
  columns.push_back({K::kPlan, none, "Plan", "", "The line you meant to play, in your own words.", true});
  columns.push_back({K::kArrowsTarget, none, "Aim, arrows", "board", "The board you aim at, at the arrows.", true});
  columns.push_back({K::kStance, none, "Stance", "board", "Inner edge of the slide-side shoe at the start.", true});
  columns.push_back({K::kUnusual, none, "Unusual", "", "What acted in this shot against the bowler's own base.", true});
  columns.push_back({K::kBowler, none, "Bowler", "", "Who rolled it.", false});
  columns.push_back({K::kClip, none, "Clip", "", "The file the shot was measured in.", false});
  columns.push_back({K::kLookedAt, none, "Looked at", "board", "The board looked at.", false});
  columns.push_back(
      {K::kBreakpointTarget, none, "Aim, breakpoint", "board", "The board meant at the breakpoint.", false});
  columns.push_back({K::kNotes, none, "Notes", "", "Anything else.", false});
  return columns;
}

std::string UnusualText(const ShownShot& shot) {
  std::string text;
  if (!shot.advice) return text;
  for (const Finding& f : shot.advice->findings) {
    if (f.cause == "noise" || f.cause == "too_few_shots") continue;
    text += (text.empty() ? "" : ", ") + CauseTitle(f.cause);
  }
  return text;
}

std::optional<double> NumberOf(const ShownShot& s, const TableColumn& column) {
  switch (column.kind) {
    case ColumnKind::kShot:
      return s.shot->number;
    case ColumnKind::kStance:
      return s.shot->target.stance_board;
    case ColumnKind::kLookedAt:
      return s.shot->target.target_board;
    case ColumnKind::kArrowsTarget:
      return s.shot->target.arrows_board;
    case ColumnKind::kBreakpointTarget:
      return s.shot->target.breakpoint_board;
    case ColumnKind::kMeasure: {
      const Measure& m = s.shot->measures[column.measure];
      return report::Given(m) ? m.value : std::nullopt;
    }
    default:
      return std::nullopt;
  }
}

bool IsNumberColumn(ColumnKind kind) {
  return kind == ColumnKind::kStance || kind == ColumnKind::kLookedAt || kind == ColumnKind::kArrowsTarget ||
         kind == ColumnKind::kBreakpointTarget || kind == ColumnKind::kMeasure;
}

bool Passes(const ShownShot& s, const TableFilter& filter) {
  if (filter.chosen_only && !s.chosen) return false;
  if (filter.unusual_only && UnusualText(s).empty()) return false;
  if (!filter.ball.empty() && s.shot->ball != filter.ball) return false;
  if (!filter.plan.empty() && s.shot->plan != filter.plan) return false;
  const std::string row = Lower(s.name + "\n" + s.shot->bowler + "\n" + s.shot->ball + "\n" + s.shot->plan + "\n" +
                                s.result + "\n" + s.notes + "\n" + s.clip + "\n" + UnusualText(s));
  const std::string words = Lower(filter.words);
  for (std::size_t from = 0; from < words.size();) {
    const std::size_t begin = words.find_first_not_of(' ', from);
    if (begin == std::string::npos) break;
    const std::size_t end = std::min(words.find(' ', begin), words.size());
    if (row.find(words.substr(begin, end - begin)) == std::string::npos) return false;
    from = end;
  }
  return true;
}

}  // namespace

const std::vector<TableColumn>& TableColumns() {
  static const std::vector<TableColumn> columns = MakeColumns();
  return columns;
}

std::string CellText(const ShownShot& s, const TableColumn& column) {
  switch (column.kind) {
    case ColumnKind::kShot:
      return s.name;
    case ColumnKind::kClip:
      return s.clip;
    case ColumnKind::kBowler:
      return s.shot->bowler;
    case ColumnKind::kBall:
      return s.shot->ball;
    case ColumnKind::kPlan:
      return s.shot->plan;
    case ColumnKind::kStance:
    case ColumnKind::kLookedAt:
    case ColumnKind::kArrowsTarget:
    case ColumnKind::kBreakpointTarget:
      return BoardText(NumberOf(s, column));
    case ColumnKind::kResult:
      return s.result;
    case ColumnKind::kNotes:
      return s.notes;
    case ColumnKind::kUnusual:
      return UnusualText(s);
    case ColumnKind::kMeasure:
      return report::MeasureText(column.measure, s.shot->measures[column.measure]);
  }
  return std::string(kDash);
}

std::string CellHint(const ShownShot& s, const TableColumn& column) {
  if (column.kind == ColumnKind::kMeasure) return report::ReasonOf(s.shot->measures[column.measure]);
  if (column.kind == ColumnKind::kUnusual && s.advice) {
    std::string text;
    for (const Finding& f : s.advice->findings) text += (text.empty() ? "" : "\n\n") + f.text;
    return text;
  }
  return {};
}

std::vector<std::size_t> RowsShown(std::span<const ShownShot> shots, const TableFilter& filter, const TableSort& sort) {
  std::vector<std::size_t> rows;
  for (std::size_t i = 0; i < shots.size(); ++i)
    if (Passes(shots[i], filter)) rows.push_back(i);
  const TableColumn& column = TableColumns().at(sort.column);
  if (column.kind == ColumnKind::kShot) {
    // The session's own order, whatever the shots are numbered.
    if (!sort.ascending) std::reverse(rows.begin(), rows.end());
    return rows;
  }
  const bool number = IsNumberColumn(column.kind);
  struct Key {
    bool has = false;
    double number = 0;
    std::string text;
  };
  std::vector<Key> keys(shots.size());
  for (const std::size_t i : rows) {
    if (number) {
      const auto v = NumberOf(shots[i], column);
      keys[i] = {v.has_value(), v.value_or(0), {}};
    } else {
      std::string text = Lower(CellText(shots[i], column));
      const bool has = !text.empty();
      keys[i] = {has, 0, std::move(text)};
    }
  }
  std::stable_sort(rows.begin(), rows.end(), [&](std::size_t a, std::size_t b) {
    if (keys[a].has != keys[b].has) return keys[a].has;
    const Key &low = sort.ascending ? keys[a] : keys[b], &high = sort.ascending ? keys[b] : keys[a];
    return number ? low.number < high.number : low.text < high.text;
  });
  return rows;
}

std::string CountText(std::size_t shown, std::size_t all) {
  const std::string total = std::to_string(all) + (all == 1 ? " shot" : " shots");
  return shown == all ? total : std::to_string(shown) + " of " + total;
}

bool IsBoardField(TagField field) {
  return field == TagField::kStance || field == TagField::kLookedAt || field == TagField::kArrowsTarget ||
         field == TagField::kBreakpointTarget;
}

std::string TagTitle(TagField field) {
  switch (field) {
    case TagField::kBall:
      return "Ball";
    case TagField::kPlan:
      return "Plan";
    case TagField::kResult:
      return "Result";
    case TagField::kNotes:
      return "Notes";
    case TagField::kStance:
      return "Stance, board";
    case TagField::kLookedAt:
      return "Looked at, board";
    case TagField::kArrowsTarget:
      return "Aim at the arrows, board";
    case TagField::kBreakpointTarget:
      return "Aim at the breakpoint, board";
  }
  return {};
}

std::string TagText(const ShownShot& s, TagField field) {
  switch (field) {
    case TagField::kBall:
      return s.shot->ball;
    case TagField::kPlan:
      return s.shot->plan;
    case TagField::kResult:
      return s.result;
    case TagField::kNotes:
      return s.notes;
    case TagField::kStance:
      return BoardText(s.shot->target.stance_board);
    case TagField::kLookedAt:
      return BoardText(s.shot->target.target_board);
    case TagField::kArrowsTarget:
      return BoardText(s.shot->target.arrows_board);
    case TagField::kBreakpointTarget:
      return BoardText(s.shot->target.breakpoint_board);
  }
  return {};
}

Result<TagChange> MakeTagChange(std::vector<int> shots, TagField field, const std::string& typed) {
  TagChange change;
  change.shots = std::move(shots);
  change.field = field;
  std::string text = Trimmed(typed);
  if (!IsBoardField(field)) {
    change.text = std::move(text);
    return change;
  }
  if (text.empty()) return change;
  // Half the world writes "17,5".
  std::replace(text.begin(), text.end(), ',', '.');
  double board = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), board);
  if (error != std::errc() || end != text.data() + text.size() || !(board >= 1 && board <= lane::kBoards))
    return Status(StatusCode::kBadUse, "\"" + Trimmed(typed) + "\" is no board: write a number from 1 to 39.");
  change.board = board;
  return change;
}

std::vector<std::string> WordsUsed(std::span<const ShownShot> shots, TagField field) {
  std::vector<std::string> words;
  for (const ShownShot& s : shots) {
    std::string text = TagText(s, field);
    if (!text.empty() && std::find(words.begin(), words.end(), text) == words.end()) words.push_back(std::move(text));
  }
  return words;
}

}  // namespace hookline::viewer
