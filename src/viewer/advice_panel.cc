#include "viewer/advice_panel.h"

#include <imgui.h>

#include <algorithm>

#include "viewer/panel_draw.h"

namespace hookline::viewer {
namespace {

// A bar as long as the chance, so that it can be seen at a glance; the words and the number stand beside it.
void ChanceBar(const Style& style, double p, float width) {
  const ImVec2 corner = ImGui::GetCursorScreenPos();
  const float height = ImGui::GetTextLineHeight(), bar = 0.35f * height, top = corner.y + (height - bar) / 2;
  ImGui::Dummy({width, height});
  ImDrawList* list = ImGui::GetWindowDrawList();
  list->AddRectFilled({corner.x, top}, {corner.x + width, top + bar}, style.raised, bar / 2);
  list->AddRectFilled({corner.x, top}, {corner.x + width * static_cast<float>(std::clamp(p, 0.0, 1.0)), top + bar},
                      style.accent, bar / 2);
}

}  // namespace

void AdvicePanel::DrawLine(const Style& style, const AdviceLine& line, int id, AdviceEvents* events) {
  const float em = style.em;
  ImGui::PushID(id);
  const bool has_evidence = !line.evidence.shots.empty(), shown = shown_ && *shown_ == line.evidence;
  const ImVec2 begin = ImGui::GetCursorScreenPos();
  ImGui::Indent(0.6f * em);
  ImGui::BeginGroup();
  WrappedText(line.title);
  if (!line.chance.empty()) {
    const float bar = 4 * em;
    SameLineIfFits(bar + 0.5f * em + ImGui::CalcTextSize(line.chance.c_str()).x);
    ChanceBar(style, line.probability, bar);
    ImGui::SameLine();
    ImGui::PushStyleColor(ImGuiCol_Text, style.quiet);
    ImGui::TextUnformatted(line.chance.c_str());
    ImGui::PopStyleColor();
  }
  if (!line.measure.empty()) WrappedText(line.measure);
  if (!line.text.empty()) QuietText(style, line.text);
  if (has_evidence) {
    const std::string label = shown ? "Shown" : "Show";
    if (ImGui::SmallButton((label + "##evidence").c_str())) {
      events->show = line.evidence;
      shown_ = line.evidence;
    }
    TipForItem(style, "Chooses the shots this rests on and goes to the " + std::string(MarkName(line.evidence.at)) +
                          " in the picture.");
  }
  ImGui::EndGroup();
  ImGui::Unindent(0.6f * em);
  const float end = ImGui::GetItemRectMax().y;
  ImGui::GetWindowDrawList()->AddRectFilled({begin.x, begin.y}, {begin.x + 0.18f * em, end},
                                            shown ? style.accent : style.line, 0.09f * em);
  ImGui::Dummy({0, 0.15f * em});
  ImGui::PopID();
}

AdviceEvents AdvicePanel::Draw(const AdviceInputs& in) {
  AdviceEvents events;
  const Style& style = *in.style;
  if (const std::string waits = AdviceWaitsFor(in.shots); !waits.empty()) {
    EmptyState(style, "No advice yet", waits);
    return events;
  }
  if (!in.advice) {
    EmptyState(style, in.busy ? "The shots are being compared" : "No advice yet",
               in.busy ? "This takes a moment." : "It is made when the shots have been measured.");
    return events;
  }
  const std::vector<AdviceBlock> blocks = BlocksOf(*in.advice, in.shots);
  int id = 0;
  bool shots_begun = false;
  for (const AdviceBlock& block : blocks) {
    const bool of_shot = block.title.starts_with("Shot ");
    if (of_shot && !shots_begun) {
      shots_begun = true;
      // Cautions stand before what acts on a release, not at the end of a long list.
      for (const std::string& caution : in.advice->cautions) {
        ImGui::PushStyleColor(ImGuiCol_Text, style.warn);
        WrappedText("! " + caution);
        ImGui::PopStyleColor();
      }
      ImGui::Separator();
      ImGui::Checkbox("Also shots where nothing acted", &all_shots_);
    }
    const bool plain = block.lines.empty() || std::all_of(block.lines.begin(), block.lines.end(), [](const auto& l) {
                         return l.title == CauseTitle("noise") || l.title == CauseTitle("too_few_shots");
                       });
    if (of_shot && plain && !all_shots_) continue;
    ImGui::Dummy({0, 0.1f * style.em});
    ImGui::PushStyleColor(ImGuiCol_Text, style.accent);
    WrappedText(block.title);
    ImGui::PopStyleColor();
    if (block.lines.empty()) QuietText(style, block.nothing);
    for (const AdviceLine& line : block.lines) DrawLine(style, line, id++, &events);
  }
  for (const std::string& warning : in.advice->warnings) QuietText(style, "Note: " + warning);
  return events;
}

}  // namespace hookline::viewer
