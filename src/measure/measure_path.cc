#include "measure/measure_path.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <random>
#include <string>
#include <vector>

#include "measure/measure_phases.h"
#include "measure/path_functions.h"

namespace hookline::measure {
namespace {

using lane::MetresFromFeet;

constexpr double kTouch = (lane::kBallDiameter + lane::kPinMaxDiameter) / 2;
constexpr int kDraws = 120;
constexpr double kBreakpointEndY = MetresFromFeet(59.0);

std::string OneDecimal(double v) {
  char text[32];
  std::snprintf(text, sizeof text, "%.1f", v);
  return text;
}

constexpr double kBeside_s = 1e-6;  // from the landing

// What a measure rests on: a place down the lane, and how uncertain it may be before it is withheld.
struct Asked {
  MeasureId id;
  double place_ft;  // the farthest it speaks of
  double accuracy;  // worst error asked of hard footage (docs/measures.md), in the measure's unit
};

class Measurer {
 public:
  Measurer(const Path& path, const lane::LaneSpec& lane, lane::Hand hand, const MeasureOptions& options)
      : path_(path),
        lane_(lane),
        hand_(hand),
        options_(options),
        outward_(hand == lane::Hand::kRight ? 1 : -1),
        middle_s_((path.start_s + path.end_s) / 2),
        gutter_(FindGutterCrossing(path, lane, hand)) {}

  Measures All();

 private:
  double Board(double x, double width) const { return lane::BoardFromX(x, width, hand_); }
  std::optional<PathState> StateAtY(const Eigen::VectorXd& p, double y) const {
    const auto t = TimeAtY(path_, p, y, middle_s_);
    if (!t) return std::nullopt;
    return path_.evaluate(p, *t);
  }
  // The state at y = 59.5 ft, or where the head pin would be touched when that is earlier.
  std::optional<PathState> EntryState(const Eigen::VectorXd& p) const {
    auto state = StateAtY(p, lane::kEntryY);
    for (int i = 0; state && i < 4; ++i) {
      const double x = state->x;
      if (std::abs(x) >= kTouch) break;
      state = StateAtY(p, std::min(lane::kEntryY, lane::kHeadPinY - std::sqrt(kTouch * kTouch - x * x)));
    }
    return state;
  }
  PathFunction BoardAtFt(double ft) const {
    return [this, ft](const Eigen::VectorXd& p, double width) -> std::optional<double> {
      const auto s = StateAtY(p, MetresFromFeet(ft));
      if (!s) return std::nullopt;
      return Board(s->x, width);
    };
  }
  PathFunction SpeedAtFt(double ft) const {
    return [this, ft](const Eigen::VectorXd& p, double) -> std::optional<double> {
      const auto s = StateAtY(p, MetresFromFeet(ft));
      if (!s) return std::nullopt;
      return lane::MphFromMetresPerSecond(std::hypot(s->vx, s->vy, s->vz));
    };
  }
  // The same, with no value for parameters that put the place on the other side of the landing, where speed steps.
  PathFunction SpeedBesideLanding(double ft) const {
    const auto lands_later = [this, ft](const Eigen::VectorXd& p) {
      const auto t = TimeAtY(path_, p, MetresFromFeet(ft), middle_s_);
      return t && *t < path_.landing_time(p);
    };
    const PathFunction speed = SpeedAtFt(ft);
    if (!path_.landing_time) return speed;
    return [=, in_flight = lands_later(path_.parameters)](const Eigen::VectorXd& p, double width) {
      return lands_later(p) == in_flight ? speed(p, width) : std::nullopt;
    };
  }
  Measure Give(const Asked& asked, const PathFunction& function, double more_sd = 0,
               bool one_side_will_do = false) const;
  void Breakpoint(Measures& out) const;
  void Laydown(Measures& out) const;
  void SlipAngle(Measures& out) const;
  double ArrowSd() const;
  Measure ReleaseSpeed() const;
  std::vector<Eigen::VectorXd> Draws() const;
  std::string GutterReason() const {
    return "The ball left the lane for the gutter at " + OneDecimal(lane::FeetFromMetres(gutter_->y)) + " ft.";
  }

  const Path& path_;
  const lane::LaneSpec& lane_;
  lane::Hand hand_;
  const MeasureOptions& options_;
  double outward_;
  double middle_s_;
  std::optional<GutterCrossing> gutter_;
};

Measure Measurer::Give(const Asked& asked, const PathFunction& function, double more_sd, bool one_side_will_do) const {
  if (gutter_ && lane::FeetFromMetres(gutter_->y) < asked.place_ft) return Measure::None(GutterReason());
  const auto got = Evaluate(path_, lane_.width, function, one_side_will_do);
  if (!got) return Measure::None("The fitted path does not reach that place.");
  const double sd = std::hypot(got->sd, more_sd);
  if (!(sd < options_.wide * asked.accuracy)) {
    const double seen_from = lane::FeetFromMetres(path_.At(path_.first_sight_s).y);
    const double seen_to = lane::FeetFromMetres(path_.At(path_.last_sight_s).y);
    return Measure::None("The ball was seen from " + OneDecimal(seen_from) + " to " + OneDecimal(seen_to) +
                         " ft and not well enough to tell this.");
  }
  return Measure::Of(got->value, sd);
}

double Measurer::ArrowSd() const {
  const auto t = TimeAtArrows(path_, path_.parameters, lane_, lane_.width, middle_s_);
  if (!t) return 0;
  const PathState s = path_.At(*t);
  return std::abs(s.vx / s.vy) / lane::BoardWidth(lane_.width) *
         (lane_.arrows_measured ? options_.arrow_sd_m : options_.arrow_assumed_sd_m);
}

std::vector<Eigen::VectorXd> Measurer::Draws() const {
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(path_.covariance);
  const Eigen::MatrixXd root = eigen.eigenvectors() * eigen.eigenvalues().cwiseMax(0).cwiseSqrt().asDiagonal();
  std::mt19937 random(20240229);
  std::normal_distribution<double> normal;
  std::vector<Eigen::VectorXd> draws(kDraws);
  for (Eigen::VectorXd& p : draws) {
    Eigen::VectorXd z(path_.parameters.size());
    for (Eigen::Index k = 0; k < z.size(); ++k) z[k] = normal(random);
    p = path_.parameters + root * z;
  }
  return draws;
}

// The speed steps where the ball lands, and the place it is asked at may lie on either side: in the air with what
// probability, and the mean of the two.
Measure Measurer::ReleaseSpeed() const {
  constexpr double kAtFt = 2;
  constexpr double kFall = 1.0;     // m/s, of one still in the air at 2 ft: 2.3 ft after the hand
  constexpr double kLanding = 1.4;  // a landing and its hops take this much of mu times the fall off the speed
  double shift = 0, more = 0;
  if (path_.landing_time) {
    // Time from the ball's passing y until it lands.
    const auto until = [&](double y) {
      return Evaluate(path_, lane_.width, [&, y](const Eigen::VectorXd& p, double) -> std::optional<double> {
        const auto t = TimeAtY(path_, p, y, middle_s_);
        if (!t) return std::nullopt;
        return path_.landing_time(p) - *t;
      });
    };
    const auto until_asked = until(MetresFromFeet(kAtFt)), until_first = until(path_.At(path_.first_sight_s).y);
    if (until_asked && until_first && until_asked->sd > 0 && until_first->sd > 0) {
      const auto positive = [](const ValueWithDoubt& v) { return std::erfc(-v.value / v.sd / std::sqrt(2.0)) / 2; };
      const bool in_air = until_asked->value > 0, beyond = path_.At(path_.first_sight_s).y > MetresFromFeet(kAtFt);
      const double by_fit = positive(*until_asked), after_first = positive(*until_first);
      // A landing that was not seen lies before the first sight, but for what it may have been mistaken for.
      const double seen = path_.lands_in_sights;
      const double unseen =
          beyond && after_first < 0.99 ? std::max(by_fit - after_first, 0.0) / (1 - after_first) : 0.0;
      const double air = path_.laydown_seen ? by_fit : beyond ? seen + (1 - seen) * unseen : std::min(seen, by_fit);
      const double landing_s = path_.landing_time(path_.parameters);
      const PathState a = path_.At(landing_s - kBeside_s), b = path_.At(landing_s + kBeside_s);
      const double level = std::hypot(b.vx, b.vy);
      const double step = std::max(std::hypot(a.vx, a.vy, a.vz) - level,
                                   in_air ? 0 : std::hypot(level, kFall) - level + kLanding * b.friction * kFall);
      shift = step * (air - (in_air ? 1 : 0));
      more = step * std::sqrt(air * (1 - air));
    }
  }
  Measure speed = Give({MeasureId::kSpeedReleaseMph, kAtFt, 1.2}, SpeedBesideLanding(kAtFt),
                       lane::MphFromMetresPerSecond(more), true);
  if (speed.value) *speed.value += lane::MphFromMetresPerSecond(shift);
  return speed;
}

// Time of the outermost point between two times, strictly inside; nullopt when it lies at an end.
std::optional<double> OutermostInside(const Path& path, const Eigen::VectorXd& p, double outward, double from_s,
                                      double to_s) {
  constexpr int kSteps = 160;
  int best = -1;
  double most = 0;
  for (int i = 0; i <= kSteps; ++i) {
    const double out = outward * path.evaluate(p, from_s + (to_s - from_s) * i / kSteps).x;
    if (best < 0 || out > most) {
      best = i;
      most = out;
    }
  }
  if (best <= 0 || best >= kSteps) return std::nullopt;
  double lo = from_s + (to_s - from_s) * (best - 1) / kSteps, hi = from_s + (to_s - from_s) * (best + 1) / kSteps;
  for (int i = 0; i < 50; ++i) {
    const double mid = (lo + hi) / 2;
    (outward * path.evaluate(p, mid).vx > 0 ? lo : hi) = mid;
  }
  return (lo + hi) / 2;
}

void Measurer::Breakpoint(Measures& out) const {
  const auto none = [&](const std::string& why) {
    out[MeasureId::kBreakpointBoard] = out[MeasureId::kBreakpointFt] = Measure::None(why);
  };
  if (gutter_) return none(GutterReason());
  const Eigen::VectorXd& p0 = path_.parameters;
  const auto arrows_s = TimeAtArrows(path_, p0, lane_, lane_.width, middle_s_);
  const auto end_s = TimeAtY(path_, p0, kBreakpointEndY, middle_s_);
  if (!arrows_s || !end_s) return none("The fitted path does not reach that place.");
  const auto bp_s = OutermostInside(path_, p0, outward_, *arrows_s, *end_s);
  if (!bp_s) return none("The ball did not turn between the arrows and the pins: there is no breakpoint.");

  // How far the ball went out before and came back after, each against its own doubt. The places are held, as functions
  // of y.
  const double y_bp = path_.At(*bp_s).y, y_arrows = path_.At(*arrows_s).y;
  const auto turn = [&](double y) {
    return Evaluate(path_, lane_.width, [&, y](const Eigen::VectorXd& p, double width) -> std::optional<double> {
      const auto a = StateAtY(p, y_bp), b = StateAtY(p, y);
      if (!a || !b) return std::nullopt;
      return outward_ * (a->x - b->x) / lane::BoardWidth(width);
    });
  };
  for (const double y : {y_arrows, kBreakpointEndY}) {
    const auto t = turn(y);
    if (!t || t->value < std::max(options_.least_turn_boards, options_.significant_sd * t->sd))
      return none("The ball ran too straight between the arrows and the pins to tell a breakpoint.");
  }
  out[MeasureId::kBreakpointBoard] =
      Give({MeasureId::kBreakpointBoard, 0, 1.0}, [&](const Eigen::VectorXd& p, double width) -> std::optional<double> {
        // The outermost point moves along a flat stretch: its board, to first order, is that of the fixed time.
        return Board(path_.evaluate(p, *bp_s).x, width);
      });

  std::vector<double> ft;
  for (const Eigen::VectorXd& p : Draws()) {
    const auto t = OutermostInside(path_, p, outward_, *arrows_s, *end_s);
    if (t) ft.push_back(lane::FeetFromMetres(path_.evaluate(p, *t).y));
  }
  const double value = lane::FeetFromMetres(y_bp);
  if (ft.size() < kDraws / 2)
    return none("The ball ran too straight between the arrows and the pins to tell a breakpoint.");
  double sum = 0;
  for (const double v : ft) sum += (v - value) * (v - value);
  const double sd = std::sqrt(sum / static_cast<double>(ft.size()));
  out[MeasureId::kBreakpointFt] =
      sd < options_.wide * 6 ? Measure::Of(value, sd)
                             : Measure::None("The path is too flat where it turns to tell how far down that is.");
}

void Measurer::Laydown(Measures& out) const {
  if (!path_.laydown_time) {
    const std::string why = "The ball was not seen where it touched the lane first.";
    out[MeasureId::kLaydownBoard] = out[MeasureId::kLaydownFt] = Measure::None(why);
    return;
  }
  out[MeasureId::kLaydownFt] =
      Give({MeasureId::kLaydownFt, 0, 1.0}, [&](const Eigen::VectorXd& p, double) -> std::optional<double> {
        return lane::FeetFromMetres(path_.evaluate(p, path_.laydown_time(p)).y);
      });
  out[MeasureId::kLaydownBoard] =
      Give({MeasureId::kLaydownBoard, 0, 0.6}, [&](const Eigen::VectorXd& p, double width) -> std::optional<double> {
        return Board(path_.evaluate(p, path_.laydown_time(p)).x, width);
      });
}

// Friction pulls along the slip, whose direction never changes: all that the velocity changes between laydown and pins
// lies along it.
void Measurer::SlipAngle(Measures& out) const {
  const double from_s = path_.laydown_seen ? path_.start_s : path_.first_sight_s;
  const double to_s = std::min(path_.end_s, path_.last_sight_s);
  const PathFunction angle = [&](const Eigen::VectorXd& p, double) -> std::optional<double> {
    // Just after the landing, whose own pull lies along the same line; never before it, where velocity steps.
    const double rolls_s = path_.landing_time ? std::max(from_s, path_.landing_time(p) + kBeside_s) : from_s;
    const PathState a = path_.evaluate(p, rolls_s), b = path_.evaluate(p, to_s);
    const Eigen::Vector2d v(a.vx, a.vy), pull(b.vx - a.vx, b.vy - a.vy), back = -v;
    if (!(pull.norm() > 1e-6)) return std::nullopt;
    // Inward is to -x for a right-hander: outward_ is +1 there. From straight back to inward turns clockwise as seen
    // from above when inward is to the left of the travel.
    return lane::DegreesFromRadians(outward_ * std::atan2(pull.x() * back.y() - pull.y() * back.x(), pull.dot(back)));
  };
  out[MeasureId::kSlipAngleDeg] = Give({MeasureId::kSlipAngleDeg, 0, 3.0}, angle);
  if (out[MeasureId::kSlipAngleDeg].value) return;
  out[MeasureId::kSlipAngleDeg] = Measure::None(
      "The ball was slowed and turned too little, or seen not well enough, to tell where friction pulled.");
}

Measures Measurer::All() {
  Measures out;
  using Id = MeasureId;
  const Eigen::VectorXd& p0 = path_.parameters;
  Laydown(out);
  out[Id::kLaunchAngleDeg] =
      Give({Id::kLaunchAngleDeg, 10, 0.4}, [&](const Eigen::VectorXd& p, double) -> std::optional<double> {
        const auto a = StateAtY(p, MetresFromFeet(3)), b = StateAtY(p, MetresFromFeet(10));
        if (!a || !b) return std::nullopt;
        return lane::DegreesFromRadians(std::atan2(outward_ * (b->x - a->x), b->y - a->y));
      });
  const auto arrows_s = TimeAtArrows(path_, p0, lane_, lane_.width, middle_s_);
  const double arrows_ft = arrows_s ? lane::FeetFromMetres(path_.At(*arrows_s).y) : 16;
  out[Id::kBoardAtArrows] = Give(
      {Id::kBoardAtArrows, arrows_ft, 0.6},
      [&](const Eigen::VectorXd& p, double width) -> std::optional<double> {
        const auto t = TimeAtArrows(path_, p, lane_, width, middle_s_);
        if (!t) return std::nullopt;
        return Board(path_.evaluate(p, *t).x, width);
      },
      ArrowSd());
  out[Id::kBoardAt15Ft] = Give({Id::kBoardAt15Ft, 15, 0.6}, BoardAtFt(15));
  out[Id::kBoardAt40Ft] = Give({Id::kBoardAt40Ft, 40, 1.0}, BoardAtFt(40));
  Breakpoint(out);
  out[Id::kEntryBoard] =
      Give({Id::kEntryBoard, 59.4, 1.0}, [&](const Eigen::VectorXd& p, double width) -> std::optional<double> {
        const auto s = EntryState(p);
        if (!s) return std::nullopt;
        return Board(s->x, width);
      });
  out[Id::kEntryAngleDeg] =
      Give({Id::kEntryAngleDeg, 59.4, 0.8}, [&](const Eigen::VectorXd& p, double) -> std::optional<double> {
        const auto s = EntryState(p);
        if (!s) return std::nullopt;
        return lane::DegreesFromRadians(std::atan2(-outward_ * s->vx, s->vy));
      });
  out[Id::kSpeedReleaseMph] = ReleaseSpeed();
  out[Id::kSpeedArrowsMph] = Give({Id::kSpeedArrowsMph, 15, 0.5}, SpeedAtFt(15));
  out[Id::kSpeedEntryMph] = Give({Id::kSpeedEntryMph, 59, 1.2}, SpeedAtFt(59));
  out[Id::kSpeedMeanMph] =
      Give({Id::kSpeedMeanMph, 59.4, 0.5}, [&](const Eigen::VectorXd& p, double) -> std::optional<double> {
        const auto entry = EntryState(p), foul = StateAtY(p, 0);
        if (!entry || !foul || !(entry->time_s > foul->time_s)) return std::nullopt;
        return lane::MphFromMetresPerSecond((entry->y - foul->y) / (entry->time_s - foul->time_s));
      });
  SlipAngle(out);
  MeasurePhases(path_, lane_, outward_, options_, out);
  for (const Id id : {Id::kRevRateRpm, Id::kAxisRotationDeg, Id::kAxisTiltDeg})
    out[id] = Measure::None("The ball's spin is not read off its surface yet.");
  return out;
}

}  // namespace

void MeasureOptions::SetGyration(double radius_m) {
  constexpr double kRadius = lane::kBallDiameter / 2;
  ball_k = radius_m * radius_m / (kRadius * kRadius);
  // The ball's diameter may be 8.500 to 8.595 in, and makers round to 0.01 in.
  ball_k_sd = ball_k * 2 * std::hypot(0.003, 0.002);
}

Status MeasureOptions::Check() const {
  const auto bad = [](const char* field, double value, const char* bound) {
    return Status(StatusCode::kBadUse,
                  std::string("Measures: ") + field + " is " + std::to_string(value) + " but must be " + bound + ".");
  };
  if (!(arrow_sd_m >= 0)) return bad("arrow_sd_m", arrow_sd_m, "0 or more");
  if (!(arrow_assumed_sd_m >= 0)) return bad("arrow_assumed_sd_m", arrow_assumed_sd_m, "0 or more");
  if (!(significant_sd >= 0)) return bad("significant_sd", significant_sd, "0 or more");
  if (!(least_turn_boards >= 0)) return bad("least_turn_boards", least_turn_boards, "0 or more");
  if (!(ball_k >= 0.2 && ball_k <= 0.6)) return bad("ball_k", ball_k, "within 0.2 to 0.6");
  if (!(ball_k_sd >= 0)) return bad("ball_k_sd", ball_k_sd, "0 or more");
  if (!(least_sure > 0 && least_sure < 1)) return bad("least_sure", least_sure, "between 0 and 1");
  if (!(wide > 0)) return bad("wide", wide, "above 0");
  return Status::Ok();
}

Measures MeasurePath(const Path& path, const Track& /*the path holds what is needed*/, const lane::LaneSpec& lane,
                     lane::Hand hand, const MeasureOptions& options) {
  return Measurer(path, lane, hand, options).All();
}

std::optional<GutterCrossing> FindGutterCrossing(const Path& path, const lane::LaneSpec& lane, lane::Hand hand) {
  if (!path.gutter_s) return std::nullopt;
  const PathState at = path.At(*path.gutter_s);
  const double side = at.x > 0 ? 1 : -1;
  GutterCrossing out;
  out.own_side = (side > 0) == (hand == lane::Hand::kRight);
  out.time_s = *path.gutter_s;
  out.y = at.y;
  // Newton on x(t) = edge; a path that runs along the edge has no well defined crossing, so the step is kept finite.
  const PathFunction crossing = [&](const Eigen::VectorXd& p, double width) -> std::optional<double> {
    double t = *path.gutter_s;
    for (int i = 0; i < 30; ++i) {
      const PathState s = path.evaluate(p, t);
      const double v = side * s.vx;
      if (!(v > 0.01)) return std::nullopt;
      const double step = std::clamp((width / 2 - side * s.x) / v, -0.2, 0.2);
      t += step;
      if (std::abs(step) < 1e-11) return path.evaluate(p, t).y;
    }
    return std::nullopt;
  };
  const auto got = Evaluate(path, lane.width, crossing);
  if (got && std::abs(got->value - at.y) < lane::MetresFromFeet(5)) {
    out.y = got->value;
    out.sd_y = got->sd;
  } else {
    out.sd_y = lane::MetresFromFeet(1);
  }
  return out;
}

}  // namespace hookline::measure
