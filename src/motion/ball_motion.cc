#include "motion/ball_motion.h"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <string>

#include "lane/units.h"

namespace hookline::motion {
namespace {

using Eigen::Vector2d;
using lane::kStandardGravity;

constexpr double kLongest = 10;  // s

// x, y and slip; the velocity follows from the slip.
using Vector = Eigen::Vector3d;

// Cubic between two states by their places and velocities; slip straight between (its change is that of v, which the
// cubic carries).
MotionState Between(const MotionState& a, const MotionState& b, double time_s) {
  MotionState s;
  s.time_s = time_s;
  const double h = b.time_s - a.time_s;
  if (h <= 0) return b;
  const double t = (time_s - a.time_s) / h, t2 = t * t, t3 = t2 * t;
  const double p0 = 2 * t3 - 3 * t2 + 1, m0 = (t3 - 2 * t2 + t) * h, p1 = 1 - p0, m1 = (t3 - t2) * h;
  const double dp = (6 * t2 - 6 * t) / h, dm0 = 3 * t2 - 4 * t + 1, dm1 = 3 * t2 - 2 * t;
  s.p = p0 * a.p + m0 * a.v + p1 * b.p + m1 * b.v;
  s.v = dp * (a.p - b.p) + dm0 * a.v + dm1 * b.v;
  s.slip = (1 - t) * a.slip + t * b.slip;
  return s;
}

// Where in [a, b] f changes sign; the end nearer to it where it does not.
template <typename F>
double Root(double a, double b, const F& f) {
  // Regula falsi, Illinois' way: an end that stays counts half.
  double fa = f(a), fb = f(b);
  if (!(fa * fb < 0)) return std::abs(fa) <= std::abs(fb) ? a : b;
  double x = a;
  for (int i = 0; i < 60 && b - a > 1e-12; ++i) {
    const double next = (fa * b - fb * a) / (fa - fb);
    if (i > 0 && std::abs(next - x) < 1e-13) return next;
    x = next;
    const double fx = f(x);
    if (fx == 0) return x;
    if ((fx > 0) == (fb > 0)) {
      b = x, fb = fx, fa *= 0.5;
    } else {
      a = x, fa = fx, fb *= 0.5;
    }
  }
  return x;
}

}  // namespace

Status BallAtRelease::Check() const {
  const auto bad = [](const char* field, double value, const char* bound) {
    return Status(StatusCode::kBadUse,
                  std::string("Ball: ") + field + " is " + std::to_string(value) + " but must be " + bound + ".");
  };
  if (!(v.y() > 0.5)) return bad("v.y", v.y(), "above 0.5 m/s");
  if (!(spin >= 0 && spin < 200)) return bad("spin", spin, "0 to 200 rad/s");
  if (!(radius > 0.05 && radius < 0.2)) return bad("radius", radius, "0.05 to 0.2 m");
  if (!(k >= 0.2 && k <= 0.6)) return bad("k", k, "0.2 to 0.6");
  if (side != 1 && side != -1) return bad("side", side, "+1 or -1");
  return Status::Ok();
}

FrictionField FrictionField::Uniform(double mu) {
  return {[mu](double, double) { return mu; }, {}};
}

FrictionField FrictionField::Zones(std::vector<double> breaks_y, std::vector<double> values) {
  assert(values.size() == breaks_y.size() + 1 && std::is_sorted(breaks_y.begin(), breaks_y.end()));
  FrictionField field;
  field.breaks_y = breaks_y;
  field.at = [breaks = std::move(breaks_y), values = std::move(values)](double, double y) {
    std::size_t i = 0;
    while (i < breaks.size() && y >= breaks[i]) ++i;
    return values[i];
  };
  return field;
}

Vector2d RollVelocityOfSpin(const BallAtRelease& r) {
  // Along the ball's travel, turned by the axis rotation towards the side.
  const double size = r.spin * r.radius * std::cos(r.axis_tilt), turn = r.side * r.axis_rotation;
  const Vector2d forward = r.v.normalized(), right(forward.y(), -forward.x());
  return size * (std::cos(turn) * forward + std::sin(turn) * right);
}

BallMotion SimulateBall(const BallAtRelease& release, const FrictionField& friction, double end_y, double step_s) {
  assert(release.Check().ok());
  BallMotion out;
  const Vector2d slip0 = release.v - RollVelocityOfSpin(release);
  const double size0 = slip0.norm(), part = release.k / (1 + release.k);
  out.direction_ = size0 > 1e-12 ? Vector2d(slip0 / size0) : Vector2d(0, 1);
  const Vector2d d = out.direction_;
  const double fall = (1 + 1 / release.k) * kStandardGravity;  // of the slip, per unit of friction
  const auto velocity = [&](double slip) { return Vector2d(release.v - d * (size0 - slip) * part); };
  const auto rate = [&](const Vector& q) {
    const Vector2d v = velocity(q[2]);
    return Vector(v.x(), v.y(), -fall * friction.at(q[0], q[1]));
  };
  const auto state = [&](double t, const Vector& q) {
    MotionState s;
    s.time_s = t;
    s.p = q.head<2>();
    s.slip = std::max(0.0, q[2]);
    s.v = velocity(s.slip);
    return s;
  };
  // One step that stays on the near side of the next break: friction is looked up no farther than there.
  double limit_y = 0;
  const auto advance = [&](const Vector& q, double h) {
    const auto held = [&](Vector p) {
      p[1] = std::min(p[1], limit_y);
      return rate(p);
    };
    const Vector a = held(q), b = held(q + 0.5 * h * a), c = held(q + 0.5 * h * b), e = held(q + h * c);
    return Vector(q + h / 6 * (a + 2 * b + 2 * c + e));
  };

  Vector q(release.p.x(), release.p.y(), size0);
  double t = 0;
  out.states_.push_back(state(t, q));
  bool rolling = size0 <= 1e-12;
  if (rolling) out.roll_ = 0;
  while (q[1] < end_y && t < kLongest) {
    if (rolling) {
      const Vector2d v = velocity(0);
      if (v.y() <= 0) break;
      const double h = std::min((end_y - q[1]) / v.y(), kLongest - t);
      q.head<2>() += h * v;
      t += h;
      out.states_.push_back(state(t, q));
      break;
    }
    double stop_y = end_y;
    for (const double b : friction.breaks_y)
      if (b > q[1] + 1e-12) {
        stop_y = std::min(stop_y, b);
        break;
      }
    limit_y = stop_y - 1e-12;
    double h = step_s;
    Vector next = advance(q, h);
    // Events within the step, the earlier one counts: the break (or the end), and the slip's end.
    bool rolls = false;
    if (next[1] > stop_y) {
      h = Root(0, h, [&](double x) { return advance(q, x)[1] - stop_y; });
      next = advance(q, h);
      next[1] = stop_y;
    }
    if (next[2] <= 0) {
      h = Root(0, h, [&](double x) { return -advance(q, x)[2]; });
      next = advance(q, h);
      next[2] = 0;
      rolls = true;
    }
    if (velocity(std::max(0.0, next[2])).y() <= 0)
      break;  // backspin so strong that it comes to rest: not a lane's ball
    t += h;
    q = next;
    out.states_.push_back(state(t, q));
    if (rolls) {
      rolling = true;
      out.roll_ = out.states_.size() - 1;
    }
  }
  return out;
}

MotionState BallMotion::At(double time_s) const {
  const auto after = std::upper_bound(states_.begin(), states_.end(), time_s,
                                      [](double t, const MotionState& s) { return t < s.time_s; });
  if (after == states_.begin()) return states_.front();
  if (after == states_.end()) {
    MotionState s = states_.back();
    s.p += (time_s - s.time_s) * s.v;
    s.time_s = time_s;
    return s;
  }
  return Between(*(after - 1), *after, time_s);
}

std::optional<MotionState> BallMotion::AtY(double y) const {
  if (y < states_.front().p.y()) return std::nullopt;
  for (std::size_t i = 1; i < states_.size(); ++i) {
    const MotionState &a = states_[i - 1], &b = states_[i];
    if (b.p.y() < y) continue;
    // Nearly a straight line within one step: Newton's way is there after two or three rounds.
    const double way = b.p.y() - a.p.y();
    double t = way > 0 ? a.time_s + (b.time_s - a.time_s) * std::max(y - a.p.y(), 0.0) / way : b.time_s;
    MotionState s = Between(a, b, t);
    for (int round = 0; round < 8 && s.v.y() > 0; ++round) {
      const double next = std::clamp(t - (s.p.y() - y) / s.v.y(), a.time_s, b.time_s);
      if (std::abs(next - t) < 1e-13) break;
      t = next;
      s = Between(a, b, t);
    }
    return s;
  }
  return std::nullopt;
}

std::optional<MotionState> BallMotion::roll_start() const {
  if (!roll_) return std::nullopt;
  return states_[*roll_];
}

MotionState BallMotion::Outermost(double from_y, double to_y, int side) const {
  const auto a = AtY(std::max(from_y, states_.front().p.y()));
  const auto b = AtY(std::min(to_y, states_.back().p.y()));
  MotionState best = a ? *a : states_.front();
  const auto better = [&](const MotionState& s) {
    if (side * s.p.x() > side * best.p.x()) best = s;
  };
  if (b) better(*b);
  const double from = best.time_s < (a ? a->time_s : 0) ? best.time_s : (a ? a->time_s : 0),
               to = b ? b->time_s : states_.back().time_s;
  for (std::size_t i = 1; i < states_.size(); ++i) {
    const MotionState &p = states_[i - 1], &q = states_[i];
    const double lo = std::max(from, p.time_s), hi = std::min(to, q.time_s);
    if (hi <= lo) continue;
    const double v0 = side * Between(p, q, lo).v.x(), v1 = side * Between(p, q, hi).v.x();
    if (v0 > 0 && v1 <= 0)
      better(Between(p, q, Root(lo, hi, [&](double t) { return -side * Between(p, q, t).v.x(); })));
    better(Between(p, q, hi));
  }
  return best;
}

}  // namespace hookline::motion
