// The ball's spin read off its surface: the turn of the sphere that carries what is seen in one picture into the
// others.
//
// Known from path and setup, for every picture: where the ball's centre is, so which pixel shows which normal n of the
// sphere (perspective, lens and travel are taken out). A picture's level there is
//   I_i(n) = S(n) + S'(n) t_i + T(R_i^T n) + noise
// S light and gloss, which stay where they are while the ball turns (slowly changing as it travels), T the surface's
// own pattern, R_i the turn since a middle time: dR/dt = [w] R, w(t) = w_m + s (d(t) - d(t_m)). The change d of the
// spin is friction's and follows from the path's velocity, R_ball k d = (vy, -vx): what friction takes from the travel
// it gives to the spin (src/motion/ball_motion.h); s is 1 with a doubt, the spin about the upright axis stays.
// Unknowns: w_m, s, and T and S, which are averages and eliminated.
//
//   1. coarse: every spin a ball can have, by how well pairs of pictures a few hundredths of a second apart agree
//   2. the best of them are refined over longer and longer stretches of time, Gauss-Newton on all pixels at once
//   3. compared by how well the other pictures predict each picture; where two remain (a slow camera, a pattern that
//      repeats) the path's slip angle decides, or nothing is said
//   4. covariance from the scatter of the gradient over blocks of pixels (time x part of the disc), which holds for
//      noise that neighbours share; not from the noise of one pixel
//
// Frame: the lane's, rad/s, s, m. Limits: no answer for a ball that shows no pattern, or whose pattern shows nothing
// turning (reason says so); a spin above `most_rate` is not looked for; exposure only smears the pattern and is not
// modelled; a sensor's unknown readout makes the clock run slow or fast and is part of the doubt.
#pragma once

#include <Eigen/Core>
#include <optional>
#include <vector>

#include "core/status.h"
#include "lane/lane_spec.h"
#include "lane/units.h"
#include "model/lane_setup.h"
#include "model/path.h"
#include "model/readout.h"
#include "model/spin.h"
#include "model/track.h"

namespace hookline::motion {

// One picture of the ball, with the ball's place and velocity there.
struct SurfaceView {
  BallPatch patch;
  double time_s = 0;                                   // when the sensor read the ball's rows
  Eigen::Vector3d centre = Eigen::Vector3d::Zero();    // m
  Eigen::Vector2d velocity = Eigen::Vector2d::Zero();  // m/s, level
};

struct SurfaceSpinOptions {
  double most_rate = 68;        // rad/s, 650 rpm
  double least_radius_px = 12;  // of the disc, below which a picture is not used
  double span_s = 0.6;          // s from the first view; farther on friction has changed the spin more
  int least_views = 8;          // pictures below which nothing is said
  double ball_radius_m = lane::kBallDiameter / 2;
  double ball_k = lane::kUsualBallK;  // (radius of gyration / radius)^2
  // How the spin changes: sd of s above (the path's friction, k), of a friction that grows or falls with time (share of
  // the whole change), and of what the landing at `landing_s` does beyond what the path says, rad/s.
  double friction_scale_sd = 0.25;
  double friction_bend_sd = 0.05;
  double landing_sd = 0.3;
  double landing_s = -1e9;       // -1e9: none
  Readout readout{0, 0.008, 0};  // of the sensor; its sd makes the clock doubtful
  double least_explained = 0.2;  // share of the pattern's variance that the other pictures must predict
  double least_lead = 0.25;      // lead over the next spin, share of what the best predicts, to need no help
  // Level velocity at release; what the path's friction did to the spin since then is added back.
  std::optional<Eigen::Vector2d> release_velocity;
  // sd of what happened to the spin between release and the first view beyond that, along the friction, rad/s: a
  // landing that was not seen.
  double before_sd = 0;
  // What the path says of the spin, 0 sd: nothing. At the first view, rad: angle of the slip of ball on lane against
  // travel, positive to the left.
  double slip_angle = 0, slip_angle_sd = 0;
  Status Check() const;
};

struct SurfaceSpin : SpinReading {  // the spin at release, or at the first view where no release was given
  double time_s = 0;                // of the first view
  Eigen::Vector3d middle_spin = Eigen::Vector3d::Zero();  // at `middle_s`
  double middle_s = 0;
  double friction_scale = -1, friction_scale_sd = -1;  // s as fitted
  double explained = -1;  // share of the pattern's variance that other pictures predict; -1 not looked
  double next_best = -1;  // the same for the next spin that is not this one
  int views = 0, candidates = 0;
  double seconds = 0;  // from first to last view
};

// Views in order of time.
SurfaceSpin ReadSurfaceSpin(const std::vector<SurfaceView>& views, const CameraModel& camera,
                            const SurfaceSpinOptions& options = {});

// The views of a track with its fitted path.
std::vector<SurfaceView> SurfaceViews(const Track& track, const Path& path, const CameraModel& camera,
                                      double ball_radius_m, const Readout& readout);

}  // namespace hookline::motion
