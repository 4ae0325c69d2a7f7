// A clip result made by hand: two shots, one with every measure, one a gutter ball. Invented numbers.
#pragma once

#include "lane/units.h"
#include "model/shot.h"

namespace hookline::test {

// A camera 4.5 m behind the foul line and 1.6 m high that looks down the lane.
inline CameraModel BehindTheLane(int width = 1920, int height = 1080) {
  CameraModel c;
  c.width = width;
  c.height = height;
  c.focal_px = 1.25 * (width > height ? width : height);
  c.centre_u = (width - 1) / 2.0;
  c.centre_v = (height - 1) / 2.0;
  c.k1 = -0.05;
  c.k2 = 0.01;
  // Looking along +y: camera x = lane x, camera y = -lane z, camera z = lane y, then tilted down by 4 degrees.
  c.rotation = Eigen::Vector3d(lane::RadiansFromDegrees(94), 0, 0);
  c.position_in_lane = Eigen::Vector3d(0.15, -4.5, 1.6);
  return c;
}

inline Measures EveryMeasure() {
  Measures m;
  for (std::size_t i = 0; i < kMeasureCount; ++i)
    m.all[i] = Measure::Of(3.14159 + 1.7 * static_cast<double>(i), 0.013 * (1 + static_cast<double>(i)));
  return m;
}

inline Shot HookShot() {
  Shot s;
  s.number = 1;
  s.hand_source = HandSource::kGiven;
  s.release_s = 0.5;
  s.pin_contact_s = 2.75;
  s.measures = EveryMeasure();
  s.pins_reason = "the pin deck was not read";
  for (int i = 0; i <= 135; ++i) {
    PathPoint p;
    p.time_s = 0.55 + i / 60.0;
    p.y = lane::MetresFromFeet(1.0) + 7.85 * i / 60.0;
    const double f = (p.y - lane::MetresFromFeet(38.0)) / lane::MetresFromFeet(38.0);
    p.x = 0.30 - 0.22 * f * f;
    p.sd_x = 0.002;
    p.sd_y = 0.01;
    p.seen = i % 7 != 3;
    s.path.push_back(p);
  }
  return s;
}

inline Shot GutterShot() {
  Shot s = HookShot();
  s.number = 2;
  s.hand_source = HandSource::kAssumed;
  s.pin_contact_s.reset();
  s.gutter_ft = 43.2;
  s.gutter_own_side = true;
  for (MeasureId id : {MeasureId::kBreakpointBoard, MeasureId::kBreakpointFt, MeasureId::kEntryBoard,
                       MeasureId::kEntryAngleDeg, MeasureId::kSpeedEntryMph, MeasureId::kSpeedMeanMph}) {
    s.measures[id] = Measure::None("the ball went into the gutter at 43 ft");
  }
  return s;
}

inline ClipResult TwoShots() {
  ClipResult r;
  r.clip.file = "evening, lane \"7\".mp4";
  r.clip.width = 1920;
  r.clip.height = 1080;
  r.clip.frames = 420;
  r.clip.duration_s = 7;
  r.clip.frame_rate_mean = 60;
  LaneSetup setup;
  setup.camera = BehindTheLane();
  setup.residual_px = 0.31;
  r.lane_setup = setup;
  r.camera_moved_px = 0.2;
  r.shots = {HookShot(), GutterShot()};
  r.warnings = {"the bowler's hand was not told; boards are counted as for a right-hander"};
  return r;
}

}  // namespace hookline::test
