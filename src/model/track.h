// A ball followed in the picture, frame by frame, before any path is fitted.
#pragma once

#include <Eigen/Core>
#include <cstdint>
#include <opencv2/core/mat.hpp>
#include <optional>
#include <string>
#include <vector>

namespace hookline {

// One sight of the ball. Centre is that of the disc the ball makes in the REFERENCE frame's coordinates (camera motion
// taken out).
struct BallSight {
  std::int64_t frame = -1;
  double time_s = 0;
  Eigen::Vector2d p_in_image = Eigen::Vector2d::Zero();  // px, distorted (as in the picture), reference frame
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();  // px^2
  // sd in u and v of what this sight and its neighbours are off alike, px: in no covariance, no scatter shows it.
  Eigen::Vector2d lasting_sd = Eigen::Vector2d::Zero();
  // px that the centre lies to the right for one px that the rim is taken to be wider than it is: little where both
  // sides of the rim stand out alike, nearly one where only the right one does. (Up and down the rim's foot is always
  // hidden; that is part of lasting_sd.)
  double by_radius_u = 0;
  Eigen::Vector2d p_in_frame = Eigen::Vector2d::Zero();  // px, as in that very frame (for drawing)
  double radius_px = 0;                                  // radius expected from the lane setup at that place
  bool in_air = false;                                   // still in free flight or a bounce, by how it falls
  double seen_share = 0;                                 // share of the disc's rim that was seen and agreed, 0..1
  bool set_by_hand = false;                              // a person put it there
};

// What a person set of a shot (model/corrections.h).
struct ByHand {
  bool added = false;  // the whole shot
  bool release = false, pin_contact = false;
  int placed = 0;   // sights put where the ball is
  int removed = 0;  // sights taken out
  bool Any() const { return added || release || pin_contact || placed > 0 || removed > 0; }
};

// The pixels around a sight where the ball is large, in the REFERENCE frame's coordinates: luma's corner (even) and its
// planes as in Picture.
struct BallPatch {
  double time_s = 0;
  cv::Point corner;      // px of luma
  cv::Mat luma, cb, cr;  // CV_8UC1, chroma half the size each way, may be empty
};

enum class TrackEnd { kPins, kGutterLeft, kGutterRight, kClipEnd, kLost };

struct Track {
  int lane = 0;                   // 0: the lane of the setup
  std::vector<BallSight> sights;  // in order of time; frames where it was not seen are left out
  TrackEnd end = TrackEnd::kLost;
  std::optional<double> release_s;      // when the ball left the hand, from the picture
  std::optional<double> pin_contact_s;  // first touch of a pin, from the picture
  std::optional<double> gutter_s;       // when it dropped off the lane's edge, from the picture
  std::optional<char> hand;             // 'r' or 'l' when the picture tells the bowler's hand
  std::vector<std::string> notes;
  // Where the picture tells both which pin was touched first and when: its spot, m, and the doubt of pin_contact_s.
  std::optional<Eigen::Vector2d> pin_touched;
  double pin_contact_sd_s = 0;
  // The first sights on which the ball's surface can be looked at, in order of time; a bounded number.
  std::vector<BallPatch> patches;
  ByHand by_hand;
};

}  // namespace hookline
