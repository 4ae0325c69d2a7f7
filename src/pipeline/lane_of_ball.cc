#include "pipeline/lane_of_ball.h"

#include <algorithm>

#include "lane/units.h"

namespace hookline::pipeline {

Result<motion::FrictionMap> LaneOfBall(const std::vector<Shot>& shots, const Shot& like, std::size_t most) {
  std::vector<const Shot*> last;
  for (auto s = shots.rbegin(); s != shots.rend() && last.size() < most; ++s)
    if (s->bowler == like.bowler && s->ball == like.ball && s->hand == like.hand) last.push_back(&*s);
  std::reverse(last.begin(), last.end());
  std::vector<Shot> told;
  for (const Shot* s : last) {
    // Only what the map reads, as paths are long.
    Shot& shot = told.emplace_back();
    shot.friction = s->friction;
    shot.measures = s->measures;
    for (std::size_t i = 0; i < s->path.size(); ++i) {
      const PathPoint& p = s->path[i];
      const bool end = i + 1 == s->path.size();
      if (end || shot.path.empty() || p.y - shot.path.back().y >= lane::MetresFromFeet(1)) shot.path.push_back(p);
    }
  }
  return motion::MapFriction(told);
}

}  // namespace hookline::pipeline
