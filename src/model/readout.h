// A sensor that reads its rows one after another (rolling shutter): what lies in its first row is seen half the readout
// before the frame's time stamp, what lies in its last row half of it after. A ball that rolls up the picture is timed
// by a clock that runs slow by that.
#pragma once

#include <Eigen/Core>

namespace hookline {

// Of a camera that nothing is known of, s: phones' sensors take 8 to 20 ms (from memory), those of 2010-13 took 27 to
// 32 (rolling-shutter-table.md of JzHuai0108/kalibr), some cameras read all rows at once.
inline constexpr double kUnknownReadout = 0.003;
inline constexpr double kUnknownReadoutSd = 0.004;
inline constexpr double kStatedReadoutSd = 0.00025;  // s, of a readout that was measured or is given by the maker

struct Readout {
  double s = 0;                     // first row to last; 0 for a global shutter, or not known
  double sd_s = kUnknownReadoutSd;  // of that
  int rotation_deg = 0;             // clockwise turn of the sensor's picture for display (VideoInfo::rotation_deg)

  // Share of the readout after which a place of the displayed picture (px) is read, counted from the middle row:
  // -1/2 to 1/2.
  double ShareAt(const Eigen::Vector2d& p_in_image, int width, int height) const {
    if (width <= 0 || height <= 0) return 0;
    const double across = (p_in_image.x() + 0.5) / width - 0.5, down = (p_in_image.y() + 0.5) / height - 0.5;
    switch (rotation_deg) {
      case 90:
        return -across;
      case 180:
        return -down;
      case 270:
        return across;
      default:
        return down;
    }
  }
  double LagAt(const Eigen::Vector2d& p_in_image, int width, int height) const {
    return s * ShareAt(p_in_image, width, height);
  }
};

}  // namespace hookline
