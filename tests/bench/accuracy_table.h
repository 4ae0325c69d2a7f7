// Errors of measured shots against exact truth, gathered over clips and laid against the bars of docs/measures.md.
//
// Good footage: 1080 lines or more, landscape, 50 frames a second or more, a camera that stands still. All other
// footage is hard and has twice the bars. An error counts against a bar where the ball was well visible within 4 ft of
// the places that the measure speaks of.
#pragma once

#include <map>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "physics_table.h"

namespace hookline::bench {

struct MeasureBar {
  const char* key;
  const char* unit;
  double median, worst;
  std::vector<double> places_ft;  // -1: at the breakpoint
};
const std::vector<MeasureBar>& Bars();

struct ErrorOf {
  double error = 0, sd = 0;
  std::string clip;
  bool counts = true;  // the ball was visible where the measure speaks
};

class AccuracyTable {
 public:
  // `result` is a hookline-shots document, `truth` the truth beside the clip. Returns what went wrong with this clip, a
  // phrase each.
  std::vector<std::string> Add(const nlohmann::json& truth, const nlohmann::json& result);
  void AddFailedRun(const nlohmann::json& truth);
  // The table, in Markdown; `passes` gets whether every bar holds.
  std::string Text(bool* passes) const;

 private:
  struct Counts {
    int clips = 0, shots = 0, missed = 0, invented = 0, missing = 0, false_values = 0, no_sd = 0, failed = 0,
        lane_not_found = 0;
  };
  std::map<std::string, std::vector<ErrorOf>> errors_[2];  // good, hard
  Counts counts_[2];
  std::vector<double> corners_px_;
  PhysicsTable physics_;
};

}  // namespace hookline::bench
