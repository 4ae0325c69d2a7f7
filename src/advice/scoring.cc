#include "advice/scoring.h"

#include <algorithm>
#include <cmath>
#include <string>

namespace hookline::advice {
namespace {

// Weight by points still to come; 0 to 300.
template <class W>
using Spread = std::array<W, kPerfectGame + 1>;

template <class W>
void AddShifted(const Spread<W>& from, int points, W weight, Spread<W>& to) {
  for (int s = 0; s + points <= kPerfectGame; ++s)
    to[static_cast<std::size_t>(s + points)] += weight * from[static_cast<std::size_t>(s)];
}

template <class W>
struct Weights {
  std::array<W, 11> first{};
  std::array<std::array<W, 11>, 11> second{};
};

// The extras as one number: (next, after) of none, spare, strike, double.
constexpr int kBonuses = 4;
constexpr std::array<std::pair<int, int>, kBonuses> kExtras = {{{0, 0}, {1, 0}, {1, 1}, {2, 1}}};
constexpr int BonusOf(int next, int after) { return next == 0 ? 0 : after == 0 ? 1 : next == 1 ? 2 : 3; }

// The fill balls of the tenth frame count their extras only.
template <class W>
Spread<W> Fill(const Weights<W>& w, int balls, int next, int after) {
  Spread<W> out{};
  for (int a = 0; a <= 10; ++a) {
    const W wa = w.first[static_cast<std::size_t>(a)];
    if (balls == 1) {
      out[static_cast<std::size_t>(a * next)] += wa;
      continue;
    }
    for (int b = 0; b <= (a == 10 ? 10 : 10 - a); ++b)
      out[static_cast<std::size_t>(a * next + b * after)] +=
          wa * (a == 10 ? w.first[static_cast<std::size_t>(b)]
                        : w.second[static_cast<std::size_t>(a)][static_cast<std::size_t>(b)]);
  }
  return out;
}

template <class W>
Spread<W> Nothing() {
  Spread<W> out{};
  out[0] = W{1};
  return out;
}

// Weights of the points to come by bonus, at the start of frames 10, 9, .. 1: [frame][bonus]. One model a frame.
template <class W>
using Table = std::array<std::array<Spread<W>, kBonuses>, 11>;

// What follows once frame `f` ended with a strike, a spare or open, and the extras then.
template <class W>
Spread<W> After(const Table<W>& table, const Weights<W>& w, int f, bool strike, bool spare, int bonus) {
  const int after = kExtras[static_cast<std::size_t>(bonus)].second;
  if (strike) {
    if (f == 10) return Fill(w, 2, after + 1, 1);
    return table[static_cast<std::size_t>(f + 1)][static_cast<std::size_t>(BonusOf(after + 1, 1))];
  }
  if (f == 10) return spare ? Fill(w, 1, 1, 0) : Nothing<W>();
  return table[static_cast<std::size_t>(f + 1)][spare ? 1 : 0];
}

template <class W>
Spread<W> SecondBall(const Table<W>& table, const Weights<W>& w, int f, int first, int extra) {
  Spread<W> out{};
  for (int b = 0; b <= 10 - first; ++b)
    AddShifted(After(table, w, f, false, first + b == 10, 0), b * (1 + extra),
               w.second[static_cast<std::size_t>(first)][static_cast<std::size_t>(b)], out);
  return out;
}

template <class W>
Spread<W> Frame(const Table<W>& table, const Weights<W>& w, int f, int bonus) {
  const auto [next, after] = kExtras[static_cast<std::size_t>(bonus)];
  Spread<W> out{};
  AddShifted(After(table, w, f, true, false, bonus), 10 * (1 + next), w.first[10], out);
  for (int a = 0; a < 10; ++a)
    AddShifted(SecondBall(table, w, f, a, after), a * (1 + next), w.first[static_cast<std::size_t>(a)], out);
  return out;
}

template <class W>
Table<W> FillTable(const Weights<W>& w) {
  Table<W> table{};
  for (int f = 10; f >= 1; --f)
    for (int bonus = 0; bonus < kBonuses; ++bonus)
      table[static_cast<std::size_t>(f)][static_cast<std::size_t>(bonus)] = Frame(table, w, f, bonus);
  return table;
}

Weights<double> WeightsOf(const BallModel& model) { return {model.first, model.second}; }

// Points to come from any state with one model.
Spread<double> ToCome(const GameState& s, const Weights<double>& w, const Table<double>& table) {
  if (s.over()) return Nothing<double>();
  if (s.frame == 11) {
    if (!s.fill_first) return Fill(w, s.fill_balls, s.extra_next, s.extra_after);
    Spread<double> out{};
    const int a = *s.fill_first;
    for (int b = 0; b <= 10 - a; ++b)
      out[static_cast<std::size_t>(b * s.extra_next)] +=
          w.second[static_cast<std::size_t>(a)][static_cast<std::size_t>(b)];
    return out;
  }
  if (s.first) return SecondBall(table, w, s.frame, *s.first, s.extra_next);
  return Frame(table, w, s.frame, BonusOf(s.extra_next, s.extra_after));
}

double AtLeast(const Spread<double>& spread, int points) {
  double sum = 0;
  for (int s = std::max(points, 0); s <= kPerfectGame; ++s) sum += spread[static_cast<std::size_t>(s)];
  return sum;
}

// Chance of at least so many points to come, for each number of points: [points], 0 to 301.
using Chances = std::array<double, kPerfectGame + 2>;

double ChanceOf(const Chances& c, int points) {
  return points <= 0 ? 1.0 : points > kPerfectGame ? 0.0 : c[static_cast<std::size_t>(points)];
}

Chances ChancesOf(const Spread<double>& spread) {
  Chances out{};
  double sum = 0;
  for (int s = kPerfectGame; s >= 0; --s) out[static_cast<std::size_t>(s)] = sum += spread[static_cast<std::size_t>(s)];
  out[0] = 1;
  return out;
}

}  // namespace

Result<GameState> PlayGame(const std::vector<int>& balls) {
  GameState s;
  for (std::size_t i = 0; i < balls.size(); ++i) {
    const int pins = balls[i];
    const auto bad = [&](const std::string& why) {
      return Status(StatusCode::kBadUse, "Ball " + std::to_string(i + 1) + " of the game cannot be: " + why + ".");
    };
    if (s.over()) return bad("the game is over before it");
    const int standing = s.first ? 10 - *s.first : s.fill_first ? 10 - *s.fill_first : 10;
    if (pins < 0 || pins > standing)
      return bad(std::to_string(pins) + " pins, but " + std::to_string(standing) + " stand");
    s.score += pins * ((s.frame <= 10 ? 1 : 0) + s.extra_next);
    s.extra_next = s.extra_after;
    s.extra_after = 0;
    if (s.frame == 11) {
      --s.fill_balls;
      s.fill_first = s.fill_balls > 0 && pins < 10 ? std::optional<int>(pins) : std::nullopt;
      continue;
    }
    if (!s.first && pins < 10) {
      s.first = pins;
      continue;
    }
    const bool strike = !s.first, spare = s.first && *s.first + pins == 10;
    s.first.reset();
    if (strike) ++s.extra_next, s.extra_after = 1;
    if (spare) ++s.extra_next;
    if (s.frame == 10) {
      s.frame = 11;
      s.fill_balls = strike ? 2 : spare ? 1 : 0;
    } else {
      ++s.frame;
    }
  }
  return s;
}

Result<std::vector<std::optional<int>>> FrameScores(const std::vector<int>& balls) {
  if (const auto game = PlayGame(balls); !game.ok()) return game.status();
  std::vector<std::optional<int>> out;
  std::optional<int> sum = 0;
  for (std::size_t i = 0; i < balls.size() && out.size() < 10;) {
    const bool strike = balls[i] == 10;
    if (!strike && i + 1 >= balls.size()) break;
    const bool spare = !strike && balls[i] + balls[i + 1] == 10;
    const std::size_t counted = strike || spare ? 3 : 2;
    if (i + counted > balls.size()) sum.reset();
    if (sum)
      for (std::size_t k = 0; k < counted; ++k) *sum += balls[i + k];
    out.push_back(sum);
    i += strike ? 1 : 2;
  }
  return out;
}

BallModel BallModel::FromRates(double strike, double spare, double left_first, double open_second) {
  BallModel m;
  // A mean that is no whole number is shared by its two neighbours.
  const auto share = [](double mean, std::array<double, 11>& to, double weight, int most) {
    const int low = std::clamp(static_cast<int>(std::floor(mean)), 0, most), high = std::min(low + 1, most);
    const double up = std::clamp(mean - low, 0.0, 1.0);
    to[static_cast<std::size_t>(low)] += weight * (1 - up);
    to[static_cast<std::size_t>(high)] += weight * up;
  };
  m.first[10] = strike;
  share(left_first, m.first, 1 - strike, 9);
  // The more the first ball left, the more a missed second one takes, so that the mean over all is the one asked for.
  double room = 0;
  for (int a = 0; a < 10; ++a) room += strike < 1 ? m.first[static_cast<std::size_t>(a)] / (1 - strike) * (9 - a) : 0;
  for (int a = 0; a < 10; ++a) {
    auto& second = m.second[static_cast<std::size_t>(a)];
    second[static_cast<std::size_t>(10 - a)] = spare;
    share(room > 0 ? std::min(open_second * (9 - a) / room, 9.0 - a) : 0, second, 1 - spare, 9 - a);
  }
  return m;
}

Status BallModel::Check() const {
  const auto sums = [](const std::array<double, 11>& p) {
    double sum = 0;
    for (const double v : p) {
      if (!(v >= 0)) return false;
      sum += v;
    }
    return std::abs(sum - 1) < 1e-6;
  };
  if (!sums(first)) return Status(StatusCode::kBadUse, "The probabilities of a first ball do not add up to 1.");
  for (std::size_t a = 0; a < 10; ++a)
    if (first[a] > 0 && !sums(second[a]))
      return Status(StatusCode::kBadUse, "The probabilities of a second ball do not add up to 1.");
  return Status::Ok();
}

std::array<double, kPerfectGame + 1> ScoreDistribution(const GameState& state, const BallModel& model) {
  const Weights<double> w = WeightsOf(model);
  const Spread<double> to_come = ToCome(state, w, FillTable(w));
  Spread<double> out{};
  AddShifted(to_come, state.score, 1.0, out);
  return out;
}

double ExpectedScore(const GameState& state, const BallModel& model) {
  const auto spread = ScoreDistribution(state, model);
  double sum = 0;
  for (std::size_t s = 0; s < spread.size(); ++s) sum += static_cast<double>(s) * spread[s];
  return sum;
}

double ChanceToReach(const GameState& state, const BallModel& model, int needed) {
  return AtLeast(ScoreDistribution(state, model), needed);
}

BestChoice ChooseFor(const GameState& state, const std::vector<BallModel>& models, int needed) {
  // Best chances by frame and bonus; within a frame, its fill balls included, one way is kept.
  std::array<std::array<Chances, kBonuses>, 12> best{};
  const auto chances_of_frame = [&](const Weights<double>& w, int f, int bonus, std::optional<int> only_second,
                                    int extra_second) {
    const auto [next, after] = kExtras[static_cast<std::size_t>(bonus)];
    Chances out{};
    const auto add = [&](double weight, int points, const auto& chance) {
      if (weight <= 0) return;
      for (int s = 0; s <= kPerfectGame; ++s) out[static_cast<std::size_t>(s)] += weight * chance(s - points);
    };
    const auto second = [&](double weight, int first, int points, int extra) {
      for (int b = 0; b <= 10 - first; ++b) {
        const double wb = weight * w.second[static_cast<std::size_t>(first)][static_cast<std::size_t>(b)];
        const int sum = points + b * (1 + extra);
        const bool spare = first + b == 10;
        if (f == 10) {
          const Chances end = ChancesOf(spare ? Fill(w, 1, 1, 0) : Nothing<double>());
          add(wb, sum, [&](int s) { return ChanceOf(end, s); });
        } else {
          const Chances& end = best[static_cast<std::size_t>(f + 1)][spare ? 1 : 0];
          add(wb, sum, [&](int s) { return ChanceOf(end, s); });
        }
      }
    };
    if (only_second) {
      second(1, *only_second, 0, extra_second);
    } else {
      if (f == 10) {
        const Chances end = ChancesOf(Fill(w, 2, after + 1, 1));
        add(w.first[10], 10 * (1 + next), [&](int s) { return ChanceOf(end, s); });
      } else {
        const Chances& end = best[static_cast<std::size_t>(f + 1)][static_cast<std::size_t>(BonusOf(after + 1, 1))];
        add(w.first[10], 10 * (1 + next), [&](int s) { return ChanceOf(end, s); });
      }
      for (int a = 0; a < 10; ++a) second(w.first[static_cast<std::size_t>(a)], a, a * (1 + next), after);
    }
    return out;
  };
  const int from = std::min(state.frame, 11);
  for (int f = 10; f > from; --f)
    for (int bonus = 0; bonus < kBonuses; ++bonus) {
      auto& to = best[static_cast<std::size_t>(f)][static_cast<std::size_t>(bonus)];
      for (const BallModel& model : models) {
        const Chances c = chances_of_frame(WeightsOf(model), f, bonus, std::nullopt, 0);
        for (std::size_t s = 0; s < c.size(); ++s) to[s] = std::max(to[s], c[s]);
      }
    }
  BestChoice out;
  const int points = needed - state.score;
  for (std::size_t i = 0; i < models.size(); ++i) {
    const Weights<double> w = WeightsOf(models[i]);
    out.always.push_back(ChanceToReach(state, models[i], needed));
    double chance = 0;
    if (state.frame >= 11 || state.over())
      chance = out.always.back();
    else
      chance = ChanceOf(
          chances_of_frame(w, state.frame, BonusOf(state.extra_next, state.extra_after), state.first, state.extra_next),
          points);
    if (i == 0 || chance > out.chance) {
      out.choice = i;
      out.chance = chance;
    }
  }
  return out;
}

std::array<std::uint64_t, kPerfectGame + 1> CountGames() {
  Weights<std::uint64_t> w;
  w.first.fill(1);
  for (int a = 0; a < 10; ++a)
    for (int b = 0; b <= 10 - a; ++b) w.second[static_cast<std::size_t>(a)][static_cast<std::size_t>(b)] = 1;
  return FillTable(w)[1][0];
}

}  // namespace hookline::advice
