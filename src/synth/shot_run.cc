#include "synth/shot_run.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "lane/lane_spec.h"

namespace hookline::synth {
namespace {

using lane::MetresFromFeet;
using lane::MetresFromInches;
using lane::RadiansFromDegrees;

constexpr double kBallMass = 6.8, kPinMass = 1.6;
constexpr double kBallPinBounce = 0.65, kPinPinBounce = 0.6;
constexpr double kTipSpeed = 0.22;  // m/s, a slower push leaves the pin standing
constexpr double kPinSlide = 0.30;  // friction of a pin on the deck
constexpr double kCushionY = MetresFromFeet(65.8);
constexpr double kPinsEnd = 2.6;  // s of pin action that are kept after the ball comes to the deck
constexpr double kGutterFriction = 0.09;
constexpr double kDeckBackY = MetresFromFeet(62.85);

double Smooth(double t) {
  t = std::clamp(t, 0.0, 1.0);
  return t * t * (3 - 2 * t);
}

// Where a ball beside a standing pin touches it: the largest level distance of centres over all heights.
double BallPinReach(double ball_radius) {
  double reach = 0;
  for (double z = 0.001; z < 2 * ball_radius; z += 0.0005)
    reach =
        std::max(reach, std::sqrt(ball_radius * ball_radius - (z - ball_radius) * (z - ball_radius)) + PinRadius(z));
  return reach;
}

// Impulse between two discs along their line; returns the speed of approach (<= 0: none).
double Exchange(Eigen::Vector2d& va, double ma, Eigen::Vector2d& vb, double mb, const Eigen::Vector2d& a_to_b,
                double bounce) {
  const double closing = (va - vb).dot(a_to_b);
  if (closing <= 0) return 0;
  const double j = (1 + bounce) * closing / (1 / ma + 1 / mb);
  va -= j / ma * a_to_b;
  vb += j / mb * a_to_b;
  return closing;
}

}  // namespace

const char* NameOf(BallPhase phase) {
  switch (phase) {
    case BallPhase::kFlight:
      return "flight";
    case BallPhase::kLane:
      return "lane";
    case BallPhase::kGutter:
      return "gutter";
    case BallPhase::kPins:
      return "pins";
    case BallPhase::kGone:
      return "gone";
  }
  return "";
}

const std::array<std::array<double, 2>, kPinRings>& PinProfile() {
  // Height : diameter in inches from the pin specification (widest at 4.5, neck at 10, head at 13.5; base 2.031 flat);
  // the round head's end.
  static const std::array<std::array<double, 2>, kPinRings> profile = [] {
    std::array<std::array<double, 2>, kPinRings> p{{{0, 2.031},
                                                    {0.75, 2.828},
                                                    {2.25, 3.906},
                                                    {3.375, 4.563},
                                                    {4.5, 4.766},
                                                    {5.875, 4.510},
                                                    {7.25, 3.703},
                                                    {8.625, 2.472},
                                                    {9.375, 1.965},
                                                    {10, 1.797},
                                                    {10.875, 1.870},
                                                    {11.75, 2.094},
                                                    {12.625, 2.406},
                                                    {13.5, 2.547},
                                                    {14.4, 1.80},
                                                    {15, 0.05}}};
    for (auto& ring : p) ring = {MetresFromInches(ring[0]), MetresFromInches(ring[1]) / 2};
    return p;
  }();
  return profile;
}

double PinRadius(double height) {
  const auto& p = PinProfile();
  if (height < 0 || height > p.back()[0]) return 0;
  std::size_t i = 1;
  while (i + 1 < p.size() && p[i][0] < height) ++i;
  const double t = (height - p[i - 1][0]) / (p[i][0] - p[i - 1][0]);
  return p[i - 1][1] + t * (p[i][1] - p[i - 1][1]);
}

ShotRun::ShotRun(const ShotSpec& spec, double lane_width, double gutter_depth)
    : spec_(spec), lane_width_(lane_width), gutter_depth_(gutter_depth), hand_sign_(spec.hand == "left" ? -1 : 1) {
  body_.radius = MetresFromInches(spec.ball.diameter_in) / 2;
  body_.k = std::pow(MetresFromInches(spec.ball.rg_in) / body_.radius, 2);
  friction_.oil = spec.friction.oil;
  friction_.outside = spec.friction.outside;
  friction_.dry = spec.friction.dry;
  friction_.oil_length = MetresFromFeet(spec.friction.oil_length_ft);
  friction_.transition = MetresFromFeet(spec.friction.transition_ft);
  friction_.rolling = spec.friction.rolling;
  friction_.outside_blend = lane::BoardWidth(lane_width);
  friction_.outside_x = std::abs(lane::XFromBoard(spec.friction.outside_board, lane_width, lane::Hand::kRight));
  Run();
}

std::vector<int> ShotRun::pins_after() const {
  std::vector<int> after;
  for (int pin : spec_.pins_before)
    if (!fall_s_[static_cast<std::size_t>(pin - 1)]) after.push_back(pin);
  std::sort(after.begin(), after.end());
  return after;
}

void ShotRun::Run() {
  const double r = body_.radius, heading = RadiansFromDegrees(spec_.angle_deg) * hand_sign_;
  const double speed = lane::MetresPerSecondFromMph(spec_.speed_mph);
  const double climb = lane::MetresPerSecondFromMph(spec_.release_climb_mph),
               height = MetresFromInches(spec_.release_height_in);
  const double g = lane::kStandardGravity;
  const double flight = (climb + std::sqrt(climb * climb + 2 * g * height)) / g;
  laydown_s_ = spec_.release_s + flight;

  BallMotion b;
  b.v = {speed * std::sin(heading), speed * std::cos(heading), climb};
  b.p = {lane::XFromBoard(spec_.laydown_board, lane_width_, hand_sign_ > 0 ? lane::Hand::kRight : lane::Hand::kLeft),
         MetresFromFeet(spec_.laydown_ft), r + height};
  b.p.head<2>() -= b.v.head<2>() * flight;
  b.w = SpinFromRelease(spec_.rev_rpm * 2 * lane::kPi / 60, RadiansFromDegrees(spec_.axis_rotation_deg),
                        RadiansFromDegrees(spec_.axis_tilt_deg), heading, hand_sign_);
  b.turn = Eigen::AngleAxisd(0.7, Eigen::Vector3d(0.6, 0.5, 0.62).normalized());

  std::array<PinState, 10> pins;
  const auto spots = lane::PinSpots();
  for (std::size_t i = 0; i < 10; ++i) {
    pins[i].p = {spots[i].x, spots[i].y};
    pins[i].v.setZero();
    pins[i].present = std::find(spec_.pins_before.begin(), spec_.pins_before.end(), static_cast<int>(i) + 1) !=
                      spec_.pins_before.end();
  }

  BallPhase phase = BallPhase::kFlight;
  double gutter_side = 0, deck_s = std::numeric_limits<double>::infinity();
  int pin_step = 0;
  const double deck_y = lane::kHeadPinY - 0.35;
  for (int i = 0;; ++i) {
    const double t = spec_.release_s + kStep * i;
    states_.push_back({b, phase});
    if (deck_s < 1e9) {
      if (pin_step++ % kPinStride == 0) {
        auto& poses = pin_poses_.emplace_back();
        for (std::size_t k = 0; k < 10; ++k) poses[k] = PoseOf(pins[k], t);
      }
      if (t > deck_s + kPinsEnd) break;
    }
    if (t > spec_.release_s + 14) break;  // a ball that stops on the lane

    double left = kStep;
    if (phase == BallPhase::kFlight) {
      // The touch-down falls inside a step: fly to it, bounce or stay.
      const double root = (b.v.z() + std::sqrt(std::max(0.0, b.v.z() * b.v.z() + 2 * g * (b.p.z() - r)))) / g;
      const double fly = std::min(left, root);
      StepInFlight(b, fly);
      left -= fly;
      if (root <= kStep) {
        b.p.z() = r;
        if (TouchDown(b, body_, friction_, spec_.bounce) < 0.05) {
          b.v.z() = 0;
          phase = BallPhase::kLane;
        } else {
          StepInFlight(b, left);
          left = 0;
        }
      }
    }
    if (left > 0 && phase == BallPhase::kLane) {
      StepOnLane(b, body_, friction_, left);
      if (b.rolling && !roll_s_) roll_s_ = t + kStep;
      if (std::abs(b.p.x()) > lane_width_ / 2 && b.p.y() < kDeckBackY) {
        phase = BallPhase::kGutter;
        gutter_side = b.p.x() > 0 ? 1 : -1;
        gutter_s_ = t + kStep - (std::abs(b.p.x()) - lane_width_ / 2) / std::max(1e-6, std::abs(b.v.x()));
        b.rolling = false;
      }
    } else if (left > 0 && phase == BallPhase::kGutter) {
      StepGutter(b, gutter_side, left);
    } else if (left > 0 && phase == BallPhase::kPins) {
      if (b.p.y() < kDeckBackY) {
        StepOnLane(b, body_, friction_, left);
      } else {
        StepInFlight(b, left);
        if (b.p.y() > kCushionY - r) {
          b.p.y() = kCushionY - r;
          b.v.y() = 0;
        }
        if (b.p.z() < -0.6) {
          b.p.z() = -0.6;
          b.v.setZero();
        }
      }
    }
    if (b.p.y() > deck_y && deck_s > 1e9) {
      deck_s = t + kStep;
      pins_start_s_ = deck_s;
    }
    if (deck_s < 1e9) {
      Collide(b, pins, t + kStep);
      if (phase == BallPhase::kLane && (pin_contact_s_ || b.p.y() > lane::kHeadPinY)) phase = BallPhase::kPins;
      if (phase == BallPhase::kGutter && b.p.y() > kDeckBackY) phase = BallPhase::kPins;
    }
  }
  const double over = pin_contact_s_ ? *pin_contact_s_ : (deck_s < 1e9 ? deck_s + 0.1 : end_s());
  sweep_s_ = spec_.sweep_after_s >= 0 ? over + spec_.sweep_after_s : std::numeric_limits<double>::infinity();
}

double ShotRun::GutterHeight(double across) const {
  // Centre height of a ball at `across` m beyond the lane's edge: round the edge, then in the trough, then up the far
  // edge.
  const double r = body_.radius, half = lane::kGutterWidth / 2;
  const double trough = (half * half + gutter_depth_ * gutter_depth_) / (2 * gutter_depth_);
  const double rho = trough - r, from_middle = across - half;
  if (rho > 0 && std::abs(from_middle) <= half * rho / trough)
    return trough - gutter_depth_ - std::sqrt(rho * rho - from_middle * from_middle);
  const double from_edge = from_middle < 0 ? across : across - 2 * half;
  return std::sqrt(std::max(0.0, r * r - from_edge * from_edge));
}

void ShotRun::StepGutter(BallMotion& b, double side, double dt) const {
  const double g = lane::kStandardGravity, across = std::abs(b.p.x()) - lane_width_ / 2, h = 1e-4;
  const double slope = (GutterHeight(across + h) - GutterHeight(across - h)) / (2 * h);
  double speed = b.v.x() * side;
  speed += (-g * slope / (1 + slope * slope) - 3.5 * speed) * dt;
  const double next = across + speed * dt, z = GutterHeight(next);
  b.v.z() = (z - b.p.z()) / dt;
  b.p = {side * (lane_width_ / 2 + next), b.p.y() + b.v.y() * dt, z};
  b.v.x() = side * speed;
  // Along the trough the ball slides until it rolls.
  const double slip = b.v.y() + b.w.x() * body_.radius;
  const double change = std::min(std::abs(slip), kGutterFriction * g * (1 + 1 / body_.k) * dt) / (1 + 1 / body_.k);
  const double dv = slip > 0 ? -change : change;
  b.v.y() += dv;
  b.w.x() += dv / (body_.k * body_.radius);
  b.w.y() *= 1 - 2 * dt;
  b.w.z() *= 1 - 2 * dt;
  const double rate = b.w.norm();
  if (rate > 1e-9) b.turn = (Eigen::AngleAxisd(rate * dt, b.w / rate) * b.turn).normalized();
}

void ShotRun::Collide(BallMotion& b, std::array<PinState, 10>& pins, double time_s) {
  const double reach = BallPinReach(body_.radius);
  const double pin_radius = lane::kPinMaxDiameter / 2, wall = lane_width_ / 2 + lane::kGutterWidth;
  const auto size = [&](const PinState& p) {
    // A pin that lies sweeps a wider path than one that stands.
    return p.standing ? pin_radius : pin_radius + MetresFromInches(2.6) * Smooth((time_s - p.hit_s) / p.fall_time);
  };
  const auto hit = [&](PinState& p, std::size_t i, double touch_s, double closing, bool by_ball) {
    if (!p.standing || closing <= 0) return;
    if (!by_ball && p.v.norm() < kTipSpeed) {
      p.v.setZero();
      return;
    }
    p.standing = false;
    p.hit_s = touch_s;
    p.fall_time = std::clamp(0.42 / std::max(0.3, p.v.norm()), 0.16, 0.75);
    // Struck below its centre of gravity by the ball the foot runs away first; by a flying pin the top goes with the
    // blow.
    const double spread = 0.5 * std::sin(12.9898 * static_cast<double>(i + 1) + spec_.speed_mph);
    const Eigen::Vector2d way = p.v.norm() > 0 ? Eigen::Vector2d(p.v.normalized()) : Eigen::Vector2d(0, 1);
    p.lean = Eigen::Rotation2Dd(spread) * (by_ball ? Eigen::Vector2d(-way) : way);
    p.climb = 0.35 * std::min(3.0, p.v.norm()) * (0.5 + 0.5 * std::sin(3.7 * static_cast<double>(i) + spec_.angle_deg));
    fall_s_[i] = touch_s;
    tilt45_s_[i] = touch_s + 0.5 * p.fall_time;
  };
  for (std::size_t i = 0; i < 10; ++i) {
    PinState& p = pins[i];
    if (!p.present) continue;
    p.p += p.v * kStep;
    const double speed = p.v.norm();
    if (speed > 0 && p.p.y() < kDeckBackY)
      p.v *= std::max(0.0, speed - kPinSlide * lane::kStandardGravity * kStep) / speed;
    if (!p.standing) {
      p.height += p.climb * kStep;
      p.climb -= lane::kStandardGravity * kStep;
      const double floor = p.p.y() > kDeckBackY ? -0.5 : std::abs(p.p.x()) > lane_width_ / 2 ? -gutter_depth_ : 0;
      if (p.height < floor) {
        p.height = floor;
        p.climb = p.climb < -0.6 ? -0.3 * p.climb : 0;
      }
    }
    if (std::abs(p.p.x()) > wall - pin_radius) {
      p.p.x() = std::copysign(wall - pin_radius, p.p.x());
      p.v.x() *= -0.45;
    }
    if (p.p.y() > kCushionY - pin_radius) {
      p.p.y() = kCushionY - pin_radius;
      p.v *= 0;
    }
    if (b.p.z() > 0.5 * body_.radius && b.p.y() < kDeckBackY + 0.1) {
      Eigen::Vector2d d = p.p - b.p.head<2>();
      const double distance = d.norm(), limit = reach - pin_radius + (p.standing ? pin_radius : 0.8 * size(p));
      if (distance < limit && p.height < body_.radius) {
        d /= std::max(1e-9, distance);
        Eigen::Vector2d vb = b.v.head<2>();
        // The touch lies inside the step.
        const double rate = (vb - p.v).dot(d);
        const double touch_s = rate > 0 ? time_s - std::min(kStep, (limit - distance) / rate) : time_s;
        const bool stood = p.standing;
        const double closing = Exchange(vb, kBallMass, p.v, kPinMass, d, kBallPinBounce);
        if (closing > 0) {
          b.v.head<2>() = vb;
          b.rolling = false;
          if (stood && (!pin_contact_s_ || touch_s < *pin_contact_s_)) pin_contact_s_ = touch_s;
          hit(p, i, touch_s, closing, true);
        }
      }
    }
    for (std::size_t k = 0; k < i; ++k) {
      PinState& q = pins[k];
      if (!q.present || (p.standing && q.standing)) continue;
      Eigen::Vector2d d = q.p - p.p;
      const double distance = d.norm();
      if (distance >= 0.75 * (size(p) + size(q)) + 0.25 * 2 * pin_radius || std::abs(p.height - q.height) > 0.2)
        continue;
      d /= std::max(1e-9, distance);
      const double closing = Exchange(p.v, kPinMass, q.v, kPinMass, d, kPinPinBounce);
      hit(p, i, time_s, closing, false);
      hit(q, k, time_s, closing, false);
    }
  }
}

PinPose ShotRun::PoseOf(const PinState& pin, double time_s) const {
  PinPose pose;
  pose.shown = pin.present;
  pose.base = {pin.p.x(), pin.p.y(), pin.standing ? 0.0 : pin.height};
  if (!pin.standing) {
    // Tips like a stick: slowly first. The middle of the pin is what the discs move, so the base runs ahead of it.
    const double s = std::clamp((time_s - pin.hit_s) / pin.fall_time, 0.0, 1.0);
    const double tilt = lane::kPi / 2 * (s < 0.5 ? 2 * s * s : 1 - 2 * (1 - s) * (1 - s));
    const double lying = MetresFromInches(2.2) * std::sin(tilt);
    pose.axis = {pin.lean.x() * std::sin(tilt), pin.lean.y() * std::sin(tilt), std::cos(tilt)};
    pose.base.head<2>() -= MetresFromInches(5.8) * std::sin(tilt) * pin.lean;
    pose.base.z() += lying;
    if (pin.p.y() > kCushionY - 0.1 || pin.height < -0.45) pose.shown = pin.height > -0.45;
  }
  return pose;
}

BallMoment ShotRun::At(double time_s) const {
  const double f = std::clamp((time_s - spec_.release_s) / kStep, 0.0, static_cast<double>(states_.size() - 1));
  const std::size_t i = std::min(states_.size() - 2, static_cast<std::size_t>(f));
  const double t = f - static_cast<double>(i);
  const BallMoment &a = states_[i], &b = states_[i + 1];
  BallMoment m = t < 0.5 ? a : b;
  // Hermite in the place; within one step of 0.5 ms a line is enough for the rest.
  const double t2 = t * t, t3 = t2 * t;
  const bool smooth = (b.motion.p - a.motion.p - kStep / 2 * (a.motion.v + b.motion.v)).norm() < 1e-5;
  m.motion.p = smooth ? Eigen::Vector3d((2 * t3 - 3 * t2 + 1) * a.motion.p + (3 * t2 - 2 * t3) * b.motion.p +
                                        kStep * ((t3 - 2 * t2 + t) * a.motion.v + (t3 - t2) * b.motion.v))
                      : Eigen::Vector3d((1 - t) * a.motion.p + t * b.motion.p);
  m.motion.v = (1 - t) * a.motion.v + t * b.motion.v;
  m.motion.w = (1 - t) * a.motion.w + t * b.motion.w;
  m.motion.turn = a.motion.turn.slerp(t, b.motion.turn);
  if (time_s > end_s()) m.phase = BallPhase::kGone;
  return m;
}

std::array<PinPose, 10> ShotRun::PinsAt(double time_s) const {
  if (pin_poses_.empty() || time_s < pins_start_s_) {
    std::array<PinPose, 10> standing;
    const auto spots = lane::PinSpots();
    for (std::size_t i = 0; i < 10; ++i) {
      standing[i].base = {spots[i].x, spots[i].y, 0};
      standing[i].shown = std::find(spec_.pins_before.begin(), spec_.pins_before.end(), static_cast<int>(i) + 1) !=
                          spec_.pins_before.end();
    }
    return standing;
  }
  const double f = (time_s - pins_start_s_) / (kStep * kPinStride);
  const std::size_t last = pin_poses_.size() - 1, i = std::min(last, static_cast<std::size_t>(f)),
                    k = std::min(last, i + 1);
  const double t = std::clamp(f - static_cast<double>(i), 0.0, 1.0);
  std::array<PinPose, 10> poses = pin_poses_[i];
  for (std::size_t n = 0; n < 10; ++n) {
    poses[n].base = (1 - t) * pin_poses_[i][n].base + t * pin_poses_[k][n].base;
    poses[n].axis = ((1 - t) * pin_poses_[i][n].axis + t * pin_poses_[k][n].axis).normalized();
  }
  return poses;
}

}  // namespace hookline::synth
