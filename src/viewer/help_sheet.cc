#include "viewer/help_sheet.h"

#include <imgui.h>

#include <algorithm>
#include <array>

#include "viewer/actions.h"
#include "viewer/panel_draw.h"

namespace hookline::viewer {

void HelpSheet::Draw(const Style& style) {
  if (!open_) return;
  const float em = style.em;
  const ImVec2 screen = ImGui::GetIO().DisplaySize;
  ImGui::SetNextWindowPos({screen.x / 2, screen.y / 2}, ImGuiCond_Always, {0.5f, 0.5f});
  ImGui::SetNextWindowSize({std::min(54 * em, screen.x - em), std::min(32 * em, screen.y - em)});
  ImGui::PushStyleColor(ImGuiCol_WindowBg, style.panel);
  ImGui::SetNextWindowFocus();
  // What lies beneath has the same ground.
  ImGui::PushStyleVar(ImGuiStyleVar_WindowBorderSize, 1);
  if (ImGui::Begin("Keys", &open_, ImGuiWindowFlags_NoResize | ImGuiWindowFlags_NoCollapse | ImGuiWindowFlags_NoMove)) {
    if (ImGui::BeginTable("keys", 4, ImGuiTableFlags_SizingStretchProp)) {
      ImGui::TableSetupColumn("a", ImGuiTableColumnFlags_WidthFixed, 7 * em);
      ImGui::TableSetupColumn("b", ImGuiTableColumnFlags_WidthStretch);
      ImGui::TableSetupColumn("c", ImGuiTableColumnFlags_WidthFixed, 7 * em);
      ImGui::TableSetupColumn("d", ImGuiTableColumnFlags_WidthStretch);
      std::vector<const KeyOf*> shown;
      for (const KeyOf& k : KeyTable()) {
        if (*k.about) shown.push_back(&k);
      }
      // Down the left half, then down the right one.
      const std::size_t rows = (shown.size() + 1) / 2;
      for (std::size_t r = 0; r < rows; ++r) {
        for (const std::size_t i : {r, r + rows}) {
          if (i >= shown.size()) continue;
          ImGui::TableNextColumn();
          ImGui::TextColored(ImGui::ColorConvertU32ToFloat4(style.accent), "%s", shown[i]->keys);
          ImGui::TableNextColumn();
          ImGui::TextUnformatted(shown[i]->about);
        }
      }
      ImGui::EndTable();
    }
  }
  ImGui::End();
  ImGui::PopStyleVar();
  ImGui::PopStyleColor();
}

GuideEvents DrawGuide(const Style& style, bool samples) {
  GuideEvents events;
  const float em = style.em, room = ImGui::GetContentRegionAvail().x;
  const float width = std::min(room - 2 * em, 40 * em);
  ImGui::SetCursorPosX(ImGui::GetCursorPosX() + std::max(em, (room - width) / 2));
  // A little above the middle of a large screen, at the top of a small one.
  constexpr float kHeightEm = 25;
  ImGui::SetCursorPosY(ImGui::GetCursorPosY() +
                       std::max(1.5f * em, (ImGui::GetContentRegionAvail().y - kHeightEm * em) / 3));
  ImGui::BeginGroup();
  ImGui::PushTextWrapPos(ImGui::GetCursorPosX() + width);
  ImGui::SetWindowFontScale(1.4f);
  ImGui::TextUnformatted("From clips to boards");
  ImGui::SetWindowFontScale(1);
  ImGui::Spacing();
  constexpr std::array<std::array<const char*, 2>, 4> kSteps = {{
      {"Film",
       "From behind the approach, the phone on a tripod or held still, the whole lane with its pins in the "
       "picture. Stay off the approach and out of the next bowler's way; ask before you film others."},
      {"Open", "Drop the clips on this window, or open them. Each is measured by itself while you look at the first."},
      {"Look",
       "Play, step, slow down. Path, boards and speed are drawn on the lane; every number says how sure it is."},
      {"Correct", "Where something looks wrong, drag it right. What you set stays yours and is shown as such."},
  }};
  int number = 0;
  for (const auto& step : kSteps) {
    ImGui::TextColored(ImGui::ColorConvertU32ToFloat4(style.accent), "%d  %s", ++number, step[0]);
    ImGui::Indent(1.4f * em);
    ImGui::TextUnformatted(step[1]);
    ImGui::Unindent(1.4f * em);
    ImGui::Spacing();
  }
  ImGui::PopTextWrapPos();
  ImGui::Spacing();
  ImGui::PushStyleColor(ImGuiCol_Button, style.accent);
  ImGui::PushStyleColor(ImGuiCol_Text, style.accent_text);
  events.open = ImGui::Button("Open clips...");
  ImGui::PopStyleColor(2);
  if (samples) {
    SameLineIfFits(ButtonWidth("Try the sample session"));
    events.try_samples = ImGui::Button("Try the sample session");
  }
  SameLineIfFits(ButtonWidth("Keys"));
  events.help = ImGui::Button("Keys");
  if (samples) QuietText(style, "The samples are made by the program; nobody was filmed.");
  ImGui::EndGroup();
  return events;
}

}  // namespace hookline::viewer
