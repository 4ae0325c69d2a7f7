// Drawing on a picture: smooth lines at sub-pixel places with a dark rim that keeps them readable on any ground, UTF-8
// text, and boxes that let the picture shine through. Sizes are in px of the picture; pixel (0,0) is the centre of the
// first one.
#pragma once

#include <Eigen/Core>
#include <memory>
#include <opencv2/core/mat.hpp>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "core/status.h"

namespace hookline::report {

struct Colour {
  int red = 0, green = 0, blue = 0;
};

// Our palette. Amber and sky blue stay apart in every common kind of colour blindness, and all stand off wood and dark
// lanes by brightness.
inline constexpr Colour kInk = {18, 24, 32};
inline constexpr Colour kPaper = {240, 244, 247};
inline constexpr Colour kQuiet = {178, 192, 204};
inline constexpr Colour kAmber = {250, 176, 44};
inline constexpr Colour kSky = {112, 196, 240};

// A font and the unit of size that follows the picture. Loaded once, used for every frame.
class Pen {
 public:
  // kBadFile with a sentence when the font cannot be read.
  static Result<std::unique_ptr<Pen>> Make(int picture_width, int picture_height);
  ~Pen();
  Pen(const Pen&) = delete;
  Pen& operator=(const Pen&) = delete;

  // Height of a line of text, px: 1/36 of the picture's height, less in a portrait picture so that a panel fits its
  // width.
  double unit() const { return unit_; }

  // A place that is empty (behind the camera) breaks the line.
  void Curve(cv::Mat& bgr, std::span<const std::optional<Eigen::Vector2d>> points, double width, Colour colour,
             bool rim) const;
  void Line(cv::Mat& bgr, const Eigen::Vector2d& from, const Eigen::Vector2d& to, double width, Colour colour,
            bool rim) const;
  void Ring(cv::Mat& bgr, const Eigen::Vector2d& centre, double radius, double width, Colour colour) const;
  void Disc(cv::Mat& bgr, const Eigen::Vector2d& centre, double radius, Colour colour) const;
  // Darkens a box; strength 0..1.
  void Shade(cv::Mat& bgr, const cv::Rect& box, double strength) const;
  // Text whose left, centre or right (align -1, 0, +1) is at x and whose middle is at y; with a rim when it stands on
  // the picture itself.
  void Text(cv::Mat& bgr, const std::string& text, double x, double y, double height, Colour colour, int align,
            bool rim) const;
  double TextWidth(const std::string& text, double height) const;

 private:
  struct State;
  Pen(std::unique_ptr<State> state, double unit);
  std::unique_ptr<State> state_;
  double unit_;
};

}  // namespace hookline::report
