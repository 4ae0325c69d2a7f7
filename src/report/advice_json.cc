#include "report/advice_json.h"

#include <cmath>
#include <sstream>

#include "report/json_parts.h"
#include "report/number_text.h"

namespace hookline::report {
namespace {

Json MeasureJson(const std::optional<Measure>& m) {
  if (!m || !Given(*m)) return nullptr;
  return {{"value", FileNumber(*m->value)}, {"sd", FileNumber(m->sd)}};
}

Json FindingJson(const Finding& f) {
  return {{"cause", f.cause},
          {"probability", FileNumber(f.probability)},
          {"text", f.text},
          {"evidence",
           {{"shots", f.shots},
            {"measure", f.measure.empty() ? Json(nullptr) : Json(f.measure)},
            {"change", JsonNumber(f.change)},
            {"sd", JsonNumber(f.sd)}}}};
}

Json RateJson(const Rate& r) {
  return {{"hits", r.hits},
          {"shots", r.count},
          {"median", FileNumber(r.median)},
          {"low", FileNumber(r.low)},
          {"high", FileNumber(r.high)}};
}

Json SpreadJson(const MeanAndSpread& s) {
  return {{"shots", s.count},
          {"mean", JsonNumber(s.mean)},
          {"mean_sd", JsonNumber(s.mean_sd)},
          {"spread", JsonNumber(s.spread)}};
}

Json ChoiceJson(const ChoiceSummary& c) {
  return {{"name", c.name},
          {"shots", c.shots},
          {"pocket", RateJson(c.pocket)},
          {"strikes_in_pocket", c.strikes_in_pocket ? RateJson(*c.strikes_in_pocket) : Json(nullptr)},
          {"entry_board", SpreadJson(c.entry_board)},
          {"entry_angle_deg", SpreadJson(c.entry_angle_deg)},
          {"breakpoint_board", SpreadJson(c.breakpoint_board)},
          {"roll_start_ft", SpreadJson(c.roll_start_ft)},
          {"speed_entry_mph", SpreadJson(c.speed_entry_mph)},
          {"margin", c.margin ? Json{{"pocket_share", FileNumber(c.margin->pocket_share)},
                                     {"boards", FileNumber(c.margin->boards)},
                                     {"speed_mph", FileNumber(c.margin->speed_mph)}}
                              : Json(nullptr)}};
}

Json OutlookJson(const ScoreOutlook& o) {
  Json choices = Json::array();
  for (const ChoiceOutlook& c : o.choices)
    choices.push_back({{"name", c.name},
                       {"strike", RateJson(c.strike)},
                       {"spare", RateJson(c.spare)},
                       {"split", RateJson(c.split)},
                       {"open", RateJson(c.open)},
                       {"expected_score", JsonNumber(c.expected)},
                       {"expected_low", JsonNumber(c.expected_low)},
                       {"expected_high", JsonNumber(c.expected_high)},
                       {"chance", JsonNumber(c.chance)}});
  return {{"score_now", o.score_now},
          {"over", o.over},
          {"need", o.need ? Json(*o.need) : Json(nullptr)},
          {"choices", std::move(choices)},
          {"next_choice", o.next_choice.empty() ? Json(nullptr) : Json(o.next_choice)},
          {"chance_choosing", JsonNumber(o.chance_choosing)},
          {"text", o.text}};
}

// Breaks a paragraph at blanks; columns are counted in characters, not bytes.
void Wrap(std::ostringstream& out, const std::string& text, const std::string& first, const std::string& indent) {
  constexpr std::size_t kColumns = 110;
  std::istringstream words(text);
  std::string line = first, word;
  bool empty = true;
  while (words >> word) {
    if (!empty && TextWidth(line) + 1 + TextWidth(word) > kColumns) {
      out << line << '\n';
      line = indent;
      empty = true;
    }
    if (!empty) line += ' ';
    line += word;
    empty = false;
  }
  out << line << '\n';
}

std::string MeanText(const char* what, const MeanAndSpread& s, int decimals, const char* unit) {
  if (!s.mean) return {};
  std::string text = std::string(what) + " " + FixedText(*s.mean, decimals) + unit;
  if (s.spread) text += " (spread " + FixedText(*s.spread, decimals) + ")";
  return text + "; ";
}

std::string ChoiceText(const ChoiceSummary& c) {
  std::string text =
      MeanText("enters at board", c.entry_board, 1, "") + MeanText("angle", c.entry_angle_deg, 1, " deg") +
      MeanText("breakpoint board", c.breakpoint_board, 1, "") + MeanText("roll from", c.roll_start_ft, 0, " ft") +
      MeanText("speed left", c.speed_entry_mph, 1, " mph");
  if (text.size() > 2) text.erase(text.size() - 2);
  return text;
}

}  // namespace

std::string AdviceJson(const Advice& advice) {
  Json j = {{"format", "hookline-advice"}, {"version", 1}};
  Json shots = Json::array();
  for (const ShotAdvice& s : advice.shots) {
    Json causes = Json::object();
    for (std::size_t i = 0; i < kCauseCount; ++i) causes[std::string(kCauseKeys[i])] = FileNumber(s.causes.all[i]);
    Json findings = Json::array();
    for (const Finding& f : s.findings) findings.push_back(FindingJson(f));
    shots.push_back({{"number", s.number}, {"causes", std::move(causes)}, {"findings", std::move(findings)}});
  }
  j["shots"] = std::move(shots);
  const LaneRead& lane = advice.lane_read;
  j["lane_read"] = {{"miss_boards", MeasureJson(lane.miss_boards)},
                    {"not_playable", lane.not_playable},
                    {"shots", lane.shots},
                    {"text", lane.text}};
  const NextMove& m = advice.next_move;
  j["next_move"] = {
      {"stance_boards", MeasureJson(m.stance_boards)},
      {"target_boards", JsonNumber(m.target_boards)},
      {"speed_mph", JsonNumber(m.speed_mph)},
      {"turn_deg", JsonNumber(m.turn_deg)},
      {"predicted", {{"entry_board", MeasureJson(m.entry_board)}, {"entry_angle_deg", JsonNumber(m.entry_angle_deg)}}},
      {"shots_used", m.shots_used},
      {"rule_of_thumb", m.rule_of_thumb.empty() ? Json(nullptr) : Json(m.rule_of_thumb)},
      {"reason", m.reason}};
  Json comparisons = Json::array();
  for (const Comparison& c : advice.comparisons) {
    comparisons.push_back({{"kind", c.kind},
                           {"first", ChoiceJson(c.first)},
                           {"second", ChoiceJson(c.second)},
                           {"first_hits_pocket_more", FileNumber(c.first_hits_pocket_more)},
                           {"simulated", c.simulated},
                           {"margin_text", c.margin_text.empty() ? Json(nullptr) : Json(c.margin_text)},
                           {"text", c.text},
                           {"strikes_text", c.strikes_text.empty() ? Json(nullptr) : Json(c.strikes_text)}});
  }
  j["comparisons"] = std::move(comparisons);
  j["score_outlook"] = advice.score_outlook ? OutlookJson(*advice.score_outlook) : Json(nullptr);
  j["cautions"] = advice.cautions;
  j["warnings"] = advice.warnings;
  return j.dump(2) + "\n";
}

std::string AdviceText(const Advice& advice) {
  std::ostringstream out;
  for (const ShotAdvice& s : advice.shots) {
    const std::string head = "Shot " + std::to_string(s.number) + "  ";
    if (s.findings.empty()) out << head << "as usual\n";
    std::string first = head;
    for (const Finding& f : s.findings) {
      Wrap(out, f.text, first, std::string(TextWidth(head), ' '));
      first = std::string(TextWidth(head), ' ');
    }
  }
  if (!advice.lane_read.text.empty()) {
    out << '\n';
    Wrap(out, advice.lane_read.text, "The lane    ", "            ");
  }
  if (!advice.next_move.reason.empty()) Wrap(out, advice.next_move.reason, "Next move   ", "            ");
  if (!advice.next_move.rule_of_thumb.empty()) {
    Wrap(out, advice.next_move.rule_of_thumb, "By thumb    ", "            ");
  }
  for (const Comparison& c : advice.comparisons) {
    out << '\n';
    // The numbers first; a comparison ends in a sentence on the pocket and one on strikes given the pocket.
    std::string head = c.kind == "balls" ? "Two balls   " : "Two plans   ";
    const auto say = [&](const std::string& text) {
      if (text.empty()) return;
      Wrap(out, text, head, "            ");
      head = "            ";
    };
    for (const ChoiceSummary* choice : {&c.first, &c.second}) {
      if (const std::string t = ChoiceText(*choice); !t.empty()) say(choice->name + ": " + t);
    }
    say(c.margin_text);
    say(c.text);
    say(c.strikes_text);
  }
  if (advice.score_outlook && !advice.score_outlook->text.empty()) {
    out << '\n';
    Wrap(out, advice.score_outlook->text, "The score   ", "            ");
  }
  if (!advice.cautions.empty()) out << '\n';
  for (const std::string& c : advice.cautions) Wrap(out, c, "", "");
  return out.str();
}

}  // namespace hookline::report
