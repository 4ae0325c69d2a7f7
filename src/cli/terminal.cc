#include "cli/terminal.h"

#include <signal.h>
#include <time.h>
#include <unistd.h>

#include <cmath>
#include <cstdio>

#include "cli/exit_code.h"

namespace hookline::cli {
namespace {

constexpr auto kLeastInterval = std::chrono::milliseconds(200);
// Before this share is done a forecast of the time left is a guess.
constexpr double kLeastShareForForecast = 0.03;

StopToken stop_token;

// s; a second signal within it is the same wish: timeout(1) signals the process and then its whole group.
constexpr time_t kSameWish = 1;
volatile sig_atomic_t stop_asked = 0;
timespec first_asked;

void OnStopSignal(int signal) {
  timespec now;
  clock_gettime(CLOCK_MONOTONIC, &now);
  if (stop_asked == 0) {
    first_asked = now;
    stop_asked = 1;
    stop_token.RequestStop();
    return;
  }
  if (now.tv_sec - first_asked.tv_sec <= kSameWish) return;
  // A run that does not come to its stop can still be ended.
  struct sigaction usual = {};
  usual.sa_handler = SIG_DFL;
  sigaction(signal, &usual, nullptr);
  raise(signal);
}

}  // namespace

ProgressLine::ProgressLine(std::string what) : what_(std::move(what)), on_(isatty(STDERR_FILENO) == 1) {}

ProgressLine::~ProgressLine() {
  if (shown_) std::fputs("\r\033[K", stderr);
}

void ProgressLine::Update(std::string_view stage, double share) {
  if (!on_) return;
  const auto now = Clock::now();
  const bool new_stage = stage != stage_;
  if (new_stage) {
    stage_ = stage;
    stage_began_ = now;
  } else if (now - last_shown_ < kLeastInterval) {
    return;
  }
  last_shown_ = now;
  shown_ = true;
  std::string line = what_ + "  " + stage_;
  if (share >= 0) {
    line += "  " + std::to_string(static_cast<int>(std::floor(100 * share))) + " %";
    if (share > kLeastShareForForecast) {
      const double spent = std::chrono::duration<double>(now - stage_began_).count();
      line += ", " + DurationText(spent * (1 - share) / share) + " left";
    }
  }
  std::fprintf(stderr, "\r%s\033[K", line.c_str());
  std::fflush(stderr);
}

ProgressFn ProgressLine::Function() {
  return [this](std::string_view stage, double share) { Update(stage, share); };
}

std::string DurationText(double seconds) {
  const long s = std::lround(std::max(0.0, seconds));
  if (s < 60) return std::to_string(s) + " s";
  return std::to_string(s / 60) + " min " + std::to_string(s % 60) + " s";
}

StopToken& StopRequested() { return stop_token; }

void InstallStopSignals() {
  struct sigaction action = {};
  action.sa_handler = OnStopSignal;
  sigemptyset(&action.sa_mask);
  // Neither handler breaks into the other.
  sigaddset(&action.sa_mask, SIGINT);
  sigaddset(&action.sa_mask, SIGTERM);
  sigaction(SIGINT, &action, nullptr);
  sigaction(SIGTERM, &action, nullptr);
}

void Say(const std::string& sentence) { std::fprintf(stderr, "hookline: %s\n", sentence.c_str()); }

int Report(const Status& status) {
  if (!status.ok()) Say(status.sentence());
  return ExitCodeOf(status.code());
}

}  // namespace hookline::cli
