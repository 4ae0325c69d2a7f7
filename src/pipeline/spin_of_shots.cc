#include "pipeline/spin_of_shots.h"

#include <algorithm>
#include <cmath>

#include "measure/measure_spin.h"
#include "motion/surface_spin.h"

namespace hookline::pipeline {
namespace {

constexpr double kLanding = 1.4;    // 1 + e and the bounces
constexpr double kLandsWith = 0.6;  // m/s, sd of a landing that was not seen (common practice, no source)
constexpr double kFallPerRise = 4;  // 1 / e
constexpr double kRises = 0.05;     // m/s
constexpr double kAgreesSd = 4;     // of surface and path
constexpr double kBefore = 1e-3;    // s, before the ball lands

}  // namespace

void ReadSpin(const MeasureOptions& options, const ClipResult& clip, const Track& track, const Path& path, Shot* shot) {
  const LaneSetup& setup = *clip.lane_setup;
  motion::SurfaceSpinOptions how;
  how.readout = options.ReadoutOf(clip.clip, how.readout.sd_s);
  if (options.ball_gyration) how.ball_k = std::pow(*options.ball_gyration / how.ball_radius_m, 2);
  const Measure& slip = shot->measures[MeasureId::kSlipAngleDeg];
  if (slip.value) {
    // Inward is to the left for a right-hander.
    how.slip_angle = lane::RadiansFromDegrees(*slip.value) * (shot->hand == lane::Hand::kRight ? 1 : -1);
    how.slip_angle_sd = lane::RadiansFromDegrees(slip.sd);
  }
  const auto views = motion::SurfaceViews(track, path, setup.camera, how.ball_radius_m, how.readout);
  const double first_s = views.empty() ? path.start_s : views.front().time_s;
  const PathState release = path.At(std::min(path.start_s, first_s) - kBefore);
  how.release_velocity = Eigen::Vector2d(release.vx, release.vy);
  // Landing at u, the ball's own friction turns it by mu u (1 + e) / (k R) at once. One that is in the views is read
  // with them, from what the path has of it; one before them is not seen at all, and a ball that rises had one.
  const double per_speed = release.friction * kLanding / (how.ball_k * how.ball_radius_m);
  const bool lands_in_view = path.laydown_seen && first_s < path.start_s - kBefore;
  if (lands_in_view) {
    how.landing_s = path.start_s;
    how.landing_sd = std::hypot(how.landing_sd, 0.5 * per_speed * path.At(path.start_s - kBefore).vz);
  }
  const double rises = std::max(path.At(first_s).vz, 0.0);
  if (!lands_in_view || rises > kRises) how.before_sd = per_speed * std::hypot(kLandsWith, kFallPerRise * rises);
  const motion::SurfaceSpin reading = motion::ReadSurfaceSpin(views, setup.camera, how);
  auto spin = measure::MeasureSpin(reading, *how.release_velocity, shot->hand);
  // What the surface tells must be the spin that moved the ball: its level part's rate and direction. Light taken for a
  // mark turns another way.
  const auto off = [&](double seen, double sd, MeasureId id) {
    const Measure& by_path = shot->measures[id];
    return by_path.value && std::abs(seen - *by_path.value) > kAgreesSd * std::hypot(by_path.sd, sd);
  };
  if (spin.rev_rate_rpm.value && spin.axis_rotation_deg.value && spin.axis_tilt_deg.value) {
    const double level = *spin.rev_rate_rpm.value * std::cos(lane::RadiansFromDegrees(*spin.axis_tilt_deg.value));
    if (off(level, spin.rev_rate_rpm.sd, MeasureId::kPathRevRpm) ||
        off(*spin.axis_rotation_deg.value, spin.axis_rotation_deg.sd, MeasureId::kPathTurnDeg))
      spin.rev_rate_rpm = spin.axis_rotation_deg = spin.axis_tilt_deg =
          Measure::None("What was seen on the ball's surface turns in another way than its path tells.");
  }
  shot->measures[MeasureId::kRevRateRpm] = spin.rev_rate_rpm;
  shot->measures[MeasureId::kAxisRotationDeg] = spin.axis_rotation_deg;
  shot->measures[MeasureId::kAxisTiltDeg] = spin.axis_tilt_deg;
}

}  // namespace hookline::pipeline
