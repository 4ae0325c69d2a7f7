#include "viewer/clip_sheet.h"

#include <imgui.h>

#include <filesystem>

#include "viewer/page_export.h"
#include "viewer/panel_draw.h"

namespace hookline::viewer {

void ClipSheet::Open(const std::string& folder, const DeskClip& clip) {
  Show();
  if (folder_.empty()) folder_ = UsualFolder(folder);
  if (job_.Look().busy) return;
  consent_.Reset();
  trouble_.clear();
  written_.clear();
  clip_ = clip.file;
  run_ = clip.run;
  name_ = std::filesystem::path(clip.file).stem().string() + " drawn";
  bowlers_.clear();
  for (const Shot& shot : clip.result->shots) bowlers_.insert(shot.bowler);
  if (bowlers_.empty()) bowlers_.insert("");  // somebody is in the picture
}

void ClipSheet::Wish() {
  trouble_.clear();
  if (name_.empty()) {
    trouble_ = "Give the clip a name.";
    return;
  }
  const std::string file = (std::filesystem::path(folder_) / (name_ + ".mp4")).string();
  if (Status s = CheckClipPlace(file, replace_, {clip_}); !s.ok()) {
    trouble_ = s.sentence();
    return;
  }
  if (!consent_.Settle(bowlers_, &trouble_)) return;
  written_ = file;
  job_.Begin("drawing", "The clip",
             [run = run_, blur = blur_, file](const ProgressFn& progress, const StopToken& stop) {
               return pipeline::AnnotateClip(*run, blur, file, progress, stop);
             });
}

void ClipSheet::Draw(const Style& style) {
  if (!Begin(style)) return;
  const SideJob::News news = job_.Look();
  if (consent_.asking()) {
    if (AskConsent(consent_, &trouble_)) Wish();
  } else if (news.busy) {
    if (Busy(news)) job_.Stop();
  } else {
    WrappedText(FileName(clip_) +
                " with path, boards and numbers drawn on it, without sound. Nothing is sent anywhere.");
    BlurOthers(&blur_.others);
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
