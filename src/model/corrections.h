// What a person set by hand in a clip, on top of what the program found: the content of a corrections file
// (docs/corrections-file.md). Plain data; pipeline/refit.h makes a measured clip anew from it.
//
// Places are pixels of the very frame a person looked at, with its time stamp, because that is where a person points;
// camera motion is taken out later. A shot is named by a time within its way down the lane, not by its number, so that
// a correction finds its shot again when the clip is measured anew and shots are found that were missed before.
#pragma once

#include <Eigen/Core>
#include <map>
#include <optional>
#include <string>
#include <vector>

namespace hookline {

// A named place of the lane (docs/lane-setup-file.md lists the names) put where it is seen.
struct HandMark {
  Eigen::Vector2d p_in_frame = Eigen::Vector2d::Zero();  // px
  double time_s = 0;                                     // of that frame
  bool operator==(const HandMark&) const = default;
};

// The ball's centre in one frame.
struct HandSight {
  double time_s = 0;
  Eigen::Vector2d p_in_frame = Eigen::Vector2d::Zero();  // px
  double sd_px = 1;                                      // doubt of the hand, each way
  bool operator==(const HandSight&) const = default;
};

// Fewer sights of a shot that is added by hand are not measured: nobody clicks a ball by mistake, and nobody clicks it
// often.
inline constexpr int kFewestAddedSights = 6;

struct ShotCorrection {
  double at_s = 0;       // a time at which this ball is on its way
  bool added = false;    // the program found no ball here: its sights are the hand's alone
  bool removed = false;  // what was found here is no shot
  std::optional<double> release_s, pin_contact_s;
  std::vector<HandSight> sights;  // moved or added, in order of time; at most one a frame
  std::vector<double> no_ball_s;  // frames in which what was taken for the ball is not it, ascending
  bool SaysNothing() const {
    return !added && !removed && !release_s && !pin_contact_s && sights.empty() && no_ball_s.empty();
  }
  bool operator==(const ShotCorrection&) const = default;
};

struct Corrections {
  std::map<std::string, HandMark> lane_marks;
  std::vector<ShotCorrection> shots;  // in order of at_s
  bool empty() const { return lane_marks.empty() && shots.empty(); }
  bool operator==(const Corrections&) const = default;
};

}  // namespace hookline
