// One clip's picture with what is drawn over it, in the lane's own perspective; zoomed with the wheel, moved with the
// mouse, and, while correcting, with handles on the lane's marks and on the ball that can be dragged.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "model/lane_setup.h"
#include "model/picture.h"
#include "viewer/overlay_lines.h"
#include "viewer/picture_map.h"
#include "viewer/style.h"
#include "viewer/video_view.h"

namespace hookline::viewer {

struct PictureShot {
  const Shot* shot = nullptr;
  double lane_width = lane::kNominalWidth;  // of the shot's own lane, m
  double time_s = 0;                        // of the shot's own clip
  SeriesLook look;
  bool on_show = false;  // with labels
};

struct PictureHandle {
  std::string name;                              // "foul_left", "ball"
  std::string label;                             // for people
  Eigen::Vector2d at = Eigen::Vector2d::Zero();  // px of the frame
  double radius_px = 0;                          // of the ball's own outline; 0: a mark
  bool by_hand = false;
};

struct DrawnParts {
  bool lane = true, ruler = true, path = true, band = true, ball = true, places = true, speed = true;
};

struct PictureInputs {
  const Style* style = nullptr;
  VideoView* video = nullptr;  // null, or no picture yet: `waiting` says why
  std::string waiting;
  int width = 0, height = 0;         // of the displayed picture
  const LaneSetup* setup = nullptr;  // null: no lane is known
  FrameMotion motion;
  lane::Hand hand = lane::Hand::kRight;
  std::vector<PictureShot> shots;
  DrawnParts drawn;
  bool straighten = false;
  std::vector<PictureHandle> handles;  // while correcting
  std::string caption;                 // in the corner: which clip, which time
  std::string note;                    // below it: what is to be known, such as "set by hand"
};

struct HandleDrag {
  std::string name;
  Eigen::Vector2d to = Eigen::Vector2d::Zero();  // px of the frame
  bool began = false, ended = false;
};

struct PictureEvents {
  std::optional<HandleDrag> drag;
  std::optional<Eigen::Vector2d> clicked;  // px of the frame, where there is no handle
  bool focused = false;                    // this picture was clicked into
};

class PicturePanel {
 public:
  // Fills what is left of the current window.
  PictureEvents Draw(const PictureInputs& in);
  void ZoomBy(double factor);
  void ZoomOff() { zoom_ = {}; }
  // Where the frame's middle is in the window, and its scale; for tests that use a mouse.
  const std::optional<PictureMap>& map() const { return map_; }

 private:
  struct Rows {
    float top = 0, bottom = 0;  // of the window, px; equal: none
  };
  Rows DrawLane(const PictureInputs& in, const PictureMap& map) const;  // where the ruler has its numbers
  void DrawShot(const PictureInputs& in, const PictureMap& map, const PictureShot& shot, const Rows& ruler) const;
  void Handles(const PictureInputs& in, const PictureMap& map, bool hovered, PictureEvents* events);
  PictureZoom zoom_;
  std::optional<PictureMap> map_;
  std::string dragged_;
  Eigen::Vector2d grip_ = Eigen::Vector2d::Zero();
  bool moved_ = false;
};

}  // namespace hookline::viewer
