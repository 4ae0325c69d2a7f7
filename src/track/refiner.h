// Inside of the refinement (refine.h): the fits of one chain, and what they say of gutter, release, hand and end. Not a
// door of the room.
#pragma once

#include <Eigen/Core>
#include <optional>
#include <vector>

#include "track/refine.h"

namespace hookline::track {

// One step of the chain and its fit.
struct Fitted {
  const Step* step = nullptr;
  Eigen::Vector2d start = Eigen::Vector2d::Zero();     // px
  Eigen::Vector2d contact = Eigen::Vector2d::Zero();   // m, of start
  Eigen::Vector2d velocity = Eigen::Vector2d::Zero();  // px/s
  double radius = 0;                                   // px, expected
  Outline outline;                                     // expected
  DiscFit fit;
};

// NaN of none.
double MedianOf(std::vector<double> v);

// Local straight or bent line through (t, value, weight), evaluated at t0 with its variance in units of the weights.
struct LocalFit {
  bool ok = false;
  double value = 0, slope = 0, variance = 0;
};
// Not ok with fewer than one point more than unknowns.
LocalFit FitLocal(const std::vector<Eigen::Vector3d>& points, double t0, bool bent);

class Refiner {
 public:
  Refiner(const Chain& chain, const Corridor& corridor, double least_way)
      : chain_(chain), corridor_(corridor), least_way_(least_way) {}

  std::optional<Track> Run(double clip_end_s, RefineReport& report);

 private:
  static constexpr double kLeastSeen = 0.3;      // share of the rim below which a fit is not believed
  static constexpr double kLeastContrast = 1.5;  // of ball and surroundings, in widths of the residuals

  // refine.cc
  void Prepare();
  void Expect(Fitted& f) const;
  DiscFit FitAt(const Fitted& f, const DiscModel& model) const;
  DiscModel Model(const Fitted& f) const;
  void FitAll(double radius_sd, std::size_t stride = 1, bool rough = false);
  void ChooseBlur();
  void PoolRadius();
  bool Believed(const Fitted& f) const {
    return f.fit.ok && f.fit.seen_share >= kLeastSeen && f.fit.contrast >= kLeastContrast;
  }
  // For the radius: well seen and on the lane.
  bool Counts(const Fitted& f) const {
    return Believed(f) && f.fit.seen_share > 0.6 && f.contact.y() > 0.5 && !(gutter_s_ && f.step->time_s > *gutter_s_);
  }
  void Calibrate(RefineReport& report);
  bool Promising(std::size_t stride) const;
  bool Plausible() const;
  double MedianRadius() const;
  std::vector<BallPatch> SurfacePatches() const;
  // shot_events.cc
  void FindGutter();
  void FindRelease();
  void FindFlight();
  void GuessRelease();
  std::optional<char> FindHand() const;
  void Ending(double clip_end_s, Track& track) const;

  const Chain& chain_;
  const Corridor& corridor_;
  double least_way_;  // m
  std::vector<Fitted> fits_;
  std::vector<bool> kept_;
  std::vector<bool> air_;  // sights of free flight before the ball lies on the lane
  double factor_ = 1, offset_ = 0, blur_ = 0.75, gamma_ = 2.2, exposure_ = 0, frame_s_ = 1.0 / 60;
  Eigen::Vector2d chroma_at_{0, 0};
  double off_px_ = 0;  // median distance of the sights from their neighbours' path
  bool pooled_ = false;
  std::optional<double> gutter_s_;
  std::optional<double> start_s_;  // what was before is not the rolling ball
  std::optional<double> release_s_;
  int gutter_side_ = 0;  // -1 left, +1 right
};

}  // namespace hookline::track
