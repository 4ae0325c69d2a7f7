#include "pipeline/lane_in_clip.h"

#include <algorithm>
#include <future>
#include <vector>

#include "camera/projection.h"
#include "media/clip_reader.h"
#include "setup/background.h"
#include "setup/find_lane.h"
#include "setup/from_points.h"
#include "setup/lane_looks.h"
#include "setup/setup_file.h"

namespace hookline::pipeline {
namespace {

Result<LaneSetup> SavedSetup(const LaneOptions& options, const LaneInClip& clip) {
  const std::string& file = options.setup_file;
  auto loaded = options.setup_text.empty() ? setup::LoadSetup(file) : setup::SetupFromText(options.setup_text, file);
  if (!loaded.ok()) return loaded.status();
  if (loaded->camera.width != clip.clip.width || loaded->camera.height != clip.clip.height) {
    return Status(StatusCode::kBadFile, file + " is for pictures of " + std::to_string(loaded->camera.width) + "x" +
                                            std::to_string(loaded->camera.height) + ", " + clip.clip.file + " has " +
                                            std::to_string(clip.clip.width) + "x" + std::to_string(clip.clip.height) +
                                            "; find the lane anew with `hookline lane`.");
  }
  return loaded;
}

// Share of the lane, foul line to pins, that somebody hides in two thirds of the pictures or more. Of the whole picture
// when no lane is known.
double HiddenShare(const Background& background, const LaneSetup* setup) {
  const cv::Mat& shown = background.shown;
  if (shown.empty()) return 0;
  const auto hidden = [&](int shows) { return 3 * shows <= background.pictures; };
  int all = 0, count = 0;
  if (setup == nullptr) {
    for (auto p = shown.begin<std::uint8_t>(); p != shown.end<std::uint8_t>(); ++p) ++all, count += hidden(*p);
  } else {
    const int cell = background.luma.cols / shown.cols;
    for (double y = 0; y < lane::kHeadPinY + 0.8; y += 0.3)
      for (double x = -0.5; x <= 0.5; x += 0.1) {
        const auto p = camera::ImageFromLane(setup->camera, {x * setup->lane.width, y, lane::kBallDiameter / 2});
        if (!p) continue;
        const int column = static_cast<int>(p->x()) / cell, row = static_cast<int>(p->y()) / cell;
        if (p->x() < 0 || p->y() < 0 || column >= shown.cols || row >= shown.rows) continue;
        ++all, count += hidden(shown.at<std::uint8_t>(row, column));
      }
  }
  return all > 0 ? static_cast<double>(count) / all : 0;
}

// More than that hidden, and a closer look at the clip pays. A person as tall as half of the picture covers 4 % of it.
constexpr double kHiddenOfLane = 0.1, kHiddenOfPicture = 0.02;

// Of the lane, that looks unlike one: more is somebody who stood before it, less are markings and lamps in the gloss.
constexpr double kUnlikeLanes = 0.03;

// Pictures that leave stretches of the clip unseen, several times as long as even steps would be.
bool Patchy(const std::vector<Picture>& pictures, double duration_s) {
  double longest = 0;
  for (std::size_t i = 1; i < pictures.size(); ++i)
    longest = std::max(longest, pictures[i].time_s - pictures[i - 1].time_s);
  return longest > 3 * duration_s / static_cast<double>(pictures.size());
}

}  // namespace

Status LaneOptions::Check() const {
  if (!setup_file.empty() && !points.empty()) {
    return {StatusCode::kBadUse, "Give either a lane setup file or marked points, not both."};
  }
  if (background_pictures < 5 || background_pictures > 60) {
    return {StatusCode::kBadUse,
            "background_pictures is " + std::to_string(background_pictures) + "; it must be 5 to 60."};
  }
  if (lane_offset && (*lane_offset < -6 || *lane_offset > 6)) {
    return {StatusCode::kBadUse, "The lane is counted from -6 to 6, " + std::to_string(*lane_offset) + " is not."};
  }
  return Status::Ok();
}

Result<LaneInClip> FindLaneInClip(const std::string& file, const LaneOptions& options, const ProgressFn& progress,
                                  const StopToken& stop, const std::function<void()>& seen) {
  if (Status s = options.Check(); !s.ok()) return s;
  LaneInClip found;
  progress("looking at the clip", -1);
  auto looks = std::async(std::launch::async, [&] { return media::LookAtClip(file); });  // opening takes one core
  auto pictures = media::SamplePictures(file, options.background_pictures);
  const auto clip = looks.get();
  if (!clip.ok()) return clip.status();
  if (!pictures.ok()) return pictures.status();
  found.clip = *clip;
  if (pictures->empty()) return Status(StatusCode::kBadFile, file + " holds no picture that can be decoded.");
  if (stop.stop_requested()) return Status(StatusCode::kStopped, "Stopped.");
  if (seen) seen();
  progress("finding the lane", -1);
  found.background = setup::StillBackground(*pictures);
  const bool patchy = Patchy(*pictures, found.clip.duration_s);
  pictures->clear();

  setup::FindLaneOptions search;
  search.lane_offset = options.lane_offset.value_or(0);
  const auto find = [&]() -> Result<LaneSetup> {
    if (!options.setup_file.empty()) return SavedSetup(options, found);
    if (!options.points.empty())
      return setup::LaneFromPoints(options.points, found.clip.width, found.clip.height, &found.background);
    return setup::FindLane(found.background, search);
  };
  Result<LaneSetup> lane = find();
  // Somebody stood before the lane wherever the clip was looked at.
  if (patchy && (lane.ok() ? HiddenShare(found.background, &*lane) > kHiddenOfLane
                           : lane.status().code() == StatusCode::kLaneNotFound &&
                                 HiddenShare(found.background, nullptr) > kHiddenOfPicture)) {
    if (stop.stop_requested()) return Status(StatusCode::kStopped, "Stopped.");
    progress("looking at the clip more closely", -1);
    pictures = media::SamplePictures(file, options.background_pictures, 0, true);
    if (!pictures.ok()) return pictures.status();
    if (!pictures->empty()) {
      found.background = setup::StillBackground(*pictures);
      lane = find();
    }
  }
  // Where the lane lies tells people from what is behind them: a bowler who stays before it after the release would
  // else be what the ball is looked for against.
  if (lane.ok() && setup::ShareUnlikeLanes(found.background, *lane) > kUnlikeLanes) {
    if (stop.stop_requested()) return Status(StatusCode::kStopped, "Stopped.");
    progress("looking at the clip more closely", -1);
    found.background = {};  // as large as the pictures to come, while the clip is already being decoded ahead
    pictures = media::SamplePictures(file, options.background_pictures, 0, true);
    if (!pictures.ok()) return pictures.status();
    if (pictures->empty()) return Status(StatusCode::kBadFile, file + " holds no picture that can be decoded.");
    found.background = setup::StillBackground(*pictures, &*lane);
    pictures->clear();
    if (auto again = find(); again.ok()) lane = std::move(again);
  }
  if (stop.stop_requested()) return Status(StatusCode::kStopped, "Stopped.");
  if (!lane.ok()) return lane.status();
  found.setup = *lane;
  if (!options.setup_file.empty()) {
    // The tripod may have been moved since.
    const setup::SetupCheck check = setup::CheckSetup(found.setup, found.background);
    if (!check.fits) found.warnings.push_back(options.setup_file + " does not fit this clip: " + check.sentence);
  }
  return found;
}

}  // namespace hookline::pipeline
