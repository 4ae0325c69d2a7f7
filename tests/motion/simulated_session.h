// A session of simulated shots with measures as a clip would give them: truth of simulated_shot.h plus normal errors of
// the stated sd.
#pragma once

#include <algorithm>
#include <random>
#include <vector>

#include "model/shot.h"
#include "motion/simulated_shot.h"

namespace hookline::simulated {

struct Bowler {
  Release mean;
  double speed_sd = 0.13, launch_sd = 0.25, rotation_sd = 3.5, rpm_sd = 8, laydown_sd = 0.01;  // m/s, deg, deg, rpm, m
};

// A bowler's mean ball on some lane; whether it stays on it is the caller's to see.
inline Release RandomLine(std::mt19937& random) {
  std::uniform_real_distribution<double> u;
  const auto between = [&](double a, double b) { return a + (b - a) * u(random); };
  Release r;
  r.speed = lane::MetresPerSecondFromMph(between(15, 19));
  r.rpm = between(200, 400);
  r.rotation_deg = between(25, 60);
  r.launch_deg = between(1, 3);
  r.laydown_x = between(-0.25, 0.1);
  r.laydown_y = MetresFromFeet(1);
  r.impact = 0.1;
  r.k = 0.352;
  r.mu_oil = between(0.035, 0.05);
  r.mu_out = r.mu_oil * between(1, 1.5);
  r.mu_dry = between(0.14, 0.22);
  r.oil_ft = between(37, 42);
  r.transition_ft = between(3, 8);
  return r;
}

inline State EntryOf(const TrueShot& shot) {
  constexpr double kTouch = (lane::kBallDiameter + lane::kPinMaxDiameter) / 2;
  State entry = shot.AtY(lane::kEntryY);
  for (int i = 0; i < 3 && std::abs(entry.x) < kTouch; ++i)
    entry = shot.AtY(std::min(lane::kEntryY, lane::kHeadPinY - std::sqrt(kTouch * kTouch - entry.x * entry.x)));
  return entry;
}

inline double BoardOf(const State& s) { return lane::BoardFromX(s.x, lane::kNominalWidth, lane::Hand::kRight); }

// The release `feet` and `eyes` boards inward of r: laid down there, aimed through the moved place at 14.5 ft.
inline Release MovedIn(const Release& r, double feet, double eyes) {
  Release m = r;
  const double board = lane::BoardWidth(lane::kNominalWidth);
  m.laydown_x -= feet * board;
  const double way = MetresFromFeet(14.5) - r.laydown_y;
  m.launch_deg = lane::DegreesFromRadians(
      std::atan(std::tan(lane::RadiansFromDegrees(r.launch_deg)) + (feet - eyes) * board / way));
  return m;
}

inline Release OneOf(const Bowler& b, std::mt19937& random) {
  std::normal_distribution<double> normal;
  Release r = b.mean;
  r.speed += b.speed_sd * normal(random);
  r.launch_deg += b.launch_sd * normal(random);
  r.rotation_deg += b.rotation_sd * normal(random);
  r.rpm += b.rpm_sd * normal(random);
  r.laydown_x += b.laydown_sd * normal(random);
  return r;
}

// `scale` of the measuring's sd: 1 is about what good footage gives.
inline Shot MeasuredShot(const Release& r, int number, double scale, std::mt19937& random) {
  std::normal_distribution<double> normal;
  const TrueShot t = Roll(r);
  Shot shot;
  shot.number = number;
  shot.hand_source = HandSource::kGiven;
  const auto give = [&](MeasureId id, double value, double sd) {
    shot.measures[id] = Measure::Of(value + scale * sd * normal(random), scale * sd);
  };
  const auto at = [&](double ft) { return t.AtY(MetresFromFeet(ft)); };
  const auto mph = [](const State& s) { return lane::MphFromMetresPerSecond(std::hypot(s.vx, s.vy)); };
  const State entry = EntryOf(t), a = at(3), b = at(10);
  for (Measure& m : shot.measures.all) m = Measure::None("not measured");
  using Id = MeasureId;
  give(Id::kLaydownBoard, BoardOf(t.At(0)), 0.12);
  give(Id::kLaydownFt, lane::FeetFromMetres(r.laydown_y), 0.25);
  give(Id::kLaunchAngleDeg, lane::DegreesFromRadians(std::atan2(b.x - a.x, b.y - a.y)), 0.03);
  give(Id::kBoardAtArrows, BoardOf(at(14.5)), 0.06);
  give(Id::kBoardAt15Ft, BoardOf(at(15)), 0.06);
  give(Id::kBoardAt40Ft, BoardOf(at(40)), 0.1);
  give(Id::kEntryBoard, BoardOf(entry), 0.15);
  give(Id::kEntryAngleDeg, lane::DegreesFromRadians(std::atan2(-entry.vx, entry.vy)), 0.1);
  give(Id::kSpeedReleaseMph, mph(at(2)), 0.08);
  give(Id::kSpeedArrowsMph, mph(at(15)), 0.05);
  give(Id::kSpeedEntryMph, mph(at(59)), 0.12);
  const double w = r.rpm / 60 * 2 * lane::kPi * lane::kBallDiameter / 2,
               turn = lane::RadiansFromDegrees(r.rotation_deg);
  give(Id::kSlipAngleDeg, lane::DegreesFromRadians(std::atan2(w * std::sin(turn), r.speed - w * std::cos(turn))), 1);
  if (t.roll_y && *t.roll_y < MetresFromFeet(57)) {
    give(Id::kRollStartFt, lane::FeetFromMetres(*t.roll_y), 0.7);
    give(Id::kPathTurnDeg, r.rotation_deg, 3);
    give(Id::kPathRevRpm, r.rpm, 12);
  }
  const double end_ft = std::min(t.roll_y ? lane::FeetFromMetres(*t.roll_y) : 58.0, 58.0);
  const double from[] = {1.5, r.oil_ft + r.transition_ft / 2}, to[] = {r.oil_ft - r.transition_ft / 2, end_ft};
  const double share[] = {0.04, 0.12};
  for (int z = 0; z < 2; ++z) {
    if (to[z] - from[z] < 2) continue;
    double sum = 0;
    for (int i = 0; i < 8; ++i) {
      const double ft = from[z] + (to[z] - from[z]) * (i + 0.5) / 8;
      sum += std::log(r.Mu(at(ft).x, MetresFromFeet(ft))) / 8;
    }
    const double value = std::exp(sum + scale * share[z] * normal(random));
    shot.friction.push_back({from[z], to[z], value, value * scale * share[z]});
  }
  for (double y = r.laydown_y; y < lane::kEntryY; y += 0.3) {
    const State s = t.AtY(y);
    PathPoint p;
    p.time_s = s.t;
    p.x = s.x;
    p.y = s.y;
    shot.path.push_back(p);
  }
  return shot;
}

}  // namespace hookline::simulated
