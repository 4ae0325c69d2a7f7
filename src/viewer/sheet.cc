#include "viewer/sheet.h"

#include <imgui.h>
#include <imgui_stdlib.h>

#include <algorithm>
#include <cstdlib>

#include "viewer/panel_draw.h"

namespace hookline::viewer {

bool Sheet::Begin(const Style& style) {
  spots_.clear();
  if (!open_) return false;
  if (just_opened_) ImGui::OpenPopup(title_);
  just_opened_ = false;
  const ImVec2 screen = ImGui::GetIO().DisplaySize;
  ImGui::SetNextWindowPos({screen.x / 2, screen.y / 2}, ImGuiCond_Always, {0.5f, 0.5f});
  ImGui::SetNextWindowSize({std::min(width_em_ * style.em, screen.x - 2 * style.em), 0});
  return ImGui::BeginPopupModal(title_, &open_, ImGuiWindowFlags_NoResize | ImGuiWindowFlags_NoMove);
}

void Sheet::End() {
  if (!open_) ImGui::CloseCurrentPopup();
  ImGui::EndPopup();
}

bool Sheet::Button(const char* name) {
  const bool pressed = ImGui::Button(name);
  NoteSpot(name);
  return pressed;
}

void Sheet::NoteSpot(const char* name) {
  const ImVec2 a = ImGui::GetItemRectMin(), b = ImGui::GetItemRectMax();
  spots_.push_back({name, a.x, a.y, b.x, b.y});
}

void Sheet::Field(const Style& style, const char* label, std::string* text, float width) {
  const float begin = ImGui::GetCursorPosX();
  ImGui::AlignTextToFramePadding();
  ImGui::TextUnformatted(label);
  ImGui::SameLine(begin + 5 * style.em);
  ImGui::SetNextItemWidth(width);
  ImGui::PushID(label);
  ImGui::InputText("##field", text);
  ImGui::PopID();
  NoteSpot(label);
}

bool Sheet::Checkbox(const char* name, bool* on) {
  const bool changed = ImGui::Checkbox(name, on);
  NoteSpot(name);
  return changed;
}

std::string Sheet::UsualFolder(const std::string& folder) {
  const char* home = std::getenv("HOME");
  return !folder.empty() ? folder : home ? home : ".";
}

bool Sheet::Busy(const SideJob::News& news) {
  ImGui::ProgressBar(news.share < 0 ? 0 : static_cast<float>(news.share), {-1, 0}, news.stage.c_str());
  return Button("Stop");
}

void Sheet::TellOutcome(const Style& style, const std::string& trouble, const SideJob::News& news,
                        const std::string& written) {
  const std::string text = !trouble.empty()                ? trouble
                           : !news.done || written.empty() ? std::string()
                           : news.status.ok() ? "Written: " + written + ". Look at it before you hand it on."
                                              : news.status.sentence();
  Tell(style, text, !trouble.empty() || !news.status.ok());
}

bool Sheet::AskConsent(ConsentAsk& consent, std::string* trouble) {
  ImGui::TextWrapped("%s", consent.question().c_str());
  const bool yes = Button("Yes, they agreed");
  if (yes) consent.Answer(true, trouble);
  SameLineIfFits(ButtonWidth("No"));
  if (Button("No")) consent.Answer(false, trouble);
  return yes;
}

void Sheet::Tell(const Style& style, const std::string& text, bool bad) {
  if (text.empty()) return;
  ImGui::PushStyleColor(ImGuiCol_Text, bad ? style.warn : style.text);
  ImGui::TextWrapped("%s", text.c_str());
  ImGui::PopStyleColor();
}

}  // namespace hookline::viewer
