// Errors of what the physics says (slip, spin, roll, friction) against exact truth: the second table of
// docs/accuracy.md.
//
// Bars on medians only, twice as wide on hard footage; friction, revs and rev rate in percent of the truth. Friction's
// truth is its mean along the true path between the zone's own borders: `front` the first zone, `back` the last one
// that begins beyond the middle of the step.
#pragma once

#include <map>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

namespace hookline::bench {

class PhysicsTable {
 public:
  // One shot of the truth and the measured shot that belongs to it.
  void Add(const nlohmann::json& truth, const nlohmann::json& shot, bool hard, const std::string& clip);
  std::string Text(bool* passes) const;

 private:
  struct Entry {
    double error = 0, sd = 0;
    std::string clip;
  };
  void AddError(bool hard, const std::string& key, double error, double sd, const std::string& clip);
  std::map<std::string, std::vector<Entry>> errors_[2];  // good, hard
  std::map<std::string, int> missing_[2];                // true, but not told
  std::map<std::string, std::vector<std::string>> false_[2];
};

}  // namespace hookline::bench
