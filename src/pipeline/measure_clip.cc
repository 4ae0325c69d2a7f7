#include "pipeline/measure_clip.h"

#include <algorithm>
#include <cmath>
#include <future>
#include <memory>

#include "camera/projection.h"
#include "media/clip_reader.h"
#include "pipeline/shots_from_tracks.h"
#include "setup/camera_motion.h"
#include "setup/find_lane.h"
#include "track/ball_tracker.h"

namespace hookline::pipeline {
namespace {

// Largest shift of the picture between two turns of the camera, over its middle and four points half way to its
// corners, px.
double ShiftPx(const CameraModel& camera, const FrameMotion& a, const FrameMotion& b) {
  double largest = 0;
  for (const auto& [fx, fy] : {std::pair{0.5, 0.5}, {0.25, 0.25}, {0.75, 0.25}, {0.25, 0.75}, {0.75, 0.75}}) {
    const Eigen::Vector2d p(fx * (camera.width - 1), fy * (camera.height - 1));
    const Eigen::Vector2d shift = camera::FrameFromReference(camera, b, p) - camera::FrameFromReference(camera, a, p);
    largest = std::max(largest, shift.norm());
  }
  return largest;
}

// Pictures decoded while the lane is still looked for, which leaves cores idle: 115 of 1080 lines.
constexpr int kDecodeAheadMb = 360;

Result<std::unique_ptr<media::ClipReader>> OpenAhead(const std::string& file) {
  media::ClipReaderOptions options;
  options.ahead_mb = kDecodeAheadMb;
  return media::ClipReader::Open(file, options);
}

// Runs the clip past the camera's motion and the tracker. kStopped when it was.
Result<std::vector<Track>> FollowBall(std::unique_ptr<media::ClipReader> reader, const LaneInClip& lane,
                                      const ProgressFn& progress, const StopToken& stop, ClipRun* run) {
  setup::CameraMotion camera_motion(lane.setup, lane.background);
  track::BallTracker tracker(lane.setup, lane.background);
  ClipResult& result = run->result;
  const double duration = reader->info().duration_s;
  std::size_t blind = 0;
  while (auto picture = reader->Next()) {
    if (stop.stop_requested()) return Status(StatusCode::kStopped, "Stopped.");
    const FrameMotion motion = camera_motion.Estimate(*picture);
    tracker.Add(*picture, motion);
    run->frame_times_s.push_back(picture->time_s);
    run->motions.push_back(motion);
    if (run->motions.size() == 1) result.first_frame = motion;
    if (!motion.known) {
      ++blind;
    } else if (result.first_frame.known) {
      result.camera_moved_px = std::max(result.camera_moved_px, ShiftPx(lane.setup.camera, result.first_frame, motion));
    }
    if (duration > 0) progress("following the ball", std::min(1.0, picture->time_s / duration));
  }
  result.clip = reader->info();
  for (const std::string& warning : reader->warnings()) result.warnings.push_back(warning);
  if (blind > 0) {
    result.warnings.push_back("In " + std::to_string(blind) + " of " + std::to_string(run->motions.size()) +
                              " frames too little of the still background was seen to tell whether the camera moved.");
  }
  return tracker.Finish();
}

// A camera that aims between two lanes does not say whose shot is meant; a ball does. Lanes up to this much farther
// from the aim than the nearest one, in lane widths, are looked at when nothing rolls on the nearest. The next lane of
// a camera that aims at one is 1.5 widths and more farther.
constexpr double kAimInDoubt = 0.6;

// The next lanes that the camera may as well be aimed at, nearest the aim first.
std::vector<int> LanesInDoubt(const LaneSetup& setup) {
  std::vector<std::pair<double, int>> lanes;
  for (const NeighbourLane& n : setup.neighbours) {
    const double off = setup::OffAim(setup, n.centre_x);
    if (std::abs(n.index) == 1 && off < setup::OffAim(setup, 0) + kAimInDoubt) lanes.emplace_back(off, n.index);
  }
  std::sort(lanes.begin(), lanes.end());
  std::vector<int> out;
  for (const auto& [off, index] : lanes) out.push_back(index);
  return out;
}

// Lane and tracks become the clip's result.
void Conclude(LaneInClip lane, const std::vector<Track>& tracks, const MeasureOptions& options,
              const ProgressFn& progress, ClipRun* run) {
  run->result.lane_setup = lane.setup;
  run->result.warnings.insert(run->result.warnings.begin(), lane.warnings.begin(), lane.warnings.end());
  run->clip_warnings = run->result.warnings;
  lane.background.layers.clear();
  run->background = std::make_shared<const Background>(std::move(lane.background));
  progress("measuring", -1);
  ShotsFromTracks(tracks, options, run);
}

}  // namespace

Status MeasureOptions::Check() const {
  if (ball_gyration && !(*ball_gyration >= lane::MetresFromInches(2.2) && *ball_gyration <= lane::MetresFromInches(3)))
    return Status(StatusCode::kBadUse,
                  "A ball's radius of gyration must be within 2.2 to 3.0 in; legal heavy balls have 2.46 to 2.80 in.");
  if (readout_s && !(*readout_s >= 0 && *readout_s <= 0.04))
    return Status(StatusCode::kBadUse, "A camera's readout must be within 0 to 40 ms.");
  return lane.Check();
}

Result<ClipRun> MeasureClip(const std::string& file, const MeasureOptions& options, const ProgressFn& progress,
                            const StopToken& stop) {
  if (Status s = options.Check(); !s.ok()) return s;
  ClipRun run;
  // Decoding starts when the search no longer decodes itself: it would only keep the search waiting.
  std::future<Result<std::unique_ptr<media::ClipReader>>> opened;
  auto lane = FindLaneInClip(file, options.lane, progress, stop,
                             [&] { opened = std::async(std::launch::async, OpenAhead, file); });
  if (!lane.ok() && lane.status().code() != StatusCode::kLaneNotFound) return lane.status();
  auto reader = opened.get();
  if (!reader.ok()) return reader.status();
  if (!lane.ok()) {
    run.result.clip = (*reader)->info();
    run.result.lane_reason = lane.status().sentence();
    run.result.no_shot_reason = "The lane was not found, so no ball was looked for.";
    return run;
  }
  auto tracks = FollowBall(std::move(*reader), *lane, progress, stop, &run);
  if (!tracks.ok()) return tracks.status();
  const LaneOptions& how = options.lane;
  if (tracks->empty() && !how.lane_offset && how.setup_file.empty() && how.points.empty()) {
    for (const int index : LanesInDoubt(lane->setup)) {
      setup::FindLaneOptions search;
      search.lane_offset = index;
      auto next = setup::FindLane(lane->background, search);
      if (!next.ok()) continue;
      LaneInClip other = *lane;
      other.setup = *next;
      ClipRun other_run;
      auto again = OpenAhead(file);
      if (!again.ok()) return again.status();
      auto other_tracks = FollowBall(std::move(*again), other, progress, stop, &other_run);
      if (!other_tracks.ok()) return other_tracks.status();
      if (other_tracks->empty()) continue;
      other.warnings.push_back(
          "The camera aims between two lanes; the one a ball rolled on was taken (--lane chooses another).");
      *lane = std::move(other);
      run = std::move(other_run);
      tracks = std::move(other_tracks);
      break;
    }
  }
  Conclude(std::move(*lane), *tracks, options, progress, &run);
  return run;
}

Result<ClipRun> MeasureClipOnLane(const std::string& file, LaneInClip lane, const MeasureOptions& options,
                                  const ProgressFn& progress, const StopToken& stop) {
  if (Status s = options.Check(); !s.ok()) return s;
  ClipRun run;
  auto reader = OpenAhead(file);
  if (!reader.ok()) return reader.status();
  auto tracks = FollowBall(std::move(*reader), lane, progress, stop, &run);
  if (!tracks.ok()) return tracks.status();
  Conclude(std::move(lane), *tracks, options, progress, &run);
  return run;
}

}  // namespace hookline::pipeline
