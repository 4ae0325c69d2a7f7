#include "viewer/panel_draw.h"

#include <imgui_internal.h>

#include <algorithm>
#include <cmath>

namespace hookline::viewer {
namespace {

struct Pattern {
  float on, off;  // em
};

Pattern PatternOf(Dash dash) {
  switch (dash) {
    case Dash::kLong:
      return {0.8f, 0.35f};
    case Dash::kShort:
      return {0.35f, 0.3f};
    case Dash::kDots:
      return {0.1f, 0.25f};
    default:
      return {1, 0};
  }
}

}  // namespace

void DrawDashedLine(ImDrawList* list, const std::vector<ImVec2>& line, Ink ink, Dash dash, float width, float em) {
  if (line.size() < 2) return;
  if (dash == Dash::kSolid) {
    list->AddPolyline(line.data(), static_cast<int>(line.size()), ink, 0, width);
    return;
  }
  const Pattern pattern = PatternOf(dash);
  const float on = pattern.on * em, off = pattern.off * em;
  bool drawing = true;
  float left = on;
  std::vector<ImVec2> piece = {line.front()};
  const auto flush = [&] {
    if (piece.size() > 1) list->AddPolyline(piece.data(), static_cast<int>(piece.size()), ink, 0, width);
    piece.clear();
  };
  for (std::size_t i = 1; i < line.size(); ++i) {
    ImVec2 from = line[i - 1];
    float length = std::hypot(line[i].x - from.x, line[i].y - from.y);
    while (length > left) {
      const float f = left / length;
      const ImVec2 to(from.x + f * (line[i].x - from.x), from.y + f * (line[i].y - from.y));
      if (drawing) {
        piece.push_back(to);
        flush();
      } else {
        piece = {to};
      }
      drawing = !drawing;
      length -= left;
      left = drawing ? on : off;
      from = to;
    }
    left -= length;
    if (drawing) piece.push_back(line[i]);
  }
  flush();
}

void DrawMarkerSign(ImDrawList* list, ImVec2 at, Marker marker, float size, Ink ink, Ink rim) {
  const float rim_width = std::max(1.0f, size * 0.3f), s = size;
  switch (marker) {
    case Marker::kDisc:
      list->AddCircleFilled(at, s, ink, 20);
      list->AddCircle(at, s, rim, 20, rim_width);
      break;
    case Marker::kSquare: {
      const float h = s * 0.9f;
      list->AddRectFilled({at.x - h, at.y - h}, {at.x + h, at.y + h}, ink);
      list->AddRect({at.x - h, at.y - h}, {at.x + h, at.y + h}, rim, 0, 0, rim_width);
      break;
    }
    case Marker::kTriangle: {
      const ImVec2 a(at.x, at.y - 1.2f * s), b(at.x + 1.1f * s, at.y + 0.8f * s), c(at.x - 1.1f * s, at.y + 0.8f * s);
      list->AddTriangleFilled(a, b, c, ink);
      list->AddTriangle(a, b, c, rim, rim_width);
      break;
    }
    case Marker::kDiamond: {
      const float h = 1.25f * s;
      const ImVec2 a(at.x, at.y - h), b(at.x + h, at.y), c(at.x, at.y + h), d(at.x - h, at.y);
      list->AddQuadFilled(a, b, c, d, ink);
      list->AddQuad(a, b, c, d, rim, rim_width);
      break;
    }
    case Marker::kCross:
      for (const auto& [colour, wide] : {std::pair{rim, 2.2f * rim_width}, std::pair{ink, 1.2f * rim_width}}) {
        list->AddLine({at.x - s, at.y - s}, {at.x + s, at.y + s}, colour, wide);
        list->AddLine({at.x - s, at.y + s}, {at.x + s, at.y - s}, colour, wide);
      }
      break;
  }
}

void DrawBand(ImDrawList* list, const std::vector<ImVec2>& one, const std::vector<ImVec2>& other, Ink ink) {
  // Without smoothing: neighbouring quads would show their seams.
  const ImDrawListFlags before = list->Flags;
  list->Flags &= ~ImDrawListFlags_AntiAliasedFill;
  for (std::size_t i = 1; i < std::min(one.size(), other.size()); ++i)
    list->AddQuadFilled(one[i - 1], one[i], other[i], other[i - 1], ink);
  list->Flags = before;
}

void DrawEllipse(ImDrawList* list, ImVec2 at, float half_width, float half_height, Ink ink, float line_width) {
  constexpr int kPieces = 24;
  for (int i = 0; i < kPieces; ++i) {
    const float a = 6.2831853f * static_cast<float>(i) / kPieces;
    list->PathLineTo({at.x + half_width * std::cos(a), at.y + half_height * std::sin(a)});
  }
  if (line_width > 0)
    list->PathStroke(ink, ImDrawFlags_Closed, line_width);
  else
    list->PathFillConvex(ink);
}

float LookSampleWidth(const Style& style) { return 2.5f * style.em; }

void LookSample(const Style& style, std::size_t look) {
  const SeriesLook series = LookOfSeries(style, look);
  const ImVec2 corner = ImGui::GetCursorScreenPos();
  const float width = LookSampleWidth(style), height = ImGui::GetTextLineHeight();
  // Beside text that was set down to the height of buttons the sample goes with it.
  const float y = corner.y + ImGui::GetCurrentWindowRead()->DC.CurrLineTextBaseOffset + height / 2;
  ImGui::Dummy({width, height});
  ImDrawList* list = ImGui::GetWindowDrawList();
  DrawDashedLine(list, {{corner.x, y}, {corner.x + width, y}}, series.colour, series.dash, 0.13f * style.em, style.em);
  DrawMarkerSign(list, {corner.x + width / 2, y}, series.marker, 0.27f * style.em, series.colour, style.panel);
}

std::string WrappedAtBlanks(const std::string& text, float width) {
  std::string out, line;
  const auto wide = [](const std::string& t) { return ImGui::CalcTextSize(t.c_str()).x; };
  for (std::size_t from = 0; from <= text.size();) {
    const std::size_t end = std::min(text.find_first_of(" \n", from), text.size());
    const std::string word = text.substr(from, end - from);
    if (!line.empty() && wide(line + " " + word) > width) {
      out += line + "\n";
      line = word;
    } else {
      line += (from > 0 && text[from - 1] == ' ' && !line.empty() ? " " : "") + word;
    }
    if (end < text.size() && text[end] == '\n') {
      out += line + "\n";
      line.clear();
    }
    from = end + 1;
  }
  return out + line;
}

void WrappedText(const std::string& text) {
  ImGui::TextUnformatted(WrappedAtBlanks(text, ImGui::GetContentRegionAvail().x).c_str());
}

void QuietText(const Style& style, const std::string& text) {
  ImGui::PushStyleColor(ImGuiCol_Text, style.quiet);
  WrappedText(text);
  ImGui::PopStyleColor();
}

void EmptyState(const Style& style, const std::string& heading, const std::string& what_to_do) {
  const ImVec2 room = ImGui::GetContentRegionAvail(), corner = ImGui::GetCursorPos();
  const float width = std::min(room.x - 2 * style.em, 26 * style.em);
  if (width < 4 * style.em) return;
  const std::string head = WrappedAtBlanks(heading, width), body = WrappedAtBlanks(what_to_do, width);
  const float head_height = ImGui::CalcTextSize(head.c_str()).y, gap = 0.5f * style.em,
              height = head_height + gap + ImGui::CalcTextSize(body.c_str()).y;
  const float top = std::max(0.0f, (room.y - height) / 2.2f), left = (room.x - width) / 2;
  ImGui::SetCursorPos({corner.x + left, corner.y + top});
  ImGui::TextUnformatted(head.c_str());
  ImGui::SetCursorPos({corner.x + left, corner.y + top + head_height + gap});
  ImGui::PushStyleColor(ImGuiCol_Text, style.quiet);
  ImGui::TextUnformatted(body.c_str());
  ImGui::PopStyleColor();
}

void SameLineIfFits(float item_width) {
  const float right = ImGui::GetWindowPos().x + ImGui::GetWindowContentRegionMax().x;
  if (ImGui::GetItemRectMax().x + ImGui::GetStyle().ItemSpacing.x + item_width <= right) ImGui::SameLine();
}

float ButtonWidth(const char* label) {
  return ImGui::CalcTextSize(label, nullptr, true).x + 2 * ImGui::GetStyle().FramePadding.x;
}

float CheckboxWidth(const char* label) {
  return ImGui::GetFrameHeight() + ImGui::GetStyle().ItemInnerSpacing.x + ImGui::CalcTextSize(label, nullptr, true).x;
}

void TipForItem(const Style& style, const std::string& text) {
  if (text.empty() || !ImGui::IsItemHovered()) return;
  ImGui::BeginTooltip();
  ImGui::TextUnformatted(WrappedAtBlanks(text, 26 * style.em).c_str());
  ImGui::EndTooltip();
}

}  // namespace hookline::viewer
