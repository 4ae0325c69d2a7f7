#include "track/ball_tracker.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cassert>
#include <cmath>
#include <deque>
#include <future>
#include <limits>

#include "track/chain.h"
#include "track/change_map.h"
#include "track/corridor.h"
#include "track/refine.h"

namespace hookline::track {
namespace {

constexpr double kRemember = 0.6;  // s of views kept, for finding a ball's first sights once it is known to be one
constexpr double kSearchEvery = 0.0125;  // s between searches of the whole corridor; frames in between only follow
constexpr std::size_t kMaxChains = 12;
constexpr double kLostFor = 1.5;      // s, longest gap over which two tracks may be one ball's
constexpr double kSlidFor = 0.8;      // s, longest that a chain slides off a ball before it is noticed
constexpr double kSpeedSlack = 0.08;  // share of the speed that the pieces' ends may be wrong by
constexpr double kSlantSlack = 0.03;  // rad, of their directions

// Straight piece of way through up to a quarter of a second of sights at a track's beginning or end: place and velocity
// at its outermost sight.
struct Piece {
  double t = 0;
  Eigen::Vector2d p = Eigen::Vector2d::Zero(), v = Eigen::Vector2d::Zero();
  bool ok = false;
};

Piece EndOf(const Track& track, const Corridor& corridor, bool last) {
  Piece piece;
  const auto& sights = track.sights;
  piece.t = last ? sights.back().time_s : sights.front().time_s;
  Eigen::Matrix2d a = Eigen::Matrix2d::Zero(), b = Eigen::Matrix2d::Zero();
  int n = 0;
  for (const BallSight& s : sights) {
    if (std::abs(s.time_s - piece.t) > 0.25) continue;
    const auto c = corridor.Contact(s.p_in_image);
    if (!c) continue;
    const Eigen::Vector2d row(1, s.time_s - piece.t);
    a += row * row.transpose(), b += row * c->transpose();
    ++n;
  }
  if (n < 5) return piece;
  const Eigen::Matrix2d fit = a.ldlt().solve(b);
  piece.p = fit.row(0), piece.v = fit.row(1);
  piece.ok = piece.v.y() > 1;
  return piece;
}

// Whether a ball lost at the end of one track is the one found farther down the lane: it rolled in between no faster
// than before nor slower than after, and its direction lies between the two.
bool SameBall(const Track& before, const Track& after, const Corridor& corridor) {
  if (before.end != TrackEnd::kLost || after.release_s) return false;
  const Piece a = EndOf(before, corridor, true), b = EndOf(after, corridor, false);
  const double gap = b.t - a.t;
  if (!a.ok || !b.ok || gap <= 0 || gap > kLostFor) return false;
  const Eigen::Vector2d v = (b.p - a.p) / gap;
  if (v.y() > a.v.y() * (1 + kSpeedSlack) || v.y() < b.v.y() * (1 - kSpeedSlack)) return false;
  const double left = a.v.x() / a.v.y(), right = b.v.x() / b.v.y(), middle = v.x() / v.y();
  return middle > std::min(left, right) - kSlantSlack && middle < std::max(left, right) + kSlantSlack;
}

// A glossy lane shows a ball twice, and a chain may slide from it to its image. Where another chain holds a disc above
// this one's at the same time, that one is the ball: the chain as it was before.
Chain BeforeMirror(const Chain& chain, const std::vector<Chain>& all) {
  for (const Chain& other : all)
    if (const auto since = chain.MirrorOf(other)) {
      Chain part = chain.Between(-1e9, *since);
      if (part.Convincing()) return part;
    }
  return chain;
}

}  // namespace

struct BallTracker::State {
  State(const LaneSetup& setup, const Background& background) : corridor(setup), map(corridor, background) {}

  void Add(const Picture& picture, const FrameMotion& motion);
  void Settle(double clip_end_s, bool all);
  // A chain that lost the ball (to its mirror image, to a glare) may have been relieved by another before it was over:
  // what that one saw before and after the track's own sights is added where it is the same ball.
  void Continue(const Chain& chain, double clip_end_s);

  Corridor corridor;
  ChangeMap map;
  std::deque<FrameView> views;                    // every frame of the last kRemember seconds
  std::deque<FrameView> searched;                 // those that were searched (headers of the same data)
  std::deque<std::vector<Candidate>> candidates;  // parallel to searched
  std::vector<Chain> chains;
  std::vector<Chain> finished;  // over, and long enough to be balls; settled when nothing overlaps them any more
  double last_search_s = -1e9;
  double last_time_s = -1e9;
  // Written by the refining thread alone; read when `refining` has ended.
  std::vector<Track> tracks;
  std::vector<std::pair<double, double>> taken;  // first and last time of the chains that became tracks
  // Refining a shot takes as long as many frames: it goes on beside them. Each batch waits for the one before, so the
  // answer does not depend on the threads. Last, so that it ends before what it writes to.
  std::future<void> refining;
};

void BallTracker::State::Add(const Picture& picture, const FrameMotion& motion) {
  if (corridor.empty() || picture.time_s <= last_time_s) return;
  last_time_s = picture.time_s;
  views.push_back(map.View(picture, motion));
  const FrameView& now = views.back();
  while (now.time_s - views.front().time_s > kRemember) views.pop_front();
  for (Chain& c : chains) c.Advance(now);
  if (now.time_s - last_search_s >= kSearchEvery) {
    last_search_s = now.time_s;
    searched.push_back(now);
    candidates.push_back(FindCandidates(now, corridor));
    while (now.time_s - searched.front().time_s > 0.35) searched.pop_front(), candidates.pop_front();
    if (chains.size() < kMaxChains)
      for (Chain& c : StartChains(corridor, map, searched, candidates, views, chains)) {
        c.ExtendBack(views);
        chains.push_back(std::move(c));
      }
  }
  for (std::size_t i = 0; i < chains.size();) {
    if (!chains[i].over()) {
      ++i;
      continue;
    }
    chains[i].DropSwing();
    if (chains[i].Convincing()) finished.push_back(std::move(chains[i]));
    chains.erase(chains.begin() + static_cast<std::ptrdiff_t>(i));
  }
  Settle(std::numeric_limits<double>::infinity(), false);  // the clip goes on
}

void BallTracker::State::Settle(double clip_end_s, bool all) {
  if (finished.empty()) return;
  // One ball at a time rolls down a lane. Chains that overlap in time are one ball and its doubles (its mirror image in
  // the lane, a second start); the best one stays. Wait until no living chain overlaps.
  if (!all)
    for (const Chain& c : chains)
      for (const Chain& f : finished)
        if (c.steps().front().time_s < f.last_time()) return;
  refining = std::async(
      std::launch::async, [this, clip_end_s, batch = std::move(finished), before = std::move(refining)]() mutable {
        if (before.valid()) before.get();
        std::sort(batch.begin(), batch.end(), [](const Chain& a, const Chain& b) { return a.quality() > b.quality(); });
        for (const Chain& f : batch) {
          const double first = f.steps().front().time_s, last = f.last_time();
          bool overlaps = false;
          for (const auto& [t0, t1] : taken) overlaps = overlaps || (first < t1 && t0 < last);
          if (overlaps) {
            Continue(f, clip_end_s);
            continue;
          }
          if (auto track = RefineTrack(BeforeMirror(f, batch), corridor, clip_end_s)) {
            tracks.push_back(std::move(*track));
            taken.emplace_back(first, last);
          }
        }
      });
  finished.clear();
}

void BallTracker::State::Continue(const Chain& chain, double clip_end_s) {
  const std::size_t n = tracks.size();
  for (std::size_t i = 0; i < n; ++i) {
    const double first = tracks[i].sights.front().time_s, last = tracks[i].sights.back().time_s;
    if (chain.steps().front().time_s > last + kLostFor || chain.last_time() < first - kLostFor) continue;
    for (const bool after : {true, false}) {
      // As SameBall() has it; told before the costly part.
      if (after ? tracks[i].end != TrackEnd::kLost : tracks[i].release_s.has_value()) continue;
      double from = -1e9, to = 1e9;
      (after ? from : to) = after ? last : first;
      // Never over another track's sights.
      for (const Track& other : tracks)
        if (const double t0 = other.sights.front().time_s, t1 = other.sights.back().time_s;
            after ? t0 > last : t1 < first)
          after ? to = std::min(to, t0) : from = std::max(from, t1);
      const Chain piece = chain.Between(from, to);
      if (!piece.Convincing()) continue;
      auto track = RefineTrack(piece, corridor, clip_end_s, kLeastWayOfKnown);
      if (!track) continue;
      // A chain slides from the ball over some tenths of a second: its last sights go until the rest fits.
      Track kept = tracks[i];
      const auto same = [&] { return after ? SameBall(kept, *track, corridor) : SameBall(*track, kept, corridor); };
      while (after && !same() && kept.sights.size() > 20 && last - kept.sights.back().time_s < kSlidFor)
        kept.sights.pop_back();
      if (!same()) continue;
      // The slack lets the beginning of the slide pass.
      if (const double end = kept.sights.back().time_s; end < last)
        while (kept.sights.size() > 20 && end - kept.sights.back().time_s < 0.15) kept.sights.pop_back();
      if (!same()) continue;
      tracks[i] = std::move(kept);
      taken.emplace_back(piece.steps().front().time_s, piece.last_time());
      tracks.push_back(std::move(*track));
      return;
    }
  }
}

BallTracker::BallTracker(const LaneSetup& setup, const Background& background, const BallTrackerOptions& options)
    : state_(std::make_unique<State>(setup, background)) {
  assert(options.Check().ok());
  (void)options;
}

BallTracker::~BallTracker() = default;

void BallTracker::Add(const Picture& picture, const FrameMotion& motion) { state_->Add(picture, motion); }

std::vector<Track> BallTracker::Finish() {
  State& s = *state_;
  for (Chain& c : s.chains) {
    c.DropSwing();
    if (c.Convincing()) s.finished.push_back(std::move(c));
  }
  s.chains.clear();
  s.Settle(s.last_time_s, true);
  if (s.refining.valid()) s.refining.get();
  std::sort(s.tracks.begin(), s.tracks.end(),
            [](const Track& a, const Track& b) { return a.sights.front().time_s < b.sights.front().time_s; });
  std::vector<Track> joined;
  for (Track& t : s.tracks) {
    if (!joined.empty() && SameBall(joined.back(), t, s.corridor)) {
      Track& whole = joined.back();
      whole.sights.insert(whole.sights.end(), t.sights.begin(), t.sights.end());
      whole.end = t.end, whole.pin_contact_s = t.pin_contact_s, whole.gutter_s = t.gutter_s;
      whole.pin_touched = t.pin_touched, whole.pin_contact_sd_s = t.pin_contact_sd_s;
      if (whole.patches.empty()) whole.patches = std::move(t.patches);
      whole.notes.insert(whole.notes.end(), t.notes.begin(), t.notes.end());
    } else {
      joined.push_back(std::move(t));
    }
  }
  return joined;
}

}  // namespace hookline::track
