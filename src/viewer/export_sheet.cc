#include "viewer/export_sheet.h"

#include <imgui.h>
#include <imgui_stdlib.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>

#include "viewer/panel_draw.h"

namespace hookline::viewer {
namespace {

constexpr const char* kTitle = "Page for the student";

}  // namespace

void ExportSheet::Open(const std::string& folder) {
  open_ = just_opened_ = true;
  consent_.Reset();
  trouble_.clear();
  const char* home = std::getenv("HOME");
  if (folder_.empty()) folder_ = !folder.empty() ? folder : home ? home : ".";
}

bool ExportSheet::Button(const char* name) {
  const bool pressed = ImGui::Button(name);
  const ImVec2 a = ImGui::GetItemRectMin(), b = ImGui::GetItemRectMax();
  spots_.push_back({name, a.x, a.y, b.x, b.y});
  return pressed;
}

// Everything that can be said before the work begins is said here; consent last, when all else is right.
void ExportSheet::Wish(const Desk& desk) {
  trouble_.clear();
  const std::filesystem::path base = std::filesystem::path(folder_) / name_;
  wish_.html = html_ ? base.string() + ".html" : "";
  wish_.pdf = pdf_ ? base.string() + ".pdf" : "";
  if (name_.empty()) {
    trouble_ = "Give the page a name.";
    return;
  }
  if (Status s = CheckWish(wish_); !s.ok()) {
    trouble_ = s.sentence();
    return;
  }
  std::vector<pipeline::SessionFile> session = SessionFilesOf(desk, only_chosen_ ? desk.chosen : std::vector<int>{});
  pipeline::PageOptions options;
  options.pictures = wish_.pictures;
  const std::vector<std::string> shown = pipeline::BowlersShown(session, options);
  if (!consent_.Settle({shown.begin(), shown.end()}, &trouble_)) return;
  work_.Begin(std::move(session), wish_);
}

void ExportSheet::Draw(const Style& style, const Desk& desk) {
  spots_.clear();
  if (!open_) return;
  if (just_opened_) ImGui::OpenPopup(kTitle);
  just_opened_ = false;
  const float em = style.em;
  const ImVec2 screen = ImGui::GetIO().DisplaySize;
  ImGui::SetNextWindowPos({screen.x / 2, screen.y / 2}, ImGuiCond_Always, {0.5f, 0.5f});
  ImGui::SetNextWindowSize({std::min(38 * em, screen.x - 2 * em), 0});
  if (!ImGui::BeginPopupModal(kTitle, &open_, ImGuiWindowFlags_NoResize | ImGuiWindowFlags_NoMove)) return;
  const PageExport::News news = work_.Look();
  if (consent_.asking()) {
    ImGui::TextWrapped("%s", consent_.question().c_str());
    if (Button("Yes, they agreed")) {
      consent_.Answer(true, &trouble_);
      Wish(desk);
    }
    SameLineIfFits(ButtonWidth("No"));
    if (Button("No")) consent_.Answer(false, &trouble_);
  } else if (news.busy) {
    ImGui::ProgressBar(news.share < 0 ? 0 : static_cast<float>(news.share), {-1, 0}, news.stage.c_str());
    if (Button("Stop")) work_.Stop();
  } else {
    ImGui::TextWrapped("One file with everything in it, for a phone or a laptop. Nothing is sent anywhere.");
    ImGui::Checkbox("Page (HTML)", &html_);
    SameLineIfFits(CheckboxWidth("PDF to print"));
    ImGui::Checkbox("PDF to print", &pdf_);
    ImGui::Checkbox("Only the chosen shots", &only_chosen_);
    ImGui::Checkbox("Pictures of the bowler", &wish_.pictures);
    ImGui::BeginDisabled(!wish_.pictures);
    ImGui::Checkbox("Blur other people where they can be found", &wish_.blur_others);
    ImGui::EndDisabled();
    const auto field = [&](const char* label, const char* id, std::string* text) {
      ImGui::AlignTextToFramePadding();
      ImGui::TextUnformatted(label);
      ImGui::SameLine(6 * em);
      ImGui::SetNextItemWidth(-1);
      ImGui::InputText(id, text);
    };
    field("Title", "##title", &wish_.title);
    field("Folder", "##folder", &folder_);
    field("Name", "##name", &name_);
    ImGui::Checkbox("Replace files of that name", &wish_.replace);
    if (desk.shots.empty()) trouble_ = "There is no shot yet that a page could tell of.";
    ImGui::BeginDisabled(desk.shots.empty());
    if (Button("Make the page")) Wish(desk);
    ImGui::EndDisabled();
    SameLineIfFits(ButtonWidth("Close"));
    if (Button("Close")) open_ = false;
  }
  if (!news.busy && !consent_.asking()) {
    const std::string written = wish_.html.empty() ? wish_.pdf : wish_.html;
    const std::string text = !trouble_.empty()  ? trouble_
                             : !news.done       ? std::string()
                             : news.status.ok() ? "Written: " + written + ". Look at it before you hand it on."
                                                : news.status.sentence();
    if (!text.empty()) {
      ImGui::PushStyleColor(ImGuiCol_Text, !trouble_.empty() || !news.status.ok() ? style.warn : style.text);
      ImGui::TextWrapped("%s", text.c_str());
      ImGui::PopStyleColor();
    }
  }
  if (!open_) ImGui::CloseCurrentPopup();
  ImGui::EndPopup();
}

}  // namespace hookline::viewer
