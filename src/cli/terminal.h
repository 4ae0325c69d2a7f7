// The program's behaviour on a terminal: one line of progress with the time left, sentences on standard error, and
// Ctrl-C.
#pragma once

#include <chrono>
#include <string>
#include <string_view>

#include "core/progress.h"
#include "core/status.h"

namespace hookline::cli {

// A line that is rewritten in place, on standard error, only when that is a terminal.
class ProgressLine {
 public:
  explicit ProgressLine(std::string what);
  ~ProgressLine();  // wipes the line
  ProgressLine(const ProgressLine&) = delete;
  ProgressLine& operator=(const ProgressLine&) = delete;
  void Update(std::string_view stage, double share);
  ProgressFn Function();

 private:
  using Clock = std::chrono::steady_clock;
  const std::string what_;
  const bool on_;
  std::string stage_;
  Clock::time_point stage_began_{}, last_shown_{};
  bool shown_ = false;
};

// "12 s", "3 min 20 s": how long something will take.
std::string DurationText(double seconds);

// Set by SIGINT and SIGTERM once InstallStopSignals() was called; a second signal ends the program at once.
StopToken& StopRequested();
void InstallStopSignals();

// One sentence on standard error, and the exit code that goes with it.
int Report(const Status& status);
void Say(const std::string& sentence);

}  // namespace hookline::cli
