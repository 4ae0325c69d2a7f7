// Links ball-like places of successive frames into chains that move as a ball rolls.
//
// State (x, y, vx, vy) of the contact point in the lane frame, m and m/s, constant velocity with a little acceleration
// noise (a ball slows by friction at 0.3 to 3 m/s^2 and hooks at as much). A chain starts from places some tenth of a
// second apart that a ball could have gone between, with most frames in between agreeing; it is carried on by looking
// for the disc near the prediction, and coasts over frames in which the ball is hidden.
#pragma once

#include <Eigen/Core>
#include <deque>
#include <optional>
#include <vector>

#include "track/change_map.h"
#include "track/corridor.h"
#include "track/disc_fit.h"

namespace hookline::track {

struct Candidate {
  Eigen::Vector2d p = Eigen::Vector2d::Zero();        // px
  Eigen::Vector2d contact = Eigen::Vector2d::Zero();  // m
  double radius = 0;                                  // px
  double score = 0;                                   // of DiscScore
};

// The best ball-like places of a frame, strongest first, no two nearer than a radius.
std::vector<Candidate> FindCandidates(const FrameView& view, const Corridor& corridor);

// Best disc within the window (px, half sizes) around a predicted contact point; score 0 when nothing is there. The
// penalty is one unit of score at a window's half size.
Candidate SearchDisc(const FrameView& view, const Corridor& corridor, const Eigen::Vector2d& contact, double window_u,
                     double window_v);

// One frame of a chain.
struct Step {
  std::int64_t frame = -1;
  double time_s = 0;
  FrameMotion motion;
  bool hit = false;
  bool rim = false;  // the place is that of a disc seen by its rim
  double score = 0;
  Eigen::Vector2d p = Eigen::Vector2d::Zero();        // px, as found, or predicted when not hit
  Eigen::Vector2d contact = Eigen::Vector2d::Zero();  // m
  double pin_change = -1;  // mean change at the pins outside the ball, grey levels; -1 not looked at
  BodyProfile body{};      // people beside the foul line
  Patch patch;
};

class Chain {
 public:
  // Starts a chain from places of frames in order of time. Frames between them without a place, and those that were not
  // searched, are looked at again near the line through the places.
  Chain(const Corridor& corridor, const ChangeMap& map,
        const std::vector<std::pair<const FrameView*, Candidate>>& places, const std::deque<FrameView>& views);

  void Advance(const FrameView& view);
  // Looks for the ball in frames before the chain began, newest first, and prepends what is found.
  void ExtendBack(const std::deque<FrameView>& views);

  bool over() const { return over_; }
  bool Near(const Candidate& c) const;  // is it the place this chain holds now
  const std::vector<Step>& steps() const { return steps_; }
  std::vector<Step>& steps() { return steps_; }
  double last_time() const { return steps_.back().time_s; }
  const Eigen::Vector4d& state() const { return state_; }
  // Drops the steps before the ball went down the lane: carried by a swinging arm it goes back and forth.
  void DropSwing();
  // The part of it between two times, both left out.
  Chain Between(double from_s, double to_s) const;
  // Since when this chain holds the mirror image of what the other one holds: the image lies below the ball, some two
  // radii off, at the same time. Only for chains that began before the other.
  std::optional<double> MirrorOf(const Chain& other) const;
  // Rolled far enough, steadily enough, to be a ball.
  bool Convincing() const;
  // Median distance of a hit from the line between its neighbours, over what the search's cells let a ball scatter (1
  // is much).
  double Roughness() const;
  double quality() const;  // sum of the scores of its hits
  int hits() const { return hits_; }

 private:
  void Predict(double dt);
  void Update(const Eigen::Vector2d& p, double sigma_px);
  bool SeeRim(const FrameView& view, const Eigen::Vector2d& expected, double window_u, double window_v);
  Step Make(const FrameView& view, const Candidate* found, const Eigen::Vector2d& contact) const;

  const Corridor* corridor_;
  const ChangeMap* map_;
  Eigen::Vector4d state_ = Eigen::Vector4d::Zero();
  Eigen::Matrix4d covariance_ = Eigen::Matrix4d::Identity();
  std::vector<Step> steps_;
  int hits_ = 0;
  double last_hit_s_ = 0;
  double mean_score_ = 0;
  bool over_ = false;
  bool rolls_ = false;   // long enough to be worth a look at its rim
  int rims_missed_ = 0;  // looks in a row that found none
};

// New chains from the candidates of the newest view, by pairs with those of earlier ones. `candidates` runs parallel to
// `views`.
std::vector<Chain> StartChains(const Corridor& corridor, const ChangeMap& map, const std::deque<FrameView>& searched,
                               const std::deque<std::vector<Candidate>>& candidates, const std::deque<FrameView>& views,
                               const std::vector<Chain>& existing);

}  // namespace hookline::track
