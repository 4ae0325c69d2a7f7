#include "viewer/what_if_table.h"

#include <algorithm>
#include <cmath>

#include "report/number_text.h"

namespace hookline::viewer {
namespace {

struct Line {
  const char* label;
  MeasureId form;
  motion::ValueAndSd motion::Outcome::*what;
};
constexpr Line kLines[] = {{"arrows, board", MeasureId::kBoardAtArrows, &motion::Outcome::board_at_arrows},
                           {"breakpoint, board", MeasureId::kBreakpointBoard, &motion::Outcome::breakpoint_board},
                           {"breakpoint, ft", MeasureId::kBreakpointFt, &motion::Outcome::breakpoint_y},
                           {"entry, board", MeasureId::kEntryBoard, &motion::Outcome::entry_board},
                           {"entry, deg in", MeasureId::kEntryAngleDeg, &motion::Outcome::entry_angle},
                           {"at the pins, mph", MeasureId::kSpeedEntryMph, &motion::Outcome::entry_speed},
                           {"roll starts, ft", MeasureId::kRollStartFt, &motion::Outcome::roll_y}};

std::string Text(MeasureId form, const motion::ValueAndSd& v) {
  return report::MeasureText(form, Measure::Of(v.value, v.sd));
}

}  // namespace

std::vector<WhatIfRow> WhatIfTable(const motion::WhatIfAnswer& answer) {
  std::vector<WhatIfRow> rows;
  for (const Line& line : kLines)
    rows.push_back({line.label, Text(line.form, answer.before.*line.what), Text(line.form, answer.after.*line.what)});
  return rows;
}

std::vector<std::string> WhatIfNotes(const motion::WhatIfAnswer& answer, int lane_shots, bool release_changed) {
  std::vector<std::string> notes;
  const motion::ValueAndSd& change = answer.entry_board_change;
  // Nothing changed, nothing to say.
  if (std::isfinite(change.value) && std::isfinite(change.sd) && change.sd > 1e-3) {
    const motion::ValueAndSd size{std::abs(change.value), change.sd};
    notes.push_back("The entry moves " + Text(MeasureId::kEntryBoard, size) + " boards " +
                    (change.value >= 0 ? "inward." : "outward."));
  }
  if (answer.after.gutter > 0.02)
    notes.push_back("! In " + report::FixedText(100 * answer.after.gutter, 0) +
                    " of 100 tries this ball goes into the gutter.");
  if (lane_shots < 5)
    notes.push_back("! The lane's friction rests on " + std::to_string(lane_shots) +
                    (lane_shots == 1 ? " shot" : " shots") +
                    "; off the line that was rolled it is little more than a guess.");
  if (answer.misfit > 2)
    notes.push_back("! The physics explains these shots poorly (" + report::FixedText(answer.misfit, 1) +
                    " sd): take this answer with care.");
  if (release_changed)
    notes.push_back(
        "! Speed, turn and revs cannot be changed at will: a coach decides what to try. If a hand, wrist, elbow "
        "or back hurts, stop.");
  return notes;
}

std::string FrictionText(double value, double sd) {
  int decimals = 2;
  while (decimals < 4 && sd < 0.5 * std::pow(10.0, -decimals)) ++decimals;
  return "friction " + report::FixedText(value, decimals) + " ±" +
         report::FixedText(std::max(sd, std::pow(10.0, -decimals)), decimals);
}

}  // namespace hookline::viewer
