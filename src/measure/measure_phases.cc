#include "measure/measure_phases.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "lane/units.h"
#include "measure/path_functions.h"

namespace hookline::measure {
namespace {

using lane::FeetFromMetres;
using lane::MetresFromFeet;

constexpr double kBallRadius = lane::kBallDiameter / 2;
// sd beyond which a place down the lane would be the prior's rather than the sights' (motion/path_fit.h: 6 and 9 ft).
constexpr double kPlaceFt = 4;
constexpr double kTurnDeg = 12;  // sd of the turn beyond which it tells no hand's change from another
constexpr double kRevShare = 0.25;
constexpr double kFrictionShare = 0.5;

Measure Within(const std::optional<ValueWithDoubt>& got, double widest, const char* reason) {
  return got && got->sd < widest ? Measure::Of(got->value, got->sd) : Measure::None(reason);
}

// Level velocity before the first touch of the lane, and after the last pull of friction.
Eigen::Vector2d FlightVelocity(const Path& path, const Eigen::VectorXd& p) {
  const PathState s = path.evaluate(p, path.start_s - 1);
  return {s.vx, s.vy};
}
Eigen::Vector2d RollVelocity(const Path& path, const Eigen::VectorXd& p) {
  const PathState s = path.evaluate(p, path.last_sight_s + 2);
  return {s.vx, s.vy};
}

Eigen::Vector2d SpinVelocity(const Path& path, const Eigen::VectorXd& p, double k) {
  return ((1 + k) * RollVelocity(path, p) - FlightVelocity(path, p)) / k;
}

// With the doubt of k, by a difference.
std::optional<ValueWithDoubt> OfSpin(const Path& path, const lane::LaneSpec& lane, const MeasureOptions& options,
                                     const std::function<double(const Eigen::VectorXd&, double k)>& function) {
  auto got = Evaluate(path, lane.width, [&](const Eigen::VectorXd& p, double) -> std::optional<double> {
    return function(p, options.ball_k);
  });
  if (!got) return got;
  const double half = options.ball_k_sd / 2;
  const double by_k =
      function(path.parameters, options.ball_k + half) - function(path.parameters, options.ball_k - half);
  got->sd = std::hypot(got->sd, by_k);
  return got;
}

void Roll(const Path& path, const lane::LaneSpec& lane, double outward, const MeasureOptions& options, Measures& out) {
  using Id = MeasureId;
  if (!path.rolling || path.rolling_probability < options.least_sure) {
    for (const Id id : {Id::kRollStartFt, Id::kPathTurnDeg, Id::kPathRevRpm})
      out[id] = Measure::None(path.gutter_s ? "The ball went into the gutter before it was seen to roll."
                                            : "The ball was not seen to roll before the pins.");
    return;
  }
  const Path& rolling = *path.rolling;
  out[Id::kRollStartFt] = Within(Evaluate(rolling, lane.width,
                                          [&](const Eigen::VectorXd& p, double) -> std::optional<double> {
                                            return FeetFromMetres(rolling.evaluate(p, rolling.roll_time(p)).y);
                                          }),
                                 kPlaceFt, "Where the ball began to roll is not told well enough by what was seen.");
  const auto turn = OfSpin(rolling, lane, options, [&](const Eigen::VectorXd& p, double k) {
    const Eigen::Vector2d v = FlightVelocity(rolling, p), w = SpinVelocity(rolling, p, k);
    return lane::DegreesFromRadians(outward * std::atan2(v.x() * w.y() - v.y() * w.x(), v.dot(w)));
  });
  const auto revs = OfSpin(rolling, lane, options, [&](const Eigen::VectorXd& p, double k) {
    return SpinVelocity(rolling, p, k).norm() / kBallRadius * 60 / (2 * lane::kPi);
  });
  const char* poor = "The roll was seen too short to tell the spin at release from it.";
  out[Id::kPathTurnDeg] = Within(turn, kTurnDeg, poor);
  out[Id::kPathRevRpm] = Within(revs, revs ? kRevShare * revs->value : 0, poor);
}

void SkidEnd(const Path& path, const lane::LaneSpec& lane, Measures& out) {
  Measure& measure = out[MeasureId::kSkidEndFt];
  if (!path.stepped || path.stepped_probability < 0.5) {
    measure = Measure::None("Friction did not go from one value to another, so there is no place half way.");
    return;
  }
  const Path& stepped = *path.stepped;
  const auto rise = Evaluate(stepped, lane.width, [&](const Eigen::VectorXd& p, double) -> std::optional<double> {
    const FrictionStep step = stepped.friction_step(p);
    return std::log(step.back / step.front);
  });
  const auto place = Evaluate(stepped, lane.width, [&](const Eigen::VectorXd& p, double) -> std::optional<double> {
    return FeetFromMetres(stepped.friction_step(p).half_way_y);
  });
  measure = rise && std::abs(rise->value) > 2 * rise->sd
                ? Within(place, kPlaceFt, "Where friction changes is not told well enough by what was seen.")
                : Measure::None("Friction was not seen to change down the lane.");
  // Beyond the roll's start or the last sight no friction is met.
  const double last_ft = FeetFromMetres(path.At(path.last_sight_s).y);
  const Measure& roll = out[MeasureId::kRollStartFt];
  if (measure.value && *measure.value > std::min(roll.value.value_or(last_ft), last_ft))
    measure = Measure::None("The ball was seen to slide too short a way to tell where friction changes.");
}

}  // namespace

void MeasurePhases(const Path& path, const lane::LaneSpec& lane, double outward, const MeasureOptions& options,
                   Measures& out) {
  Roll(path, lane, outward, options, out);
  SkidEnd(path, lane, out);
}

std::vector<FrictionZone> MeasureFriction(const Path& path, const lane::LaneSpec& lane) {
  const bool steps = path.stepped && path.stepped_probability > 0.5;
  const Path& source = steps ? *path.stepped : path;
  double to = path.At(std::min(path.last_sight_s, path.end_s)).y;
  if (path.rolling && path.rolling_probability > 0.5)
    to = std::min(to, path.rolling->At(path.rolling->roll_time(path.rolling->parameters)).y);
  const double from = path.At(path.start_s).y;
  std::vector<double> borders = {from};
  if (steps) {
    // The step itself is a zone of its own: 10 to 90 percent.
    const FrictionStep step = source.friction_step(source.parameters);
    for (const double y : {step.y - 2.2 * step.width, step.y + 2.2 * step.width}) borders.push_back(y);
  } else {
    for (double y = MetresFromFeet(10); y < to; y += MetresFromFeet(10)) borders.push_back(y);
  }
  borders.push_back(to);
  std::vector<FrictionZone> zones;
  constexpr double kShortest = MetresFromFeet(2);
  const double middle_s = (path.start_s + path.end_s) / 2;
  for (std::size_t i = 0; i + 1 < borders.size(); ++i) {
    const double a = std::max(borders[i], from), b = i + 2 == borders.size() ? to : std::min(borders[i + 1], to);
    if (b - a < kShortest) continue;
    const auto mean = Evaluate(source, lane.width, [&](const Eigen::VectorXd& p, double) -> std::optional<double> {
      constexpr int kPlaces = 8;
      double sum = 0;
      for (int j = 0; j < kPlaces; ++j) {
        const auto t = TimeAtY(source, p, a + (b - a) * (j + 0.5) / kPlaces, middle_s);
        if (!t) return std::nullopt;
        sum += std::log(source.evaluate(p, *t).friction);
      }
      return sum / kPlaces;
    });
    if (!mean || mean->sd > kFrictionShare) continue;
    const double value = std::exp(mean->value);
    zones.push_back({FeetFromMetres(a), FeetFromMetres(b), value, value * mean->sd});
  }
  return zones;
}

}  // namespace hookline::measure
