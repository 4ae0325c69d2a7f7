// The lane from above, drawn piece by piece: floor with its layers, rulers, arrows and pins, the shots' paths, a ball,
// a ball rolled again. Where each thing goes is lane_view.h's; nothing here holds state.
#pragma once

#include <imgui.h>

#include "lane/lane_spec.h"
#include "motion/what_if.h"
#include "viewer/lane_view.h"
#include "viewer/shown_shot.h"
#include "viewer/style.h"
#include "viewer/what_if_runner.h"

namespace hookline::viewer {

struct LaneScene {
  const Style& style;
  const LaneView& view;
  ImDrawList* list;
  lane::LaneSpec lane;
  lane::Hand hand;  // whose boards the ruler counts
  ImVec2 Px(double x, double y) const {
    const Eigen::Vector2d p = view.PanelFromLane({x, y});
    return {static_cast<float>(p.x()), static_cast<float>(p.y())};
  }
};

// Ends of the friction layer's shades: low is dark and blue, high is bright and sandy, so that brightness alone tells
// them apart.
inline constexpr double kLowFriction = 0.03, kHighFriction = 0.25;
Ink FrictionInk(double mu, double alpha);

// Approach, lane, gutters; friction as shade that fades where it is a guess, balls rolled as squares that grow. null:
// without that layer.
void DrawLaneFloor(const LaneScene& s, const FrictionGrid* friction, const FrictionGrid* balls);
// Boards, feet, foul line, arrows, pins.
void DrawLaneRulers(const LaneScene& s);
// In colour, dash and marker, with band of doubt, breakpoint and entry. A shot without a path shows the places that
// were measured.
void DrawShotOnLane(const LaneScene& s, const ShownShot& shown, bool doubt);
void DrawQuietPath(const LaneScene& s, const ShownShot& shown);
// To scale where that is not too small to see.
void DrawBallOnLane(const LaneScene& s, const ShownShot& shown, double time_s);
// As rolled thin, as changed wide and broken, with one sd of its entry.
void DrawWhatIfPaths(const LaneScene& s, const motion::WhatIfAnswer& answer);

}  // namespace hookline::viewer
