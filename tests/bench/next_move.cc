// How good the next move is, and what limits it: simulated bowlers whose mean ball misses the pocket by 2 boards or
// more, a few shots of each, and where the mean ball enters after each advice.
//   stay
//   3-1-2                  by the mean entry of these shots, as a bowler would; and told the true miss
//   advised                the program's
//   knows the lane         the true lane and the true releases of these shots, whose mean it takes for the bowler's
//   knows lane and target  the same, and that the bowler's mean crosses the arrows at the target: of what these shots
//   are
//                          off it, laydown and launch have their part each. Nobody can do better with these shots: what
//                          it misses is the bowler's mean speed, turn and revs, which so many shots do not tell better.
//   knows the bowler       the program, given shots without the bowler's own spread
//   knows the measures     the program with shots measured without error
// Prints the share within 1 board of 17.5 with a 95 % interval (Wilson) and the mean distance with its standard error.

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <string>
#include <vector>

#include "advice/advise.h"
#include "motion/simulated_session.h"
#include "pipeline/plan_move.h"

namespace {

using namespace hookline;
using namespace hookline::simulated;

double EntryAfter(const Release& mean, double feet, double eyes) {
  return BoardOf(EntryOf(Roll(MovedIn(mean, feet, eyes))));
}

struct Tally {
  int hit = 0, all = 0;
  double sum = 0, squares = 0;
  void Add(double entry) {
    const double off = std::abs(entry - 17.5);
    hit += off < 1 ? 1 : 0;
    ++all;
    sum += off;
    squares += off * off;
  }
  void Print(const char* name) const {
    const double n = all, p = hit / n, z = 1.96;
    const double middle = (p + z * z / (2 * n)) / (1 + z * z / n);
    const double half = z / (1 + z * z / n) * std::sqrt(p * (1 - p) / n + z * z / (4 * n * n));
    const double mean = sum / n, sd = std::sqrt((squares / n - mean * mean) / n);
    std::printf("| %s | %d | %.0f %% (%.0f to %.0f) | %.2f ± %.2f |\n", name, all, 100 * p, 100 * (middle - half),
                100 * (middle + half), mean, sd);
  }
};

std::vector<Shot> ShotsOf(const Bowler& bowler, const std::vector<Release>& releases, double scale,
                          std::mt19937& random) {
  std::vector<Shot> shots;
  const double arrows = BoardOf(Roll(bowler.mean).AtY(MetresFromFeet(14.5)));
  for (std::size_t i = 0; i < releases.size(); ++i) {
    Shot shot = MeasuredShot(releases[i], static_cast<int>(i) + 1, scale, random);
    shot.bowler = "Robin";
    shot.ball = "blue";
    shot.plan = "one line";
    shot.target.arrows_board = arrows;
    shot.target.stance_board = 25;
    shots.push_back(std::move(shot));
  }
  return shots;
}

std::optional<double> Advised(const Bowler& bowler, const std::vector<Shot>& shots) {
  Advice advice = advice::Advise(shots);
  pipeline::PlanMoveByPhysics(shots, advice);
  const NextMove& move = advice.next_move;
  if (!move.stance_boards) return std::nullopt;
  return EntryAfter(bowler.mean, *move.stance_boards->value, move.target_boards.value_or(0));
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app("How good the next move is");
  int sessions = 200, fewest = 6, most = 0;
  unsigned seed = 77;
  bool oracles = true;
  app.add_option("--sessions", sessions, "How many sessions")->check(CLI::Range(1, 100000));
  app.add_option("--shots", fewest, "Shots of each")->check(CLI::Range(3, 100));
  app.add_option("--shots-to", most, "Each session its own number of shots, up to this one")->check(CLI::Range(3, 100));
  app.add_option("--seed", seed, "Another seed, other sessions");
  app.add_flag("!--no-oracles", oracles, "Leave out who knows more than can be known");
  CLI11_PARSE(app, argc, argv);

  most = std::max(fewest, most);
  Tally stay, thumb, told_thumb, advised, lane, lane_target, no_spread, no_noise;
  int told = 0;
  for (int i = 0; i < sessions; ++i) {
    std::mt19937 random(seed * 100003u + static_cast<unsigned>(i));
    Bowler bowler;
    for (;;) {
      bowler.mean = RandomLine(random);
      const auto roll = Roll(bowler.mean);
      const double miss = std::abs(BoardOf(EntryOf(roll)) - 17.5);
      bool fits = miss >= 2 && miss <= 7;
      for (const State& s : roll.states) fits = fits && (s.t < 0 || std::abs(s.x) < 0.42);
      if (fits) break;
    }
    const int count = most > fewest ? std::uniform_int_distribution<int>(fewest, most)(random) : fewest;
    std::vector<Release> releases;
    for (int k = 0; k < count; ++k) releases.push_back(OneOf(bowler, random));
    const double now = EntryAfter(bowler.mean, 0, 0);
    stay.Add(now);
    // 3-1-2: two boards of the stance are one at the foul line, where feet are counted here, and three at the pins.
    told_thumb.Add(EntryAfter(bowler.mean, (now - 17.5) / 3, 0));
    double seen = 0;
    for (const Release& r : releases) seen += BoardOf(EntryOf(Roll(r))) / count;
    thumb.Add(EntryAfter(bowler.mean, (seen - 17.5) / 3, 0));
    const auto after = Advised(bowler, ShotsOf(bowler, releases, 1, random));
    told += after ? 1 : 0;
    advised.Add(after.value_or(now));
    if (!oracles) continue;
    // The mean of the true releases on the true lane, moved by half boards.
    Release mean = bowler.mean;
    mean.speed = mean.launch_deg = mean.rotation_deg = mean.rpm = mean.laydown_x = 0;
    for (const Release& r : releases) {
      mean.speed += r.speed / count;
      mean.launch_deg += r.launch_deg / count;
      mean.rotation_deg += r.rotation_deg / count;
      mean.rpm += r.rpm / count;
      mean.laydown_x += r.laydown_x / count;
    }
    const auto after_best_for = [&](const Release& believed) {
      double best = 0, least = INFINITY;
      for (double feet = -10; feet <= 10; feet += 0.5) {
        const double off = std::abs(EntryAfter(believed, feet, std::round(feet) / 2) - 17.5) + 0.001 * std::abs(feet);
        if (off < least) least = off, best = feet;
      }
      return EntryAfter(bowler.mean, best, std::round(best) / 2);
    };
    lane.Add(after_best_for(mean));
    const double arrows_y = MetresFromFeet(14.5), way = arrows_y - bowler.mean.laydown_y;
    const double off_target = Roll(bowler.mean).AtY(arrows_y).x - Roll(mean).AtY(arrows_y).x;
    const double by_laydown = bowler.laydown_sd * bowler.laydown_sd;
    const double by_launch = std::pow(way * lane::RadiansFromDegrees(bowler.launch_sd), 2);
    const double laydown_share = by_laydown / (by_laydown + by_launch);
    mean.laydown_x += laydown_share * off_target;
    mean.launch_deg += lane::DegreesFromRadians((1 - laydown_share) * off_target / way);
    lane_target.Add(after_best_for(mean));
    Bowler steady = bowler;
    steady.speed_sd = steady.launch_sd = steady.rotation_sd = steady.rpm_sd = steady.laydown_sd = 0;
    std::vector<Release> same(static_cast<std::size_t>(count), bowler.mean);
    no_spread.Add(Advised(steady, ShotsOf(bowler, same, 1, random)).value_or(now));
    no_noise.Add(Advised(bowler, ShotsOf(bowler, releases, 0.05, random)).value_or(now));
  }
  std::printf("%d sessions of %d to %d shots, a move told in %d\n\n", sessions, fewest, most, told);
  std::printf("| who | sessions | within 1 board | mean distance, boards |\n| --- | --- | --- | --- |\n");
  stay.Print("stay");
  thumb.Print("3-1-2 by the mean entry");
  told_thumb.Print("3-1-2, told the true miss");
  advised.Print("advised");
  if (!oracles) return 0;
  lane.Print("knows the lane");
  lane_target.Print("knows lane and target");
  no_spread.Print("knows the bowler");
  no_noise.Print("knows the measures");
}
