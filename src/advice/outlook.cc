#include "advice/outlook.h"

#include <algorithm>
#include <array>
#include <cassert>
#include <cctype>
#include <cmath>
#include <map>
#include <tuple>

#include "advice/compare.h"
#include "advice/wording.h"

namespace hookline::advice {
namespace {

struct Tally {
  std::string name;
  int first_balls = 0, strikes = 0, splits = 0;
  int spared = 0, open = 0;          // of frames without a strike whose end is known
  int left_known = 0, left_sum = 0;  // pins of first balls that were no strike
};

// What the pins say, where they were read.
FrameWords PinsOf(const Shot& shot) {
  FrameWords w;
  if (!shot.pins_after) return w;
  const int after = static_cast<int>(shot.pins_after->size());
  if (shot.pins_before && shot.pins_before->size() < 10) {
    w.second_ball = true;
    w.closed = after == 0;
    return w;
  }
  w.first = 10 - after;
  w.strike = after == 0;
  w.split = IsSplit(*shot.pins_after);
  return w;
}

std::string ChoiceName(const Shot& s) {
  const std::string ball = s.ball.empty() ? "the ball without a name" : s.ball;
  return s.plan.empty() ? ball : ball + ", " + s.plan;
}

double ExpectedOf(const GameState& game, double strike, double spare, double left) {
  return ExpectedScore(game, BallModel::FromRates(strike, spare, left));
}

}  // namespace

Status OutlookOptions::Check() const {
  if (const auto game = PlayGame(balls); !game.ok()) return game.status();
  if (need && (*need < 1 || *need > kPerfectGame))
    return {StatusCode::kBadUse, "The score to reach is 1 to 300, " + std::to_string(*need) + " is not."};
  return Status::Ok();
}

bool IsSplit(const std::vector<int>& standing) {
  if (standing.size() < 2 || std::find(standing.begin(), standing.end(), 1) != standing.end()) return false;
  constexpr std::array<std::pair<int, int>, 15> kBehind = {{{1, 2},
                                                            {1, 3},
                                                            {2, 4},
                                                            {2, 5},
                                                            {3, 5},
                                                            {3, 6},
                                                            {4, 7},
                                                            {4, 8},
                                                            {5, 8},
                                                            {5, 9},
                                                            {6, 9},
                                                            {6, 10},
                                                            {1, 5},
                                                            {2, 8},
                                                            {3, 9}}};
  std::array<int, 11> group{};
  for (const int pin : standing)
    if (pin >= 1 && pin <= 10) group[static_cast<std::size_t>(pin)] = pin;
  for (std::size_t round = 0; round < kBehind.size(); ++round)
    for (const auto& [a, b] : kBehind) {
      int& ga = group[static_cast<std::size_t>(a)];
      int& gb = group[static_cast<std::size_t>(b)];
      if (ga > 0 && gb > 0) ga = gb = std::min(ga, gb);
    }
  int first = 0;
  for (const int g : group) {
    if (g == 0) continue;
    if (first == 0) first = g;
    if (g != first) return true;
  }
  return false;
}

FrameWords WordsOf(const std::string& result) {
  FrameWords w;
  std::vector<int> numbers;
  std::string word;
  bool said_open = false, said_spare = false;
  const auto take = [&] {
    if (word.empty()) return;
    const bool digits = std::all_of(word.begin(), word.end(), [](unsigned char c) { return std::isdigit(c) != 0; });
    if (word == "strike" || word == "x") {
      w.strike = true;
    } else if (word == "spare" || word == "/") {
      said_spare = true;
    } else if (word == "open" || word == "miss" || word == "missed" || word == "-") {
      said_open = true;
    } else if (word == "split") {
      w.split = true;
    } else if (digits && word.size() <= 2 && std::stoi(word) <= 10) {
      numbers.push_back(std::stoi(word));
    } else if (word.find_first_not_of("0123456789-") == std::string::npos && word.find('-') != 0 &&
               word.back() != '-') {
      // A leave: what stood.
      std::vector<int> standing;
      std::string pin;
      for (const char c : word + "-") {
        if (c != '-') {
          pin += c;
          continue;
        }
        if (!pin.empty() && pin.size() <= 2) standing.push_back(std::stoi(pin));
        pin.clear();
      }
      const bool pins = std::all_of(standing.begin(), standing.end(), [](int p) { return p >= 1 && p <= 10; });
      if (pins && standing.size() >= 2 && standing.size() < 10) {
        w.first = 10 - static_cast<int>(standing.size());
        w.split = w.split || IsSplit(standing);
      }
    }
    word.clear();
  };
  for (std::size_t i = 0; i < result.size(); ++i) {
    const char c = static_cast<char>(std::tolower(static_cast<unsigned char>(result[i])));
    if (c == ' ' || c == ',' || c == ';' || c == '\t' || c == '(' || c == ')') {
      take();
    } else if (c == '/' || (c == '-' && word.size() == 1 && i + 1 == result.size())) {
      take();  // "9/" and "9-" without a blank
      word = c;
      take();
    } else {
      word += c;
    }
  }
  take();
  if (!numbers.empty() && !w.first) w.first = numbers.front();
  if (w.first && *w.first == 10) w.strike = true;
  if (w.strike) {
    w.first = 10;
    w.split = false;
    return w;
  }
  if (said_spare) w.closed = true;
  if (said_open) w.closed = false;
  if (numbers.size() >= 2 && w.first && !said_spare) w.closed = *w.first + numbers[1] >= 10;
  w.second_ball = w.closed && !w.first && !w.split;
  return w;
}

std::optional<ScoreOutlook> OutlookOf(const std::vector<Shot>& shots, const OutlookOptions& o) {
  assert(o.Check().ok());
  using Choice = std::tuple<std::string, std::string, std::string>;
  std::map<Choice, Tally> tallies;
  // The frame that waits for its second ball, by bowler.
  std::map<std::string, Tally*> waiting;
  for (std::size_t i = 0; i < shots.size(); ++i) {
    const Shot& shot = shots[i];
    const FrameWords words = i < o.results.size() ? WordsOf(o.results[i]) : FrameWords{};
    const FrameWords w = words.known() ? words : PinsOf(shot);
    if (!w.known()) {
      waiting[shot.bowler] = nullptr;
      continue;
    }
    Tally*& wait = waiting[shot.bowler];
    if (w.second_ball && (wait != nullptr || (shot.pins_before && shot.pins_before->size() < 10))) {
      if (wait != nullptr) ++(*w.closed ? wait->spared : wait->open);
      wait = nullptr;
      continue;
    }
    Tally& t = tallies[{shot.bowler, shot.ball, shot.plan}];
    t.name = ChoiceName(shot);
    wait = nullptr;
    if (w.first || w.strike || w.split || w.closed) {  // a frame that was spared or open was no strike
      ++t.first_balls;
      t.strikes += w.strike ? 1 : 0;
      t.splits += w.split ? 1 : 0;
    }
    if (w.strike) continue;
    if (w.first) {
      ++t.left_known;
      t.left_sum += *w.first;
    }
    if (w.closed)
      ++(*w.closed ? t.spared : t.open);
    else
      wait = &t;
  }
  if (tallies.empty()) return std::nullopt;
  const auto game = PlayGame(o.balls);
  ScoreOutlook out;
  out.score_now = game->score;
  out.over = game->over();
  out.need = o.need;
  std::vector<BallModel> models;
  for (const auto& [choice, t] : tallies) {
    ChoiceOutlook c;
    c.name = t.name;
    c.strike = RateOf(t.strikes, t.first_balls);
    c.split = RateOf(t.splits, t.first_balls);
    c.spare = RateOf(t.spared, t.spared + t.open);
    c.open = RateOf(t.open, t.strikes + t.spared + t.open);
    if (t.first_balls >= o.few_frames) {
      const double left =
          t.left_known >= o.few_frames ? std::min(9.0, static_cast<double>(t.left_sum) / t.left_known) : 8.5;
      const auto expected = [&](double strike, double spare) { return ExpectedOf(*game, strike, spare, left); };
      const double at = expected(c.strike.median, c.spare.median);
      c.expected = at;
      c.expected_low =
          at - std::hypot(at - expected(c.strike.low, c.spare.median), at - expected(c.strike.median, c.spare.low));
      c.expected_high =
          at + std::hypot(at - expected(c.strike.high, c.spare.median), at - expected(c.strike.median, c.spare.high));
      models.push_back(BallModel::FromRates(c.strike.median, c.spare.median, left));
    }
    out.choices.push_back(std::move(c));
  }
  if (models.empty()) {
    out.text = "Too few results are known (fewer than " + std::to_string(o.few_frames) +
               " first balls of each choice) to say what is to come.";
    return out;
  }
  std::optional<BestChoice> best;
  if (o.need && !out.over) best = ChooseFor(*game, models, *o.need);
  std::size_t m = 0;
  for (ChoiceOutlook& c : out.choices) {
    if (!c.expected) continue;
    if (best) c.chance = best->always[m];
    if (best && best->choice == m) out.next_choice = c.name;
    ++m;
    out.text += (out.text.empty() ? "" : " ") + c.name + ": strikes " + std::to_string(c.strike.hits) + " of " +
                std::to_string(c.strike.count) + ", spares " + std::to_string(c.spare.hits) + " of " +
                std::to_string(c.spare.count) + "; expected score " + Fixed(*c.expected, 0) + " (" +
                Fixed(*c.expected_low, 0) + " to " + Fixed(*c.expected_high, 0) + ")";
    if (c.chance) out.text += ", reaches " + std::to_string(*o.need) + " in " + Percent(*c.chance);
    out.text += ".";
  }
  if (best) {
    out.chance_choosing = best->chance;
    if (models.size() > 1)
      out.text += " For the next frame " + out.next_choice + " serves " + std::to_string(*o.need) +
                  " best; choosing well from here on it is reached in " + Percent(best->chance) + ".";
  }
  return out;
}

}  // namespace hookline::advice
