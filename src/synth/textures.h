// What surfaces look like, as pure functions of the place on them. Colours are linear light, lengths metres. `blur` is
// the size of a pixel on the surface (m): detail finer than that fades out instead of sparkling.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "synth/scenario.h"
#include "synth/shapes.h"

namespace hookline::synth {

struct WoodLook {
  V3 colour, colour_2;
  float board = 0.027f;  // width of a board, m
  float plank = 2.2f;    // length of a plank, m
  float contrast = 0.5f, grain = 0.5f;
  std::uint32_t seed = 1;
};
V3 WoodAt(const WoodLook& wood, float x, float y, float blur);

struct MarkLook {
  enum class Arrow { kSolid, kChevron, kDart };
  float board = 0.027f;
  Arrow arrow = Arrow::kSolid;
  std::array<float, 7> tip_x{}, tip_y{};
  float arrow_length = 0.15f, arrow_half_width = 0.016f;
  float arrows_from = 3, arrows_to = 5;
  float dots_y = 2.1f, dot_radius = 0.0095f;
  std::vector<float> dot_x, approach_dot_x, approach_row_y;
  bool range_marks = false;
};
MarkLook MarksOf(const LanesSpec& lanes);
// True on an arrow, dot or range mark; x from the lane's centre.
bool MarkAt(const MarkLook& marks, float x, float y);

V3 MaskingAt(const HallSpec& hall, const std::array<V3, 3>& colours, float x, float z, std::uint32_t seed);
V3 WallAt(const std::string& style, const V3& colour, const V3& colour_2, float along, float z, float blur);
V3 CeilingAt(const std::string& style, const V3& colour, float x, float y);

struct BallLook {
  enum class Style { kPlain, kSwirl, kMarks } style = Style::kPlain;
  std::array<V3, 3> colours{};
  float gloss = 0.8f;
  std::uint32_t seed = 1;
};
BallLook LookOf(const BallSpec& ball, std::uint32_t seed);
V3 BallAt(const BallLook& look, const V3& unit_in_ball);

}  // namespace hookline::synth
