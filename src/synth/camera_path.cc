#include "synth/camera_path.h"

#include <Eigen/Geometry>
#include <cmath>
#include <random>

#include "camera/projection.h"
#include "lane/units.h"

namespace hookline::synth {

using lane::RadiansFromDegrees;

std::vector<double> FrameTimes(const Scenario& scenario) {
  const VideoSpec& v = scenario.video;
  std::mt19937_64 random(scenario.seed * 1000003u + 11);
  // Own scaling: the library's distributions differ between implementations.
  const auto unit = [&] { return static_cast<double>(random() >> 11) * 0x1.0p-53; };
  std::vector<double> times;
  const int frames = std::max(1, static_cast<int>(std::lround(scenario.duration_s * v.fps)));
  double first = 0;
  for (int i = 0; i < frames; ++i) {
    const double shift = (2 * unit() - 1) * v.time_jitter_s;
    const bool dropped = unit() < v.dropped_share;
    if (i > 0 && dropped) continue;
    const double t = i / v.fps + shift;
    if (times.empty()) first = t;
    const double kept = std::round((t - first) * 90000) / 90000;
    if (times.empty() || kept > times.back()) times.push_back(kept);
  }
  return times;
}

CameraPath::CameraPath(const Scenario& scenario)
    : readout_(scenario.video.readout_s),
      turned_deg_(((scenario.video.rotation_deg % 360) + 360) % 360),
      spec_(scenario.camera) {
  const CameraSpec& c = spec_;
  const double yaw = RadiansFromDegrees(c.yaw_deg), pitch = RadiansFromDegrees(c.pitch_deg),
               roll = RadiansFromDegrees(c.roll_deg);
  const Eigen::Vector3d forward(std::sin(yaw) * std::cos(pitch), std::cos(yaw) * std::cos(pitch), -std::sin(pitch));
  const Eigen::Vector3d right(std::cos(yaw), -std::sin(yaw), 0), down = forward.cross(right);
  Eigen::Matrix3d level;
  level.row(0) = right.transpose();
  level.row(1) = down.transpose();
  level.row(2) = forward.transpose();
  rotation_ = Eigen::AngleAxisd(roll, Eigen::Vector3d::UnitZ()).toRotationMatrix() * level;
  still_.width = scenario.video.width;
  still_.height = scenario.video.height;
  still_.focal_px = c.focal_px;
  still_.centre_u = (still_.width - 1) / 2.0 + c.centre_offset_px[0];
  still_.centre_v = (still_.height - 1) / 2.0 + c.centre_offset_px[1];
  still_.k1 = c.k1;
  still_.k2 = c.k2;
  const Eigen::AngleAxisd turn(rotation_);
  still_.rotation = turn.angle() * turn.axis();
  for (int i = 0; i < 3; ++i)
    still_.position_in_lane[i] = lane::MetresFromFeet(c.position_ft[static_cast<std::size_t>(i)]);

  if (c.shake_deg > 0) {
    moves_ = true;
    std::mt19937_64 random(scenario.seed * 7919u + 5);
    const auto unit = [&] { return static_cast<double>(random() >> 11) * 0x1.0p-53; };
    constexpr int kWaves = 7;
    for (auto& axis : waves_) {
      double power = 0;
      for (int k = 0; k < kWaves; ++k) {
        const double rate = c.shake_hz * std::pow(2.0, -2.2 + 3.6 * (k + unit()) / kWaves);
        const double amplitude = 1 / (1 + std::pow(rate / c.shake_hz, 1.5));
        axis.push_back({amplitude, rate, 2 * lane::kPi * unit()});
        power += amplitude * amplitude / 2;
      }
      for (Wave& w : axis) w.amplitude *= RadiansFromDegrees(c.shake_deg) / std::sqrt(power);
    }
    for (Wave& w : waves_[2]) w.amplitude *= 0.6;  // hands roll less than they nod
  }
  if (c.knock_s >= 0) moves_ = true;
  for (double d : c.drift_deg_per_s) moves_ = moves_ || d != 0;
}

Eigen::Matrix3d CameraPath::TurnAt(double time_s) const {
  if (!moves_) return Eigen::Matrix3d::Identity();
  Eigen::Vector3d yaw_pitch_roll = Eigen::Vector3d::Zero();
  for (int i = 0; i < 3; ++i) {
    const auto k = static_cast<std::size_t>(i);
    for (const Wave& w : waves_[i])
      yaw_pitch_roll[i] += w.amplitude * std::sin(2 * lane::kPi * w.rate * time_s + w.phase);
    yaw_pitch_roll[i] += RadiansFromDegrees(spec_.drift_deg_per_s[k]) * time_s;
    if (spec_.knock_s >= 0 && time_s > spec_.knock_s) {
      // Jumps, rings like the tripod it stands on, and stays.
      const double s = time_s - spec_.knock_s;
      yaw_pitch_roll[i] +=
          RadiansFromDegrees(spec_.knock_deg[k]) * (1 - std::exp(-s / 0.18) * std::cos(2 * lane::kPi * 4.5 * s));
    }
  }
  const Eigen::Vector3d axis(yaw_pitch_roll[1], -yaw_pitch_roll[0], yaw_pitch_roll[2]);
  const double angle = axis.norm();
  if (angle < 1e-15) return Eigen::Matrix3d::Identity();
  return Eigen::AngleAxisd(angle, axis / angle).toRotationMatrix();
}

Eigen::Matrix3d CameraPath::HomographyAt(double time_s) const {
  Eigen::Matrix3d k = Eigen::Matrix3d::Identity();
  k(0, 0) = k(1, 1) = still_.focal_px;
  k(0, 2) = still_.centre_u;
  k(1, 2) = still_.centre_v;
  return k * TurnAt(time_s) * k.inverse();
}

}  // namespace hookline::synth
