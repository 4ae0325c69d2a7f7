#include "pipeline/page_of_session.h"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <map>
#include <opencv2/imgproc.hpp>
#include <set>

#include "advice/advise.h"
#include "media/clip_reader.h"
#include "pipeline/compare_lines.h"
#include "pipeline/plan_move.h"
#include "pipeline/shot_view.h"
#include "report/overlay.h"
#include "report/page_jpeg.h"

namespace hookline::pipeline {
namespace {

namespace fs = std::filesystem;

constexpr int kMostPx = 900;  // of a picture's longer side: sharp on a phone, small in a message

// A moment of a shot that the page shows.
struct Wanted {
  double time_s;
  std::size_t shot;  // in the clip
  bool path;         // the whole path, or the release
};

std::vector<Wanted> WantedOf(const ClipResult& result, bool release_too) {
  std::vector<Wanted> out;
  for (std::size_t i = 0; i < result.shots.size(); ++i) {
    const Shot& shot = result.shots[i];
    if (shot.path.empty()) continue;
    if (release_too && shot.release_s) out.push_back({*shot.release_s, i, false});
    out.push_back({shot.path.back().time_s, i, true});
  }
  std::stable_sort(out.begin(), out.end(), [](const Wanted& a, const Wanted& b) { return a.time_s < b.time_s; });
  return out;
}

Result<report::PagePicture> Drawn(const Picture& picture, const Wanted& wanted, const ClipResult& result,
                                  const report::Overlay& overlay, PeopleBlur* blur) {
  const Shot& shot = result.shots[wanted.shot];
  cv::Mat bgr = report::BgrFromPicture(picture);
  const FrameMotion motion = TurnFromPath(*result.lane_setup, shot, picture.time_s);
  if (blur) blur->Apply(bgr, motion);
  // Nothing is drawn over the bowler at the release.
  if (wanted.path) overlay.Draw(bgr, picture.time_s, motion);
  const cv::Rect part = LaneInPicture(*result.lane_setup) & cv::Rect(0, 0, bgr.cols, bgr.rows);
  cv::Mat cut = bgr(part), small;
  const double scale = std::min(1.0, static_cast<double>(kMostPx) / std::max(cut.cols, cut.rows));
  cv::resize(cut, small, {}, scale, scale, cv::INTER_AREA);
  auto jpeg = report::JpegFromBgr(small);
  if (!jpeg.ok()) return jpeg.status();
  report::PagePicture p;
  p.jpeg = std::move(*jpeg);
  p.width = small.cols;
  p.height = small.rows;
  p.alt = wanted.path ? "The lane as filmed, with the ball's path drawn on it from the foul line to the pins"
                      : "The bowler at the release of the ball";
  p.caption = wanted.path ? "The path on the lane, with the board at the arrows and the breakpoint." : "The release.";
  return p;
}

// The pictures of a clip's shots; a sentence in each shot's place when the clip does not give them.
Result<std::vector<report::ShotPictures>> PicturesOf(const SessionFile& file, const PageOptions& options,
                                                     bool release_too, const ProgressFn& progress,
                                                     const StopToken& stop) {
  const ClipResult& result = file.result;
  std::vector<report::ShotPictures> out(result.shots.size());
  const auto without = [&](const std::string& why) {
    for (report::ShotPictures& p : out)
      if (p.pictures.empty()) p.reason = why;
    return out;
  };
  if (!options.pictures) return without("");
  if (!result.lane_setup)
    return without(
        "No picture: the result file does not say where the camera stood; measure the clip again to have one.");
  const std::string clip = ClipOf(file, options.clips_folder);
  if (clip.empty()) return without("No picture: the clip was not at hand when this page was made.");
  auto overlay = report::Overlay::Make(result, false);
  if (!overlay.ok()) return overlay.status();
  std::unique_ptr<PeopleBlur> blur;
  if (options.blur.any()) {
    auto made = PeopleBlur::Make(clip, *result.lane_setup, options.blur);
    // Pictures that should be blurred and cannot be are not shown.
    if (!made.ok()) return without("No picture: the clip could not be read.");
    blur = std::move(*made);
  }
  auto reader = media::ClipReader::Open(clip);
  if (!reader.ok()) return without("No picture: the clip could not be read.");
  const ClipInfo info = (*reader)->info();
  if (info.width != result.lane_setup->camera.width || info.height != result.lane_setup->camera.height)
    return without("No picture: the clip at hand is not the one that was measured.");
  const std::vector<Wanted> wanted = WantedOf(result, release_too);
  std::size_t next = 0;
  std::optional<Picture> last;
  const auto take = [&](const Picture& picture) -> Status {
    auto p = Drawn(picture, wanted[next], result, **overlay, blur.get());
    if (!p.ok()) return p.status();
    out[wanted[next].shot].pictures.push_back(std::move(*p));
    ++next;
    return Status::Ok();
  };
  while (next < wanted.size()) {
    if (stop.stop_requested()) return Status(StatusCode::kStopped, "Stopped.");
    auto picture = (*reader)->Next();
    if (!picture) break;
    progress("pictures", std::min(1.0, picture->time_s / std::max(0.1, wanted.back().time_s)));
    // The first picture at or after the time; times in the file are the pictures' own, rounded to a millionth.
    while (next < wanted.size() && picture->time_s >= wanted[next].time_s - 1e-5) {
      if (Status s = take(*picture); !s.ok()) return s;
    }
    last = std::move(picture);
  }
  // A clip that ends with the last sight gives that.
  while (last && next < wanted.size() && wanted[next].time_s - last->time_s < 0.1)
    if (Status s = take(*last); !s.ok()) return s;
  return without("No picture: the clip ends before the shot does.");
}

// Warnings name files with their folders; where they lie on the coach's disk is not the student's to know.
std::string WithoutFolders(std::string text, const std::string& clip) {
  const std::string name = fs::path(clip).filename().string();
  if (!clip.empty() && !name.empty())
    for (std::size_t at = 0; (at = text.find(clip, at)) != std::string::npos; at += name.size())
      text.replace(at, clip.size(), name);
  std::string out, word;
  for (std::size_t i = 0; i <= text.size(); ++i) {
    if (i < text.size() && text[i] != ' ') {
      word += text[i];
      continue;
    }
    if (word.starts_with('/')) word.erase(0, word.rfind('/') + 1);
    out += word;
    if (i < text.size()) out += ' ';
    word.clear();
  }
  return out;
}

}  // namespace

std::string ClipOf(const SessionFile& file, const std::string& clips_folder) {
  const fs::path said(file.result.clip.file);
  if (said.empty() || said.filename().empty()) return {};
  std::error_code ignored;
  std::vector<fs::path> places;
  if (!clips_folder.empty()) places.push_back(fs::path(clips_folder) / said.filename());
  places.push_back(said);
  if (!file.file.empty()) places.push_back(fs::path(file.file).parent_path() / said.filename());
  for (const fs::path& p : places)
    if (fs::is_regular_file(p, ignored)) return p.string();
  return {};
}

std::vector<std::string> BowlersShown(const std::vector<SessionFile>& session, const PageOptions& options) {
  std::set<std::string> names;
  if (options.pictures)
    for (const SessionFile& file : session)
      if (file.result.lane_setup && !ClipOf(file, options.clips_folder).empty())
        for (const Shot& shot : file.result.shots) names.insert(shot.bowler);
  return {names.begin(), names.end()};
}

Result<report::Page> PageOfSession(const std::vector<SessionFile>& session, const PageOptions& options,
                                   const ProgressFn& progress, const StopToken& stop) {
  if (Status s = options.blur.Check(); !s.ok()) return s;
  report::PageInput input;
  input.title = options.title;
  std::size_t shots = 0;
  for (const SessionFile& file : session) shots += file.result.shots.size();
  if (shots == 0) {
    std::string why = session.empty() ? std::string() : session.front().result.no_shot_reason;
    return Status(StatusCode::kNotDetermined, "There is no shot in these files" + (why.empty() ? "." : ": " + why));
  }
  std::set<std::string> said;
  for (const SessionFile& file : session) {
    auto pictures = PicturesOf(file, options, shots == 1, progress, stop);
    if (!pictures.ok()) return pictures.status();
    const double width = file.result.lane_setup ? file.result.lane_setup->lane.width : lane::kNominalWidth;
    for (std::size_t i = 0; i < file.result.shots.size(); ++i) {
      input.shots.push_back(file.result.shots[i]);
      input.lane_width.push_back(width);
      input.pictures.push_back(std::move((*pictures)[i]));
    }
    for (const std::string& warning : file.result.warnings) {
      const std::string w = WithoutFolders(warning, file.result.clip.file);
      if (said.insert(w).second) input.warnings.push_back(w);
    }
  }
  // As the advisor does (advice/advise.h): files measured one by one all begin with 1, and are counted anew.
  bool rising = true;
  for (std::size_t i = 1; i < input.shots.size(); ++i) rising &= input.shots[i].number > input.shots[i - 1].number;
  if (!rising)
    for (std::size_t i = 0; i < input.shots.size(); ++i) input.shots[i].number = static_cast<int>(i) + 1;
  input.advice = advice::Advise(input.shots);
  PlanMoveByPhysics(input.shots, input.advice);
  CompareLines(input.shots, input.advice);
  return report::DescribePage(input);
}

}  // namespace hookline::pipeline
