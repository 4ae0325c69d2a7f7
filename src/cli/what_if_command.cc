// hookline what-if FILE... : a measured shot, or a session's mean, rolled again with something changed.

#include <cmath>
#include <memory>
#include <nlohmann/json.hpp>
#include <string>

#include "cli/command.h"
#include "cli/exit_code.h"
#include "cli/outputs.h"
#include "cli/session_files.h"
#include "cli/terminal.h"
#include "lane/units.h"
#include "motion/friction_map.h"
#include "motion/what_if.h"
#include "report/lane_picture.h"
#include "report/number_text.h"
#include "report/overlay.h"

namespace hookline::cli {
namespace {

using report::FixedText;
using Json = nlohmann::ordered_json;

constexpr const char* kHelp =
    "FILE is a result file that `hookline measure --json` wrote, or several of one session on one lane. The friction "
    "is\n"
    "learned from all of their shots with the same ball; the ball that is rolled again is the mean of them, or of the\n"
    "shots that --shot names. Boards are of the bowler's own hand and inward is positive: --feet 3 --eyes 2 is three\n"
    "boards inward with the feet and two with the target at the arrows.\n"
    "\n"
    "Speed and turn cannot be changed at will: a coach decides what a bowler may try, and pain in wrist, arm or back\n"
    "means stop.\n"
    "\n"
    "Examples:\n"
    "  hookline what-if shot.json --feet 2 --eyes 1\n"
    "  hookline what-if evening/*.json --shot 7 --faster -1 --picture what-if.png\n"
    "\n";

struct WhatIfArguments {
  SessionChoice choice;
  std::vector<int> shots;
  double feet = 0, eyes = 0, faster_mph = 0, turn_deg = 0, revs_rpm = 0;
  std::string json, picture;
  bool force = false;
};

struct Row {
  const char* key;
  const char* label;
  motion::ValueAndSd motion::Outcome::*what;
  int decimals;
};
constexpr Row kRows[] = {{"board_at_arrows", "board at the arrows", &motion::Outcome::board_at_arrows, 1},
                         {"board_at_40ft", "board at 40 ft", &motion::Outcome::board_at_40ft, 1},
                         {"breakpoint_board", "breakpoint, board", &motion::Outcome::breakpoint_board, 1},
                         {"breakpoint_ft", "breakpoint, ft", &motion::Outcome::breakpoint_y, 1},
                         {"entry_board", "entry, board", &motion::Outcome::entry_board, 1},
                         {"entry_angle_deg", "entry angle, deg", &motion::Outcome::entry_angle, 2},
                         {"speed_entry_mph", "speed at the pins, mph", &motion::Outcome::entry_speed, 2},
                         {"roll_start_ft", "start of roll, ft", &motion::Outcome::roll_y, 1}};

std::string Text(const motion::ValueAndSd& v, int decimals) { return report::TextWithDoubt(v.value, v.sd, decimals); }

std::string Table(const motion::WhatIfAnswer& answer, std::size_t shots) {
  std::string out =
      report::PadRight("", 26) + report::PadLeft("as rolled", 16) + report::PadLeft("as changed", 16) + "\n";
  for (const Row& row : kRows)
    out += report::PadRight(row.label, 26) + report::PadLeft(Text(answer.before.*row.what, row.decimals), 16) +
           report::PadLeft(Text(answer.after.*row.what, row.decimals), 16) + "\n";
  // Once a ball rolls, its direction turns with the launch whatever the friction was; no bowler turns that finely.
  const motion::ValueAndSd angle{answer.entry_angle_change.value, std::max(answer.entry_angle_change.sd, 0.005)};
  out += "\nThe entry moves by " + Text(answer.entry_board_change, 1) + " boards and the entry angle by " +
         Text(angle, 2) + " deg (board up: towards the other hand's edge).\n";
  if (answer.after.gutter > 0.02)
    out += "In " + FixedText(100 * answer.after.gutter, 0) + " % of the draws this ball goes into the gutter.\n";
  if (shots < 5)
    out += "The friction rests on " + std::to_string(shots) + " shot" + (shots == 1 ? "" : "s") +
           " only; off the line that was rolled it is little more than a guess.\n";
  if (answer.misfit > 2)
    out += "The physics explains the measures poorly (" + FixedText(answer.misfit, 1) +
           " sd): take this answer with care.\n";
  return out;
}

Json OutcomeJson(const motion::Outcome& o) {
  Json j = Json::object();
  for (const Row& row : kRows) {
    const motion::ValueAndSd& v = o.*row.what;
    j[row.key] = std::isfinite(v.value) ? Json{{"value", report::FileNumber(v.value)}, {"sd", report::FileNumber(v.sd)}}
                                        : Json{{"value", nullptr}, {"reason", "The ball has no such place."}};
  }
  j["gutter_probability"] = report::FileNumber(o.gutter);
  return j;
}

int RunWhatIf(const WhatIfArguments& a) {
  const auto json = PlanOutput({"--json", a.json, ".json", {}, true}, a.choice.files, a.force);
  if (!json.ok()) return Report(json.status());
  const auto picture = PlanOutput({"--picture", a.picture, ".png", {".png"}, false}, a.choice.files, a.force);
  if (!picture.ok()) return Report(picture.status());
  SessionChoice chosen = a.choice;
  chosen.shots = a.shots;
  auto rolled = ShotsOf(chosen);
  if (!rolled.ok()) return Report(rolled.status());
  auto all = ShotsOf(a.choice);
  if (!all.ok()) return Report(all.status());
  if (rolled->empty())
    return Report(Status(StatusCode::kNotDetermined, "These files hold no shot; there is nothing to roll again."));
  const std::string ball = a.choice.ball.empty() ? MostUsedBall(*rolled) : a.choice.ball;
  std::erase_if(*rolled, [&](const Shot& s) { return s.ball != ball; });
  std::erase_if(*all, [&](const Shot& s) { return s.ball != ball; });
  const auto map = motion::MapFriction(*all);
  if (!map.ok()) return Report(map.status());
  const auto what_if = motion::WhatIf::Make(*rolled, *map);
  if (!what_if.ok()) return Report(what_if.status());
  motion::Change change;
  change.feet_boards = a.feet;
  change.eyes_boards = a.eyes;
  change.speed = lane::MetresPerSecondFromMph(a.faster_mph);
  change.turn = lane::RadiansFromDegrees(a.turn_deg);
  change.revs = a.revs_rpm * lane::kPi / 30;
  const motion::WhatIfAnswer answer = what_if->Ask(change);
  if (!picture->empty()) {
    report::LanePicture drawn;
    drawn.hand = what_if->hand();
    drawn.title = "As rolled, and as changed (broken)";
    drawn.paths = {{answer.before.path, "as rolled", false}, {answer.after.path, "changed", true}};
    drawn.friction = [&](double x, double y) {
      const auto cell = map->At(x, y);
      return report::LaneCell{cell.value, cell.sd};
    };
    const auto bgr = report::DrawLane(drawn);
    if (!bgr.ok()) return Report(bgr.status());
    if (Status s = WriteOutput(*picture, report::PngFromBgr(*bgr)); !s.ok()) return Report(s);
  }
  if (!json->empty()) {
    Json j = {{"format", "hookline-what-if"}, {"version", 1}, {"shots", rolled->size()}, {"map_shots", map->shots()}};
    j["change"] = {{"feet_boards", a.feet},
                   {"eyes_boards", a.eyes},
                   {"speed_mph", a.faster_mph},
                   {"turn_deg", a.turn_deg},
                   {"revs_rpm", a.revs_rpm}};
    j["before"] = OutcomeJson(answer.before);
    j["after"] = OutcomeJson(answer.after);
    j["entry_board_change"] = {{"value", report::FileNumber(answer.entry_board_change.value)},
                               {"sd", report::FileNumber(answer.entry_board_change.sd)}};
    j["entry_angle_change_deg"] = {{"value", report::FileNumber(answer.entry_angle_change.value)},
                                   {"sd", report::FileNumber(answer.entry_angle_change.sd)}};
    if (Status s = WriteOutput(*json, j.dump(1) + "\n"); !s.ok()) return Report(s);
  }
  if (a.json != "-") {
    if (Status s = WriteOutput("-", Table(answer, static_cast<std::size_t>(map->shots()))); !s.ok()) return Report(s);
  }
  return kExitMeasured;
}

}  // namespace

std::function<int()> InstallWhatIf(CLI::App& app) {
  const auto a = std::make_shared<WhatIfArguments>();
  app.add_option("FILE", a->choice.files, "Result files of one session on one lane, in order")->required();
  app.add_option("--shot", a->shots, "Roll only these shots again, counted over all files from 1");
  app.add_option("--ball", a->choice.ball, "Only this ball's shots; the one with the most shots when not given");
  app.add_option("--feet", a->feet, "Boards inward with the feet (outward: below 0)")->check(CLI::Range(-20.0, 20.0));
  app.add_option("--eyes", a->eyes, "Boards inward with the target at the arrows")->check(CLI::Range(-20.0, 20.0));
  app.add_option("--faster", a->faster_mph, "mph faster off the hand (slower: below 0)")->check(CLI::Range(-6.0, 6.0));
  app.add_option("--turn", a->turn_deg, "Degrees more turn of the spin (less: below 0)")
      ->check(CLI::Range(-60.0, 60.0));
  app.add_option("--revs", a->revs_rpm, "rpm more (less: below 0)")->check(CLI::Range(-300.0, 300.0));
  app.add_option("--json", a->json, "Write the answer as numbers (- is standard output)");
  app.add_option("--picture", a->picture, "Write the two paths as a picture of the lane from above (PNG)");
  app.add_flag("--force", a->force, "Replace output files that are there already");
  app.footer(std::string(kHelp) + std::string(kExitCodeHelp));
  return [a] { return RunWhatIf(*a); };
}

}  // namespace hookline::cli
