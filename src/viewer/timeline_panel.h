// The clip's time as a bar: where playing is, the shots with release, arrows, breakpoint and pins, the loop. Click or
// drag to go there.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "viewer/play_clock.h"
#include "viewer/shot_marks.h"
#include "viewer/style.h"

namespace hookline::viewer {

struct TimelineMark {
  double time_s = 0;
  Mark mark = Mark::kRelease;
  bool by_hand = false;
};

struct TimelineShot {
  int id = 0;
  std::string name;
  bool on_show = false;
  double from_s = 0, to_s = 0;  // the ball's way
  std::vector<TimelineMark> marks;
};

struct TimelineInputs {
  const Style* style = nullptr;
  double first_s = 0, last_s = 0, position_s = 0;
  std::vector<TimelineShot> shots;
  std::optional<Stretch> loop;
};

struct TimelineEvents {
  std::optional<double> seek;
  std::optional<int> open;  // a shot's name was clicked
};

class TimelinePanel {
 public:
  static float Height(const Style& style) { return 2.9f * style.em; }
  // Of the bar from both edges.
  static float Inset(const Style& style) { return 0.6f * style.em; }
  TimelineEvents Draw(const TimelineInputs& in);

 private:
  bool dragging_ = false;
};

// "0:03.52".
std::string TimeText(double time_s);

}  // namespace hookline::viewer
