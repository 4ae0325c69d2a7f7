// The ways a ball may have gone, by its sights: minima of the path's cost, for shapes of its friction, where the roll
// begins, and which of fall and hops the first sights show.
#pragma once

#include <deque>
#include <vector>

#include "core/status.h"
#include "model/lane_setup.h"
#include "motion/path_fit.h"
#include "motion/path_mixture.h"
#include "motion/path_problem.h"
#include "motion/sight_selection.h"

namespace hookline::motion {

struct PathWay {
  const PathProblem* problem = nullptr;
  PathSolution solution;
  PathComponent component;
  double spent = 0;  // degrees of freedom the sights spent on its parameters
};

// May be moved, not copied: ways point to their problems.
struct PathWays {
  PathWays() = default;
  PathWays(PathWays&&) = default;
  PathWays& operator=(PathWays&&) = default;

  std::deque<PathProblem> problems;
  std::vector<PathWay> ways;  // one or more
  std::vector<bool> used;     // of the sights of each problem: no outliers
  double variance = 1;        // factor of the sights' covariances that the sights themselves show

  const PathWay& heaviest() const;
};

// kNotDetermined with a sentence when the sights determine no path.
Result<PathWays> FindPathWays(const Track& track, const LaneSetup& setup, const SelectedSights& selected,
                              const PathFitOptions& options);

}  // namespace hookline::motion
