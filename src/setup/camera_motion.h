// The camera's small turns while filming, from the fixed background: drift, shake, a knocked tripod.
#pragma once

#include <memory>

#include "model/lane_setup.h"
#include "model/picture.h"

namespace hookline::setup {

class CameraMotion {
 public:
  // `background` is in the reference frame's coordinates.
  CameraMotion(const LaneSetup& setup, const Background& background);
  ~CameraMotion();
  CameraMotion(const CameraMotion&) = delete;
  CameraMotion& operator=(const CameraMotion&) = delete;
  // Turn of this picture against the reference. Frames in order of time.
  FrameMotion Estimate(const Picture& picture);

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace hookline::setup
