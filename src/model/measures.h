// The measures of a shot: what docs/measures.md defines, each a value with one standard deviation or a sentence saying
// why not.
#pragma once

#include <array>
#include <cstddef>
#include <limits>
#include <optional>
#include <string>
#include <string_view>

namespace hookline {

enum class MeasureId : std::size_t {
  kLaydownBoard,
  kLaydownFt,
  kLaunchAngleDeg,
  kBoardAtArrows,
  kBoardAt15Ft,
  kBoardAt40Ft,
  kBreakpointBoard,
  kBreakpointFt,
  kEntryBoard,
  kEntryAngleDeg,
  kSpeedReleaseMph,
  kSpeedArrowsMph,
  kSpeedEntryMph,
  kSpeedMeanMph,
  kSkidEndFt,
  kRollStartFt,
  kSlipAngleDeg,
  kPathTurnDeg,
  kPathRevRpm,
  kRevRateRpm,
  kAxisRotationDeg,
  kAxisTiltDeg,
  kCount
};
inline constexpr std::size_t kMeasureCount = static_cast<std::size_t>(MeasureId::kCount);

struct MeasureInfo {
  std::string_view key;    // in JSON and CSV
  std::string_view label;  // for people
  std::string_view unit;
  int decimals;
};

inline constexpr std::array<MeasureInfo, kMeasureCount> kMeasureTable = {{
    {"laydown_board", "laydown board", "board", 1},
    {"laydown_ft", "laydown", "ft", 1},
    {"launch_angle_deg", "launch angle, outward", "deg", 2},
    {"board_at_arrows", "board at the arrows", "board", 1},
    {"board_at_15ft", "board at 15 ft", "board", 1},
    {"board_at_40ft", "board at 40 ft", "board", 1},
    {"breakpoint_board", "breakpoint board", "board", 1},
    {"breakpoint_ft", "breakpoint", "ft", 0},
    {"entry_board", "entry board", "board", 1},
    {"entry_angle_deg", "entry angle, inward", "deg", 1},
    {"speed_release_mph", "speed at release", "mph", 1},
    {"speed_arrows_mph", "speed at the arrows", "mph", 1},
    {"speed_entry_mph", "speed at the pins", "mph", 1},
    {"speed_mean_mph", "speed, mean", "mph", 2},
    {"skid_end_ft", "end of skid", "ft", 0},
    {"roll_start_ft", "start of roll", "ft", 0},
    {"slip_angle_deg", "slip angle", "deg", 1},
    {"path_turn_deg", "turn, from the path", "deg", 0},
    {"path_rev_rpm", "revs, from the path", "rpm", 0},
    {"rev_rate_rpm", "rev rate", "rpm", 0},
    {"axis_rotation_deg", "axis rotation", "deg", 0},
    {"axis_tilt_deg", "axis tilt", "deg", 0},
}};

struct Measure {
  std::optional<double> value;
  double sd = std::numeric_limits<double>::quiet_NaN();
  std::string reason;  // when there is no value
  static Measure Of(double v, double s) { return {v, s, {}}; }
  static Measure None(std::string why) {
    return {std::nullopt, std::numeric_limits<double>::quiet_NaN(), std::move(why)};
  }
};

// Friction coefficient of the lane under the ball's path, mean from one place to another.
struct FrictionZone {
  double from_ft = 0, to_ft = 0;  // past the foul line
  double value = 0, sd = 0;
};

struct Measures {
  std::array<Measure, kMeasureCount> all;
  Measure& operator[](MeasureId id) { return all[static_cast<std::size_t>(id)]; }
  const Measure& operator[](MeasureId id) const { return all[static_cast<std::size_t>(id)]; }
};

}  // namespace hookline
