// The exact truth of a made clip, in the form that the scoring tools read (docs/scenario-file.md lists the keys).
//
// World in that file: x in inches from the lane's centre to the right, y along the lane in feet (or inches where the
// name ends in _in), z up. `board` counts from the right edge, `board_own_hand` from the bowler's own side; a board is
// the lane's own width / 39. Every number comes from the integrated motion (shot_run.h), by root finding on it, never
// from the pictures.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "lane/lane_spec.h"
#include "synth/scene.h"

namespace hookline::synth {

// A shot's numbers, before they are written. Lane frame, SI; angles rad.
struct ShotTruth {
  struct Crossing {
    double time_s = 0, x = 0, y = 0;
  };
  // Where the contact point crosses a line y = const for the first time after the release.
  static std::optional<Crossing> CrossY(const ShotRun& run, double y);
  // Where it crosses the V through the seven tips.
  static std::optional<Crossing> CrossArrows(const ShotRun& run, const lane::LaneSpec& lane);

  double foul_line_s = 0;  // extrapolated with the release's speed when the ball was still in the hand
  std::optional<Crossing> arrows;
  struct Extremum {
    Crossing at;
    double y_low = 0, y_high = 0;  // the stretch within 0.1 board of it
  };
  std::optional<Extremum> breakpoint;     // outermost on the own side between the arrows and 59 ft
  std::optional<Extremum> turning_point;  // an interior extremum on either side
  std::optional<Crossing> entry;
  double entry_vx = 0, entry_vy = 0;
  double launch_x_angle = 0;                                             // atan2(dx, dy) from 3 ft to 10 ft
  double speed_2ft = 0, speed_15ft = 0, speed_59ft = 0, speed_mean = 0;  // m/s; NaN where it was not reached
};
ShotTruth TruthOf(const ShotRun& run, const lane::LaneSpec& lane);

lane::LaneSpec LaneOf(const LanesSpec& lanes);

// The whole file's text. `clip_file` is the name beside which it lies.
std::string TruthJson(const Scene& scene, const std::vector<double>& frame_times, const std::string& clip_file);

}  // namespace hookline::synth
