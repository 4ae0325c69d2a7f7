#include "synth/session_motion.h"

#include <algorithm>
#include <cassert>
#include <cmath>

#include "lane/friction_rise.h"
#include "lane/units.h"

namespace hookline::synth {
namespace {

using lane::DegreesFromRadians;
using lane::FeetFromMetres;
using lane::MetresFromFeet;
using lane::RadiansFromDegrees;

struct Moment {
  double t = 0, x = 0, y = 0, speed = 0, friction = 0;
};

// Between two moments where a growing quantity passes zero.
Moment Blend(const Moment& a, const Moment& b, double u) {
  return {a.t + u * (b.t - a.t), a.x + u * (b.x - a.x), a.y + u * (b.y - a.y), a.speed + u * (b.speed - a.speed),
          a.friction + u * (b.friction - a.friction)};
}

std::optional<Moment> AtY(const std::vector<Moment>& path, double y) {
  const auto after = std::lower_bound(path.begin(), path.end(), y, [](const Moment& m, double at) { return m.y < at; });
  if (after == path.end() || after == path.begin()) return std::nullopt;
  const Moment &a = *(after - 1), &b = *after;
  return Blend(a, b, (y - a.y) / (b.y - a.y));
}

}  // namespace

LaneRun RunOnLane(const Release& r, const lane::LaneSpec& spec, const Friction& lane_friction, double grip, double k,
                  double step_s) {
  assert(step_s >= 0.0005 && step_s <= 0.01);
  const double hand = r.hand == lane::Hand::kRight ? 1 : -1;
  const auto board = [&](double x) { return lane::BoardFromX(x, spec.width, r.hand); };
  Friction friction = lane_friction;
  friction.oil *= grip;
  friction.outside *= grip;
  friction.dry *= grip;
  BallBody body;
  body.k = k;
  BallMotion b;
  const double heading = hand * RadiansFromDegrees(r.launch_deg), speed = lane::MetresPerSecondFromMph(r.speed_mph);
  b.p = {lane::XFromBoard(r.laydown_board, spec.width, r.hand), MetresFromFeet(1), body.radius};
  b.v = {speed * std::sin(heading), speed * std::cos(heading), 0};
  b.w = SpinFromRelease(r.rev_rpm * 2 * lane::kPi / 60, RadiansFromDegrees(r.axis_rotation_deg),
                        RadiansFromDegrees(r.axis_tilt_deg), heading, hand);
  LaneRun run;
  // Slip against travel, and what the path alone tells of the spin.
  const Eigen::Vector2d slip = SlipVelocity(b, body), travel = b.v.head<2>().normalized();
  const Eigen::Vector2d own(travel.y(), -travel.x());  // to the right of travel
  const double slip_angle = std::atan2(hand * slip.dot(own), slip.dot(travel));
  const Eigen::Vector2d v0 = b.v.head<2>(), surface(b.w.y() * body.radius, -b.w.x() * body.radius);

  std::vector<Moment> path;
  std::optional<double> roll_y;
  double t = 0;
  const double lane_edge = spec.width / 2;
  while (b.p.y() < MetresFromFeet(59.7) && t < 10) {
    path.push_back({t, b.p.x(), b.p.y(), b.v.head<2>().norm(), friction.At(b.p.x(), b.p.y())});
    if (std::abs(b.p.x()) > lane_edge) {
      run.gutter_ft = FeetFromMetres(b.p.y());
      run.gutter_own_side = b.p.x() * hand > 0;
      break;
    }
    const bool rolled = b.rolling;
    StepOnLane(b, body, friction, step_s);
    if (b.rolling && !rolled) roll_y = b.p.y();
    t += step_s;
  }
  path.push_back({t, b.p.x(), b.p.y(), b.v.head<2>().norm(), friction.At(b.p.x(), b.p.y())});

  Measures& m = run.measures;
  for (Measure& measure : m.all) measure = Measure::None("Not reached.");
  const auto give = [&](MeasureId id, double v) { m[id] = Measure::Of(v, 0); };
  give(MeasureId::kLaydownBoard, r.laydown_board);
  give(MeasureId::kLaydownFt, 1);
  give(MeasureId::kSlipAngleDeg, DegreesFromRadians(slip_angle));
  const auto at = [&](double ft) { return AtY(path, MetresFromFeet(ft)); };
  if (const auto a = at(3), c = at(10); a && c) {
    give(MeasureId::kLaunchAngleDeg, DegreesFromRadians(std::atan2(hand * (c->x - a->x), c->y - a->y)));
  }
  for (std::size_t i = 1; i < path.size(); ++i) {
    const double before = path[i - 1].y - spec.ArrowLineY(path[i - 1].x),
                 after = path[i].y - spec.ArrowLineY(path[i].x);
    if (before < 0 && after >= 0) {
      give(MeasureId::kBoardAtArrows, board(Blend(path[i - 1], path[i], before / (before - after)).x));
      break;
    }
  }
  if (!m[MeasureId::kBoardAtArrows].value)
    give(MeasureId::kBoardAtArrows, board(path.back().x));  // in the gutter before
  if (const auto a = at(15)) {
    give(MeasureId::kBoardAt15Ft, board(a->x));
    give(MeasureId::kSpeedArrowsMph, lane::MphFromMetresPerSecond(a->speed));
  }
  if (const auto a = at(2)) give(MeasureId::kSpeedReleaseMph, lane::MphFromMetresPerSecond(a->speed));
  if (run.gutter_ft) return run;
  if (const auto a = at(40)) give(MeasureId::kBoardAt40Ft, board(a->x));
  const auto entry = at(59.5), before = at(59.0);
  if (!entry || !before) return run;
  run.entry_s = entry->t;
  give(MeasureId::kEntryBoard, board(entry->x));
  give(MeasureId::kEntryAngleDeg, DegreesFromRadians(std::atan2(-hand * (entry->x - before->x), entry->y - before->y)));
  give(MeasureId::kSpeedEntryMph, lane::MphFromMetresPerSecond(before->speed));
  const double t0 = -MetresFromFeet(1) / v0.y();
  give(MeasureId::kSpeedMeanMph, lane::MphFromMetresPerSecond(entry->y / (entry->t - t0)));
  const auto outermost = std::min_element(path.begin(), path.end(),
                                          [&](const Moment& a, const Moment& c) { return board(a.x) < board(c.x); });
  if (const double ft = FeetFromMetres(outermost->y); ft > 15 && ft < 59) {
    give(MeasureId::kBreakpointBoard, board(outermost->x));
    give(MeasureId::kBreakpointFt, ft);
  }
  std::vector<lane::FrictionMet> way;
  for (const Moment& p : path) way.push_back({p.y, p.friction});
  if (const auto y = lane::RiseOn(way).half_way_y) give(MeasureId::kSkidEndFt, FeetFromMetres(*y));
  if (roll_y && *roll_y < MetresFromFeet(58)) {
    give(MeasureId::kRollStartFt, FeetFromMetres(*roll_y));
    const double turn = std::atan2(-hand * surface.dot(own), surface.dot(travel));
    give(MeasureId::kPathTurnDeg, DegreesFromRadians(turn));
    give(MeasureId::kPathRevRpm, surface.norm() / body.radius * 60 / (2 * lane::kPi));
  }
  const auto zone = [&](double from, double to) {
    double sum = 0;
    int n = 0;
    for (const Moment& p : path) {
      const double ft = FeetFromMetres(p.y);
      if (ft < from || ft > to) continue;
      sum += p.friction;
      ++n;
    }
    if (n > 5) run.friction.push_back({from, to, sum / n, 0});
  };
  zone(2, FeetFromMetres(lane_friction.oil_length) - 5);
  zone(FeetFromMetres(lane_friction.oil_length) + 5, roll_y ? std::min(58.0, FeetFromMetres(*roll_y)) : 58.0);
  return run;
}

}  // namespace hookline::synth
