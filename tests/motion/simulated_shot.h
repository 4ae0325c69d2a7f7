// A shot with exact truth for tests: a ball under Coulomb friction on a flat lane, stepped in small Euler-Heun steps
// and independent of the curve that the fit uses, filmed by a random camera behind the approach.
//   dv/dt = -mu g s/|s|, dw/dt = +mu g/k s/|s|, s = v - w; once |s| is gone the ball rolls straight on.
// A landing at the downward speed u takes mu u (1 + e) at once, then there is no friction until the next, at e u.
#pragma once

#include <Eigen/Dense>
#include <cmath>
#include <optional>
#include <random>
#include <vector>

#include "camera/projection.h"
#include "lane/lane_spec.h"
#include "lane/units.h"
#include "model/lane_setup.h"
#include "model/track.h"

namespace hookline::simulated {

using lane::MetresFromFeet;

struct Release {
  double laydown_x = 0;      // m
  double laydown_y = 0.25;   // m
  double speed = 8;          // m/s
  double launch_deg = 1.8;   // to the right
  double rpm = 350;          // level part of the spin
  double rotation_deg = 45;  // hooks to the left when positive
  double k = 0.36;           // (radius of gyration / radius)^2
  double impact = 0.3;       // downward speed at laydown, m/s
  double bounce = 0.15;
  double mu_oil = 0.04, mu_out = 0.07, mu_dry = 0.2;
  double oil_ft = 40, transition_ft = 5, out_boards = 8;
  double uneven_sin = 0, uneven_cos = 0, uneven_m = 5;  // waves of log friction down the lane, and their length
  double Mu(double x, double y) const {
    const double from_edge = (lane::kNominalWidth / 2 - std::abs(x)) / lane::BoardWidth(lane::kNominalWidth);
    const double front = from_edge < out_boards ? mu_out : mu_oil;
    const double ft = lane::FeetFromMetres(y), wave = 2 * lane::kPi * y / uneven_m;
    const double uneven = std::exp(uneven_sin * std::sin(wave) + uneven_cos * std::cos(wave));
    if (transition_ft <= 0) return uneven * (ft < oil_ft ? front : mu_dry);
    return uneven * (front + (mu_dry - front) / (1 + std::exp(-(ft - oil_ft) / (transition_ft / 4))));
  }
};

struct State {
  double t = 0, x = 0, y = 0, vx = 0, vy = 0, height = 0, vz = 0;
};

struct TrueShot {
  std::vector<State> states;  // every kStep from the hand to the pins; t = 0 is the laydown
  static constexpr double kStep = 0.0005;
  std::optional<double> roll_y;
  State At(double t) const {
    const double f = (t - states.front().t) / kStep;
    const auto i = static_cast<std::size_t>(std::clamp(f, 0.0, static_cast<double>(states.size()) - 2.0));
    const double a = f - static_cast<double>(i);
    const State &p = states[i], &q = states[i + 1];
    const auto mix = [a](double u, double v) { return u + a * (v - u); };
    return {
        t, mix(p.x, q.x), mix(p.y, q.y), mix(p.vx, q.vx), mix(p.vy, q.vy), mix(p.height, q.height), mix(p.vz, q.vz)};
  }
  State AtY(double y) const {
    double lo = states.front().t, hi = states.back().t;
    for (int i = 0; i < 60; ++i) {
      const double mid = (lo + hi) / 2;
      (At(mid).y < y ? lo : hi) = mid;
    }
    return At((lo + hi) / 2);
  }
};

inline TrueShot Roll(const Release& r) {
  constexpr double g = lane::kStandardGravity, h = TrueShot::kStep;
  const double radius = lane::kBallDiameter / 2;
  const double launch = lane::RadiansFromDegrees(r.launch_deg), rotation = lane::RadiansFromDegrees(r.rotation_deg);
  Eigen::Vector2d p(r.laydown_x, r.laydown_y), v(r.speed * std::sin(launch), r.speed * std::cos(launch));
  const double w_size = r.rpm / 60 * 2 * lane::kPi * radius;
  // Rolling velocity of the spin: along travel turned left (towards -x) by the rotation.
  Eigen::Vector2d w(w_size * std::sin(launch - rotation), w_size * std::cos(launch - rotation));
  TrueShot shot;
  const int before = 800;  // 0.4 s of free flight before the lane, as far back as the height makes sense
  for (int i = before; i > 0; --i) {
    const double s = i * h;
    shot.states.push_back(
        {-s, p.x() - v.x() * s, p.y() - v.y() * s, v.x(), v.y(), r.impact * s - g * s * s / 2, g * s - r.impact});
  }
  bool rolling = false;
  double z = 0, vz = -r.impact;
  for (int i = 0; p.y() < MetresFromFeet(61); ++i) {
    const double t = i * h;
    if (z <= 0 && vz < 0) {
      const Eigen::Vector2d slip = v - w;
      const double size = std::min(r.Mu(p.x(), p.y()) * (1 + r.bounce) * -vz, slip.norm() / (1 + 1 / r.k));
      const Eigen::Vector2d dv = slip.norm() > 0 ? Eigen::Vector2d(-size * slip.normalized()) : Eigen::Vector2d(0, 0);
      v += dv;
      w -= dv / r.k;
      z = 0;
      vz *= -r.bounce;
      if (vz < 2 * g * h) vz = 0;
    }
    const bool flies = z > 0 || vz > 0;
    shot.states.push_back({t, p.x(), p.y(), v.x(), v.y(), z, vz});
    if (flies) {
      z += vz * h - g * h * h / 2;
      vz -= g * h;
    }
    Eigen::Vector2d a(0, 0);
    if (!rolling && !flies) {
      const Eigen::Vector2d slip = v - w;
      const double mu = r.Mu(p.x(), p.y());
      if (slip.norm() <= mu * g * h * (1 + 1 / r.k)) {
        rolling = true;
        shot.roll_y = p.y();
        v = (v + r.k * w) / (1 + r.k);
        w = v;
      } else {
        a = -mu * g * slip.normalized();
        w -= a * h / r.k;
      }
    }
    p += v * h + a * h * h / 2;
    v += a * h;
    if (v.y() < 0.5 || i > 20000) break;
  }
  return shot;
}

// A camera behind the approach that looks down the lane.
inline CameraModel CameraAt(double x, double y, double z, double aim_x, double aim_y, double focal, int width,
                            int height, double roll_rad = 0) {
  CameraModel c;
  c.width = width;
  c.height = height;
  c.focal_px = focal;
  c.centre_u = width / 2.0 + 2;
  c.centre_v = height / 2.0 - 3;
  c.k1 = -0.02;
  c.k2 = 0.004;
  c.position_in_lane = {x, y, z};
  const Eigen::Vector3d forward = (Eigen::Vector3d(aim_x, aim_y, 0) - c.position_in_lane).normalized();
  const Eigen::Vector3d right = forward.cross(Eigen::Vector3d::UnitZ()).normalized();
  Eigen::Matrix3d m;
  m << right.transpose(), forward.cross(right).transpose(), forward.transpose();
  m = Eigen::AngleAxisd(roll_rad, Eigen::Vector3d::UnitZ()).toRotationMatrix() * m;
  const Eigen::AngleAxisd aa(m);
  c.rotation = aa.angle() * aa.axis();
  return c;
}

// Covariance of a setup that was fitted to marks with `noise_px`: edges every 2 ft (across them only), the foul line
// and pin spots.
inline SetupMatrix SetupCovariance(const LaneSetup& setup, double noise_px) {
  const SetupVector p0 = camera::ParametersOf(setup);
  SetupVector prior;
  prior << 0.2 * p0[0], 10, 10, 0.05, 0.05, 1, 1, 1, 5, 5, 5, 0.004;
  SetupMatrix information = prior.cwiseAbs2().cwiseInverse().asDiagonal();
  SetupVector step;
  step << 0.1, 0.1, 0.1, 1e-4, 1e-4, 1e-6, 1e-6, 1e-6, 1e-4, 1e-4, 1e-4, 1e-5;
  const auto mark = [&](double x_in_widths, double x, double y, double z, bool across_edge, double sigma) {
    const auto at = [&](const SetupVector& p, double dy) -> Eigen::Vector2d {
      const LaneSetup s = camera::WithParameters(setup, p);
      return camera::ImageFromLane(s.camera, {x + x_in_widths * s.lane.width, y + dy, z})
          .value_or(Eigen::Vector2d::Zero());
    };
    Eigen::Matrix<double, 2, kSetupParameters> j;
    for (int i = 0; i < kSetupParameters; ++i) {
      SetupVector a = p0, b = p0;
      a[i] += step[i];
      b[i] -= step[i];
      j.col(i) = (at(a, 0) - at(b, 0)) / (2 * step[i]);
    }
    if (across_edge) {
      const Eigen::Vector2d along = (at(p0, 0.01) - at(p0, -0.01)).normalized(), across(-along.y(), along.x());
      const Eigen::Matrix<double, 1, kSetupParameters> row = across.transpose() * j / sigma;
      information += row.transpose() * row;
    } else {
      information += j.transpose() * j / (sigma * sigma);
    }
  };
  for (int ft = 0; ft <= 58; ft += 2)
    for (const double side : {-0.5, 0.5}) mark(side, 0, MetresFromFeet(ft), 0, true, noise_px * 2);
  for (const double side : {-0.5, -0.25, 0.0, 0.25, 0.5}) mark(side, 0, 0, 0, false, noise_px);
  for (const auto& pin : lane::PinSpots()) mark(0, pin.x, pin.y, 0, false, noise_px * 1.5);
  return information.inverse();
}

template <int N>
Eigen::Matrix<double, N, 1> Draw(const Eigen::Matrix<double, N, N>& covariance, std::mt19937& random) {
  std::normal_distribution<double> normal;
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix<double, N, N>> eigen(covariance);
  Eigen::Matrix<double, N, 1> z;
  for (Eigen::Index i = 0; i < z.size(); ++i) z[i] = normal(random) * std::sqrt(std::max(eigen.eigenvalues()[i], 0.0));
  return eigen.eigenvectors() * z;
}

struct Filming {
  double rate = 60;
  double noise_px = 0.15;
  double stated_noise = 1;                           // stated sd over true sd
  double bias_px = 0, bias_share = 0, bias_s = 0.2;  // lasting error of the centre, of any sight
  double bias_of_noise = 0;                          // and as a share of the noise, which the sights tell
  double first_y = 0.6;                              // m: not seen before
  double last_y = 18.2;                              // m: not seen beyond
  double missing = 0.03;
  double outliers = 0;   // share of gross mistakes
  bool burst = false;    // some pictures in a row on a mirror image
  double readout_s = 0;  // of the sensor over the height
};

// The lasting error as the tracker's sights have it (docs/accuracy.md).
inline void LastingAsMeasured(Filming& f) {
  f.bias_px = 0.02;
  f.bias_share = 0.001;
  f.bias_of_noise = 0.85;
}

// sd of the lasting error of a disc of that radius, px.
inline double LastingError(const Filming& f, double radius_px) {
  return std::hypot(f.bias_px + f.bias_share * radius_px, f.bias_of_noise * f.noise_px);
}

// What a tracker would hand over, in a clip where the laydown is at `laydown_s`.
inline Track Film(const TrueShot& shot, const CameraModel& camera, const Filming& f, std::mt19937& random,
                  double laydown_s = 1.0) {
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> uniform;
  Track track;
  track.end = TrackEnd::kPins;
  double bu = normal(random), bv = normal(random);
  const double phase = uniform(random) / f.rate;
  const double keep = std::exp(-1 / f.rate / f.bias_s);
  const double burst_y = 5 + 8 * uniform(random);
  const int burst_frames = 3 + static_cast<int>(0.05 * f.rate);
  int in_burst = 0;
  for (int i = 0;; ++i) {
    const double t = phase + i / f.rate;  // of the stream
    bu = keep * bu + std::sqrt(1 - keep * keep) * normal(random);
    bv = keep * bv + std::sqrt(1 - keep * keep) * normal(random);
    if (t - laydown_s < shot.states.front().t) continue;
    if (t - laydown_s > shot.states.back().t) break;
    State s = shot.At(t - laydown_s);
    auto uv = camera::ImageFromLane(camera, {s.x, s.y, lane::kBallDiameter / 2 + s.height});
    if (uv && f.readout_s != 0) {
      s = shot.At(t - laydown_s + f.readout_s * ((uv->y() + 0.5) / camera.height - 0.5));
      uv = camera::ImageFromLane(camera, {s.x, s.y, lane::kBallDiameter / 2 + s.height});
    }
    if (s.y > f.last_y) break;
    if (s.y < f.first_y || s.height < -1e-9) continue;
    if (uniform(random) < f.missing || !uv) continue;
    BallSight sight;
    sight.frame = i;
    sight.time_s = t;
    sight.radius_px = camera::BallRadiusPx(camera, {s.x, s.y, lane::kBallDiameter / 2}, lane::kBallDiameter / 2);
    const double bias = LastingError(f, sight.radius_px);
    sight.p_in_image =
        *uv + Eigen::Vector2d(f.noise_px * normal(random) + bias * bu, f.noise_px * normal(random) + bias * bv);
    if (uniform(random) < f.outliers)
      sight.p_in_image += Eigen::Vector2d(normal(random), normal(random)) * sight.radius_px;
    if (f.burst && s.y > burst_y && in_burst < burst_frames) {
      ++in_burst;
      sight.p_in_image += Eigen::Vector2d(0.1, 1.2) * sight.radius_px;
    }
    sight.p_in_frame = sight.p_in_image;
    sight.covariance = Eigen::Matrix2d::Identity() * std::pow(f.noise_px * f.stated_noise, 2);
    sight.lasting_sd.setConstant(f.bias_of_noise * f.noise_px);
    track.sights.push_back(sight);
  }
  return track;
}

}  // namespace hookline::simulated
