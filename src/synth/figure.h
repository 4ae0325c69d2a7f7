// People: a jointed body of round cones, and how it bowls, walks and stands. Plausible to look at; the one thing that
// is exact is that the hand holds the ball until the release and that the ball leaves from where its flight begins.
// Metres, lane frame.
#pragma once

#include <Eigen/Core>
#include <optional>
#include <vector>

#include "synth/shapes.h"
#include "synth/shot_run.h"

namespace hookline::synth {

enum class Garment : std::uint8_t { kShirt, kTrousers, kSkin, kHair, kShoes, kCount };

struct BodyPart {
  V3 a, b;
  float ra = 0.1f, rb = 0.1f;
  Garment garment = Garment::kShirt;
};

// A body at one moment.
struct BodyPose {
  Eigen::Vector3d pelvis = Eigen::Vector3d::Zero();
  double facing = 0;                   // rad from +y towards +x
  double lean = 0, side_lean = 0;      // rad; side_lean towards the body's own right
  Eigen::Vector3d ankle[2], wrist[2];  // left, right
};

std::vector<BodyPart> PartsOf(const BodyPose& pose, const FigureSpec& figure);

// Standing upright at a place, hands hanging.
BodyPose Standing(const FigureSpec& figure, const Eigen::Vector2d& place, double facing);
// In the middle of a walk: `travelled` m so far.
BodyPose Walking(const FigureSpec& figure, const Eigen::Vector2d& place, double facing, double travelled);

// A person's pose on the way given in the scenario.
BodyPose PoseOf(const PersonSpec& person, double time_s);

class Bowler {
 public:
  // lane_x: centre of the lane bowled on. shown_from/until: when this bowler is in the hall.
  Bowler(const ShotRun& run, double lane_x, double shown_from, double shown_until);
  bool ShownAt(double time_s) const { return time_s >= from_ && time_s < until_; }
  BodyPose PoseAt(double time_s) const;
  // The ball's centre in the hand; meaningful before the release.
  Eigen::Vector3d BallAt(double time_s) const;
  double start_s() const { return start_; }  // the approach begins
  const FigureSpec& figure() const { return run_->spec().bowler; }

 private:
  BodyPose Approach(double time_s, Eigen::Vector3d* ball) const;
  Eigen::Vector3d FootAt(bool ball_side, double tau) const;
  double PelvisY(double tau) const;

  const ShotRun* run_;
  double side_, from_, until_, start_, slide_end_;
  double height_, body_x_ = 0, foot_y_ = -0.2, stance_y_ = -4;
  Eigen::Vector3d correction_ = Eigen::Vector3d::Zero();  // lane_from free swing at the release
  Eigen::Vector2d bench_;                                 // where the bowler waits
};

}  // namespace hookline::synth
