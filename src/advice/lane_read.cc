#include "advice/lane_read.h"

#include <algorithm>
#include <cmath>

#include "advice/wording.h"

namespace hookline::advice {
namespace {

constexpr std::size_t kMostShots = 10;
constexpr double kSwing =
    2.5;  // boards at the pins, a bowler's own, before it can be seen (common practice, no source)

bool SameLine(const Shot& a, const Shot& b) {
  return a.bowler == b.bowler && a.ball == b.ball && a.plan == b.plan &&
         a.target.arrows_board == b.target.arrows_board && a.target.stance_board == b.target.stance_board &&
         a.target.target_board == b.target.target_board;
}

}  // namespace

bool IsGood(const ShotVerdict& v) {
  for (const Cause c : {Cause::kSlower, Cause::kMoreTurn, Cause::kMissedIn, Cause::kMissedOut}) {
    if (v.causes[c] >= 0.5) return false;
  }
  return Given(*v.shot, MeasureId::kEntryBoard) && (!v.off_target || std::abs(v.off_target->value) < 1.5);
}

LaneRead ReadLane(const std::vector<ShotVerdict>& verdicts) {
  LaneRead read;
  if (verdicts.empty()) return read;
  const Shot& last = *verdicts.back().shot;
  std::vector<double> entries, doubts;
  for (auto v = verdicts.rbegin(); v != verdicts.rend() && entries.size() < kMostShots; ++v) {
    if (v->shot->bowler != last.bowler) continue;
    if (!SameLine(*v->shot, last)) break;
    if (IsGood(*v)) {
      entries.push_back(Given(*v->shot, MeasureId::kEntryBoard)->value);
      doubts.push_back(Given(*v->shot, MeasureId::kEntryBoard)->sd);
      read.shots.push_back(v->shot->number);
    }
    // What was before the lane changed says nothing of the lane now.
    if (v->causes[Cause::kLaneHooksMore] + v->causes[Cause::kLaneHooksLess] >= 0.5 && v->lane.shots_ago == 0) break;
  }
  std::reverse(read.shots.begin(), read.shots.end());
  if (entries.empty()) {
    read.text = "No good shot on this line yet, so the lane cannot be read.";
    return read;
  }
  const double n = static_cast<double>(entries.size());
  double sum = 0, noise = 0;
  for (std::size_t i = 0; i < entries.size(); ++i) {
    sum += entries[i];
    noise += doubts[i] * doubts[i] / n;
  }
  const double mean = sum / n;
  double squares = 0;
  for (double e : entries) squares += (e - mean) * (e - mean);
  // The spread from few shots leans on the prior, worth three shots.
  const double variance = (squares + 3 * kSwing * kSwing + noise) / (n - 1 + 3);
  const double miss = mean - kPocketBoard, sd = std::sqrt(variance / n);
  read.miss_boards = Measure::Of(miss, sd);
  read.not_playable =
      entries.size() >= 2 && entries[0] - kPocketBoard - 2 > doubts[0] && entries[1] - kPocketBoard - 2 > doubts[1];
  const std::string rests =
      Count(static_cast<int>(entries.size()), "good shot", "good shots") + " (" + ShotList(read.shots) + ")";
  if (read.not_playable) {
    read.text = "Two good shots in a row missed on the hook side: this line is not playable today. It hooks " +
                WithDoubt(miss, sd, 1) + " boards too much at the pins, by " + rests + ".";
  } else if (entries.size() < 3) {
    read.text =
        "Too few shots to read the lane: " + rests + ", entering at board " + WithDoubt(mean, sd, 1) + " against 17.5.";
  } else if (std::abs(miss) < std::max(1.0, 1.6 * sd)) {
    read.text = "This line plays: the ball enters at board " + WithDoubt(mean, sd, 1) + " against 17.5, by " + rests +
                "; what is left is noise.";
  } else {
    read.text = std::string("The lane hooks too ") + (miss > 0 ? "much" : "little") + " for this line, by " +
                WithDoubt(std::abs(miss), sd, 1) + " boards at the pins, by " + rests + ".";
  }
  return read;
}

}  // namespace hookline::advice
