#include "motion/surface_spin.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <map>
#include <utility>

#include "camera/projection.h"
#include "motion/surface_cap.h"
#include "motion/surface_pattern.h"

namespace hookline::motion {
namespace {

using Eigen::Matrix3d;
using Eigen::Vector3d;

constexpr double kPairAngle = 0.13;  // rad, between neighbouring spins of the coarse search, over a pair
constexpr double kPairReach = 0.9;   // rad, that the fastest spin turns over a pair, about
constexpr int kPairs = 40;           // pairs looked at
constexpr double kBackwards = 0.2;   // share of a spin that may be against the roll
constexpr double kGrowth = 2.2;      // of the stretch of time from one refinement to the next
constexpr std::array<std::size_t, 3> kKept = {24, 10, 6};  // spins kept by each refinement; the last figure holds on
constexpr double kHopeless = 0.3;   // of the best one's score, over a stretch longer than the first: never catches up
constexpr double kCentreSd = 0.01;  // rad, of the normals as a whole: ball's centre and radius, camera
// rad, of the axis, where what the pattern does not explain is as strong as what it does: light that moves as the ball
// travels is alike over time and disc, so that the scatter over blocks does not show it.
constexpr double kLeftSd = 0.03;
constexpr double kSlipSd = 0.05;     // rad, added to the doubt of the path's slip angle
constexpr double kMostMisfit = 16;   // in variances, of the slip angle
constexpr double kSureMisfit = 9;    // between the two that fit best
constexpr double kShapeSd = 0.1;     // of the change since release: friction is not shaped quite as the path has it
constexpr double kStill = 3;         // rad/s, below which what is seen does not turn
constexpr double kWorstRate = 0.15;  // sd of the rate over it, beyond which nothing is said

constexpr double kSameTime = 1e-6;  // s

struct Candidate {
  SpinGuess guess;
  double score = 0;
};

// Pairs of pictures about a lag apart, gathered by the time between them.
struct PairGroup {
  double dt = 0;
  std::vector<std::pair<int, int>> pairs;
};

std::vector<PairGroup> PairsOf(const SurfaceCap& cap, double lag_s) {
  std::map<long, PairGroup> groups;
  const int n = static_cast<int>(cap.times.size());
  const int stride = std::max(1, n / kPairs);
  const auto time = [&](int at) { return cap.times[static_cast<std::size_t>(at)]; };
  for (int i = 0; i < n; i += stride) {
    int k = i + 1;
    while (k + 1 < n && std::abs(time(k + 1) - time(i) - lag_s) < std::abs(time(k) - time(i) - lag_s)) ++k;
    if (k >= n) break;
    const double dt = time(k) - time(i);
    if (dt > 2.5 * lag_s) continue;
    PairGroup& g = groups[std::lround(dt * 1000)];
    g.dt += dt;
    g.pairs.emplace_back(i, k);
  }
  std::vector<PairGroup> out;
  for (auto& [key, g] : groups) {
    g.dt /= static_cast<double>(g.pairs.size());
    out.push_back(std::move(g));
  }
  std::sort(out.begin(), out.end(),
            [](const PairGroup& a, const PairGroup& b) { return a.pairs.size() > b.pairs.size(); });
  if (out.size() > 3) out.resize(3);
  return out;
}

// Agreement of the pairs under one spin: correlation over the nodes seen in both, less where few are.
double PairAgreement(const SurfaceCap& cap, const std::vector<PairGroup>& groups, const Vector3d& spin,
                     std::vector<std::pair<int, int>>& moved) {
  double xy = 0, xx = 0, yy = 0, shared = 0, all = 0;
  for (const PairGroup& g : groups) {
    const Eigen::Matrix3f turn = camera::RotationFromAngleAxis<double>(spin * g.dt).cast<float>();
    moved.clear();
    for (int j = 0; j < cap.nodes(); ++j) {
      const int to = cap.NodeAt(turn * cap.normals[static_cast<std::size_t>(j)]);
      if (to >= 0) moved.emplace_back(j, to);
    }
    for (const auto& [i, k] : g.pairs) {
      const float* a = cap.Row(i);
      const float* b = cap.Row(k);
      float sxy = 0, sxx = 0, syy = 0;
      for (const auto& [j, to] : moved) {
        const float p = a[j], q = b[to];
        sxy += p * q, sxx += p * p, syy += q * q;
      }
      xy += sxy, xx += sxx, yy += syy;
    }
    shared += static_cast<double>(g.pairs.size() * moved.size());
    all += static_cast<double>(g.pairs.size()) * cap.nodes();
  }
  if (!(xx > 0) || !(yy > 0)) return -1;
  return xy / std::sqrt(xx * yy) * std::sqrt(shared / all);
}

// Spins at the peaks of the pairs' agreement, best first.
std::vector<Candidate> CoarseSearch(const SurfaceCap& cap, const SurfaceSpinOptions& options, const Vector3d& roll_axis,
                                    double frame_s) {
  const double lag = std::max(1.0, std::round(kPairReach / (options.most_rate * frame_s))) * frame_s;
  const auto groups = PairsOf(cap, lag);
  const double step = kPairAngle / lag;
  const int reach = static_cast<int>(std::ceil(options.most_rate / step)), side = 2 * reach + 1;
  std::vector<float> score(static_cast<std::size_t>(side * side * side), -2.F);
  const auto at = [&](int a, int b, int c) -> float& {
    return score[static_cast<std::size_t>((a * side + b) * side + c)];
  };
  std::vector<std::pair<int, int>> moved;
  for (int a = 0; a < side; ++a)
    for (int b = 0; b < side; ++b)
      for (int c = 0; c < side; ++c) {
        const Vector3d spin = step * Vector3d(a - reach, b - reach, c - reach);
        if (spin.norm() > options.most_rate || spin.dot(roll_axis) < -kBackwards * spin.norm() - 1.5 * step) continue;
        at(a, b, c) = static_cast<float>(PairAgreement(cap, groups, spin, moved));
      }
  std::vector<Candidate> peaks;
  for (int a = 0; a < side; ++a)
    for (int b = 0; b < side; ++b)
      for (int c = 0; c < side; ++c) {
        const float here = at(a, b, c);
        if (here <= 0) continue;
        bool top = true;
        for (int da = -1; da <= 1 && top; ++da)
          for (int db = -1; db <= 1 && top; ++db)
            for (int dc = -1; dc <= 1 && top; ++dc) {
              if ((da == 0 && db == 0 && dc == 0) || a + da < 0 || b + db < 0 || c + dc < 0 || a + da >= side ||
                  b + db >= side || c + dc >= side)
                continue;
              top = at(a + da, b + db, c + dc) <= here;
            }
        if (top) peaks.push_back({{step * Vector3d(a - reach, b - reach, c - reach)}, here});
      }
  std::sort(peaks.begin(), peaks.end(), [](const Candidate& a, const Candidate& b) { return a.score > b.score; });
  return peaks;
}

// A ball is let go rolling forward, if little; what does not is light that moves over it as it travels, or stands
// still.
bool Thrown(const Vector3d& spin, const Vector3d& roll_axis) {
  return spin.norm() > kStill && spin.dot(roll_axis) > -kBackwards * spin.norm();
}

void SortAndPrune(std::vector<Candidate>& list, std::size_t keep, double same, const Vector3d& roll_axis) {
  std::erase_if(list, [&](const Candidate& c) { return !Thrown(c.guess.spin, roll_axis); });
  std::sort(list.begin(), list.end(), [](const Candidate& a, const Candidate& b) { return a.score > b.score; });
  std::vector<Candidate> out;
  for (const Candidate& c : list) {
    if (out.size() >= keep) break;
    if (std::none_of(out.begin(), out.end(),
                     [&](const Candidate& o) { return (o.guess.spin - c.guess.spin).norm() < same; }))
      out.push_back(c);
  }
  list = std::move(out);
}

// Angle of the slip against travel that a spin gives, positive to the left (docs/measures.md).
double SlipAngle(const Vector3d& spin, const Eigen::Vector2d& velocity, double radius) {
  const Eigen::Vector2d slip(velocity.x() - spin.y() * radius, velocity.y() + spin.x() * radius);
  const Eigen::Vector2d ahead = velocity.normalized(), right(ahead.y(), -ahead.x());
  return std::atan2(slip.dot(right), slip.dot(ahead));
}

}  // namespace

Status SurfaceSpinOptions::Check() const {
  const auto bad = [](const char* name, double v, const char* bound) {
    char text[160];
    std::snprintf(text, sizeof text, "SurfaceSpinOptions::%s is %g; it must be %s.", name, v, bound);
    return Status(StatusCode::kBadUse, text);
  };
  if (!(most_rate > 5 && most_rate < 200)) return bad("most_rate", most_rate, "within 5 to 200 rad/s");
  if (!(least_radius_px >= 6)) return bad("least_radius_px", least_radius_px, "6 px or more");
  if (least_views < 5) return bad("least_views", least_views, "5 or more");
  if (!(span_s >= 0.1)) return bad("span_s", span_s, "0.1 s or more");
  if (!(ball_radius_m > 0.05 && ball_radius_m < 0.2)) return bad("ball_radius_m", ball_radius_m, "0.05 to 0.2 m");
  if (!(ball_k > 0.2 && ball_k < 0.6)) return bad("ball_k", ball_k, "within 0.2 to 0.6");
  if (!(friction_scale_sd > 0)) return bad("friction_scale_sd", friction_scale_sd, "above 0");
  if (!(friction_bend_sd > 0)) return bad("friction_bend_sd", friction_bend_sd, "above 0");
  if (!(landing_sd > 0)) return bad("landing_sd", landing_sd, "above 0");
  if (!(before_sd >= 0)) return bad("before_sd", before_sd, "0 or more");
  if (!(readout.sd_s >= 0)) return bad("readout.sd_s", readout.sd_s, "0 or more");
  if (!(least_explained > 0 && least_explained < 1)) return bad("least_explained", least_explained, "between 0 and 1");
  if (!(least_lead >= 0 && least_lead < 1)) return bad("least_lead", least_lead, "0 to 1");
  if (!(slip_angle_sd >= 0)) return bad("slip_angle_sd", slip_angle_sd, "0 or more");
  return Status::Ok();
}

std::vector<SurfaceView> SurfaceViews(const Track& track, const Path& path, const CameraModel& camera,
                                      double ball_radius_m, const Readout& readout) {
  std::vector<SurfaceView> views;
  auto sight = track.sights.begin();
  for (const BallPatch& patch : track.patches) {
    while (sight != track.sights.end() && sight->time_s < patch.time_s - kSameTime) ++sight;
    if (sight == track.sights.end()) break;
    if (sight->time_s > patch.time_s + kSameTime) continue;
    const double time_s = patch.time_s + readout.LagAt(sight->p_in_image, camera.width, camera.height);
    if (path.gutter_s && time_s > *path.gutter_s) break;
    const PathState s = path.At(time_s);
    const Vector3d fitted(s.x, s.y, ball_radius_m + s.height);
    views.push_back({patch, time_s, fitted, {s.vx, s.vy}});
    if (!sight->in_air && time_s >= path.start_s) continue;
    // In flight the path is but a guess: it knows how far off the ball is, the sight in which direction.
    const double distance = (fitted - camera.position_in_lane).norm();
    views.back().centre = camera.position_in_lane + distance * camera::RayInLane(camera, sight->p_in_image);
  }
  return views;
}

SurfaceSpin ReadSurfaceSpin(const std::vector<SurfaceView>& views, const CameraModel& camera,
                            const SurfaceSpinOptions& options) {
  SurfaceSpin out;
  const auto none = [&](std::string why) {
    out.usable = false;
    out.reason = std::move(why);
    return out;
  };
  std::vector<const SurfaceView*> used;
  for (const SurfaceView& v : views)
    if ((used.empty() || v.time_s < used.front()->time_s + options.span_s) &&
        camera::BallRadiusPx(camera, v.centre, options.ball_radius_m) >= options.least_radius_px)
      used.push_back(&v);
  out.views = static_cast<int>(used.size());
  if (out.views < options.least_views)
    return none("The ball is not seen large enough for long enough to look at its surface.");
  SurfaceCap cap = MakeCap(used, camera, options.ball_radius_m, options.ball_k, options.landing_s);
  if (!cap.any_pattern) return none("The ball shows no marks that could be followed.");
  out.time_s = cap.times.front();
  out.seconds = cap.times.back() - cap.times.front();

  std::vector<double> gaps;
  for (std::size_t i = 1; i < cap.times.size(); ++i) gaps.push_back(cap.times[i] - cap.times[i - 1]);
  std::nth_element(gaps.begin(), gaps.begin() + static_cast<std::ptrdiff_t>(gaps.size() / 2), gaps.end());
  const double frame_s = gaps[gaps.size() / 2];
  const Eigen::Vector2d ahead = used.front()->velocity.normalized();
  const Vector3d roll_axis(-ahead.y(), ahead.x(), 0);

  std::vector<Candidate> list = CoarseSearch(cap, options, roll_axis, frame_s);
  if (list.empty()) return none("The ball shows no marks that could be followed.");
  if (list.size() > kKept[0]) list.resize(kKept[0]);
  out.candidates = static_cast<int>(list.size());

  PatternFit fit(cap, {options.friction_scale_sd, options.friction_bend_sd, options.landing_sd});
  const int n = static_cast<int>(cap.times.size());
  double half = 2.6 * std::max(frame_s, kPairReach / options.most_rate);
  for (std::size_t round = 0;; ++round) {
    int from = 0, to = n;
    while (from < n && cap.times[static_cast<std::size_t>(from)] < cap.middle_s - half) ++from;
    while (to > 0 && cap.times[static_cast<std::size_t>(to - 1)] > cap.middle_s + half) --to;
    const bool whole = from == 0 && to == n;
    const double span = cap.times[static_cast<std::size_t>(to - 1)] - cap.times[static_cast<std::size_t>(from)];
    for (Candidate& c : list) {
      for (int i = 0; i < (whole ? 5 : 3); ++i) fit.Step(from, to, 0.35 / span, &c.guess);
      c.score = fit.Predicted(from, to, c.guess);
    }
    const auto keep = kKept[std::min(round + 1, kKept.size() - 1)];
    SortAndPrune(list, keep, 0.4 / span, roll_axis);
    if (round > 0) std::erase_if(list, [&](const Candidate& c) { return c.score < kHopeless * list.front().score; });
    if (list.empty()) return none("Nothing on the ball's surface is seen to turn as a ball does.");
    if (whole) break;
    half *= kGrowth;
  }
  // Light and pattern are told apart better once the turn is known.
  const std::vector<float> as_seen = cap.level;
  double first_score = list.front().score;
  for (std::size_t i = 0; i < list.size(); ++i) {
    cap.level = as_seen;
    for (int round = 0; round < 2; ++round) {
      fit.TakeLightOut(list[i].guess);
      for (int k = 0; k < 3; ++k) fit.Step(0, n, 0.2 / out.seconds, &list[i].guess);
    }
    list[i].score = fit.Predicted(0, n, list[i].guess);
    if (list[i].score < kHopeless * first_score) break;
  }
  SortAndPrune(list, list.size(), 0.4 / out.seconds, roll_axis);
  if (list.empty()) return none("Nothing on the ball's surface is seen to turn as a ball does.");
  out.explained = list.front().score;
  out.next_best = list.size() > 1 ? list[1].score : 0;
  if (out.explained < options.least_explained) return none("The ball shows no marks that could be followed.");

  // The path's slip angle excludes some, and chooses between those that explain nearly as much.
  const Eigen::Vector2d v0 = used.front()->velocity;
  const auto misfit = [&](const Candidate& c) {
    if (!(options.slip_angle_sd > 0)) return 0.0;
    const double sd = std::hypot(options.slip_angle_sd, kSlipSd);
    const double off = SlipAngle(cap.SpinAt(c.guess, 0), v0, options.ball_radius_m) - options.slip_angle;
    return std::pow(std::remainder(off, 2 * lane::kPi) / sd, 2);
  };
  std::erase_if(list, [&](const Candidate& c) { return misfit(c) > kMostMisfit || c.score < options.least_explained; });
  if (list.empty()) return none("What seems to turn on the ball's surface does not go with the ball's path.");
  const double least = (1 - options.least_lead) * list.front().score;
  std::erase_if(list, [&](const Candidate& c) { return c.score < least; });
  std::sort(list.begin(), list.end(), [&](const Candidate& a, const Candidate& b) { return misfit(a) < misfit(b); });
  if (list.size() > 1 && misfit(list[1]) - misfit(list[0]) < kSureMisfit)
    return none("Several spins explain what is seen of the ball's surface.");
  SpinGuess guess = list.front().guess;
  cap.level = as_seen;
  fit.DropOddPictures(guess);
  for (int round = 0; round < 3; ++round) {
    fit.TakeLightOut(guess);
    fit.LearnNoise(guess);
    for (int k = 0; k < 3; ++k) fit.Step(0, n, 0.2 / out.seconds, &guess);
  }
  const SpinMatrix covariance = fit.Covariance(guess);
  if (!covariance.allFinite()) return none("The ball shows no marks that could be followed.");

  out.spin = cap.SpinAt(guess, 0);
  out.middle_spin = guess.spin, out.middle_s = cap.middle_s;
  out.friction_scale = guess.change[0], out.friction_scale_sd = std::sqrt(covariance(3, 3));
  Eigen::Matrix<double, 3, kSpinUnknowns> jacobian;
  Eigen::Matrix<double, 3, kChanges> since = cap.drift.front();
  if (options.release_velocity) {
    const Eigen::Vector2d dv = *options.release_velocity - used.front()->velocity;
    since.col(0) += Vector3d(dv.y(), -dv.x(), 0) / (options.ball_k * options.ball_radius_m);
  }
  jacobian << Matrix3d::Identity(), since;
  out.spin = guess.spin + since * guess.change;
  out.covariance = jacobian * covariance * jacobian.transpose();
  out.covariance += options.before_sd * options.before_sd * cap.along * cap.along.transpose();
  const Vector3d changed = kShapeSd * (out.spin - guess.spin);
  out.covariance += changed * changed.transpose();
  // Rows read one after another: what moves over the picture is timed by another clock.
  const auto first = camera::ImageFromLane(camera, used.front()->centre),
             last = camera::ImageFromLane(camera, used.back()->centre);
  if (first && last && out.seconds > 0) {
    const auto share = [&](const Eigen::Vector2d& p) {
      return options.readout.ShareAt(p, camera.width, camera.height);
    };
    const Vector3d clock = out.spin * (options.readout.sd_s * (share(*last) - share(*first)) / out.seconds);
    out.covariance += clock * clock.transpose();
  }
  const Vector3d axis = out.spin.normalized();
  const double left = std::max(1 - out.explained, 0.0) / out.explained;
  const double turned = std::hypot(kCentreSd, kLeftSd * std::sqrt(left)) * out.spin.norm();
  out.covariance += turned * turned * (Matrix3d::Identity() - axis * axis.transpose());
  if (std::sqrt(axis.dot(out.covariance * axis)) > kWorstRate * out.spin.norm())
    return none("What is seen of the ball's surface is too faint to read the spin from it.");
  out.usable = true;
  return out;
}

}  // namespace hookline::motion
