#include "viewer/actions.h"

#include <GLFW/glfw3.h>

namespace hookline::viewer {

const std::vector<KeyOf>& KeyTable() {
  static const std::vector<KeyOf> kTable = {
      {Action::kPlay, GLFW_KEY_SPACE, false, false, "Space", "play or pause"},
      {Action::kStepOn, GLFW_KEY_RIGHT, false, false, "Right", "next picture"},
      {Action::kStepBack, GLFW_KEY_LEFT, false, false, "Left", "picture before"},
      {Action::kTenOn, GLFW_KEY_RIGHT, false, true, "Shift Right", "ten pictures on"},
      {Action::kTenBack, GLFW_KEY_LEFT, false, true, "Shift Left", "ten pictures back"},
      {Action::kToStart, GLFW_KEY_HOME, false, false, "Home", "to the clip's start"},
      {Action::kToEnd, GLFW_KEY_END, false, false, "End", "to the clip's end"},
      {Action::kToRelease, GLFW_KEY_1, false, false, "1", "to the release"},
      {Action::kToArrows, GLFW_KEY_2, false, false, "2", "to the arrows"},
      {Action::kToBreakpoint, GLFW_KEY_3, false, false, "3", "to the breakpoint"},
      {Action::kToPins, GLFW_KEY_4, false, false, "4", "to the pins"},
      {Action::kSlower, GLFW_KEY_COMMA, false, false, ",", "slower"},
      {Action::kFaster, GLFW_KEY_PERIOD, false, false, ".", "faster"},
      {Action::kLoopShot, GLFW_KEY_L, false, false, "L", "play the shot over and over"},
      {Action::kLoopStart, GLFW_KEY_I, false, false, "I", "loop begins here"},
      {Action::kLoopEnd, GLFW_KEY_O, false, false, "O", "loop ends here"},
      {Action::kLoopOff, GLFW_KEY_L, false, true, "Shift L", "no loop"},
      {Action::kShotNext, GLFW_KEY_DOWN, false, false, "Down", "next shot"},
      {Action::kShotBefore, GLFW_KEY_UP, false, false, "Up", "shot before"},
      {Action::kZoomIn, GLFW_KEY_Z, false, false, "Z", "closer (also the wheel; drag to move)"},
      {Action::kZoomOut, GLFW_KEY_Z, false, true, "Shift Z", "farther"},
      {Action::kZoomOff, GLFW_KEY_0, false, false, "0", "whole picture"},
      {Action::kStraighten, GLFW_KEY_S, false, false, "S", "lens bend taken out, or not"},
      {Action::kDrawings, GLFW_KEY_D, false, false, "D", "drawings on the picture, or not"},
      {Action::kCorrect, GLFW_KEY_C, false, false, "C", "correct by hand, or not"},
      {Action::kRemoveBall, GLFW_KEY_DELETE, false, false, "Delete", "no ball in this picture (while correcting)"},
      {Action::kUndo, GLFW_KEY_Z, true, false, "Ctrl Z", "undo"},
      {Action::kRedo, GLFW_KEY_Z, true, true, "Ctrl Shift Z", "redo"},
      {Action::kRedo, GLFW_KEY_Y, true, false, "Ctrl Y", ""},
      {Action::kOpen, GLFW_KEY_O, true, false, "Ctrl O", "open clips"},
      {Action::kExport, GLFW_KEY_E, true, false, "Ctrl E", "page for the student"},
      {Action::kTabShots, GLFW_KEY_1, true, false, "Ctrl 1", "shots"},
      {Action::kTabLane, GLFW_KEY_2, true, false, "Ctrl 2", "lane from above"},
      {Action::kTabPlots, GLFW_KEY_3, true, false, "Ctrl 3", "plots"},
      {Action::kTabAdvice, GLFW_KEY_4, true, false, "Ctrl 4", "advice"},
      {Action::kTabCompare, GLFW_KEY_5, true, false, "Ctrl 5", "two shots"},
      {Action::kTabClips, GLFW_KEY_6, true, false, "Ctrl 6", "clips"},
      {Action::kTheme, GLFW_KEY_T, false, false, "T", "dark or light"},
      {Action::kLarger, GLFW_KEY_EQUAL, true, false, "Ctrl +", "larger letters"},
      {Action::kLarger, GLFW_KEY_KP_ADD, true, false, "Ctrl +", ""},
      {Action::kLarger, GLFW_KEY_EQUAL, true, true, "Ctrl +", ""},
      {Action::kSmaller, GLFW_KEY_MINUS, true, false, "Ctrl -", "smaller letters"},
      {Action::kSmaller, GLFW_KEY_KP_SUBTRACT, true, false, "Ctrl -", ""},
      {Action::kHelp, GLFW_KEY_F1, false, false, "F1", "this sheet"},
      {Action::kHelp, GLFW_KEY_H, false, false, "H", ""},
      {Action::kQuit, GLFW_KEY_Q, true, false, "Ctrl Q", "close the window"},
  };
  return kTable;
}

std::optional<Action> ActionOf(int key, bool ctrl, bool shift) {
  for (const KeyOf& k : KeyTable()) {
    if (k.key == key && k.ctrl == ctrl && k.shift == shift) return k.action;
  }
  return std::nullopt;
}

std::string KeysOf(Action action) {
  for (const KeyOf& k : KeyTable()) {
    if (k.action == action) return k.keys;
  }
  return "";
}

}  // namespace hookline::viewer
