#include "viewer/what_if_runner.h"

#include <algorithm>
#include <bit>
#include <utility>

#include "advice/wording.h"
#include "report/number_text.h"

namespace hookline::viewer {
namespace {

// FNV-1a over 64 bit pieces: enough to tell sessions apart, and the same on every machine.
class Hash {
 public:
  void Add(std::uint64_t piece) {
    for (int i = 0; i < 8; ++i) value_ = (value_ ^ (piece >> (8 * i) & 0xff)) * 0x100000001b3ULL;
  }
  void Add(double v) { Add(std::bit_cast<std::uint64_t>(v)); }
  void Add(const std::string& text) {
    for (const char c : text) Add(static_cast<std::uint64_t>(static_cast<unsigned char>(c)));
    Add(std::uint64_t{0x100});
  }
  std::uint64_t value() const { return value_; }

 private:
  std::uint64_t value_ = 0xcbf29ce484222325ULL;
};

void AddShot(Hash& hash, const ShownShot& s) {
  hash.Add(static_cast<std::uint64_t>(s.id));
  for (const Measure& m : s.shot->measures.all) {
    hash.Add(m.value.value_or(-1e9));
    hash.Add(m.value ? m.sd : 0.0);
  }
  for (const FrictionZone& z : s.shot->friction) {
    hash.Add(z.value);
    hash.Add(z.sd);
  }
  hash.Add(static_cast<std::uint64_t>(s.shot->path.size()));
  if (!s.shot->path.empty()) hash.Add(s.shot->path.back().x);
}

}  // namespace

WhatIfChoice ChooseForWhatIf(std::span<const ShownShot> shots) {
  WhatIfChoice choice;
  const auto first = std::find_if(shots.begin(), shots.end(), [](const ShownShot& s) { return s.chosen; });
  if (first == shots.end()) {
    choice.missing = "Choose a shot, or several of one ball, to roll it again with something changed.";
    return choice;
  }
  const Shot& like = *first->shot;
  Hash hash;
  std::vector<int> numbers;
  for (const ShownShot& s : shots) {
    if (s.shot->ball != like.ball || s.shot->hand != like.hand || s.shot->bowler != like.bowler) {
      if (s.chosen) {
        choice.missing =
            "The chosen shots are of several bowlers, hands or balls: choose shots of one to roll them again.";
      }
      continue;
    }
    choice.lane.push_back(*s.shot);
    AddShot(hash, s);
    if (!s.chosen) continue;
    choice.rolled.push_back(*s.shot);
    numbers.push_back(s.shot->number);
    hash.Add(std::uint64_t{0xc0});
  }
  hash.Add(choice.missing);
  choice.key = hash.value();
  choice.about = std::string(numbers.size() == 1 ? "Shot " : "Mean of shots ") + advice::ShotList(numbers) +
                 (like.ball.empty() ? "" : ", ball \"" + like.ball + "\"") + ". Lane learned from " +
                 advice::Count(static_cast<int>(choice.lane.size()), "shot", "shots") + ".";
  if (!choice.missing.empty()) choice.rolled.clear();
  return choice;
}

FrictionGrid GridOf(const motion::FrictionMap& map) {
  FrictionGrid grid;
  grid.shots = map.shots();
  grid.cells.reserve(static_cast<std::size_t>(FrictionGrid::kAcross * FrictionGrid::kAlong));
  for (int i = 0; i < FrictionGrid::kAcross; ++i)
    for (int j = 0; j < FrictionGrid::kAlong; ++j) {
      const double x = (i + 1 - lane::kCentreBoard) * lane::BoardWidth(lane::kNominalWidth),
                   y = lane::MetresFromFeet(j + 0.5);
      const motion::FrictionCell cell = map.At(x, y);
      grid.cells.push_back({cell.value, cell.sd, map.Balls(x, y)});
      grid.most_balls = std::max(grid.most_balls, grid.cells.back().balls);
    }
  return grid;
}

WhatIfRunner::WhatIfRunner(std::function<void()> wake) : WhatIfRunner(std::move(wake), Options{}) {}

WhatIfRunner::WhatIfRunner(std::function<void()> wake, const Options& options)
    : options_(options), wake_(std::move(wake)), thread_([this] { Run(); }) {}

WhatIfRunner::~WhatIfRunner() {
  {
    const std::lock_guard lock(mutex_);
    stop_ = true;
  }
  changed_.notify_all();
  thread_.join();
}

void WhatIfRunner::SetShots(WhatIfChoice choice) {
  {
    const std::lock_guard lock(mutex_);
    if (has_key_ && choice.key == key_) return;
    has_key_ = true;
    key_ = choice.key;
    news_ = News{};
    news_.busy = true;
    news_.about = choice.about;
    next_choice_ = std::move(choice);
  }
  changed_.notify_all();
}

void WhatIfRunner::Ask(const motion::Change& change) {
  {
    const std::lock_guard lock(mutex_);
    news_.busy = true;
    next_change_ = change;
  }
  changed_.notify_all();
}

WhatIfRunner::News WhatIfRunner::Look() const {
  const std::lock_guard lock(mutex_);
  return news_;
}

void WhatIfRunner::Run() {
  std::optional<motion::WhatIf> what_if;
  motion::Change change;
  std::uint64_t key = 0;
  for (;;) {
    std::optional<WhatIfChoice> choice;
    bool refine = false;
    {
      std::unique_lock lock(mutex_);
      changed_.wait(lock, [this] { return stop_ || next_choice_ || next_change_; });
      if (stop_) return;
      choice = std::exchange(next_choice_, std::nullopt);
      if (next_change_) change = *std::exchange(next_change_, std::nullopt);
      key = key_;
    }
    // An answer to shots that are no longer the ones is thrown away.
    const auto tell = [&](const std::function<void(News&)>& write) {
      {
        const std::lock_guard lock(mutex_);
        if (key != key_) return;
        write(news_);
      }
      if (wake_) wake_();
    };
    if (choice) {
      what_if.reset();
      std::string missing = choice->missing;
      const auto map = motion::MapFriction(choice->lane);
      if (map.ok()) {
        auto grid = std::make_shared<FrictionGrid>(GridOf(*map));
        tell([&](News& n) { n.grid = grid; });
        if (missing.empty()) {
          auto made = motion::WhatIf::Make(choice->rolled, *map);
          if (made.ok()) {
            what_if = std::move(*made);
          } else {
            missing = made.status().sentence();
          }
        }
      } else if (missing.empty()) {
        missing = map.status().sentence();
      }
      tell([&](News& n) {
        n.missing = missing;
        n.busy = what_if.has_value();
      });
    }
    if (!what_if) {
      tell([](News& n) { n.busy = false; });
      continue;
    }
    const auto answer = [&](int draws, bool is_fine) {
      auto said = std::make_shared<const motion::WhatIfAnswer>(what_if->Ask(change, draws));
      tell([&](News& n) {
        n.answer = said;
        n.change = change;
        n.fine = is_fine;
        n.busy = !is_fine;
      });
    };
    answer(options_.quick_draws, false);
    {
      const std::lock_guard lock(mutex_);
      refine = !stop_ && !next_choice_ && !next_change_;
    }
    if (refine) answer(options_.draws, true);
  }
}

}  // namespace hookline::viewer
