#include "motion/uneven_ball.h"

#include <Eigen/Dense>
#include <cassert>
#include <cmath>

#include "lane/units.h"

namespace hookline::motion {
namespace {

using Eigen::Matrix2d;
using Eigen::Matrix3d;
using Eigen::Quaterniond;
using Eigen::Vector2d;
using Eigen::Vector3d;

constexpr double kLongest = 10;  // s

struct State {
  Vector2d p, v;
  Vector3d momentum;  // angular, per mass, lane frame
  Quaterniond turn;
};

struct Rate {
  Vector2d p, v;
  Vector3d momentum;
  Eigen::Vector4d turn;
};

State Add(const State& s, const Rate& r, double h) {
  State out{s.p + h * r.p, s.v + h * r.v, s.momentum + h * r.momentum, s.turn};
  out.turn.coeffs() += h * r.turn;
  out.turn.normalize();
  return out;
}

}  // namespace

Status UnevenBall::Check() const {
  if (!(mass > 0 && radius > 0 && rg_least > 0 && rg_least < radius))
    return Status(StatusCode::kBadUse, "A ball's mass, radius and radius of gyration must be above 0.");
  if (!(differential >= 0 && differential < rg_least))
    return Status(StatusCode::kBadUse, "A ball's differential must be 0 or more and below its radius of gyration.");
  if (!(intermediate >= 0 && intermediate <= 1))
    return Status(StatusCode::kBadUse, "A ball's intermediate share must be within 0 to 1.");
  return Status::Ok();
}

std::vector<UnevenState> SimulateUneven(const UnevenBall& ball, const Vector2d& p, const Vector2d& v,
                                        const Vector3d& spin, const FrictionField& friction, double end_y,
                                        double step_s) {
  assert(ball.Check().ok());
  const auto square = [](double x) { return x * x; };
  // Per mass; the axes: least, third, greatest.
  const Vector3d moments(square(ball.rg_least), square(ball.rg_least + ball.intermediate * ball.differential),
                         square(ball.rg_least + ball.differential));
  const Vector3d r(0, 0, -ball.radius);
  const auto inverse_inertia = [&](const Quaterniond& q) {
    const Matrix3d m = q.toRotationMatrix();
    return Matrix3d(m * moments.cwiseInverse().asDiagonal() * m.transpose());
  };
  const auto spin_of = [&](const State& s) { return Vector3d(inverse_inertia(s.turn) * s.momentum); };
  const auto slip_of = [&](const State& s) { return Vector2d(s.v + spin_of(s).cross(r).head<2>()); };
  const auto rate = [&](const State& s, bool rolling) {
    const Matrix3d inverse = inverse_inertia(s.turn);
    const Vector3d w = inverse * s.momentum;
    const double most = friction.at(s.p.x(), s.p.y()) * lane::kStandardGravity;
    Vector2d force;
    if (rolling) {
      // dw/dt = I^-1 (r x F - w x L); 0 = dv/dt + dw/dt x r, linear in F.
      const Vector2d free = (inverse * -w.cross(s.momentum)).cross(r).head<2>();
      Matrix2d by;
      for (int i = 0; i < 2; ++i)
        by.col(i) = Vector2d::Unit(i) + (inverse * r.cross(Vector3d::Unit(i))).cross(r).head<2>();
      force = by.inverse() * -free;
      if (force.norm() > most) force *= most / force.norm();
    } else {
      const Vector2d slip = s.v + w.cross(r).head<2>();
      force = slip.norm() > 0 ? Vector2d(-most * slip / slip.norm()) : Vector2d(0, 0);
    }
    Rate out;
    out.p = s.v;
    out.v = force;
    out.momentum = r.cross(Vector3d(force.x(), force.y(), 0));
    out.turn = 0.5 * (Quaterniond(0, w.x(), w.y(), w.z()) * s.turn).coeffs();
    return out;
  };

  State s{p, v, Vector3d::Zero(), ball.lane_from_ball.normalized()};
  s.momentum = s.turn * (moments.asDiagonal() * (s.turn.conjugate() * spin));
  std::vector<UnevenState> out;
  bool rolling = slip_of(s).norm() < 1e-9;
  const auto keep = [&](double t) {
    out.push_back({t, s.p, s.v, spin_of(s), s.turn, rolling ? 0 : slip_of(s).norm(), rolling});
  };
  keep(0);
  for (double t = 0; s.p.y() < end_y && t < kLongest && s.v.y() > 0;) {
    const auto advance = [&](const State& from, double h) {
      const Rate a = rate(from, rolling), b = rate(Add(from, a, h / 2), rolling),
                 c = rate(Add(from, b, h / 2), rolling), d = rate(Add(from, c, h), rolling);
      Rate mean;
      mean.p = (a.p + 2 * b.p + 2 * c.p + d.p) / 6;
      mean.v = (a.v + 2 * b.v + 2 * c.v + d.v) / 6;
      mean.momentum = (a.momentum + 2 * b.momentum + 2 * c.momentum + d.momentum) / 6;
      mean.turn = (a.turn + 2 * b.turn + 2 * c.turn + d.turn) / 6;
      return Add(from, mean, h);
    };
    double h = step_s;
    if (!rolling) {
      // The slip falls by (1 + R^2 / RG^2) mu g a second or nearly: the step in which it ends is cut there.
      const Vector2d slip = slip_of(s);
      const double fall =
          (1 + square(ball.radius) / moments.mean()) * friction.at(s.p.x(), s.p.y()) * lane::kStandardGravity;
      if (slip.norm() <= fall * h) {
        h = std::max(slip.norm() / fall, 1e-9);
        s = advance(s, h);
        rolling = true;
        t += h;
        keep(t);
        continue;
      }
    }
    s = advance(s, h);
    t += h;
    keep(t);
  }
  return out;
}

}  // namespace hookline::motion
