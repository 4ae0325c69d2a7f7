#include "viewer/clip_sheet.h"

#include <filesystem>

#include "viewer/page_export.h"
#include "viewer/panel_draw.h"

namespace hookline::viewer {

void ClipSheet::Open(const std::string& folder, const DeskClip& clip) {
  if (!OpenIn(folder)) return;
  clip_ = clip.file;
  run_ = clip.run;
  name_ = std::filesystem::path(clip.file).stem().string() + " drawn";
  bowlers_.clear();
  for (const Shot& shot : clip.result->shots) bowlers_.insert(shot.bowler);
  if (bowlers_.empty()) bowlers_.insert("");  // somebody is in the picture
}

Status ClipSheet::Check(const std::string& file, bool replace) const { return CheckClipPlace(file, replace, {clip_}); }

ClipSheet::Work ClipSheet::WorkInto(const std::string& file) const {
  pipeline::BlurOptions blur;
  blur.others = blur_others_;
  return [run = run_, blur, file](const ProgressFn& progress, const StopToken& stop) {
    return pipeline::AnnotateClip(*run, blur, file, progress, stop);
  };
}

void ClipSheet::Ask() {
  WrappedText(FileName(clip_) + " with path, boards and numbers drawn on it, without sound. Nothing is sent anywhere.");
}

}  // namespace hookline::viewer
