// The lane from above: boards, arrows, pins, the paths of the shots with their doubt, breakpoints and entries; friction
// and balls rolled as layers; and a ball rolled again with something changed, dragged live.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "viewer/lane_view.h"
#include "viewer/plots_panel.h"  // SeekWish
#include "viewer/shown_shot.h"
#include "viewer/style.h"
#include "viewer/what_if_runner.h"

namespace hookline::viewer {

struct LaneScene;

struct LaneInputs {
  const Style* style = nullptr;
  std::span<const ShownShot> shots;
  std::optional<int> playing;    // id of the shot whose clip is played
  std::optional<double> time_s;  // of that clip: the ball is drawn there
};

struct LaneEvents {
  std::optional<int> clicked;    // a shot's path
  std::optional<SeekWish> seek;  // and the place on it
};

class LanePanel {
 public:
  // `wake` is called from another thread when a what-if's answer or the friction has come.
  explicit LanePanel(std::function<void()> wake);
  LaneEvents Draw(const LaneInputs& in);

  struct Layers {
    bool others = true, doubt = true, friction = false, balls = false, what_if = false;
  };
  Layers& layers() { return layers_; }

 private:
  void DrawToolbar(const LaneInputs& in);
  void DrawLegend(const LaneInputs& in, LaneEvents* events);
  void DrawLane(const LaneInputs& in, LaneEvents* events);
  void DragWhatIf(const LaneScene& s, bool hovered);
  void DrawWhatIfControls(const LaneInputs& in);
  void DrawLayerKey(const LaneInputs& in);
  void AskAgain();

  std::function<void()> wake_;
  std::unique_ptr<WhatIfRunner> runner_;  // made when first needed
  WhatIfRunner::News news_;
  Layers layers_;
  LaneStretch stretch_;
  int across_choice_ = 0;
  double feet_ = 0, eyes_ = 0, faster_mph_ = 0, turn_deg_ = 0, revs_rpm_ = 0;
  bool asked_ = false;
  std::uint64_t asked_key_ = 0;
  enum class Handle { kNone, kFeet, kEyes, kLane };
  Handle dragging_ = Handle::kNone;
  double drag_start_ = 0, drag_value_ = 0;
};

}  // namespace hookline::viewer
