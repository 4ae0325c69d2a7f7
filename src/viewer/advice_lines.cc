#include "viewer/advice_lines.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "advice/wording.h"
#include "report/number_text.h"

namespace hookline::viewer {
namespace {

const MeasureInfo* InfoOf(std::string_view key) {
  for (const MeasureInfo& info : kMeasureTable)
    if (info.key == key) return &info;
  return nullptr;
}

std::string Signed(std::string text, double value) { return (value > 0 ? "+" : "") + std::move(text); }

// A finding's number with its doubt, in the form its measure has.
std::string ChangeText(const Finding& f) {
  if (f.measure.empty() || !f.change || !f.sd) return {};
  const Measure change = Measure::Of(*f.change, *f.sd);
  if (f.measure == "friction")
    return "friction in front: " + Signed(advice::WithDoubt(100 * *f.change, 100 * *f.sd, 0), *f.change) + " %";
  if (f.measure == "stance_board" || f.measure == "target_board")
    return std::string(f.measure == "stance_board" ? "stance: " : "target: ") + advice::Inward(*f.change, 1);
  const MeasureInfo* info = InfoOf(f.measure);
  if (!info) return {};
  const auto id = static_cast<MeasureId>(info - kMeasureTable.data());
  const std::string unit(info->unit == "board" ? "boards" : info->unit);
  return std::string(info->label) + ": " + Signed(report::MeasureText(id, change), *f.change) + " " + unit;
}

std::string FeetText(const NextMove& move) {
  if (!move.stance_boards || !report::Given(*move.stance_boards)) return {};
  const double feet = *move.stance_boards->value;
  if (feet == 0) return "Feet: stay";
  const Measure size = Measure::Of(std::abs(feet), move.stance_boards->sd);
  return "Feet: " + report::MeasureText(MeasureId::kEntryBoard, size) +
         (feet > 0 ? " boards inward" : " boards outward");
}

std::string EyesText(const NextMove& move) {
  if (!move.target_boards) return {};
  if (*move.target_boards == 0) return "Eyes: stay";
  return "Eyes: " + advice::Inward(*move.target_boards, 1);
}

std::string PredictedText(const NextMove& move) {
  if (!move.entry_board || !report::Given(*move.entry_board)) return {};
  std::string text = "Entry then: board " + report::MeasureText(MeasureId::kEntryBoard, *move.entry_board);
  if (move.entry_angle_deg) text += ", " + report::FixedText(*move.entry_angle_deg, 1) + " deg";
  return text;
}

AdviceBlock MoveBlock(const Advice& advice, const std::vector<int>& rests) {
  const NextMove& move = advice.next_move;
  AdviceBlock block;
  block.title = "Next move";
  std::string title = FeetText(move);
  if (const std::string eyes = EyesText(move); !eyes.empty()) title += (title.empty() ? "" : ". ") + eyes;
  if (title.empty() && move.reason.empty() && move.rule_of_thumb.empty()) {
    block.nothing = "No move can be told yet.";
    return block;
  }
  AdviceLine line;
  line.title = title.empty() ? "No move can be told yet" : title;
  line.text = move.reason;
  line.measure = PredictedText(move);
  line.evidence = {rests, "entry_board", Mark::kPins};
  block.lines.push_back(std::move(line));
  if (!move.rule_of_thumb.empty()) {
    AdviceLine thumb;
    thumb.title = "By rule of thumb";
    thumb.text = move.rule_of_thumb;
    block.lines.push_back(std::move(thumb));
  }
  return block;
}

}  // namespace

std::string CauseTitle(std::string_view cause) {
  static constexpr std::array<std::pair<std::string_view, std::string_view>, 11> kTitles = {
      {{"slower", "Released slower"},
       {"more_turn", "More turn"},
       {"missed_in", "Missed inward"},
       {"missed_out", "Missed outward"},
       {"lane_hooks_more", "Lane hooks more"},
       {"lane_hooks_less", "Lane hooks less"},
       {"new_ball", "Another ball"},
       {"moved", "Moved"},
       {"noise", "Within your usual swing"},
       {"too_few_shots", "Too few shots yet"},
       {"line_not_playable", "This line has gone"}}};
  for (const auto& [key, title] : kTitles)
    if (key == cause) return std::string(title);
  return std::string(cause);
}

std::string_view ChanceWord(double p) {
  if (p >= 0.99) return "almost certain";
  if (p >= 0.9) return "very likely";
  if (p >= 0.75) return "likely";
  if (p >= 0.5) return "more likely than not";
  if (p >= 0.25) return "possible";
  if (p >= 0.1) return "unlikely";
  return "very unlikely";
}

std::string ChanceText(double p) { return std::string(ChanceWord(p)) + ", " + advice::Percent(p); }

Mark PlaceOfMeasure(std::string_view key) {
  static constexpr std::array<std::string_view, 3> kArrows = {"board_at_arrows", "board_at_15ft", "speed_arrows_mph"};
  static constexpr std::array<std::string_view, 6> kBreakpoint = {"breakpoint_board", "breakpoint_ft", "board_at_40ft",
                                                                  "skid_end_ft",      "roll_start_ft", "friction"};
  static constexpr std::array<std::string_view, 4> kPins = {"entry_board", "entry_angle_deg", "speed_entry_mph",
                                                            "speed_mean_mph"};
  const auto in = [key](const auto& list) { return std::find(list.begin(), list.end(), key) != list.end(); };
  if (in(kArrows)) return Mark::kArrows;
  if (in(kBreakpoint)) return Mark::kBreakpoint;
  if (in(kPins)) return Mark::kPins;
  return Mark::kRelease;
}

std::vector<AdviceBlock> BlocksOf(const Advice& advice, std::span<const ShownShot> shots) {
  const auto ids = [&](const std::vector<int>& numbers) {
    std::vector<int> out;
    for (const int n : numbers)
      for (const ShownShot& s : shots)
        if (s.shot->number == n) out.push_back(s.id);
    return out;
  };
  std::vector<AdviceBlock> blocks;
  blocks.push_back(MoveBlock(advice, ids(advice.lane_read.shots)));

  AdviceBlock lane;
  lane.title = "The lane now";
  if (!advice.lane_read.text.empty()) {
    AdviceLine line;
    line.title = advice.lane_read.not_playable ? "This line has gone" : "How this line plays";
    line.text = advice.lane_read.text;
    if (advice.lane_read.miss_boards && report::Given(*advice.lane_read.miss_boards)) {
      const Measure& miss = *advice.lane_read.miss_boards;
      line.measure =
          "mean entry against the pocket: " + Signed(report::MeasureText(MeasureId::kEntryBoard, miss), *miss.value) +
          " boards";
    }
    line.evidence = {ids(advice.lane_read.shots), "entry_board", Mark::kPins};
    lane.lines.push_back(std::move(line));
  } else {
    lane.nothing = "The lane cannot be read yet.";
  }
  blocks.push_back(std::move(lane));

  for (const Comparison& c : advice.comparisons) {
    AdviceBlock block;
    block.title = c.kind == "balls" ? "Two balls" : "Two plans";
    AdviceLine line;
    line.title = c.first.name + " against " + c.second.name;
    line.text = c.text + (c.strikes_text.empty() ? "" : " " + c.strikes_text);
    line.evidence.shots = ids(c.first.shots);
    const std::vector<int> second = ids(c.second.shots);
    line.evidence.shots.insert(line.evidence.shots.end(), second.begin(), second.end());
    line.evidence.measure = "entry_board";
    line.evidence.at = Mark::kPins;
    block.lines.push_back(std::move(line));
    blocks.push_back(std::move(block));
  }

  for (auto s = advice.shots.rbegin(); s != advice.shots.rend(); ++s) {
    AdviceBlock block;
    block.title = "Shot " + std::to_string(s->number);
    if (const std::vector<int> own = ids({s->number}); !own.empty()) {
      block.shot = own.front();
      for (const ShownShot& shown : shots)
        if (shown.id == block.shot && !shown.shot->ball.empty()) block.title += "  " + shown.shot->ball;
    }
    for (const Finding& f : s->findings) {
      AdviceLine line;
      line.title = CauseTitle(f.cause);
      // What a person said (ball, stance) and how many shots there are is not a matter of chance.
      const bool told = f.cause == "new_ball" || f.cause == "moved" || f.cause == "too_few_shots";
      line.probability = f.probability;
      if (!told) line.chance = ChanceText(f.probability);
      line.text = f.text;
      line.measure = ChangeText(f);
      line.evidence = {ids(f.shots), f.measure, PlaceOfMeasure(f.measure)};
      block.lines.push_back(std::move(line));
    }
    if (block.lines.empty()) block.nothing = "as usual";
    blocks.push_back(std::move(block));
  }
  return blocks;
}

std::string AdviceWaitsFor(std::span<const ShownShot> shots) {
  if (shots.empty()) return "Advice compares your shots with each other. Open the clips of a session to begin.";
  if (shots.size() == 1)
    return "Advice compares shots with each other: two shots or more are needed, five of one ball and plan tell your "
           "own swing. Open more clips of this session.";
  return {};
}

}  // namespace hookline::viewer
