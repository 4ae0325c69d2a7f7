// One shot from the hand to the pit: the ball's motion (ball_physics.h), the gutter, and the pins.
//
// Gutter: once the contact point is beyond the lane's edge the centre is held to the curve that a ball rolling over the
// edge into a round trough takes; friction along the trough makes it roll. Pins: discs of the pin's widest diameter
// that take and give momentum in the plane (masses 6.8 and 1.6 kg); a pin that is pushed faster than a threshold tips
// over. Plausible to look at, exact in its times of first touch; not a model of carry. Units SI, the own frame of the
// shot's lane.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "synth/ball_physics.h"
#include "synth/scenario.h"

namespace hookline::synth {

enum class BallPhase { kFlight, kLane, kGutter, kPins, kGone };
const char* NameOf(BallPhase phase);

struct BallMoment {
  BallMotion motion;
  BallPhase phase = BallPhase::kFlight;
};

struct PinPose {
  Eigen::Vector3d base = Eigen::Vector3d::Zero();   // middle of the base
  Eigen::Vector3d axis = Eigen::Vector3d::UnitZ();  // from base to top
  bool shown = true;
};

class ShotRun {
 public:
  // lane_width and gutter_depth in m.
  ShotRun(const ShotSpec& spec, double lane_width, double gutter_depth);

  const ShotSpec& spec() const { return spec_; }
  double hand_sign() const { return hand_sign_; }  // +1 right, -1 left
  double radius() const { return body_.radius; }
  const BallBody& body() const { return body_; }
  const Friction& friction() const { return friction_; }
  double release_s() const { return spec_.release_s; }
  double end_s() const {
    return release_s() + kStep * static_cast<double>(states_.size() - 1);
  }  // the ball has left the picture
  double laydown_s() const { return laydown_s_; }
  std::optional<double> gutter_s() const { return gutter_s_; }
  std::optional<double> roll_s() const { return roll_s_; }
  std::optional<double> pin_contact_s() const { return pin_contact_s_; }
  // Time of the first touch of pin 1..10, for those that fall; and when its tilt passes 45 degrees.
  const std::array<std::optional<double>, 10>& fall_s() const { return fall_s_; }
  const std::array<std::optional<double>, 10>& tilt45_s() const { return tilt45_s_; }
  double sweep_s() const { return sweep_s_; }  // the bar begins to come down; infinite when there is none
  std::vector<int> pins_after() const;

  // The ball at a time in [release_s, end_s]; beyond, the nearer end. Cubic between the stored steps.
  BallMoment At(double time_s) const;
  // Pins as the ball and the bodies leave them; the machine's part (sweep, new rack) is the deck's business.
  std::array<PinPose, 10> PinsAt(double time_s) const;

  static constexpr double kStep = 0.0005;  // s

 private:
  struct PinState {
    Eigen::Vector2d p, v;
    bool standing = true, present = true;
    double hit_s = 0, fall_time = 0.3, height = 0, climb = 0;
    Eigen::Vector2d lean = Eigen::Vector2d::UnitY();
  };
  void Run();
  void StepGutter(BallMotion& b, double side, double dt) const;
  double GutterHeight(double across) const;
  void Collide(BallMotion& b, std::array<PinState, 10>& pins, double time_s);
  PinPose PoseOf(const PinState& pin, double time_s) const;

  ShotSpec spec_;
  double lane_width_, gutter_depth_, hand_sign_;
  BallBody body_;
  Friction friction_;
  std::vector<BallMoment> states_;
  double laydown_s_ = 0, sweep_s_ = 0;
  std::optional<double> gutter_s_, roll_s_, pin_contact_s_;
  std::array<std::optional<double>, 10> fall_s_, tilt45_s_;
  double pins_start_s_ = 0;
  std::vector<std::array<PinPose, 10>> pin_poses_;  // every kPinStep from pins_start_s_
  static constexpr int kPinStride = 4;              // in kStep
};

// Radius of a pin at a height above its base, m: the profile of the pin specification, straight between its heights.
double PinRadius(double height);
// Heights and radii of that profile, m.
inline constexpr int kPinRings = 16;
const std::array<std::array<double, 2>, kPinRings>& PinProfile();

}  // namespace hookline::synth
