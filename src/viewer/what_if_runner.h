// Which shots a what-if rests on, and a thread of its own that fits and asks, so that the window never waits.
//
// The lane's friction is learned from all shots of the same bowler, hand, ball; the ball that is rolled again is the
// mean of the chosen ones among them. A question is answered twice: soon, from few draws, so that a line under the
// pointer follows it, and again from many when no newer question has come. Of questions that come faster than answers
// only the newest is answered.
#pragma once

#include <condition_variable>
#include <cstdint>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <span>
#include <string>
#include <thread>
#include <vector>

#include "core/status.h"
#include "motion/what_if.h"
#include "viewer/shown_shot.h"

namespace hookline::viewer {

struct WhatIfChoice {
  std::vector<Shot> rolled, lane;  // rolled again; teach the lane
  std::string about;               // "Mean of shots 3, 4 of the ball "blue"; lane from 12 shots"
  std::string missing;             // a sentence: why there is nothing to roll again, what to do
  std::uint64_t key = 0;           // differs when anything the answer rests on does
};
WhatIfChoice ChooseForWhatIf(std::span<const ShownShot> shots);

// Friction and balls rolled over the lane: a cell a board and a foot, whole numbers of both at its middle.
struct FrictionGrid {
  static constexpr int kAcross = lane::kBoards, kAlong = 60;
  struct Cell {
    double value = 0, sd = 0, balls = 0;
  };
  std::vector<Cell> cells;  // board by board from the lane's left edge, each from foot 0.5 on
  int shots = 0;            // that tell friction
  double most_balls = 0;
  const Cell& At(int across, int along) const { return cells[static_cast<std::size_t>(across * kAlong + along)]; }
};
FrictionGrid GridOf(const motion::FrictionMap& map);

class WhatIfRunner {
 public:
  struct Options {
    int quick_draws = 25, draws = 200;
  };
  // `wake` is called from the thread whenever there is news.
  explicit WhatIfRunner(std::function<void()> wake);
  WhatIfRunner(std::function<void()> wake, const Options& options);
  ~WhatIfRunner();
  WhatIfRunner(const WhatIfRunner&) = delete;
  WhatIfRunner& operator=(const WhatIfRunner&) = delete;

  // Does nothing when the key is the one it has. Otherwise old answers are dropped and the fit begins.
  void SetShots(WhatIfChoice choice);
  void Ask(const motion::Change& change);

  struct News {
    bool busy = false;                                   // fitting, or an answer is still to come
    std::string missing;                                 // why there is no answer; empty: nothing is missing
    std::string about;                                   // what it rests on
    std::shared_ptr<const FrictionGrid> grid;            // null: not yet, or not told
    std::shared_ptr<const motion::WhatIfAnswer> answer;  // to `change`
    motion::Change change;
    bool fine = false;  // the answer from many draws
  };
  News Look() const;

 private:
  void Run();
  Options options_;
  std::function<void()> wake_;
  mutable std::mutex mutex_;
  std::condition_variable changed_;
  std::optional<WhatIfChoice> next_choice_;
  std::optional<motion::Change> next_change_;
  std::uint64_t key_ = 0;
  bool has_key_ = false, stop_ = false;
  News news_;
  std::thread thread_;
};

}  // namespace hookline::viewer
