// A desk with one measured clip on it, for what works on desks.
#pragma once

#include <memory>
#include <string>

#include "viewer/desk.h"

namespace hookline::viewer::test {

// Shots twenty seconds apart whose entry boards go up by one.
inline std::shared_ptr<pipeline::ClipRun> RunOf(int shots, double entry = 17.2) {
  auto run = std::make_shared<pipeline::ClipRun>();
  for (int i = 0; i < shots; ++i) {
    Shot shot;
    shot.number = i + 1;
    shot.release_s = 3.0 + 20 * i;
    shot.measures[MeasureId::kEntryBoard] = Measure::Of(entry + i, 0.2);
    run->result.shots.push_back(shot);
  }
  if (shots == 0) run->result.no_shot_reason = "Nobody bowled.";
  return run;
}

inline Desk DeskOf(const std::string& file, int shots, bool lane = false) {
  Desk desk;
  const auto run = RunOf(shots);
  run->result.clip.file = file;
  if (lane) run->result.lane_setup.emplace();
  PutRun(desk, AddClip(desk, file), run, run);
  return desk;
}

}  // namespace hookline::viewer::test
