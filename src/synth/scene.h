// A scenario come to life: the hall, the shots, the people, the pin machines, at any time.
#pragma once

#include <memory>
#include <vector>

#include "synth/camera_path.h"
#include "synth/hall.h"

namespace hookline::synth {

// Everything that moves, between two times close together (one frame's exposure). Places at a share s of the span are
// on the line between; balls have a table because their places are what matters.
struct MovingCone {
  V3 a0, b0, a1, b1;
  float ra, rb;
  const PartLook* look;
  V3 foot;
  float facing_x;
  V3 middle = V3::Zero();  // a ball round all of its places, with room for rounding far away
  float reach2 = 0;
};
struct MovingBall {
  static constexpr int kTimes = 17;
  V3 centre[kTimes];
  Eigen::Quaternionf turn[kTimes];  // lane_from_ball
  float radius;
  const BallLook* look;
  int shot;
  V3 At(float s) const;
  Eigen::Quaternionf TurnAt(float s) const;
};
struct MovingPin {
  V3 base0, base1, axis0, axis1;
  int lane, number;  // lane: index in centres(); number 1..10
};
struct MovingBox {
  V3 low0, high0, low1, high1;
  V3 colour;
};
struct Moving {
  std::vector<MovingCone> cones;
  std::vector<MovingBall> balls;
  std::vector<MovingPin> pins;
  std::vector<MovingBox> boxes;
};

class Scene {
 public:
  explicit Scene(const Scenario& scenario);
  Scene(const Scene&) = delete;
  Scene& operator=(const Scene&) = delete;

  const Scenario& scenario() const { return scenario_; }
  const Hall& hall() const { return hall_; }
  const CameraPath& camera() const { return camera_; }
  const std::vector<ShotRun>& runs() const { return runs_; }
  double LaneX(int lane) const;  // centre of a shot's lane, m
  Moving At(double from_s, double to_s) const;

  // Share of the ball's disc, of a shot at a time, that the camera sees: not hidden by people, pins, the machine, the
  // hall, the border.
  double BallVisible(std::size_t shot, double time_s) const;
  // The same for a pin standing on its spot in the shot's lane.
  double PinVisible(std::size_t shot, int pin, double time_s) const;

 private:
  void AddFigure(const BodyPose& p0, const BodyPose& p1, const FigureSpec& figure, std::size_t looks,
                 Moving& out) const;
  void AddDeck(int lane_index, double from_s, double to_s, Moving& out) const;
  std::array<PinPose, 10> DeckAt(const std::vector<std::size_t>& shots, double time_s, double* bar_y,
                                 double* bar_z) const;
  bool Blocked(const Ray& ray, float distance, const Moving& moving, int own_ball, int own_lane, int own_pin) const;
  bool InPicture(const V3& p, double time_s) const;

  Scenario scenario_;
  Hall hall_;
  CameraPath camera_;
  std::vector<ShotRun> runs_;
  std::vector<std::unique_ptr<Bowler>> bowlers_;
  std::vector<BallLook> ball_looks_;
  std::vector<std::array<PartLook, static_cast<std::size_t>(Garment::kCount)>> looks_;  // shots' bowlers, then people
  std::vector<std::vector<std::size_t>> shots_of_lane_;                                 // by index in centres()
};

// Where a ray meets a moving thing at share s of the span; `normal` gets the outward unit vector.
float HitMoving(const Ray& ray, const MovingCone& cone, float s, V3* normal);
float HitMoving(const Ray& ray, const MovingBall& ball, float s, V3* normal);
float HitMoving(const Ray& ray, const MovingPin& pin, float s, V3* normal, float* height);
float HitMoving(const Ray& ray, const MovingBox& box, float s, V3* normal);

}  // namespace hookline::synth
