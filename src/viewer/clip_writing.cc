#include "viewer/clip_writing.h"

#include <imgui.h>

#include <filesystem>

#include "viewer/panel_draw.h"

namespace hookline::viewer {

bool ClipWriting::OpenIn(const std::string& folder) {
  Show();
  if (folder_.empty()) folder_ = UsualFolder(folder);
  if (job_.Look().busy) return false;
  consent_.Reset();
  trouble_.clear();
  written_.clear();
  return true;
}

void ClipWriting::Wish() {
  trouble_.clear();
  if (name_.empty()) {
    trouble_ = "Give the clip a name.";
    return;
  }
  const std::string file = (std::filesystem::path(folder_) / (name_ + ".mp4")).string();
  if (Status s = Check(file, replace_); !s.ok()) {
    trouble_ = s.sentence();
    return;
  }
  if (!consent_.Settle(Bowlers(), &trouble_)) return;
  written_ = file;
  job_.Begin(Stage(), "The clip", WorkInto(file));
}

void ClipWriting::Draw(const Style& style) {
  if (!Begin(style)) return;
  const SideJob::News news = job_.Look();
  if (consent_.asking()) {
    if (AskConsent(consent_, &trouble_)) Wish();
  } else if (news.busy) {
    if (Busy(news)) job_.Stop();
  } else {
    Ask();
    BlurOthers(&blur_others_);
    Field(style, "Folder", &folder_);
    Field(style, "Name", &name_);
    ImGui::Checkbox("Replace a file of that name", &replace_);
    if (Button("Write the clip")) Wish();
    SameLineIfFits(ButtonWidth("Close"));
    if (Button("Close")) Close();
    TellOutcome(style, trouble_, news, written_);
  }
  End();
}

}  // namespace hookline::viewer
