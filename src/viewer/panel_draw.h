// What several panels draw alike: dashed lines, markers, bands, samples of a series' look, and the words of a panel
// that has nothing to show. Every size is a multiple of style.em. Needs an ImGui frame.
#pragma once

#include <imgui.h>

#include <Eigen/Core>
#include <string>
#include <vector>

#include "viewer/shown_shot.h"
#include "viewer/style.h"

namespace hookline::viewer {

inline ImVec2 At(const Eigen::Vector2d& p) { return {static_cast<float>(p.x()), static_cast<float>(p.y())}; }

void DrawDashedLine(ImDrawList* list, const std::vector<ImVec2>& line, Ink ink, Dash dash, float width, float em);
// `size` is the marker's half width.
void DrawMarkerSign(ImDrawList* list, ImVec2 at, Marker marker, float size, Ink ink, Ink rim);
// Between two edges of as many points each.
void DrawBand(ImDrawList* list, const std::vector<ImVec2>& one, const std::vector<ImVec2>& other, Ink ink);
// An ellipse, filled or as a line of that width.
void DrawEllipse(ImDrawList* list, ImVec2 at, float half_width, float half_height, Ink ink, float line_width = 0);

// A piece of the series' line with its marker, two and a half em wide and one line high, as an item.
void LookSample(const Style& style, std::size_t look);
float LookSampleWidth(const Style& style);

// The text broken at blanks so that no line is wider than `width`; ImGui's own way breaks numbers at their point.
std::string WrappedAtBlanks(const std::string& text, float width);
// From the cursor to the window's edge, wrapped.
void WrappedText(const std::string& text);
void QuietText(const Style& style, const std::string& text);  // in style.quiet
// In the middle of what is left of the window: a heading and what to do.
void EmptyState(const Style& style, const std::string& heading, const std::string& what_to_do);

// Goes on in the same line when an item of that width still fits, else begins a new one.
void SameLineIfFits(float item_width);
float ButtonWidth(const char* label);
float CheckboxWidth(const char* label);
// A tooltip of at most 26 em for the item before.
void TipForItem(const Style& style, const std::string& text);

}  // namespace hookline::viewer
