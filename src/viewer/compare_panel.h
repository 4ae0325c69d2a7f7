// Two shots against each other: which two, in step from which mark, one's path laid over the other's picture or not,
// and the table of what differs. The pictures themselves are the window's; the clock is compare_clock.h.
#pragma once

#include <array>
#include <optional>
#include <span>

#include "viewer/compare_clock.h"
#include "viewer/compare_table.h"
#include "viewer/shown_shot.h"
#include "viewer/style.h"

namespace hookline::viewer {

struct CompareInputs {
  const Style* style = nullptr;
  std::span<const ShownShot> shots;
};

struct CompareState {
  int first = 0, second = 0;  // ids; 0: none
  Mark in_step = Mark::kRelease;
  bool lay_over = false;    // the second's path over the first's picture, instead of side by side
  bool clear_only = false;  // in the table
  bool operator==(const CompareState&) const = default;
};

struct CompareEvents {
  bool changed = false;              // state() is another than before
  std::optional<Mark> jump_to;       // both shots to that mark
  bool write_clip = false;           // the two as one clip, in step as they are
  std::array<float, 4> button_at{};  // of that button in the window, for tests with a mouse
};

class ComparePanel {
 public:
  CompareEvents Draw(const CompareInputs& in);
  // Which two are compared: the first two chosen unless the user took others.
  const CompareState& state() const { return state_; }

 private:
  void Settle(const CompareInputs& in);
  CompareState state_;
  bool taken_by_hand_ = false;
};

}  // namespace hookline::viewer
