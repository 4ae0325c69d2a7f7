#include "advice/release_state.h"

#include <algorithm>
#include <cmath>

#include "advice/normal.h"
#include "lane/units.h"

namespace hookline::advice {
namespace {

using lane::DegreesFromRadians;
using lane::kStandardGravity;
using lane::MetresFromFeet;
using lane::MetresPerSecondFromMph;
using lane::RadiansFromDegrees;

constexpr double kBallRadius = lane::kBallDiameter / 2;
constexpr double kDefaultFriction = 0.04;  // on oil
constexpr double kDefaultFrictionSd = 0.02;
constexpr double kSlipModelDeg = 1.0;  // tilt and friction that is not one value bend the slip angle's relation
constexpr double kLastRollFt = 57.5;   // a roll that begins later is not seen before the pins

double SurfaceSpeed(double rpm) { return rpm * 2 * lane::kPi / 60 * kBallRadius; }

std::optional<Estimate> MeanFriction(const Shot& shot, double from_ft, double to_ft) {
  double sum = 0, variance = 0, length = 0;
  for (const FrictionZone& zone : shot.friction) {
    const double middle = 0.5 * (zone.from_ft + zone.to_ft), l = zone.to_ft - zone.from_ft;
    if (middle < from_ft || middle > to_ft || !(l > 0) || !(zone.value > 0) || !(zone.sd > 0)) continue;
    sum += l * zone.value;
    variance += l * l * zone.sd * zone.sd;
    length += l;
  }
  if (length <= 0) return std::nullopt;
  return Estimate{sum / length, std::sqrt(variance) / length};
}

std::optional<Estimate> SpeedOf(const Shot& shot) {
  const auto release = Given(shot, MeasureId::kSpeedReleaseMph);
  const auto arrows = Given(shot, MeasureId::kSpeedArrowsMph);
  if (!arrows) return release;
  const auto friction = FrontFriction(shot);
  const auto slip = Given(shot, MeasureId::kSlipAngleDeg);
  const double mu = friction ? friction->value : kDefaultFriction;
  const double mu_sd = friction ? std::hypot(friction->sd, 0.1 * friction->value) : kDefaultFrictionSd;
  const double va = MetresPerSecondFromMph(arrows->value);
  const double along =
      2 * kStandardGravity * MetresFromFeet(13) * std::cos(RadiansFromDegrees(slip ? slip->value : 20));
  const double v0 = std::sqrt(va * va + mu * along);
  const double sd_loss = lane::MphFromMetresPerSecond(0.5 * mu_sd * along / v0);
  const Estimate told{lane::MphFromMetresPerSecond(v0), std::hypot(arrows->sd, sd_loss)};
  return release ? Combine(*release, told) : told;
}

}  // namespace

Estimate Combine(const Estimate& a, const Estimate& b) {
  const double wa = 1 / (a.sd * a.sd), wb = 1 / (b.sd * b.sd);
  return {(wa * a.value + wb * b.value) / (wa + wb), 1 / std::sqrt(wa + wb)};
}

std::optional<Estimate> Given(const Shot& shot, MeasureId id) {
  const Measure& m = shot.measures[id];
  if (!m.value || !std::isfinite(*m.value) || !std::isfinite(m.sd) || m.sd < 0) return std::nullopt;
  return Estimate{*m.value, std::max(m.sd, 1e-6)};
}

std::optional<Estimate> FrontFriction(const Shot& shot) { return MeanFriction(shot, 0, 30); }

std::optional<Estimate> BackFriction(const Shot& shot) { return MeanFriction(shot, 42, 60); }

ReleaseState StateOf(const Shot& shot, TurnSource source) {
  ReleaseState state;
  state.speed_mph = SpeedOf(shot);
  if (source == TurnSource::kSurface) {
    state.turn_deg = Given(shot, MeasureId::kAxisRotationDeg);
    state.rev_rpm = Given(shot, MeasureId::kRevRateRpm);
  } else {
    state.turn_deg = Given(shot, MeasureId::kPathTurnDeg);
    state.rev_rpm = Given(shot, MeasureId::kPathRevRpm);
  }
  return state;
}

double SlipAngleDeg(double speed_mph, double turn_deg, double rev_rpm) {
  const double v = MetresPerSecondFromMph(speed_mph), w = SurfaceSpeed(rev_rpm), r = RadiansFromDegrees(turn_deg);
  return DegreesFromRadians(std::atan2(w * std::sin(r), v - w * std::cos(r)));
}

Estimate TurnWithSlip(const Estimate& turn, const Estimate& slip, const Estimate& speed, const Estimate& rev,
                      const Estimate& offset) {
  const double at = SlipAngleDeg(speed.value, turn.value, rev.value);
  const double slope =
      SlipAngleDeg(speed.value, turn.value + 0.5, rev.value) - SlipAngleDeg(speed.value, turn.value - 0.5, rev.value);
  const double by_rev = SlipAngleDeg(speed.value, turn.value, rev.value + rev.sd) - at;
  const double by_speed = SlipAngleDeg(speed.value + speed.sd, turn.value, rev.value) - at;
  const double noise =
      slip.sd * slip.sd + offset.sd * offset.sd + kSlipModelDeg * kSlipModelDeg + by_rev * by_rev + by_speed * by_speed;
  const double v = turn.sd * turn.sd, gain = v * slope / (slope * slope * v + noise);
  return {turn.value + gain * (slip.value - offset.value - at), std::sqrt(v * (1 - gain * slope))};
}

double TurnOdds(const TurnEvidence& e, const TurnPrior& prior) {
  const auto likelihood = [&](double turn) {
    double l = 1;
    if (e.slip) {
      const double at = SlipAngleDeg(e.speed_mph, turn, e.rev_rpm.value);
      const double by_rev = SlipAngleDeg(e.speed_mph, turn, e.rev_rpm.value + e.rev_rpm.sd) - at;
      const double noise = e.slip->sd * e.slip->sd + by_rev * by_rev + kSlipModelDeg * kSlipModelDeg;
      l *= NormalDensity(e.slip->value, at, noise);
    }
    if (e.no_roll && e.roll_start_ft) {
      // Each degree of turn puts the roll off by about 0.24 ft (15 deg: 1.1 m, the physics table of the facts).
      const double roll = e.roll_start_ft->value + 0.24 * (turn - prior.mean);
      l *= NormalBelow((roll - kLastRollFt) / std::hypot(e.roll_start_ft->sd, 2.0)) + 0.02;
    }
    return l;
  };
  double with = 0, without = 0;
  const double wide = std::hypot(prior.sd, prior.change_sd);
  for (double turn = prior.mean - 4 * prior.sd; turn < prior.mean + prior.change + 4 * wide; turn += 0.5) {
    const double l = likelihood(turn);
    with += l * NormalDensity(turn, prior.mean + prior.change, wide * wide);
    if (turn < prior.bound) without += l * NormalDensity(turn, prior.mean, prior.sd * prior.sd);
  }
  return std::log((with + 1e-12) / (without + 1e-12));
}

double RollStartFt(double speed_mph, double turn_deg, double rev_rpm, double front, double skid_end_ft, double back,
                   double k) {
  const double v = MetresPerSecondFromMph(speed_mph), w = SurfaceSpeed(rev_rpm), r = RadiansFromDegrees(turn_deg);
  const double sx = w * std::sin(r), sy = v - w * std::cos(r);
  double slip = std::hypot(sx, sy);
  if (slip <= 0) return 0;
  const double along = sy / slip, loss = (1 + k) / k * kStandardGravity;
  const double end = MetresFromFeet(skid_end_ft);
  const auto way = [&](double v0, double mu, double t) { return v0 * t - 0.5 * mu * kStandardGravity * along * t * t; };
  const double t_front = slip / (front * loss);
  if (const double y = way(v, front, t_front); y <= end) return lane::FeetFromMetres(y);
  // Time at which the front part ends: the smaller root of v t - a t^2 / 2 = end.
  const double a = front * kStandardGravity * along;
  const double root = v * v - 2 * a * end;
  const double t1 = std::abs(a) > 1e-9 ? (v - std::sqrt(std::max(0.0, root))) / a : end / v;
  slip -= front * loss * t1;
  return lane::FeetFromMetres(end + way(v - a * t1, back, std::max(0.0, slip) / (back * loss)));
}

}  // namespace hookline::advice
