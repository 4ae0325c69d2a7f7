#include "pipeline/refit.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "camera/projection.h"
#include "pipeline/shots_from_tracks.h"
#include "report/number_text.h"
#include "setup/from_points.h"

namespace hookline::pipeline {
namespace {

using Eigen::Vector2d;

constexpr double kMovedFar = 0.25;    // of the lane's width: from there on the ball is looked for anew
constexpr double kNearShot = 0.3;     // s before or after its sights in which a time still names a shot
constexpr double kOffPathSd = 4.5;    // the fit leaves a sight beyond that out (motion::PathFitOptions::outlier_gate)
constexpr double kLeastFrame = 1e-3;  // s

std::string Seconds(double s) { return report::FixedText(s, 2) + " s"; }

// The frame nearest to a time, when it is nearer than half a frame; frames need not come evenly.
std::optional<std::size_t> NearestFrame(const ClipRun& base, double time_s) {
  const std::vector<double>& t = base.frame_times_s;
  if (t.empty()) return std::nullopt;
  const auto after = std::lower_bound(t.begin(), t.end(), time_s);
  auto at = static_cast<std::size_t>(after - t.begin());
  if (at == t.size() || (at > 0 && time_s - t[at - 1] < t[at] - time_s)) --at;
  const double before = at > 0 ? t[at] - t[at - 1] : kLeastFrame, next = at + 1 < t.size() ? t[at + 1] - t[at] : before;
  const double half = 0.5 * (time_s < t[at] ? before : next);
  if (std::abs(time_s - t[at]) > half) return std::nullopt;
  return at;
}

double FrameLength(const ClipRun& base, double time_s) {
  const auto frame = NearestFrame(base, time_s);
  if (!frame || base.frame_times_s.size() < 2) return 1.0 / 60;
  const std::size_t i = std::min(*frame, base.frame_times_s.size() - 2);
  return base.frame_times_s[i + 1] - base.frame_times_s[i];
}

// A pixel of the frame at a time in the reference frame. The camera's turns were told with the base's camera, so that
// undoes them, whatever the corrected one is.
Vector2d InReference(const ClipRun& base, double time_s, const Vector2d& p_in_frame) {
  const auto frame = NearestFrame(base, time_s);
  if (!frame || !base.result.lane_setup || *frame >= base.motions.size() || !base.motions[*frame].known)
    return p_in_frame;
  return camera::ReferenceFromFrame(base.result.lane_setup->camera, base.motions[*frame], p_in_frame);
}

std::map<std::string, Vector2d> MarksInReference(const ClipRun& base, const Corrections& corrections) {
  std::map<std::string, Vector2d> marks;
  for (const auto& [name, mark] : corrections.lane_marks) marks[name] = InReference(base, mark.time_s, mark.p_in_frame);
  return marks;
}

// Largest distance between where two setups have a place of the lane, in widths of the lane there.
double LaneMoved(const LaneSetup& a, const LaneSetup& b) {
  double largest = 0;
  for (double y = 0; y <= lane::kHeadPinY; y += lane::kHeadPinY / 6) {
    const auto left = camera::ImageFromLane(a.camera, {-a.lane.width / 2, y, 0}),
               right = camera::ImageFromLane(a.camera, {a.lane.width / 2, y, 0});
    if (!left || !right) continue;
    for (const double side : {-0.5, 0.5}) {
      const auto p = camera::ImageFromLane(b.camera, {side * b.lane.width, y, 0});
      if (!p) return 1e9;
      largest = std::max(largest, (*p - (side < 0 ? *left : *right)).norm() / (*right - *left).norm());
    }
  }
  return largest;
}

// The sight of a ball that a person put at a place of a frame.
BallSight SightOf(const ClipRun& base, const LaneSetup& setup, std::size_t frame, const HandSight& hand) {
  BallSight s;
  s.frame = static_cast<std::int64_t>(frame);
  s.time_s = base.frame_times_s[frame];
  s.p_in_frame = hand.p_in_frame;
  s.p_in_image = InReference(base, s.time_s, hand.p_in_frame);
  s.covariance = hand.sd_px * hand.sd_px * Eigen::Matrix2d::Identity();
  const double radius = lane::kBallDiameter / 2;
  if (const auto c = camera::ContactFromImage(setup.camera, s.p_in_image, radius))
    s.radius_px = camera::BallRadiusPx(setup.camera, {c->x(), c->y(), radius}, radius);
  s.seen_share = 1;
  s.set_by_hand = true;
  return s;
}

double SecondsBeside(const Track& track, double time_s) {
  if (track.sights.empty()) return 1e9;
  return std::max({track.sights.front().time_s - time_s, time_s - track.sights.back().time_s, 0.0});
}

// The track that a time names, or none.
Track* TrackAt(std::vector<Track>& tracks, double time_s) {
  Track* nearest = nullptr;
  for (Track& t : tracks)
    if (SecondsBeside(t, time_s) <= (nearest ? SecondsBeside(*nearest, time_s) - 1e-9 : kNearShot)) nearest = &t;
  return nearest;
}

Status CheckShot(const ClipRun& base, const ShotCorrection& c) {
  const auto bad = [&](const std::string& what) {
    return Status(StatusCode::kBadUse, "The correction of the shot at " + Seconds(c.at_s) + " " + what);
  };
  const auto no_frame = [&](double t) { return bad("speaks of " + Seconds(t) + ", where the clip has no picture."); };
  for (const HandSight& s : c.sights) {
    if (!NearestFrame(base, s.time_s)) return no_frame(s.time_s);
    if (!s.p_in_frame.allFinite() || !(s.sd_px > 0))
      return bad("has a ball without a place or without a doubt at " + Seconds(s.time_s) + ".");
  }
  if (c.release_s && c.pin_contact_s && *c.release_s >= *c.pin_contact_s)
    return bad("lets the ball reach the pins (" + Seconds(*c.pin_contact_s) + ") before it leaves the hand (" +
               Seconds(*c.release_s) + ").");
  return Status::Ok();
}

void Correct(const ClipRun& base, const LaneSetup& setup, const ShotCorrection& c, Track& track) {
  for (const double t : c.no_ball_s) {
    const auto frame = NearestFrame(base, t);
    if (!frame) continue;
    track.by_hand.removed += static_cast<int>(
        std::erase_if(track.sights, [&](const BallSight& s) { return NearestFrame(base, s.time_s) == frame; }));
  }
  for (const HandSight& hand : c.sights) {
    BallSight s = SightOf(base, setup, *NearestFrame(base, hand.time_s), hand);
    const auto at = std::lower_bound(track.sights.begin(), track.sights.end(), s.time_s - kLeastFrame / 2,
                                     [](const BallSight& a, double t) { return a.time_s < t; });
    ++track.by_hand.placed;
    if (at != track.sights.end() && std::abs(at->time_s - s.time_s) < kLeastFrame / 2) {
      s.in_air = at->in_air;
      *at = s;
    } else {
      // Between sights of flight it flies.
      s.in_air = at != track.sights.end() && at->in_air;
      track.sights.insert(at, s);
    }
  }
  if (c.release_s) {
    track.release_s = c.release_s;
    track.by_hand.release = true;
  }
  if (c.pin_contact_s) {
    // Which pin is touched was told for a time of its own.
    const double frame = FrameLength(base, *c.pin_contact_s);
    if (!track.pin_contact_s || std::abs(*track.pin_contact_s - *c.pin_contact_s) > 2 * frame)
      track.pin_touched.reset();
    track.pin_contact_sd_s = std::max(track.pin_contact_sd_s, frame / 2);
    track.pin_contact_s = c.pin_contact_s;
    track.gutter_s.reset();
    track.end = TrackEnd::kPins;
    track.by_hand.pin_contact = true;
  }
}

// What a person set and the measurement could not follow.
void TellWhatWasNotFollowed(const Readout& readout, ClipRun* run) {
  const LaneSetup& setup = *run->result.lane_setup;
  for (std::size_t i = 0; i < run->tracks.size(); ++i) {
    const Track& track = run->tracks[i];
    const Path& path = run->paths[i];
    const Shot& shot = run->result.shots[i];
    const auto warn = [&](const std::string& what) {
      run->result.warnings.push_back("Shot " + std::to_string(shot.number) + ": " + what);
    };
    if (track.by_hand.pin_contact && !shot.pin_contact_s)
      warn("the time at the pins that was set by hand was not used, as the ball leaves the lane before.");
    for (const BallSight& s : track.sights) {
      if (!s.set_by_hand) continue;
      if (track.release_s && s.time_s < *track.release_s) {
        warn("the ball set by hand at " + Seconds(s.time_s) + " was not used, as it is before the release.");
        continue;
      }
      if (track.pin_contact_s && s.time_s >= *track.pin_contact_s) {
        warn("the ball set by hand at " + Seconds(s.time_s) +
             " was not used, as it is after the first pin was touched.");
        continue;
      }
      const PathState at = path.At(s.time_s + readout.LagAt(s.p_in_image, setup.camera.width, setup.camera.height));
      const auto p = camera::ImageFromLane(setup.camera, {at.x, at.y, lane::kBallDiameter / 2 + at.height});
      const double off = p ? (*p - s.p_in_image).norm() : 1e9;
      if (off > kOffPathSd * std::sqrt(s.covariance.trace() / 2))
        warn("the ball set by hand at " + Seconds(s.time_s) + " lies " + report::FixedText(off, 0) +
             " px beside the path that all other pictures agree on; check it, or take out what was seen wrongly "
             "around it.");
    }
  }
}

// The bowler's own words of a shot stay with it.
void KeepWords(const ClipRun& base, ClipRun* run) {
  for (std::size_t i = 0; i < run->tracks.size(); ++i) {
    const std::vector<BallSight>& sights = run->tracks[i].sights;
    const double middle = (sights.front().time_s + sights.back().time_s) / 2;
    // A base that was just read from bytes has no shots yet.
    for (std::size_t k = 0; k < std::min(base.tracks.size(), base.result.shots.size()); ++k) {
      if (SecondsBeside(base.tracks[k], middle) > 0) continue;
      const Shot& from = base.result.shots[k];
      Shot& to = run->result.shots[i];
      to.bowler = from.bowler;
      to.ball = from.ball;
      to.plan = from.plan;
      to.target = from.target;
    }
  }
}

Result<LaneSetup> LaneOf(const ClipRun& base, const Corrections& corrections, bool with_picture) {
  if (!base.result.lane_setup)
    return Status(StatusCode::kBadUse, "No lane was found in the clip, so there is none to correct; mark four places.");
  if (corrections.lane_marks == base.lane_marks) return *base.result.lane_setup;
  if (corrections.lane_marks.empty())
    return Status(StatusCode::kBadUse, "The lane was made from marks that are no longer there; measure the clip anew.");
  const Background* picture = with_picture ? base.background.get() : nullptr;
  return setup::LaneCorrected(*base.result.lane_setup, MarksInReference(base, corrections), picture);
}

}  // namespace

Result<LaneSetup> DraggedLane(const ClipRun& base, const Corrections& corrections) {
  return LaneOf(base, corrections, false);
}

bool NeedsClip(const ClipRun& base, const Corrections& corrections) {
  if (corrections.lane_marks == base.lane_marks) return !base.result.lane_setup && !corrections.lane_marks.empty();
  if (!base.result.lane_setup || corrections.lane_marks.empty() || !base.background) return true;
  // The ball was followed on the lane of other marks: the numbers would depend on which were set first.
  if (!base.lane_marks.empty()) return true;
  const auto lane = LaneOf(base, corrections, false);
  return lane.ok() && LaneMoved(*base.result.lane_setup, *lane) > kMovedFar;
}

Result<ClipRun> Refit(const ClipRun& base, const Corrections& corrections, const MeasureOptions& options) {
  if (Status s = options.Check(); !s.ok()) return s;
  if (!base.result.lane_setup && corrections.lane_marks.empty()) return base;
  if (NeedsClip(base, corrections))
    return Status(StatusCode::kBadUse, "These corrections need the clip's pictures; measure the clip anew.");
  for (const ShotCorrection& c : corrections.shots)
    if (Status s = CheckShot(base, c); !s.ok()) return s;
  const auto lane = LaneOf(base, corrections, true);
  if (!lane.ok()) return lane.status();

  ClipRun run;
  run.result.clip = base.result.clip;
  run.result.lane_setup = *lane;
  run.result.camera_moved_px = base.result.camera_moved_px;
  run.result.warnings = run.clip_warnings = base.clip_warnings;
  run.frame_times_s = base.frame_times_s;
  run.lane_marks = corrections.lane_marks;
  run.background = base.background;
  // The same shifts of the picture, told as turns of another focal length.
  const double longer = base.result.lane_setup->camera.focal_px / lane->camera.focal_px;
  const auto turned = [&](FrameMotion m) {
    m.rotation[0] *= longer;
    m.rotation[1] *= longer;
    return m;
  };
  run.result.first_frame = turned(base.result.first_frame);
  for (const FrameMotion& m : base.motions) run.motions.push_back(turned(m));

  std::vector<Track> tracks = base.tracks;
  tracks.insert(tracks.end(), base.left_out.begin(), base.left_out.end());
  const auto in_time = [](const Track& a, const Track& b) { return a.sights.front().time_s < b.sights.front().time_s; };
  std::erase_if(tracks, [](const Track& t) { return t.sights.empty(); });
  std::stable_sort(tracks.begin(), tracks.end(), in_time);
  std::vector<bool> removed(tracks.size());
  std::vector<Track> added;
  std::vector<std::string> told;
  const auto place_of = [&](const Track* track) { return static_cast<std::size_t>(track - tracks.data()); };
  for (const ShotCorrection& c : corrections.shots) {
    if (const Track* track = c.removed ? TrackAt(tracks, c.at_s) : nullptr) removed[place_of(track)] = true;
  }
  for (const ShotCorrection& c : corrections.shots) {
    Track* track = TrackAt(tracks, c.at_s);
    // A shot of the hand's own is another one's only where that is on its way too: one ball at a time rolls down a
    // lane. What is no shot is nobody's.
    if (c.added && track && (SecondsBeside(*track, c.at_s) > 0 || removed[place_of(track)])) track = nullptr;
    if (c.removed && track) {
      told.push_back("What was followed at " + Seconds(c.at_s) + " was taken out by hand: it is no shot.");
    } else if (c.added && !track) {
      Track own;
      Correct(base, *lane, c, own);
      own.by_hand.added = true;
      if (!own.sights.empty()) added.push_back(std::move(own));
    } else if (track && !c.removed) {
      Correct(base, *lane, c, *track);
    } else if (!c.SaysNothing()) {
      told.push_back("A correction by hand at " + Seconds(c.at_s) +
                     " belongs to no shot that was found; it is kept, but changes nothing.");
    }
  }
  std::vector<Track> kept;
  for (std::size_t i = 0; i < tracks.size(); ++i)
    if (!removed[i] && !tracks[i].sights.empty()) kept.push_back(std::move(tracks[i]));
  kept.insert(kept.end(), added.begin(), added.end());
  std::stable_sort(kept.begin(), kept.end(), in_time);

  ShotsFromTracks(kept, options, &run);
  run.result.warnings.insert(run.result.warnings.end(), told.begin(), told.end());
  TellWhatWasNotFollowed(options.ReadoutOf(run.result.clip), &run);
  KeepWords(base, &run);
  return run;
}

Result<CorrectedClip> MeasureCorrected(const std::string& file, const Corrections& corrections,
                                       const MeasureOptions& options, const ProgressFn& progress,
                                       const StopToken& stop) {
  auto base = MeasureClip(file, options, progress, stop);
  if (!base.ok()) return base.status();
  if (NeedsClip(*base, corrections)) {
    const std::map<std::string, Vector2d> marks = MarksInReference(*base, corrections);
    LaneInClip lane;
    if (base->result.lane_setup) {
      lane.clip = base->result.clip;
      lane.background = *base->background;
      auto corrected = setup::LaneCorrected(*base->result.lane_setup, marks, &lane.background);
      if (!corrected.ok()) return corrected.status();
      lane.setup = *corrected;
    } else {
      LaneOptions by_marks = options.lane;
      by_marks.setup_file.clear();
      by_marks.lane_offset.reset();
      by_marks.points = marks;
      auto found = FindLaneInClip(file, by_marks, progress, stop);
      if (!found.ok()) return found.status();
      lane = std::move(*found);
      lane.setup.marks_by_hand = marks;
    }
    base = MeasureClipOnLane(file, std::move(lane), options, progress, stop);
    if (!base.ok()) return base.status();
    base->lane_marks = corrections.lane_marks;
  }
  auto run = Refit(*base, corrections, options);
  if (!run.ok()) return run.status();
  return CorrectedClip{std::move(*base), std::move(*run)};
}

}  // namespace hookline::pipeline
