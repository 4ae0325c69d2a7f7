// The shots as a table: choose, sort, filter, and say what a clip does not tell (ball, plan, target, stance, result).
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "viewer/shot_table.h"
#include "viewer/shown_shot.h"
#include "viewer/style.h"

namespace hookline::viewer {

struct ShotsInputs {
  const Style* style = nullptr;
  std::span<const ShownShot> shots;
  std::optional<int> playing;  // id
};

struct ShotsEvents {
  std::optional<std::vector<int>> chosen;  // the new choice, ids in the session's order
  std::optional<int> open;                 // show this shot in the player
  std::vector<TagChange> tags;
};

class ShotsPanel {
 public:
  ShotsEvents Draw(const ShotsInputs& in);

 private:
  void DrawFilter(const ShotsInputs& in, std::size_t shown, ShotsEvents* events);
  void DrawTags(const ShotsInputs& in, ShotsEvents* events);
  void DrawTable(const ShotsInputs& in, std::vector<std::size_t> rows, ShotsEvents* events);
  TableFilter filter_;
  TableSort sort_;
  std::string words_;
  // What is being typed into a field, until it is entered or left.
  std::optional<TagField> typing_;
  std::vector<int> typing_of_;
  std::string typed_, typed_wrong_;
  bool focus_typing_ = false;
  std::optional<int> last_clicked_;  // where a choice of a row of shots begins
};

}  // namespace hookline::viewer
