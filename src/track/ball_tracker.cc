#include "track/ball_tracker.h"

#include <algorithm>
#include <cassert>
#include <deque>
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

}  // namespace

struct BallTracker::State {
  State(const LaneSetup& setup, const Background& background) : corridor(setup), map(corridor, background) {}

  void Add(const Picture& picture, const FrameMotion& motion);
  void Settle(double clip_end_s, bool all);

  Corridor corridor;
  ChangeMap map;
  std::deque<FrameView> views;                    // every frame of the last kRemember seconds
  std::deque<FrameView> searched;                 // those that were searched (headers of the same data)
  std::deque<std::vector<Candidate>> candidates;  // parallel to searched
  std::vector<Chain> chains;
  std::vector<Chain> finished;  // over, and long enough to be balls; settled when nothing overlaps them any more
  std::vector<Track> tracks;
  std::vector<std::pair<double, double>> taken;  // first and last time of the chains that became tracks
  double last_search_s = -1e9;
  double last_time_s = -1e9;
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
  std::sort(finished.begin(), finished.end(), [](const Chain& a, const Chain& b) { return a.quality() > b.quality(); });
  for (const Chain& f : finished) {
    const double first = f.steps().front().time_s, last = f.last_time();
    bool overlaps = false;
    for (const auto& [t0, t1] : taken) overlaps = overlaps || (first < t1 && t0 < last);
    if (overlaps) continue;
    if (auto track = RefineTrack(f, corridor, clip_end_s)) {
      tracks.push_back(std::move(*track));
      taken.emplace_back(first, last);
    }
  }
  finished.clear();
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
  std::sort(s.tracks.begin(), s.tracks.end(),
            [](const Track& a, const Track& b) { return a.sights.front().time_s < b.sights.front().time_s; });
  return std::move(s.tracks);
}

}  // namespace hookline::track
