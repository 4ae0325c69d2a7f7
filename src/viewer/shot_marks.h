// Where and when a shot passes what people look for: release, arrows, breakpoint, pins; and where its path is at a time
// or a distance. Straight between the path's points; pure functions.
#pragma once

#include <array>
#include <optional>
#include <string_view>

#include "lane/lane_spec.h"
#include "model/shot.h"

namespace hookline::viewer {

enum class Mark { kRelease, kArrows, kBreakpoint, kPins };
inline constexpr std::array<Mark, 4> kMarks = {Mark::kRelease, Mark::kArrows, Mark::kBreakpoint, Mark::kPins};

// "release", "arrows", "breakpoint", "pins".
std::string_view MarkName(Mark mark);

// Stream time, s. nullopt where the shot has no such place or its path was not kept.
std::optional<double> TimeOfMark(const Shot& shot, const lane::LaneSpec& lane, Mark mark);

// A place on a path: m, m, s, and the doubt there.
struct PathPlace {
  double time_s = 0, x = 0, y = 0, sd_x = 0, sd_y = 0;
};
// First place at that distance (m) or at that time; nullopt beyond the path's ends.
std::optional<PathPlace> PlaceAtY(const Shot& shot, double y);
std::optional<PathPlace> PlaceAtTime(const Shot& shot, double time_s);
std::optional<PathPlace> PlaceAtArrows(const Shot& shot, const lane::LaneSpec& lane);

}  // namespace hookline::viewer
