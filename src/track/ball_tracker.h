// Finds and follows balls rolling down the lane of a known setup.
//
// What is known carries it, not the scene's colours: the ball's true size gives its radius in px at every place of the
// lane; it moves down the lane without jumping, from near the foul line to the pins or the gutter; what does not do
// that (arm, rake, people, mirror images, a neighbour's ball) is not the ball.
#pragma once

#include <memory>
#include <vector>

#include "core/status.h"
#include "model/lane_setup.h"
#include "model/picture.h"
#include "model/track.h"

namespace hookline::track {

struct BallTrackerOptions {
  Status Check() const { return Status::Ok(); }
};

// Feed every picture in order of time, then Finish(). Memory does not grow with the clip's length (apart from the
// sights kept).
class BallTracker {
 public:
  BallTracker(const LaneSetup& setup, const Background& background, const BallTrackerOptions& options = {});
  ~BallTracker();
  BallTracker(const BallTracker&) = delete;
  BallTracker& operator=(const BallTracker&) = delete;

  void Add(const Picture& picture, const FrameMotion& motion);
  // All shots seen, in order of time. Empty when no ball rolled down the lane.
  std::vector<Track> Finish();

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace hookline::track
