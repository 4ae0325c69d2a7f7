#include "viewer/style.h"

#include <imgui.h>

#include <array>

namespace hookline::viewer {
namespace {

constexpr std::array<Ink, 7> kOnDark = {
    MakeInk(240, 166, 40),  MakeInk(96, 186, 240), MakeInk(36, 178, 138),  MakeInk(240, 228, 90),
    MakeInk(226, 138, 184), MakeInk(236, 112, 50), MakeInk(150, 166, 240),
};
constexpr std::array<Ink, 7> kOnLight = {
    MakeInk(178, 104, 0),  MakeInk(0, 104, 168), MakeInk(0, 122, 90),  MakeInk(132, 116, 0),
    MakeInk(164, 72, 122), MakeInk(184, 68, 0),  MakeInk(72, 84, 176),
};

ImVec4 Vec(Ink ink) { return ImGui::ColorConvertU32ToFloat4(ink); }

}  // namespace

Style MakeStyle(Theme theme, float em) {
  Style s;
  s.theme = theme;
  s.em = em;
  if (theme == Theme::kDark) {
    s.ground = MakeInk(22, 26, 31);
    s.panel = MakeInk(30, 35, 42);
    s.raised = MakeInk(46, 54, 64);
    s.line = MakeInk(66, 76, 88);
    s.text = MakeInk(230, 235, 240);
    s.quiet = MakeInk(158, 171, 184);
    s.accent = MakeInk(112, 196, 240);
    s.accent_text = MakeInk(16, 24, 32);
    s.warn = MakeInk(250, 176, 44);
    s.by_hand = MakeInk(226, 138, 184);
    s.lane = MakeInk(112, 92, 68);
    s.gutter = MakeInk(44, 48, 54);
  } else {
    s.ground = MakeInk(226, 231, 235);
    s.panel = MakeInk(246, 248, 249);
    s.raised = MakeInk(218, 225, 231);
    s.line = MakeInk(176, 187, 197);
    s.text = MakeInk(24, 32, 40);
    s.quiet = MakeInk(84, 97, 110);
    s.accent = MakeInk(0, 104, 168);
    s.accent_text = MakeInk(255, 255, 255);
    s.warn = MakeInk(160, 84, 0);
    s.by_hand = MakeInk(164, 72, 122);
    s.lane = MakeInk(228, 208, 178);
    s.gutter = MakeInk(150, 156, 162);
  }
  s.over_line = MakeInk(240, 244, 247);
  s.over_rim = MakeInk(18, 24, 32, 190);
  return s;
}

SeriesLook LookOfSeries(const Style& style, std::size_t n) {
  const auto& colours = style.theme == Theme::kDark ? kOnDark : kOnLight;
  // 7, 4 and 5 share no divisor: 140 looks before one comes again.
  return {colours[n % colours.size()], static_cast<Dash>(n % 4), static_cast<Marker>(n % 5)};
}

void ApplyStyle(const Style& style) {
  ImGuiStyle& g = ImGui::GetStyle();
  g = ImGuiStyle();
  const float em = style.em;
  g.WindowPadding = {0.6f * em, 0.5f * em};
  g.FramePadding = {0.5f * em, 0.3f * em};
  g.ItemSpacing = {0.5f * em, 0.4f * em};
  g.ItemInnerSpacing = {0.4f * em, 0.3f * em};
  g.CellPadding = {0.4f * em, 0.2f * em};
  g.IndentSpacing = 1.2f * em;
  g.ScrollbarSize = 0.8f * em;
  g.GrabMinSize = 0.7f * em;
  g.WindowRounding = 0;
  g.ChildRounding = 0.25f * em;
  g.FrameRounding = 0.25f * em;
  g.PopupRounding = 0.25f * em;
  g.GrabRounding = 0.25f * em;
  g.TabRounding = 0.25f * em;
  g.WindowBorderSize = 0;
  g.FrameBorderSize = 0;
  ImVec4* c = g.Colors;
  const ImVec4 accent = Vec(style.accent), raised = Vec(style.raised), panel = Vec(style.panel), line = Vec(style.line);
  const ImVec4 chosen = Vec(Faded(style.accent, 0.30)), under = Vec(Faded(style.accent, 0.18));
  if (style.theme == Theme::kLight) ImGui::StyleColorsLight(&g);
  c[ImGuiCol_Text] = Vec(style.text);
  c[ImGuiCol_TextDisabled] = Vec(style.quiet);
  c[ImGuiCol_WindowBg] = Vec(style.ground);
  c[ImGuiCol_ChildBg] = panel;
  c[ImGuiCol_PopupBg] = panel;
  c[ImGuiCol_Border] = line;
  c[ImGuiCol_Separator] = c[ImGuiCol_SeparatorHovered] = c[ImGuiCol_SeparatorActive] = line;
  c[ImGuiCol_FrameBg] = raised;
  c[ImGuiCol_FrameBgHovered] = under;
  c[ImGuiCol_FrameBgActive] = chosen;
  c[ImGuiCol_TitleBg] = c[ImGuiCol_TitleBgActive] = c[ImGuiCol_TitleBgCollapsed] = raised;
  c[ImGuiCol_MenuBarBg] = panel;
  c[ImGuiCol_ScrollbarBg] = Vec(Faded(style.ground, 0));
  c[ImGuiCol_ScrollbarGrab] = line;
  c[ImGuiCol_ScrollbarGrabHovered] = c[ImGuiCol_ScrollbarGrabActive] = accent;
  c[ImGuiCol_CheckMark] = c[ImGuiCol_SliderGrab] = c[ImGuiCol_SliderGrabActive] = accent;
  c[ImGuiCol_Button] = raised;
  c[ImGuiCol_ButtonHovered] = under;
  c[ImGuiCol_ButtonActive] = chosen;
  c[ImGuiCol_Header] = chosen;
  c[ImGuiCol_HeaderHovered] = under;
  c[ImGuiCol_HeaderActive] = chosen;
  c[ImGuiCol_Tab] = c[ImGuiCol_TabUnfocused] = raised;
  c[ImGuiCol_TabHovered] = under;
  c[ImGuiCol_TabActive] = c[ImGuiCol_TabUnfocusedActive] = chosen;
  c[ImGuiCol_TableHeaderBg] = raised;
  c[ImGuiCol_TableBorderStrong] = c[ImGuiCol_TableBorderLight] = line;
  c[ImGuiCol_TableRowBg] = Vec(Faded(style.panel, 0));
  c[ImGuiCol_TableRowBgAlt] = Vec(Faded(style.raised, 0.35));
  c[ImGuiCol_PlotHistogram] = c[ImGuiCol_PlotLines] = accent;
  c[ImGuiCol_DragDropTarget] = accent;
  c[ImGuiCol_NavHighlight] = accent;
  c[ImGuiCol_TextSelectedBg] = chosen;
  c[ImGuiCol_ModalWindowDimBg] = Vec(MakeInk(0, 0, 0, 120));
}

}  // namespace hookline::viewer
