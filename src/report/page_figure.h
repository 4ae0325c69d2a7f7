// A drawing without a medium: shapes in its own units, y down, with inks and not colours, so that the page on a screen
// and the page on paper draw the very same thing (page_svg.h, pdf_page.h). 1 unit is about 1 px on a phone.
#pragma once

#include <Eigen/Core>
#include <string>
#include <vector>

namespace hookline::report {

// What a shape stands for; each medium and theme has its own colour for it. Shots are told apart by colour, dash and
// marker together, never by colour alone.
enum class Ink { kText, kQuiet, kGrid, kWood, kShot };
inline constexpr int kShotInks = 6;

struct FigureShape {
  enum class Kind { kLine, kArea, kText, kMarker };
  Kind kind = Kind::kLine;
  Ink ink = Ink::kText;
  int shot_ink = 0;  // 0 .. kShotInks - 1, meaningful with Ink::kShot
  std::vector<Eigen::Vector2d> points;
  double width = 1;      // of a line
  bool dashed = false;   // with the dash of its shot ink
  double opacity = 1;    // of an area
  std::string text;      // of a text
  int align = 0;         // -1: starts at the point, 0: centred, 1: ends there
  double size = 12;      // height of text, or width of a marker
  bool upright = false;  // text turned a quarter, read from below
};

struct PageFigure {
  double width = 360, height = 200;
  std::string title;    // above it
  std::string caption;  // below it: how to read it
  std::vector<FigureShape> shapes;
  bool empty() const { return shapes.empty(); }
};

// Outline of the marker of a shot ink about a point: circle, square, triangle, diamond, cross, hexagon; and its dash
// (lengths on and off, units; the first is unbroken). Shared, so that all media agree.
std::vector<Eigen::Vector2d> MarkerOutline(int shot_ink, const Eigen::Vector2d& centre, double size);
std::vector<double> DashOf(int shot_ink);

}  // namespace hookline::report
