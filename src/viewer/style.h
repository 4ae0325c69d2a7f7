// The look of the window: two themes, colours by meaning, and series that differ in colour, dash and marker at once.
//
// Series colours follow the set that M. Okabe and K. Ito published for people of every kind of colour vision ("Color
// Universal Design", 2008), darkened in the light theme so that each stands off its ground. Nothing is told by colour
// alone. Every size is a multiple of the font's height (`em`), so that a larger font makes a larger window's worth of
// everything.
#pragma once

#include <cstddef>
#include <cstdint>

namespace hookline::viewer {

enum class Theme { kDark, kLight };

// Red in the lowest byte, alpha in the highest: as ImGui's draw lists take it.
using Ink = std::uint32_t;
constexpr Ink MakeInk(int red, int green, int blue, int alpha = 255) {
  return static_cast<Ink>(red) | static_cast<Ink>(green) << 8 | static_cast<Ink>(blue) << 16 |
         static_cast<Ink>(alpha) << 24;
}
// The same colour with another alpha, 0..1.
constexpr Ink Faded(Ink ink, double alpha) { return (ink & 0x00ffffffU) | static_cast<Ink>(alpha * 255.0 + 0.5) << 24; }

struct Style {
  Theme theme = Theme::kDark;
  float em = 16;  // the font's height, px

  Ink ground = 0;       // behind everything
  Ink panel = 0;        // a panel's own ground
  Ink raised = 0;       // buttons, fields
  Ink line = 0;         // borders, grids
  Ink text = 0;         // what is read
  Ink quiet = 0;        // what is read second: units, hints
  Ink accent = 0;       // the chosen thing, the play position
  Ink accent_text = 0;  // on accent
  Ink warn = 0;         // something wants attention; always with a sign or words
  Ink by_hand = 0;      // set by a person; always with a sign or words
  Ink lane = 0;         // wood in drawings
  Ink gutter = 0;

  // Over the picture: the same in both themes, because the picture is.
  Ink over_line = 0;  // light lines with a dark rim
  Ink over_rim = 0;
};

enum class Dash { kSolid, kLong, kShort, kDots };
enum class Marker { kDisc, kSquare, kTriangle, kDiamond, kCross };

struct SeriesLook {
  Ink colour = 0;
  Dash dash = Dash::kSolid;
  Marker marker = Marker::kDisc;
};

Style MakeStyle(Theme theme, float em);

// Look of the nth chosen thing (shot, ball, plan), 0 first; repeats after many, never the same in all three.
SeriesLook LookOfSeries(const Style& style, std::size_t n);

// Hands colours and sizes to ImGui. Needs a context.
void ApplyStyle(const Style& style);

}  // namespace hookline::viewer
