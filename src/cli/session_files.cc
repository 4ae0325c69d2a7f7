#include "cli/session_files.h"

#include <algorithm>
#include <map>

#include "report/read_result.h"

namespace hookline::cli {

Result<std::vector<Shot>> ShotsOf(const SessionChoice& choice) {
  std::vector<Shot> all;
  for (const std::string& file : choice.files) {
    auto result = report::ReadResult(file);
    if (!result.ok()) return result.status();
    for (Shot& shot : result->shots) {
      shot.number = static_cast<int>(all.size()) + 1;
      all.push_back(std::move(shot));
    }
  }
  for (const int n : choice.shots)
    if (n < 1 || n > static_cast<int>(all.size()))
      return Status(StatusCode::kBadUse,
                    "There is no shot " + std::to_string(n) + ": the files hold " + std::to_string(all.size()) + ".");
  std::vector<Shot> out;
  for (Shot& shot : all) {
    if (!choice.ball.empty() && shot.ball != choice.ball) continue;
    if (!choice.shots.empty() && std::find(choice.shots.begin(), choice.shots.end(), shot.number) == choice.shots.end())
      continue;
    out.push_back(std::move(shot));
  }
  if (out.empty() && !choice.ball.empty())
    return Status(StatusCode::kBadUse, "No shot of the ball \"" + choice.ball + "\" is in these files.");
  return out;
}

std::string MostUsedBall(const std::vector<Shot>& shots) {
  std::map<std::string, int> count;
  for (const Shot& shot : shots) ++count[shot.ball];
  std::string most;
  int n = 0;
  for (const auto& [ball, shots_of_it] : count)
    if (shots_of_it > n) {
      most = ball;
      n = shots_of_it;
    }
  return most;
}

}  // namespace hookline::cli
