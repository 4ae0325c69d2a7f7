#include "report/page.h"

#include <algorithm>
#include <set>

#include "lane/units.h"
#include "report/number_text.h"
#include "report/result_json.h"

namespace hookline::report {
namespace {

struct Group {
  const char* title;
  std::vector<MeasureId> ids;
};

// As a bowler asks: where did it go, how fast, how did it turn.
const std::vector<Group>& Groups() {
  using Id = MeasureId;
  static const std::vector<Group> groups = {
      {"Line",
       {Id::kLaydownBoard, Id::kLaydownFt, Id::kBoardAtArrows, Id::kBoardAt15Ft, Id::kBreakpointBoard,
        Id::kBreakpointFt, Id::kBoardAt40Ft, Id::kEntryBoard}},
      {"Angles and speeds",
       {Id::kLaunchAngleDeg, Id::kEntryAngleDeg, Id::kSpeedReleaseMph, Id::kSpeedArrowsMph, Id::kSpeedEntryMph,
        Id::kSpeedMeanMph}},
      {"Skid, roll and spin",
       {Id::kSkidEndFt, Id::kRollStartFt, Id::kSlipAngleDeg, Id::kPathTurnDeg, Id::kPathRevRpm, Id::kRevRateRpm,
        Id::kAxisRotationDeg, Id::kAxisTiltDeg}}};
  return groups;
}

std::string Sentence(std::string text) {
  if (text.empty()) return text;
  if (text[0] >= 'a' && text[0] <= 'z') text[0] = static_cast<char>(text[0] - 'a' + 'A');
  if (text.back() != '.' && text.back() != '!' && text.back() != '?') text += '.';
  return text;
}

// "a, b and c".
std::string Listed(const std::vector<std::string>& parts) {
  std::string out;
  for (std::size_t i = 0; i < parts.size(); ++i) {
    if (i > 0) out += i + 1 == parts.size() ? " and " : ", ";
    out += parts[i];
  }
  return out;
}

std::vector<std::string> InWords(const Shot& shot) {
  const Measures& m = shot.measures;
  const auto text = [&](MeasureId id) { return MeasureText(id, m[id]); };
  std::vector<std::string> where, out;
  if (Given(m[MeasureId::kBoardAtArrows]))
    where.push_back("crossed the arrows at board " + text(MeasureId::kBoardAtArrows));
  if (Given(m[MeasureId::kBreakpointBoard]) && Given(m[MeasureId::kBreakpointFt]))
    where.push_back("was farthest out on board " + text(MeasureId::kBreakpointBoard) + ", " +
                    text(MeasureId::kBreakpointFt) + " ft down the lane");
  if (Given(m[MeasureId::kEntryBoard])) {
    std::string entry = "came to the pins on board " + text(MeasureId::kEntryBoard);
    if (Given(m[MeasureId::kEntryAngleDeg])) entry += " at an angle of " + text(MeasureId::kEntryAngleDeg) + " degrees";
    where.push_back(entry);
  }
  if (shot.gutter_ft) where.push_back("went into the gutter " + FixedText(*shot.gutter_ft, 0) + " ft down the lane");
  if (!where.empty()) out.push_back("The ball " + Listed(where) + ".");
  std::vector<std::string> speed;
  if (Given(m[MeasureId::kSpeedReleaseMph]))
    speed.push_back("it left the hand at " + text(MeasureId::kSpeedReleaseMph) + " mph");
  if (Given(m[MeasureId::kSpeedEntryMph]))
    speed.push_back("reached the pins at " + text(MeasureId::kSpeedEntryMph) + " mph");
  if (!speed.empty()) {
    std::string s = Listed(speed) + ".";
    if (s[0] == 'i') s[0] = 'I';
    if (s[0] == 'r') s = "It " + s;
    out.push_back(s);
  }
  return out;
}

std::string ShotLine(const Shot& shot) {
  std::string line = shot.hand_source == HandSource::kAssumed
                         ? std::string("hand not told, boards counted as for a right-hander")
                         : std::string(HandName(shot.hand)) + "-handed";
  if (!shot.bowler.empty()) line = shot.bowler + ", " + line;
  if (!shot.ball.empty()) line += ", ball: " + shot.ball;
  if (!shot.plan.empty()) line += ", plan: " + shot.plan;
  return line;
}

PageRow RowOf(MeasureId id, const Measure& measure) {
  const MeasureInfo& info = kMeasureTable[static_cast<std::size_t>(id)];
  PageRow row{std::string(info.label), {}, {}, std::string(info.unit), {}};
  if (Given(measure)) {
    row.value = ValueText(id, measure);
    row.doubt = DoubtText(id, measure);
  } else {
    row.reason = Sentence(ReasonOf(measure));
  }
  return row;
}

PageOverview OverviewOf(const std::vector<Shot>& shots) {
  PageOverview o;
  const std::vector<MeasureId> ids = {MeasureId::kBoardAtArrows, MeasureId::kBreakpointBoard, MeasureId::kEntryBoard,
                                      MeasureId::kEntryAngleDeg, MeasureId::kSpeedMeanMph};
  o.heads = {"arrows", "break\u00ADpoint", "pins", "entry angle", "speed"};
  for (const MeasureId id : ids) o.units.emplace_back(kMeasureTable[static_cast<std::size_t>(id)].unit);
  for (const Shot& shot : shots) {
    PageOverview::Row row{std::to_string(shot.number), {}};
    for (const MeasureId id : ids) {
      const Measure& m = shot.measures[id];
      row.cells.push_back(Given(m) ? PageOverview::Cell{ValueText(id, m), DoubtText(id, m)} : PageOverview::Cell{});
    }
    o.rows.push_back(std::move(row));
  }
  return o;
}

std::vector<PageAdvice> AdviceOf(const Advice& advice, bool one_shot) {
  std::vector<PageAdvice> out;
  if (!advice.next_move.reason.empty()) out.push_back({"Next move", advice.next_move.reason, {}});
  // Where the shots are too few to tell a move, a rule of thumb beside "do not move yet" would only confuse.
  if (!advice.next_move.rule_of_thumb.empty() && advice.next_move.stance_boards)
    out.push_back({"By rule of thumb", advice.next_move.rule_of_thumb, {}});
  if (!advice.lane_read.text.empty()) out.push_back({"The lane", advice.lane_read.text, {}});
  for (const Comparison& c : advice.comparisons) {
    PageAdvice& told = out.emplace_back(PageAdvice{c.kind == "balls" ? "Two balls" : "Two plans", c.margin_text, {}});
    for (const std::string& sentence : {c.text, c.strikes_text})
      if (!sentence.empty()) told.text += (told.text.empty() ? "" : " ") + sentence;
  }
  for (const ShotAdvice& s : advice.shots)
    for (const Finding& f : s.findings) {
      // That shots are too few is the bowler's to know once, not at every shot.
      if (f.cause == "too_few_shots" && !one_shot) continue;
      out.push_back({"Shot " + std::to_string(s.number), f.text,
                     f.cause == "too_few_shots" ? std::string() : ShareText(f.probability) + " sure"});
    }
  return out;
}

std::string TitleOf(const std::vector<Shot>& shots) {
  std::set<std::string> bowlers;
  for (const Shot& s : shots) bowlers.insert(s.bowler);
  const std::string who = bowlers.size() == 1 && !bowlers.begin()->empty() ? *bowlers.begin() + ": " : std::string();
  if (shots.size() == 1) return who.empty() ? "A bowling shot" : who + "a bowling shot";
  return who.empty() ? std::to_string(shots.size()) + " bowling shots" : who + std::to_string(shots.size()) + " shots";
}

}  // namespace

Page DescribePage(const PageInput& input) {
  Page page;
  const std::vector<Shot>& shots = input.shots;
  const bool one = shots.size() == 1;
  page.title = input.title.empty() ? TitleOf(shots) : input.title;
  page.subtitle = "Measured from video with Hookline.";
  page.advice = AdviceOf(input.advice, one);
  if (shots.size() > 1) {
    page.overview = OverviewOf(shots);
    std::vector<const Shot*> all;
    for (const Shot& s : shots) all.push_back(&s);
    page.lane = LaneFigure(all, input.lane_width, true);
  }
  for (std::size_t i = 0; i < shots.size(); ++i) {
    const Shot& shot = shots[i];
    PageShot s;
    s.title = "Shot " + std::to_string(shot.number);
    s.line = ShotLine(shot);
    s.in_words = InWords(shot);
    if (i < input.pictures.size()) {
      s.pictures = input.pictures[i].pictures;
      s.no_picture = input.pictures[i].reason;
    }
    s.lane = LaneFigure({&shot}, {input.lane_width[i]}, true);
    s.plots = PlotsOf(shot, input.lane_width[i]);
    if (s.plots.size() < 3)
      s.no_plots = "Speed and direction along the way are not in the result file; measure the clip again to have them.";
    for (const Group& group : Groups()) {
      PageTable table{group.title, {}};
      for (const MeasureId id : group.ids) table.rows.push_back(RowOf(id, shot.measures[id]));
      s.tables.push_back(std::move(table));
    }
    page.shots.push_back(std::move(s));
  }
  page.how_to_read = {
      "Boards count from the edge of the bowler's own hand: 1 is at that edge, 20 is the middle of the lane, 39 the "
      "far "
      "edge. A board is a little over an inch (27 mm) wide.",
      "\"12.0 ±0.1\" is a measured value and its doubt, one standard deviation: about two times in three the true "
      "value "
      "lies that near, about 19 times in 20 within twice that. In the plots the dark band is one, the pale band two.",
      "A dash is a number the video could not tell; the reason stands beside it."};
  page.cautions = input.advice.cautions;
  page.cautions.emplace_back(
      "A number is no reason to bowl through pain. For pain see a doctor; for grip, wrist and swing a coach who sees "
      "the "
      "bowler. The rules of the house come first.");
  if (std::any_of(page.shots.begin(), page.shots.end(), [](const PageShot& s) { return !s.pictures.empty(); }))
    page.cautions.emplace_back(
        "This page shows a person. Hand it on only as that person, and for a minor a parent, has agreed.");
  page.warnings = input.warnings;
  page.warnings.insert(page.warnings.end(), input.advice.warnings.begin(), input.advice.warnings.end());
  // They may begin with a file's name, whose letters are kept.
  for (std::string& w : page.warnings)
    if (!w.empty() && w.back() != '.') w += '.';
  page.maker =
      "Made on the coach's own computer. This page asks nothing of the network, and nothing was sent anywhere.";
  return page;
}

}  // namespace hookline::report
