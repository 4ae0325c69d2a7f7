#include "pipeline/shots_from_tracks.h"

#include <algorithm>
#include <cmath>

#include "camera/projection.h"
#include "core/at_once.h"
#include "measure/measure_path.h"
#include "motion/path_fit.h"
#include "pipeline/spin_of_shots.h"
#include "report/number_text.h"

namespace hookline::pipeline {
namespace {

// Times are the same stamps throughout; this only absorbs rounding.
constexpr double kSameTime_s = 1e-6;

struct Hand {
  lane::Hand hand = lane::Hand::kRight;
  HandSource source = HandSource::kAssumed;
};

Hand HandOf(const Track& track, const std::optional<lane::Hand>& given) {
  if (given) return {*given, HandSource::kGiven};
  if (track.hand) return {*track.hand == 'l' ? lane::Hand::kLeft : lane::Hand::kRight, HandSource::kSeen};
  return {};
}

// The frame at a time: index into the run's lists, or nothing.
std::optional<std::size_t> FrameAt(const ClipRun& run, double time_s) {
  const auto at = std::lower_bound(run.frame_times_s.begin(), run.frame_times_s.end(), time_s - kSameTime_s);
  if (at == run.frame_times_s.end() || *at > time_s + kSameTime_s) return std::nullopt;
  return static_cast<std::size_t>(at - run.frame_times_s.begin());
}

std::vector<PathPoint> PointsOf(const Path& path, const Track& track, const ClipRun& run) {
  const LaneSetup& setup = *run.result.lane_setup;
  std::vector<PathPoint> points = motion::SamplePath(path, track, setup, run.frame_times_s);
  for (PathPoint& point : points) {
    if (point.seen) {
      point.set_by_hand = std::any_of(track.sights.begin(), track.sights.end(), [&](const BallSight& s) {
        return s.set_by_hand && std::abs(s.time_s - point.time_s) < kSameTime_s;
      });
      continue;
    }
    // Where the ball was not seen its place is that of the reference frame; the result speaks of the frame itself.
    const auto frame = FrameAt(run, point.time_s);
    if (!frame || !run.motions[*frame].known) continue;
    const Eigen::Vector2d p = camera::FrameFromReference(setup.camera, run.motions[*frame], {point.u_px, point.v_px});
    point.u_px = p.x();
    point.v_px = p.y();
  }
  return points;
}

struct Measured {
  Path path;
  Shot shot;
};

// All of a shot that its track and the clip tell, but for its number.
Result<Measured> MeasureTrack(const Track& track, const MeasureOptions& options, const ClipRun& run) {
  const LaneSetup& setup = *run.result.lane_setup;
  motion::PathFitOptions fit;
  fit.readout = options.ReadoutOf(run.result.clip);
  if (track.by_hand.added) fit.least_sights = kFewestAddedSights;
  auto path = motion::FitPath(track, setup, fit);
  if (!path.ok()) return path.status();
  Shot shot;
  const Hand hand = HandOf(track, options.hand);
  shot.hand = hand.hand;
  shot.hand_source = hand.source;
  shot.release_s = track.release_s;
  shot.pin_contact_s = path->pin_contact_s ? path->pin_contact_s : track.pin_contact_s;
  if (path->gutter_s) {
    const PathState drop = path->At(*path->gutter_s);
    shot.gutter_ft = lane::FeetFromMetres(drop.y);
    shot.gutter_own_side = (drop.x > 0) == (shot.hand == lane::Hand::kRight);
    shot.pin_contact_s.reset();
  }
  measure::MeasureOptions how;
  if (options.ball_gyration) how.SetGyration(*options.ball_gyration);
  shot.measures = measure::MeasurePath(*path, track, setup.lane, shot.hand, how);
  shot.friction = measure::MeasureFriction(*path, setup.lane);
  shot.path_model = path->model;
  shot.path = PointsOf(*path, track, run);
  shot.pins_reason = "The pin deck is not read yet.";
  shot.by_hand = track.by_hand;
  ReadSpin(options, run.result, track, *path, &shot);
  return Measured{*std::move(path), std::move(shot)};
}

}  // namespace

void ShotsFromTracks(const std::vector<Track>& tracks, const MeasureOptions& options, ClipRun* run) {
  ClipResult& result = run->result;
  bool assumed = false;
  std::vector<Result<Measured>> measured(tracks.size(), Result<Measured>(Status(StatusCode::kNotDetermined, "")));
  ForEachAtOnce(tracks.size(), [&](std::size_t i) {
    if (tracks[i].lane == 0 && !tracks[i].sights.empty()) measured[i] = MeasureTrack(tracks[i], options, *run);
  });
  for (std::size_t i = 0; i < tracks.size(); ++i) {
    const Track& track = tracks[i];
    if (track.lane != 0 || track.sights.empty()) continue;
    auto& of_track = measured[i];
    if (!of_track.ok()) {
      result.warnings.push_back("A ball seen from " + report::FixedText(track.sights.front().time_s, 1) +
                                " s on was not measured: " + of_track.status().sentence());
      run->left_out.push_back(track);
      continue;
    }
    Shot& shot = of_track->shot;
    shot.number = static_cast<int>(result.shots.size()) + 1;
    assumed |= shot.hand_source == HandSource::kAssumed;
    for (const std::string& note : track.notes)
      result.warnings.push_back("Shot " + std::to_string(shot.number) + ": " + note);
    result.shots.push_back(std::move(shot));
    run->tracks.push_back(track);
    run->paths.push_back(std::move(of_track->path));
  }
  if (assumed) {
    result.warnings.push_back(
        "The bowler's hand was neither given nor told by the picture: boards are counted as for a right-hander (--hand "
        "left changes it).");
  }
  if (result.shots.empty()) {
    result.no_shot_reason = tracks.empty() ? "No ball was seen rolling down the lane."
                                           : "A ball was seen, but too little of its way to measure anything.";
  }
}

}  // namespace hookline::pipeline
