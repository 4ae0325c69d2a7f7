#include "advice/advise.h"

#include <algorithm>
#include <cassert>

#include "advice/compare.h"
#include "advice/findings.h"
#include "advice/lane_read.h"
#include "advice/next_move.h"

namespace hookline::advice {

Advice Advise(std::vector<Shot> shots, const AdviceOptions& options) {
  assert(options.Check().ok());
  Advice advice;
  bool rising = true;
  for (std::size_t i = 1; i < shots.size(); ++i) rising &= shots[i].number > shots[i - 1].number;
  if (!rising) {
    int number = 0;
    for (Shot& s : shots) s.number = ++number;
    advice.warnings.push_back("The shots' numbers did not rise, so they are counted anew in the order of the files.");
  }
  if (shots.empty()) advice.warnings.push_back("There is no shot to judge.");
  bool unnamed_ball = false;
  for (const Shot& s : shots) unnamed_ball |= s.ball.empty();
  if (unnamed_ball && shots.size() > 1) {
    advice.warnings.push_back(
        "No ball is named in some shots; they are taken for one ball, so a change of ball there cannot be told from a "
        "lane that changes.");
  }
  std::vector<ShotVerdict> verdicts = JudgeShots(shots, options.causes);
  for (std::size_t i = 0; i < std::min(verdicts.size(), options.outlook.results.size()); ++i)
    verdicts[i].result = options.outlook.results[i];
  advice.lane_read = ReadLane(verdicts);
  const std::vector<std::vector<Finding>> findings = FindingsOf(verdicts, options.causes);
  for (std::size_t i = 0; i < verdicts.size(); ++i) {
    advice.shots.push_back({verdicts[i].shot->number, verdicts[i].causes, findings[i]});
  }
  advice.next_move = PlanNextMove(verdicts, advice.lane_read);
  advice.comparisons = CompareChoices(verdicts);
  advice.score_outlook = OutlookOf(shots, options.outlook);
  advice.cautions = CautionsFor(advice);
  return advice;
}

}  // namespace hookline::advice
