// How much each place of the corridor differs from the still background, in units of its noise.
//
//   d^2 = (dY / sigma_Y)^2 + (dCb / sigma_C)^2 + (dCr / sigma_C)^2,   change = clamp(d^2 - 3, 0, 36)
//
// on cells of `scale` luma px. d is against the background times the frame's gain (auto exposure); sigma_Y comes from
// the background's spread over time, held between a floor and a few times the corridor's usual value (where a bowler
// stood for a while the spread is large, and would hide a ball), plus the brightness slope times the doubt of the
// camera's motion. Luma and chroma both count, so a ball of the lane's own brightness is seen by its colour and the
// other way round.
//
// What stands still for long and differs from the background becomes a second background (a bowler in the median that
// has gone, pins that are gone): a cell counts as changed only when it differs from both.
#pragma once

#include <array>
#include <cstdint>
#include <opencv2/core/mat.hpp>
#include <vector>

#include "model/picture.h"
#include "track/corridor.h"

namespace hookline::track {

inline constexpr double kMaxChange = 36;   // cap of one cell, in noise variances
inline constexpr double kChangeUnits = 7;  // stored as kChangeUnits * change in 8 bits

// Where people are beside the foul line: share of changed places in columns of kBodyColumn m, from x = -kBodyReach to
// kBodyReach, between 0.1 and 1.2 m above it.
inline constexpr double kBodyReach = 1.8, kBodyColumn = 0.05;
inline constexpr int kBodyColumns = 72;
using BodyProfile = std::array<float, kBodyColumns>;

// The corridor's rectangle of one frame in reference coordinates, and its change map summed up for box sums.
struct FrameView {
  std::int64_t frame = -1;
  double time_s = 0;
  FrameMotion motion;
  cv::Mat luma, cb, cr;  // of roi(); chroma may be empty
  float gain = 1;        // this frame's luma over the background's
  float cb_shift = 0, cr_shift = 0;
  BodyProfile body{};
  cv::Mat sums;  // CV_32SC1, (rows+1) x (columns+1): integral of kChangeUnits * change

  // Mean change over cells [c0, c1) x [r0, r1), cut to the map; 0 when nothing is left.
  double Mean(int c0, int r0, int c1, int r1) const;
};

// Ball-like evidence of a disc (cells): mean change inside, minus that of the surroundings left, right and above. Below
// it the mirror image and the shadow are, so nothing is asked there.
double DiscScore(const FrameView& view, double u, double v, double radius);

class ChangeMap {
 public:
  ChangeMap(const Corridor& corridor, const Background& background);
  FrameView View(const Picture& picture, const FrameMotion& motion);
  // The background a patch of this view is composed over: per pixel the nearer of the two. px of roi().
  void BackgroundPatch(const FrameView& view, const cv::Rect& box, cv::Mat& luma, cv::Mat& cb, cv::Mat& cr) const;
  // Mean of how far luma differs from the background at the standing pins, outside a box around the ball's disc (px),
  // grey levels.
  double PinChange(const FrameView& view, const Eigen::Vector2d& ball, double reach) const;
  // Half-width of the noise of luma over the corridor, grey levels.
  double noise() const { return noise_; }

 private:
  void Fill(const FrameView& view, double motion_sd);
  void Expose(const Picture& picture, FrameView& view) const;
  void KeepUp(const FrameView& view);
  void PlaceBody();
  void SeeBody(const Picture& picture, FrameView& view) const;

  const Corridor& corridor_;
  Background whole_;        // as given; its planes are shared
  cv::Mat luma_, cb_, cr_;  // background of roi()
  cv::Mat second_luma_, second_cb_, second_cr_;
  bool colour_ = false;
  double noise_ = 2;
  std::vector<float> mean_y_, mean_cb_, mean_cr_, variance_y_, weight_y_, slope_;  // per cell
  std::vector<float> second_y_, second_b_, second_r_;                              // per cell; y < 0: none
  std::vector<float> row_;                                                         // room for one row's sums
  std::vector<float> last_y_, last_b_, last_r_;                                    // when stillness was last looked at
  std::vector<std::uint8_t> still_;
  double last_look_s_ = -1e9;
  cv::Mat change_;                  // CV_8UC1
  std::vector<cv::Point> samples_;  // where the gain is measured, px
  int second_cells_ = 0;
  std::vector<int> second_in_row_;
  struct BodyPoint {
    cv::Point p;  // px
    int column;
  };
  std::vector<BodyPoint> body_points_;
  std::array<int, kBodyColumns> body_counts_{};
};

}  // namespace hookline::track
