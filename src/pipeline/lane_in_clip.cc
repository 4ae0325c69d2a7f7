#include "pipeline/lane_in_clip.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "camera/projection.h"
#include "media/clip_reader.h"
#include "report/number_text.h"
#include "setup/background.h"
#include "setup/find_lane.h"
#if __has_include("setup/setup_file.h")
#include "setup/setup_file.h"
#define HOOKLINE_HAS_SETUP_FILE
#endif
#if __has_include("setup/from_points.h")
#include "setup/from_points.h"
#define HOOKLINE_HAS_FROM_POINTS
#endif

namespace hookline::pipeline {
namespace {

constexpr std::size_t kCorners = 4;

std::array<Eigen::Vector3d, kCorners> Corners(const lane::LaneSpec& lane) {
  const double half = lane.width / 2;
  return {Eigen::Vector3d(-half, 0, 0), Eigen::Vector3d(half, 0, 0), Eigen::Vector3d(-half, lane::kHeadPinY, 0),
          Eigen::Vector3d(half, lane::kHeadPinY, 0)};
}

// Variance of a corner's place in the picture, both axes together, px^2, by differentiating the projection.
double CornerVariance(const LaneSetup& setup, std::size_t corner) {
  const SetupVector parameters = camera::ParametersOf(setup);
  Eigen::Matrix<double, 2, kSetupParameters> slope = Eigen::Matrix<double, 2, kSetupParameters>::Zero();
  for (int i = 0; i < kSetupParameters; ++i) {
    const double step = 0.01 * std::sqrt(setup.covariance(i, i));
    if (!(step > 0)) continue;
    SetupVector up = parameters, down = parameters;
    up[i] += step;
    down[i] -= step;
    const LaneSetup a = camera::WithParameters(setup, up), b = camera::WithParameters(setup, down);
    const auto pa = camera::ImageFromLane(a.camera, Corners(a.lane)[corner]);
    const auto pb = camera::ImageFromLane(b.camera, Corners(b.lane)[corner]);
    if (pa && pb) slope.col(i) = (*pa - *pb) / (2 * step);
  }
  return (slope * setup.covariance * slope.transpose()).trace();
}

Result<LaneSetup> SetupFromFile(const std::string& file, const LaneInClip& clip) {
#ifdef HOOKLINE_HAS_SETUP_FILE
  auto loaded = setup::LoadSetup(file);
  if (!loaded.ok()) return loaded.status();
  loaded->source = SetupSource::kFile;
  if (loaded->camera.width != clip.clip.width || loaded->camera.height != clip.clip.height) {
    return Status(StatusCode::kBadFile, file + " is for pictures of " + std::to_string(loaded->camera.width) + "x" +
                                            std::to_string(loaded->camera.height) + ", " + clip.clip.file + " has " +
                                            std::to_string(clip.clip.width) + "x" + std::to_string(clip.clip.height) +
                                            "; find the lane anew with `hookline lane`.");
  }
  return loaded;
#else
  (void)clip;
  return Status(StatusCode::kInternal, file + ": lane setup files are not read yet.");
#endif
}

Result<LaneSetup> SetupFromPoints(const LaneOptions& options, const LaneInClip& clip) {
#ifdef HOOKLINE_HAS_FROM_POINTS
  return setup::LaneFromPoints(options.points, clip.clip.width, clip.clip.height, &clip.background);
#else
  (void)options, (void)clip;
  return Status(StatusCode::kInternal, "Lanes from marked points are not fitted yet.");
#endif
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
  if (lane_offset < -9 || lane_offset > 9) {
    return {StatusCode::kBadUse, "The lane is counted from -9 to 9, " + std::to_string(lane_offset) + " is not."};
  }
  return Status::Ok();
}

double Disagreement(const LaneSetup& a, const LaneSetup& b) {
  double worst = 0;
  for (std::size_t i = 0; i < kCorners; ++i) {
    const auto pa = camera::ImageFromLane(a.camera, Corners(a.lane)[i]);
    const auto pb = camera::ImageFromLane(b.camera, Corners(b.lane)[i]);
    if (!pa || !pb) continue;
    const double apart = (*pa - *pb).norm();
    if (apart > 1 + 3 * std::sqrt(CornerVariance(a, i) + CornerVariance(b, i))) worst = std::max(worst, apart);
  }
  return worst;
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
  search.lane_offset = options.lane_offset;
  Result<LaneSetup> lane = !options.setup_file.empty() ? SetupFromFile(options.setup_file, found)
                           : !options.points.empty()   ? SetupFromPoints(options, found)
                                                       : setup::FindLane(found.background, search);
  if (stop.stop_requested()) return Status(StatusCode::kStopped, "Stopped.");
  if (!lane.ok()) return lane.status();
  found.setup = *lane;
  if (!options.setup_file.empty()) {
    // The tripod may have been moved since: what the picture itself says is asked too.
    const auto seen = setup::FindLane(found.background, search);
    const double apart = seen.ok() ? Disagreement(found.setup, *seen) : 0;
    if (apart > 0) {
      found.warnings.push_back(options.setup_file + " does not fit this clip any more: the lane is seen up to " +
                               report::FixedText(apart, 0) + " px away. If the camera was moved, find the lane anew.");
    }
  }
  return found;
}

}  // namespace hookline::pipeline
