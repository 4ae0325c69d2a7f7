// Everything that can be done with a key, in one table: it is what the keyboard does and what the help sheet says.
#pragma once

#include <optional>
#include <string>
#include <vector>

namespace hookline::viewer {

enum class Action {
  kPlay,
  kStepBack,
  kStepOn,
  kTenBack,
  kTenOn,
  kToStart,
  kToEnd,
  kToRelease,
  kToArrows,
  kToBreakpoint,
  kToPins,
  kSlower,
  kFaster,
  kLoopStart,
  kLoopEnd,
  kLoopShot,
  kLoopOff,
  kShotBefore,
  kShotNext,
  kZoomIn,
  kZoomOut,
  kZoomOff,
  kStraighten,
  kDrawings,
  kCorrect,
  kRemoveBall,
  kUndo,
  kRedo,
  kOpen,
  kExport,
  kTabShots,
  kTabLane,
  kTabPlots,
  kTabAdvice,
  kTabCompare,
  kTabClips,
  kTheme,
  kLarger,
  kSmaller,
  kHelp,
  kQuit,
};

struct KeyOf {
  Action action;
  int key;  // GLFW's number of it
  bool ctrl, shift;
  const char* keys;   // for people
  const char* about;  // what it does, for people; empty: another key of the action before
};

// In the order of the help sheet.
const std::vector<KeyOf>& KeyTable();

// The action of a key that was pressed; ctrl and shift held or not.
std::optional<Action> ActionOf(int key, bool ctrl, bool shift);
// "Space"; the first key of an action.
std::string KeysOf(Action action);

}  // namespace hookline::viewer
