// Two shots in step: one play position for both clips, counted from a mark that both have.
//
//   time in clip k = time of the mark in clip k + position        position: s after the mark, the same for both
//
// Positions run from where the earlier of the two approaches begins (or two seconds before the release) to where the
// later of the two balls is past the pins. Clips need not have the same rate; the player takes the picture whose time
// stamp is last at or before its time.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "viewer/shot_marks.h"
#include "viewer/shown_shot.h"

namespace hookline::viewer {

class CompareClock {
 public:
  // The marks both shots have, in the order in which a ball passes them.
  static std::vector<Mark> SharedMarks(const ShownShot& first, const ShownShot& second);
  // nullopt when one of the two lacks the mark.
  static std::optional<CompareClock> Make(const ShownShot& first, const ShownShot& second, Mark mark);

  double first_position() const { return first_position_; }
  double last_position() const { return last_position_; }
  // Stream time in clip 0 or 1.
  double TimeIn(int clip, double position) const { return mark_time_[static_cast<std::size_t>(clip)] + position; }
  double PositionOf(int clip, double time_s) const { return time_s - mark_time_[static_cast<std::size_t>(clip)]; }
  Mark mark() const { return mark_; }

 private:
  std::array<double, 2> mark_time_{};
  double first_position_ = 0, last_position_ = 0;
  Mark mark_ = Mark::kRelease;
};

// By how much the second shot is behind the first at a mark, when both are in step at `clock`'s: "0.08 s later",
// "0.08 s earlier", "at the same time"; empty when one lacks it.
std::string LagText(const ShownShot& first, const ShownShot& second, const CompareClock& clock, Mark at);

}  // namespace hookline::viewer
