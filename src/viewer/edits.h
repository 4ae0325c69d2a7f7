// What a person corrects in a clip, step by step, with undo and redo.
//
// Each step holds all corrections as they are after it (they are few and small), so that going back is exact whatever a
// step did. A drag makes many small changes and is one step: they share a gesture. Nothing of a window in here.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "model/corrections.h"

namespace hookline::viewer {

// The time in which a shot's ball is on its way, by which its corrections are found; for a shot that is just being
// added by hand both are the time Edits::AddShot() gave.
struct ShotSpan {
  double from_s = 0, to_s = 0;
};

// Both: where they speak of the same mark, the same frame or the same time of a shot, `over` counts.
Corrections Merged(const Corrections& under, const Corrections& over);

class Edits {
 public:
  explicit Edits(Corrections saved = {});

  const Corrections& now() const { return steps_[at_].after; }

  // A number for all changes of one drag; 0 in the calls below makes a step of its own.
  int BeginGesture() { return ++last_gesture_; }

  void PlaceMark(const std::string& name, const Eigen::Vector2d& p_in_frame, double time_s, int gesture = 0);
  void DropMark(const std::string& name);  // as the program found it
  // The ball's centre in the frame at time_s, moved or added.
  void PlaceBall(const ShotSpan& shot, double time_s, const Eigen::Vector2d& p_in_frame, double sd_px = 1,
                 int gesture = 0);
  void RemoveBall(const ShotSpan& shot, double time_s);  // what was taken for the ball is not it
  void UnsetBall(const ShotSpan& shot, double time_s);   // that frame as the program found it
  void SetRelease(const ShotSpan& shot, std::optional<double> time_s, int gesture = 0);     // empty: as found
  void SetPinContact(const ShotSpan& shot, std::optional<double> time_s, int gesture = 0);  // likewise
  // A shot the program did not find, begun with one place of its ball; its time, for the span of further calls.
  double AddShot(double time_s, const Eigen::Vector2d& p_in_frame, double sd_px = 1);
  void RemoveShot(const ShotSpan& shot);  // no shot; one that was added by hand is forgotten
  void UnsetShot(const ShotSpan& shot);   // everything of it as the program found it
  void UnsetAll();
  void Merge(const Corrections& over);  // another's corrections, as one step

  bool CanUndo() const { return at_ > 0; }
  bool CanRedo() const { return at_ + 1 < steps_.size(); }
  std::string UndoName() const { return CanUndo() ? steps_[at_].name : ""; }  // what Undo() takes back, for a menu
  std::string RedoName() const { return CanRedo() ? steps_[at_ + 1].name : ""; }
  void Undo();
  void Redo();

  // Whether now() is other than what was last saved.
  bool dirty() const { return !(now() == saved_); }
  void MarkSaved() { saved_ = now(); }

 private:
  struct Step {
    std::string name;
    int gesture = 0;
    Corrections after;
  };
  void Add(const std::string& name, int gesture, Corrections after);

  std::vector<Step> steps_;  // the first one is what was there
  std::size_t at_ = 0;
  Corrections saved_;
  int last_gesture_ = 0;
};

}  // namespace hookline::viewer
