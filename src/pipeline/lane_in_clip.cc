#include "pipeline/lane_in_clip.h"

#include "media/clip_reader.h"
#include "setup/background.h"
#include "setup/find_lane.h"
#include "setup/from_points.h"
#include "setup/setup_file.h"

namespace hookline::pipeline {
namespace {

Result<LaneSetup> SetupFromFile(const std::string& file, const LaneInClip& clip) {
  auto loaded = setup::LoadSetup(file);
  if (!loaded.ok()) return loaded.status();
  if (loaded->camera.width != clip.clip.width || loaded->camera.height != clip.clip.height) {
    return Status(StatusCode::kBadFile, file + " is for pictures of " + std::to_string(loaded->camera.width) + "x" +
                                            std::to_string(loaded->camera.height) + ", " + clip.clip.file + " has " +
                                            std::to_string(clip.clip.width) + "x" + std::to_string(clip.clip.height) +
                                            "; find the lane anew with `hookline lane`.");
  }
  return loaded;
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
                                  const StopToken& stop) {
  if (Status s = options.Check(); !s.ok()) return s;
  LaneInClip found;
  {
    auto reader = media::ClipReader::Open(file);
    if (!reader.ok()) return reader.status();
    found.clip = (*reader)->info();
  }
  progress("looking at the clip", -1);
  auto pictures = media::SamplePictures(file, options.background_pictures);
  if (!pictures.ok()) return pictures.status();
  if (pictures->empty()) return Status(StatusCode::kBadFile, file + " holds no picture that can be decoded.");
  if (stop.stop_requested()) return Status(StatusCode::kStopped, "Stopped.");
  progress("finding the lane", -1);
  found.background = setup::StillBackground(*pictures);
  pictures->clear();

  setup::FindLaneOptions search;
  search.lane_offset = options.lane_offset.value_or(0);
  Result<LaneSetup> lane = !options.setup_file.empty() ? SetupFromFile(options.setup_file, found)
                           : !options.points.empty()   ? setup::LaneFromPoints(options.points, found.clip.width,
                                                                               found.clip.height, &found.background)
                                                       : setup::FindLane(found.background, search);
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
