// The shots as a table: which columns there are, what a cell says, which rows are shown and in which order, and what a
// person may say of a shot. No drawing.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/status.h"
#include "viewer/shown_shot.h"

namespace hookline::viewer {

enum class ColumnKind {
  kShot,
  kClip,
  kBowler,
  kBall,
  kPlan,
  kStance,
  kLookedAt,
  kArrowsTarget,
  kBreakpointTarget,
  kResult,
  kNotes,
  kUnusual,  // what acted in the shot, in words
  kMeasure
};

struct TableColumn {
  ColumnKind kind = ColumnKind::kShot;
  MeasureId measure = MeasureId::kCount;  // of kMeasure
  std::string title, unit;                // for the head
  std::string about;                      // a sentence for the curious
  bool shown_at_first = false;
};

// All columns in their usual order.
const std::vector<TableColumn>& TableColumns();

// As shown; measures by report/number_text.h, "–" where there is none.
std::string CellText(const ShownShot& shot, const TableColumn& column);
// Why a measure is not given, or what is worth knowing of the cell; empty: nothing.
std::string CellHint(const ShownShot& shot, const TableColumn& column);

struct TableFilter {
  std::string words;       // each must be somewhere in the row's words, in any case of letters
  std::string ball, plan;  // exactly; empty: any
  bool chosen_only = false, unusual_only = false;
  bool empty() const { return words.empty() && ball.empty() && plan.empty() && !chosen_only && !unusual_only; }
};

struct TableSort {
  std::size_t column = 0;  // of TableColumns()
  bool ascending = true;
};

// Places in `shots` of the rows that are shown, in order. Rows without the sorted value come last either way; equal
// rows keep the session's order.
std::vector<std::size_t> RowsShown(std::span<const ShownShot> shots, const TableFilter& filter, const TableSort& sort);

// "24 shots", "3 of 24 shots".
std::string CountText(std::size_t shown, std::size_t all);

// A person's word on a shot. Board fields hold a number from 1 to 39, or nothing when it was taken away.
enum class TagField { kBall, kPlan, kResult, kNotes, kStance, kLookedAt, kArrowsTarget, kBreakpointTarget };
struct TagChange {
  std::vector<int> shots;  // ids
  TagField field = TagField::kBall;
  std::string text;             // of word fields
  std::optional<double> board;  // of board fields
};

bool IsBoardField(TagField field);
std::string TagTitle(TagField field);
// The field's present text.
std::string TagText(const ShownShot& shot, TagField field);
// Words: blanks at the ends are taken off. kBadUse with a sentence for a board that is none.
Result<TagChange> MakeTagChange(std::vector<int> shots, TagField field, const std::string& typed);
// The words used in the session for a field so far, each once, in order of first use; empty ones left out.
std::vector<std::string> WordsUsed(std::span<const ShownShot> shots, TagField field);

}  // namespace hookline::viewer
