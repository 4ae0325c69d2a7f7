// hookline friction FILE... : the lane's friction over board and distance, gathered from a session's shots.

#include <algorithm>
#include <cmath>
#include <memory>
#include <nlohmann/json.hpp>
#include <string>

#include "cli/command.h"
#include "cli/exit_code.h"
#include "cli/outputs.h"
#include "cli/session_files.h"
#include "cli/terminal.h"
#include "motion/friction_map.h"
#include "report/lane_picture.h"
#include "report/number_text.h"
#include "report/overlay.h"

namespace hookline::cli {
namespace {

using lane::MetresFromFeet;
using report::FixedText;
using Json = nlohmann::ordered_json;

constexpr const char* kHelp =
    "FILE is a result file that `hookline measure --json` wrote, or several, in the order the balls were rolled.\n"
    "Friction is what the ball met along its own path: low where oil is, high where the lane is dry or the ball "
    "grips.\n"
    "It belongs to one ball; another cover meets another friction. Places that no ball crossed are guesses with a "
    "wide\n"
    "doubt, drawn pale.\n"
    "\n"
    "Examples:\n"
    "  hookline friction evening/*.json\n"
    "  hookline friction evening/*.json --ball \"blue\" --picture friction.png --json friction.json\n"
    "\n";

struct FrictionArguments {
  SessionChoice choice;
  std::string json, picture;
  bool force = false;
};

std::string Table(const motion::FrictionMap& map, lane::Hand hand) {
  constexpr int kFirst = 3, kLast = 37, kStep = 2, kWidth = 11;  // "19.8 (4.0)" and a space
  std::string out = "Friction, and (one standard deviation), each in hundredths; boards from the " +
                    std::string(hand == lane::Hand::kRight ? "right" : "left") + " edge\n  ft   ";
  for (int b = kFirst; b <= kLast; b += kStep) out += report::PadLeft(std::to_string(b), kWidth);
  out += "\n";
  for (int ft = 55; ft >= 5; ft -= 5) {
    out += report::PadLeft(std::to_string(ft), 4) + "   ";
    for (int b = kFirst; b <= kLast; b += kStep) {
      const auto cell = map.At(lane::XFromBoard(b, lane::kNominalWidth, hand), MetresFromFeet(ft));
      out += report::PadLeft(FixedText(100 * cell.value, 1) + " (" + FixedText(100 * cell.sd, 1) + ")", kWidth);
    }
    out += "\n";
  }
  return out;
}

int RunFriction(const FrictionArguments& a) {
  const auto json = PlanOutput({"--json", a.json, ".json", {}, true}, a.choice.files, a.force);
  if (!json.ok()) return Report(json.status());
  const auto picture = PlanOutput({"--picture", a.picture, ".png", {".png"}, false}, a.choice.files, a.force);
  if (!picture.ok()) return Report(picture.status());
  auto shots = ShotsOf(a.choice);
  if (!shots.ok()) return Report(shots.status());
  if (a.choice.ball.empty()) {
    const std::string ball = MostUsedBall(*shots);
    const auto others = std::erase_if(*shots, [&](const Shot& s) { return s.ball != ball; });
    if (others > 0)
      Say("Only the shots of the ball \"" + ball + "\" are used, " + std::to_string(others) +
          " of other balls are left out (--ball chooses).");
  }
  const auto map = motion::MapFriction(*shots);
  if (!map.ok()) return Report(map.status());
  const motion::FrictionMapOptions options;
  const lane::Hand hand = shots->front().hand;
  std::string notes;
  if (map->shots() < options.least_shots)
    notes += "Only " + std::to_string(map->shots()) + (map->shots() == 1 ? " shot tells" : " shots tell") +
             " the friction: " + std::to_string(options.least_shots) +
             " or more are asked for, so the doubt is wide.\n";
  const double per_ten = 100 * std::expm1(10 * map->per_ball()), per_ten_sd = 1000 * map->per_ball_sd();
  const bool told = std::abs(map->per_ball()) > 2 * map->per_ball_sd();
  notes += told ? std::string("Friction ") + (per_ten > 0 ? "rises" : "falls") + " by " +
                      FixedText(std::abs(per_ten), 0) + " % (sd " + FixedText(per_ten_sd, 0) +
                      ") for every ten balls rolled on a place.\n"
                : std::string("No change of friction with the balls rolled can be told from these shots.\n");
  if (!picture->empty()) {
    report::LanePicture drawn;
    drawn.hand = hand;
    drawn.title = "Friction from " + std::to_string(map->shots()) + " shots" +
                  (shots->front().ball.empty() ? "" : " of " + shots->front().ball);
    drawn.friction = [&](double x, double y) {
      const auto cell = map->At(x, y);
      return report::LaneCell{cell.value, cell.sd};
    };
    for (const Shot& shot : *shots) {
      report::LanePath path;
      for (const PathPoint& p : shot.path) path.points.emplace_back(p.x, p.y);
      drawn.paths.push_back(std::move(path));
    }
    const auto bgr = report::DrawLane(drawn);
    if (!bgr.ok()) return Report(bgr.status());
    if (Status s = WriteOutput(*picture, report::PngFromBgr(*bgr)); !s.ok()) return Report(s);
  }
  if (!json->empty()) {
    Json j = {{"format", "hookline-friction"}, {"version", 1}, {"shots", map->shots()}};
    j["ball"] = shots->front().ball.empty() ? Json(nullptr) : Json(shots->front().ball);
    j["hand"] = hand == lane::Hand::kRight ? "right" : "left";
    j["per_ball_log"] = {{"value", report::FileNumber(map->per_ball())},
                         {"sd", report::FileNumber(map->per_ball_sd())}};
    Json cells = Json::array();
    for (int ft = 0; ft <= 60; ft += 5)
      for (int b = 1; b <= lane::kBoards; b += 2) {
        const double x = lane::XFromBoard(b, lane::kNominalWidth, hand), y = MetresFromFeet(ft);
        const auto cell = map->At(x, y);
        cells.push_back({{"board", b},
                         {"ft", ft},
                         {"value", report::FileNumber(cell.value)},
                         {"sd", report::FileNumber(cell.sd)},
                         {"balls", map->Balls(x, y)}});
      }
    j["cells"] = std::move(cells);
    if (Status s = WriteOutput(*json, j.dump(1) + "\n"); !s.ok()) return Report(s);
  }
  if (a.json != "-") {
    if (Status s = WriteOutput("-", Table(*map, hand) + "\n" + notes); !s.ok()) return Report(s);
  }
  return kExitMeasured;
}

}  // namespace

std::function<int()> InstallFriction(CLI::App& app) {
  const auto a = std::make_shared<FrictionArguments>();
  app.add_option("FILE", a->choice.files, "Result files of one session on one lane, in order")->required();
  app.add_option("--ball", a->choice.ball, "Only this ball's shots; the one with the most shots when not given");
  app.add_option("--json", a->json, "Write the map as numbers (- is standard output)");
  app.add_option("--picture", a->picture, "Write the map as a picture of the lane from above (PNG)");
  app.add_flag("--force", a->force, "Replace output files that are there already");
  app.footer(std::string(kHelp) + std::string(kExitCodeHelp));
  return [a] { return RunFriction(*a); };
}

}  // namespace hookline::cli
