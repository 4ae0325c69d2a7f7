// A made hall with nobody in it, seen once; truth is the scene's own camera.
#pragma once

#include <opencv2/imgproc.hpp>

#include "model/camera_model.h"
#include "synth/render.h"

namespace hookline::setup {

struct HallSeen {
  cv::Mat luma;
  CameraModel camera;
};

inline HallSeen LookOnce(const synth::Scenario& scenario) {
  const synth::Scene scene(scenario);
  synth::Renderer renderer(scene);
  cv::Mat bgr;
  renderer.Render(0, 0, bgr);
  HallSeen seen;
  cv::cvtColor(bgr, seen.luma, cv::COLOR_BGR2GRAY);
  seen.camera = scene.camera().still();
  return seen;
}

// Behind the approach of four lanes, half a foot to the right of one's middle.
inline synth::Scenario FourLanes() {
  synth::Scenario s;
  s.video.width = 1280;
  s.video.height = 720;
  s.camera.focal_px = 950;
  s.camera.position_ft = {0.5, -15, 5};
  s.camera.pitch_deg = 7;
  s.lanes.centres_in = {-66, 0, 66, 140};
  return s;
}

}  // namespace hookline::setup
