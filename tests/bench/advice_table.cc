// How well the advisor tells causes apart: sessions of synth/session.h, judged and compared with their truth. Prints
// the tables of docs/advice.md: each cause, the power by size of a change and by number of base shots beside an ideal
// detector's (which knows the bowler's own mean and spread), the calibration in ten bins, and the time of a long
// session.

#include <CLI/CLI.hpp>
#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <vector>

#include "advice/advise.h"
#include "synth/session.h"

namespace {

using namespace hookline;

struct Case {
  double p = 0, z = 0, size = 0;  // z: the ideal detector's score; NaN when the measure is missing
  bool acted = false;
};

struct Score {
  std::vector<Case> causes[kCauseCount];
  int steps_more = 0, found_more = 0, steps_less = 0, found_less = 0;
};

double IdealZ(const synth::SessionTruth& t, const Shot& s, Cause cause) {
  const bool speed = cause == Cause::kSlower;
  const Measure& m = s.measures[speed ? MeasureId::kSpeedReleaseMph : MeasureId::kPathTurnDeg];
  if (!m.value) return std::nan("");
  return speed ? (t.speed_mph - *m.value) / std::hypot(t.speed_sd_mph, m.sd)
               : (*m.value - t.rotation_deg) / std::hypot(t.rotation_sd_deg, m.sd);
}

Score Run(const synth::SessionOptions& base, int sessions, std::uint64_t seed) {
  Score score;
  for (int i = 0; i < sessions; ++i) {
    synth::SessionOptions o = base;
    o.seed = seed + static_cast<std::uint64_t>(i);
    const synth::Session session = synth::MakeSession(o);
    const Advice advice = advice::Advise(session.shots);
    double best_more = -1, best_less = -1;
    for (std::size_t k = 0; k < session.shots.size(); ++k) {
      const synth::SessionShotTruth& t = session.truth.shots[k];
      if (session.shots[k].number <= o.base_shots) continue;
      for (std::size_t c = 0; c < kCauseCount; ++c) {
        if (!t.causes[c]) continue;
        const auto cause = static_cast<Cause>(c);
        Case one;
        one.p = advice.shots[k].causes.all[c];
        one.acted = *t.causes[c];
        if (cause == Cause::kSlower || cause == Cause::kMoreTurn) {
          one.z = IdealZ(session.truth, session.shots[k], cause);
          one.size = cause == Cause::kSlower ? t.slower_mph : t.turn_deg;
        }
        score.causes[c].push_back(one);
        if (one.acted && cause == Cause::kLaneHooksMore) best_more = std::max(best_more, one.p);
        if (one.acted && cause == Cause::kLaneHooksLess) best_less = std::max(best_less, one.p);
      }
    }
    if (best_more >= 0) ++score.steps_more, score.found_more += best_more >= 0.5 ? 1 : 0;
    if (best_less >= 0) ++score.steps_less, score.found_less += best_less >= 0.5 ? 1 : 0;
  }
  return score;
}

struct Shares {
  int cases = 0;
  double found = std::nan(""), false_alarms = std::nan(""), ideal = std::nan("");
};

// The ideal detector is given the advisor's own rate of false alarms, at least 1 %.
Shares SharesOf(const std::vector<Case>& cases, double from = -1, double to = 1e9) {
  Shares s;
  int found = 0, wrong = 0, quiet = 0, best = 0, with_z = 0;
  std::vector<double> z;
  for (const Case& c : cases) {
    if (!c.acted) {
      ++quiet;
      wrong += c.p >= 0.5 ? 1 : 0;
      if (std::isfinite(c.z)) z.push_back(c.z);
    }
  }
  if (quiet > 0) s.false_alarms = static_cast<double>(wrong) / quiet;
  std::sort(z.begin(), z.end());
  const double rate = std::max(0.01, quiet > 0 ? s.false_alarms : 0);
  const double threshold =
      z.empty() ? 0 : z[std::min(z.size() - 1, static_cast<std::size_t>((1 - rate) * static_cast<double>(z.size())))];
  for (const Case& c : cases) {
    if (!c.acted || c.size < from || c.size >= to) continue;
    ++s.cases;
    found += c.p >= 0.5 ? 1 : 0;
    if (std::isfinite(c.z)) {
      ++with_z;
      best += c.z >= threshold ? 1 : 0;
    }
  }
  if (s.cases > 0) s.found = static_cast<double>(found) / s.cases;
  if (with_z > 0) s.ideal = static_cast<double>(best) / with_z;
  return s;
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app("Power and calibration of the advisor on generated sessions");
  int sessions = 3000;
  std::uint64_t seed = 40000000;  // of sessions that nothing was settled on
  app.add_option("--sessions", sessions, "How many sessions")->check(CLI::Range(1, 100000));
  app.add_option("--seed", seed, "Of the first session");
  CLI11_PARSE(app, argc, argv);

  const Score score = Run({}, sessions, seed);
  std::printf("%d sessions from seed %llu, shots beyond the first 5\n\n", sessions,
              static_cast<unsigned long long>(seed));
  std::printf("| cause | cases | found | false alarms | ideal |\n| --- | --- | --- | --- | --- |\n");
  for (std::size_t c = 0; c < kCauseCount; ++c) {
    const auto cause = static_cast<Cause>(c);
    const Shares s = SharesOf(score.causes[c]);
    std::printf("| `%s` | %d | %.2f | %.3f | ", std::string(kCauseKeys[c]).c_str(), s.cases, s.found, s.false_alarms);
    if (cause == Cause::kSlower || cause == Cause::kMoreTurn) {
      std::printf("%.2f |\n", s.ideal);
    } else {
      std::printf(" |\n");
    }
  }
  std::printf("\nSteps of the lane found within three shots: more %d of %d, less %d of %d\n", score.found_more,
              score.steps_more, score.found_less, score.steps_less);

  std::printf("\nPower by size\n\n| slower by, mph | cases | found | ideal |\n| --- | --- | --- | --- |\n");
  for (double a = 0.6; a < 1.95; a += 0.2) {
    const Shares s = SharesOf(score.causes[static_cast<std::size_t>(Cause::kSlower)], a, a + 0.2);
    std::printf("| %.1f to %.1f | %d | %.2f | %.2f |\n", a, a + 0.2, s.cases, s.found, s.ideal);
  }
  std::printf("\n| more turn by, deg | cases | found | ideal |\n| --- | --- | --- | --- |\n");
  for (double a = 4; a < 15.5; a += 2) {
    const Shares s = SharesOf(score.causes[static_cast<std::size_t>(Cause::kMoreTurn)], a, a + 2);
    std::printf("| %.0f to %.0f | %d | %.2f | %.2f |\n", a, a + 2, s.cases, s.found, s.ideal);
  }

  {
    std::vector<Case> seen, missing;
    for (const Case& c : score.causes[static_cast<std::size_t>(Cause::kMoreTurn)]) {
      (std::isfinite(c.z) ? seen : missing).push_back(c);
    }
    const Shares a = SharesOf(seen), b = SharesOf(missing);
    std::printf("\nMore turn, roll seen: %d cases, found %.2f, false alarms %.3f, ideal %.2f\n", a.cases, a.found,
                a.false_alarms, a.ideal);
    std::printf("More turn, no roll seen: %d cases, found %.2f, false alarms %.3f\n", b.cases, b.found, b.false_alarms);
  }
  std::printf(
      "\nPower by number of base shots\n\n| base shots | slower found | ideal | false alarms | more turn found | ideal "
      "| false alarms |\n"
      "| --- | --- | --- | --- | --- | --- | --- |\n");
  for (int base : {2, 3, 5, 8, 12, 20}) {
    synth::SessionOptions o;
    o.base_shots = base;
    o.shots = base + 6;
    const Score few = Run(o, sessions, seed + 1000000);
    const Shares v = SharesOf(few.causes[static_cast<std::size_t>(Cause::kSlower)]);
    const Shares r = SharesOf(few.causes[static_cast<std::size_t>(Cause::kMoreTurn)]);
    std::printf("| %d | %.2f | %.2f | %.3f | %.2f | %.2f | %.3f |\n", base, v.found, v.ideal, v.false_alarms, r.found,
                r.ideal, r.false_alarms);
  }

  std::printf(
      "\nCalibration, all causes\n\n| stated | cases | mean | true | chance alone, sd |\n| --- | --- | --- | --- | --- "
      "|\n");
  const auto bins = [&](std::size_t from, std::size_t to) {
    double worst = 0;
    for (int bin = 0; bin < 10; ++bin) {
      double p = 0, t = 0;
      int n = 0;
      for (std::size_t c = from; c < to; ++c) {
        for (const Case& one : score.causes[c]) {
          if (std::min(9, static_cast<int>(one.p * 10)) != bin) continue;
          p += one.p;
          t += one.acted ? 1 : 0;
          ++n;
        }
      }
      if (n == 0) continue;
      const double mean = p / n;
      std::printf("| %.1f to %.1f | %d | %.3f | %.3f | %.3f |\n", bin / 10.0, (bin + 1) / 10.0, n, mean, t / n,
                  std::sqrt(mean * (1 - mean) / n));
      if (n >= 50) worst = std::max(worst, std::abs(p - t) / n);
    }
    return worst;
  };
  std::printf("\nLargest difference in a bin with 50 cases or more: %.3f\n", bins(0, kCauseCount));
  for (const Cause c : {Cause::kSlower, Cause::kMoreTurn, Cause::kLaneHooksMore, Cause::kLaneHooksLess}) {
    const auto i = static_cast<std::size_t>(c);
    std::printf(
        "\nCalibration, %s\n\n| stated | cases | mean | true | chance alone, sd |\n| --- | --- | --- | --- | --- |\n",
        std::string(kCauseKeys[i]).c_str());
    std::printf("\nLargest difference in a bin with 50 cases or more: %.3f\n", bins(i, i + 1));
  }

  synth::SessionOptions many;
  many.shots = 2000;
  const synth::Session session = synth::MakeSession(many);
  const auto began = std::chrono::steady_clock::now();
  const Advice advice = advice::Advise(session.shots);
  const double took = std::chrono::duration<double>(std::chrono::steady_clock::now() - began).count();
  std::printf("\nAdvice for a session of %zu shots: %.2f s\n", advice.shots.size(), took);
}
