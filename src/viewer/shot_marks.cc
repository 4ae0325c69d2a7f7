#include "viewer/shot_marks.h"

#include <cmath>

#include "lane/units.h"
#include "report/number_text.h"

namespace hookline::viewer {
namespace {

PathPlace Between(const PathPoint& a, const PathPoint& b, double f) {
  const auto mix = [f](double u, double v) { return u + f * (v - u); };
  return {mix(a.time_s, b.time_s), mix(a.x, b.x), mix(a.y, b.y), mix(a.sd_x, b.sd_x), mix(a.sd_y, b.sd_y)};
}

// First place where `ahead` of it is no longer below zero.
template <typename F>
std::optional<PathPlace> Crossing(const Shot& shot, F ahead) {
  for (std::size_t i = 1; i < shot.path.size(); ++i) {
    const double before = ahead(shot.path[i - 1]), after = ahead(shot.path[i]);
    if (before <= 0 && after >= 0 && after > before)
      return Between(shot.path[i - 1], shot.path[i], before / (before - after));
  }
  return std::nullopt;
}

}  // namespace

std::string_view MarkName(Mark mark) {
  constexpr std::array<std::string_view, 4> kNames = {"release", "arrows", "breakpoint", "pins"};
  return kNames[static_cast<std::size_t>(mark)];
}

std::optional<PathPlace> PlaceAtY(const Shot& shot, double y) {
  return Crossing(shot, [y](const PathPoint& p) { return p.y - y; });
}

std::optional<PathPlace> PlaceAtTime(const Shot& shot, double time_s) {
  return Crossing(shot, [time_s](const PathPoint& p) { return p.time_s - time_s; });
}

std::optional<PathPlace> PlaceAtArrows(const Shot& shot, const lane::LaneSpec& lane) {
  return Crossing(shot, [&lane](const PathPoint& p) { return p.y - lane.ArrowLineY(p.x); });
}

std::optional<double> TimeOfMark(const Shot& shot, const lane::LaneSpec& lane, Mark mark) {
  const auto time_of = [](const std::optional<PathPlace>& place) {
    return place ? std::optional<double>(place->time_s) : std::nullopt;
  };
  switch (mark) {
    case Mark::kRelease:
      return shot.release_s;
    case Mark::kArrows:
      return time_of(PlaceAtArrows(shot, lane));
    case Mark::kBreakpoint: {
      const Measure& ft = shot.measures[MeasureId::kBreakpointFt];
      if (!report::Given(ft)) return std::nullopt;
      return time_of(PlaceAtY(shot, lane::MetresFromFeet(*ft.value)));
    }
    case Mark::kPins:
      // A ball in the gutter passes the pins, but the contract gives it no time there.
      if (shot.gutter_ft) return std::nullopt;
      return shot.pin_contact_s ? shot.pin_contact_s : time_of(PlaceAtY(shot, lane::kEntryY));
  }
  return std::nullopt;
}

}  // namespace hookline::viewer
