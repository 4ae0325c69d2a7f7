#include "pipeline/annotate_clip.h"

#include <algorithm>
#include <memory>
#include <utility>

#include "media/clip_reader.h"
#include "media/clip_writer.h"
#include "report/overlay.h"

namespace hookline::pipeline {

Status AnnotateClip(const ClipRun& run, const BlurOptions& blur, const std::string& out, const ProgressFn& progress,
                    const StopToken& stop) {
  auto overlay = report::Overlay::Make(run.result);
  if (!overlay.ok()) return overlay.status();
  auto reader = media::ClipReader::Open(run.result.clip.file);
  if (!reader.ok()) return reader.status();
  std::unique_ptr<PeopleBlur> others;
  if (blur.any()) {
    auto made = PeopleBlur::Make(run.result.clip.file, *run.result.lane_setup, blur);
    if (!made.ok()) return made.status();
    others = std::move(*made);
  }
  media::ClipWriterOptions options;
  options.width = run.result.clip.width;
  options.height = run.result.clip.height;
  if (out.size() > 5 && out.substr(out.size() - 5) == ".webm") options.codec = "vp9";  // WebM holds no H.264
  auto writer = media::ClipWriter::Open(out, options);
  if (!writer.ok()) return writer.status();
  while (auto picture = (*reader)->Next()) {
    if (stop.stop_requested()) return {StatusCode::kStopped, "Stopped."};
    cv::Mat bgr = report::BgrFromPicture(*picture);
    const auto frame = static_cast<std::size_t>(picture->index);
    const FrameMotion motion = frame < run.motions.size() ? run.motions[frame] : FrameMotion{};
    if (others) others->Apply(bgr, motion);
    (*overlay)->Draw(bgr, picture->time_s, motion);
    if (Status s = (*writer)->Add(bgr, picture->time_s); !s.ok()) return s;
    if (run.result.clip.duration_s > 0)
      progress("drawing", std::min(1.0, picture->time_s / run.result.clip.duration_s));
  }
  return (*writer)->Finish();
}

}  // namespace hookline::pipeline
