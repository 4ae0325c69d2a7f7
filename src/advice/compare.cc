#include "advice/compare.h"

#include <array>
#include <cassert>
#include <cmath>
#include <map>
#include <tuple>

#include "advice/lane_read.h"
#include "advice/outlook.h"
#include "advice/wording.h"

namespace hookline::advice {
namespace {

constexpr int kCells = 2000;
constexpr std::size_t kFewest = 3;

// Share of the posterior in each of kCells cells of 0 to 1. The density is infinite at the ends with no hit or no miss,
// so cells are taken in the angle a, p = sin^2 a, in which Jeffreys' prior is flat.
std::vector<double> Posterior(int hits, int count) {
  std::vector<double> w(kCells);
  double sum = 0, top = -1e300;
  for (int i = 0; i < kCells; ++i) {
    const double a = (i + 0.5) / kCells * lane::kPi / 2;
    w[static_cast<std::size_t>(i)] = 2 * hits * std::log(std::sin(a)) + 2 * (count - hits) * std::log(std::cos(a));
    top = std::max(top, w[static_cast<std::size_t>(i)]);
  }
  for (double& x : w) sum += x = std::exp(x - top);
  for (double& x : w) x /= sum;
  return w;
}

MeanAndSpread Summary(const std::vector<const Shot*>& shots, MeasureId id) {
  MeanAndSpread s;
  double sum = 0;
  std::vector<Estimate> values;
  for (const Shot* shot : shots) {
    if (const auto e = Given(*shot, id)) {
      values.push_back(*e);
      sum += e->value;
    }
  }
  s.count = static_cast<int>(values.size());
  if (values.empty()) return s;
  const double n = static_cast<double>(values.size());
  s.mean = sum / n;
  double squares = 0, noise = 0;
  for (const Estimate& e : values) {
    squares += (e.value - *s.mean) * (e.value - *s.mean);
    noise += e.sd * e.sd / n;
  }
  if (values.size() >= 2) {
    const double variance = squares / (n - 1);
    s.spread = std::sqrt(std::max(0.0, variance - noise));  // the bowler's, the measure's doubt taken off
    s.mean_sd = std::sqrt(std::max(variance, noise) / n);
  } else {
    s.mean_sd = std::sqrt(noise);
  }
  return s;
}

bool IsFullRack(const Shot& s) { return !s.pins_before || s.pins_before->size() == 10; }

struct Group {
  std::vector<const Shot*> shots;
  std::vector<std::string> results;
};

std::string RateText(const Rate& r) {
  return std::to_string(r.hits) + " of " + std::to_string(r.count) + " (" + Fixed(100 * r.low, 0) + " to " +
         Fixed(100 * r.high, 0) + " %)";
}

Comparison CompareTwo(const std::string& kind, ChoiceSummary a, ChoiceSummary b) {
  Comparison c;
  c.kind = kind;
  c.first_hits_pocket_more = ChanceHigher(a.pocket, b.pocket);
  const bool first = c.first_hits_pocket_more >= 0.5;
  const double sure = first ? c.first_hits_pocket_more : 1 - c.first_hits_pocket_more;
  c.text = a.name + " hit the pocket " + RateText(a.pocket) + ", " + b.name + " " + RateText(b.pocket) + ": ";
  c.text += sure < 0.8 ? "too close to call (" + Percent(sure) + " for " + (first ? a.name : b.name) +
                             "); more shots will tell."
                       : (first ? a.name : b.name) + " is the better one with " + Percent(sure) + " probability.";
  if (a.strikes_in_pocket && b.strikes_in_pocket) {
    const double more = ChanceHigher(*a.strikes_in_pocket, *b.strikes_in_pocket);
    c.strikes_text = "Strikes given the pocket: " + a.name + " " + RateText(*a.strikes_in_pocket) + ", " + b.name +
                     " " + RateText(*b.strikes_in_pocket) + "; " + Percent(std::max(more, 1 - more)) + " that " +
                     (more >= 0.5 ? a.name : b.name) + " carries better.";
  } else {
    c.strikes_text = "Strikes given the pocket cannot be compared: no result of a pocket hit is known for " +
                     (a.strikes_in_pocket   ? b.name
                      : b.strikes_in_pocket ? a.name
                                            : a.name + " or " + b.name) +
                     ".";
  }
  c.first = std::move(a);
  c.second = std::move(b);
  return c;
}

}  // namespace

ChoiceSummary SummaryOf(const std::string& name, const std::vector<const Shot*>& shots,
                        const std::vector<std::string>& results) {
  ChoiceSummary c;
  c.name = name;
  int pocket = 0, strikes = 0, read = 0;
  for (std::size_t i = 0; i < shots.size(); ++i) {
    const Shot* s = shots[i];
    c.shots.push_back(s->number);
    const auto entry = Given(*s, MeasureId::kEntryBoard);
    const bool hit = entry && std::abs(entry->value - kPocketBoard) <= kPocketHalfWidth;
    pocket += hit ? 1 : 0;
    if (!hit) continue;
    const FrameWords said = i < results.size() ? WordsOf(results[i]) : FrameWords{};
    if (said.known() && !said.second_ball) {
      ++read;
      strikes += said.strike ? 1 : 0;
    } else if (s->pins_after && IsFullRack(*s)) {
      ++read;
      strikes += s->pins_after->empty() ? 1 : 0;
    }
  }
  c.pocket = RateOf(pocket, static_cast<int>(shots.size()));
  if (read > 0) c.strikes_in_pocket = RateOf(strikes, read);
  c.entry_board = Summary(shots, MeasureId::kEntryBoard);
  c.entry_angle_deg = Summary(shots, MeasureId::kEntryAngleDeg);
  c.breakpoint_board = Summary(shots, MeasureId::kBreakpointBoard);
  c.roll_start_ft = Summary(shots, MeasureId::kRollStartFt);
  c.speed_entry_mph = Summary(shots, MeasureId::kSpeedEntryMph);
  return c;
}

Rate RateOf(int hits, int count) {
  assert(hits >= 0 && hits <= count);
  Rate r;
  r.hits = hits;
  r.count = count;
  const std::vector<double> w = Posterior(hits, count);
  const auto quantile = [&](double q) {
    double sum = 0;
    for (int i = 0; i < kCells; ++i) {
      const double x = w[static_cast<std::size_t>(i)];
      if (sum + x >= q) {
        const double a = (i + (q - sum) / x) / kCells * lane::kPi / 2;
        return std::sin(a) * std::sin(a);
      }
      sum += x;
    }
    return 1.0;
  };
  r.low = quantile(0.05);
  r.median = quantile(0.5);
  r.high = quantile(0.95);
  return r;
}

double ChanceHigher(const Rate& first, const Rate& second) {
  const std::vector<double> a = Posterior(first.hits, first.count), b = Posterior(second.hits, second.count);
  double below = 0, higher = 0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    higher += a[i] * (below + 0.5 * b[i]);
    below += b[i];
  }
  return higher;
}

std::vector<Comparison> CompareChoices(const std::vector<ShotVerdict>& verdicts) {
  // bowler, ball, plan
  std::map<std::tuple<std::string, std::string, std::string>, Group> groups;
  for (const ShotVerdict& v : verdicts) {
    const Shot& s = *v.shot;
    if (!Given(s, MeasureId::kEntryBoard) && !s.gutter_ft) continue;
    Group& group = groups[{s.bowler, s.ball, s.plan}];
    group.shots.push_back(&s);
    group.results.push_back(v.result);
  }
  std::vector<Comparison> all;
  for (auto a = groups.begin(); a != groups.end(); ++a) {
    if (a->second.shots.size() < kFewest) continue;
    for (auto b = std::next(a); b != groups.end(); ++b) {
      if (b->second.shots.size() < kFewest) continue;
      const auto& [bowler_a, ball_a, plan_a] = a->first;
      const auto& [bowler_b, ball_b, plan_b] = b->first;
      if (bowler_a != bowler_b || (ball_a == ball_b) == (plan_a == plan_b)) continue;
      const bool balls = ball_a != ball_b;
      const auto name = [](const std::string& s, const char* none) { return s.empty() ? std::string(none) : s; };
      all.push_back(CompareTwo(balls ? "balls" : "plans",
                               SummaryOf(balls ? name(ball_a, "the ball without a name") : name(plan_a, "no plan"),
                                         a->second.shots, a->second.results),
                               SummaryOf(balls ? name(ball_b, "the ball without a name") : name(plan_b, "no plan"),
                                         b->second.shots, b->second.results)));
    }
  }
  return all;
}

}  // namespace hookline::advice
