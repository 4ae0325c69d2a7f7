#include "viewer/export_sheet.h"

#include <imgui.h>

#include <algorithm>
#include <filesystem>

#include "viewer/panel_draw.h"

namespace hookline::viewer {
void ExportSheet::Open(const std::string& folder) {
  Show();
  consent_.Reset();
  trouble_.clear();
  if (folder_.empty()) folder_ = UsualFolder(folder);
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
  if (!Begin(style)) return;
  const PageExport::News news = work_.Look();
  if (consent_.asking()) {
    if (AskConsent(consent_, &trouble_)) Wish(desk);
  } else if (news.busy) {
    if (Busy(news)) work_.Stop();
  } else {
    ImGui::TextWrapped("One file with everything in it, for a phone or a laptop. Nothing is sent anywhere.");
    ImGui::Checkbox("Page (HTML)", &html_);
    SameLineIfFits(CheckboxWidth("PDF to print"));
    ImGui::Checkbox("PDF to print", &pdf_);
    ImGui::Checkbox("Only the chosen shots", &only_chosen_);
    ImGui::Checkbox("Pictures of the bowler", &wish_.pictures);
    ImGui::BeginDisabled(!wish_.pictures);
    BlurOthers(&wish_.blur_others);
    ImGui::EndDisabled();
    Field(style, "Title", &wish_.title);
    Field(style, "Folder", &folder_);
    Field(style, "Name", &name_);
    ImGui::Checkbox("Replace files of that name", &wish_.replace);
    if (desk.shots.empty()) trouble_ = "There is no shot yet that a page could tell of.";
    ImGui::BeginDisabled(desk.shots.empty());
    if (Button("Make the page")) Wish(desk);
    ImGui::EndDisabled();
    SameLineIfFits(ButtonWidth("Close"));
    if (Button("Close")) Close();
  }
  if (!news.busy && !consent_.asking()) TellOutcome(style, trouble_, news, wish_.html.empty() ? wish_.pdf : wish_.html);
  End();
}

}  // namespace hookline::viewer
