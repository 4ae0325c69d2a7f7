#include <algorithm>
#include <cmath>
#include <deque>

#include "lane/lane_spec.h"
#include "track/refiner.h"

namespace hookline::track {
namespace {

constexpr double kMedianOfNormal2 = 1.1774;  // of the distance in a plane, over the standard deviation of one direction
constexpr double kOffWay = 3.5;              // standard deviations
constexpr double kGuessY = 6;                // m; from farther down the lane the way back is too long
constexpr double kFlightEndsY = 4;           // m; nobody lofts a ball farther
constexpr double kSurelyDownY = 3;           // m; from here on the ball most likely lies on the lane
constexpr double kWayBack = 0.3;             // s of the rolling ball's way that is followed back
constexpr double kHiddenFor = 0.5;       // s, longest that a rolling ball is followed through something in front of it
constexpr double kHandEndsY = 1.5;       // m; no arm reaches farther over the foul line
constexpr double kMostHeight = 0.5;      // m, of the flying ball over the lane
constexpr double kTouchDoubt = 1;        // m, of where the ball's way meets the first pin
constexpr double kTouchLate = 0.12;      // m, half way to the pins of the next row
constexpr double kGlance = 0.85;         // of a touch, beyond which another pin may be the first
constexpr double kTouchSeenAfter = 0.7;  // frames from the touch to the first picture with a change among the pins,
constexpr double kTouchFrames = 0.6;     // and its sd
constexpr std::size_t kRiseFrames = 3;   // over which the change among the pins rises
constexpr std::size_t kPinsBefore = 15;  // pictures that the pins are held against
constexpr double kPinRadius = lane::kPinMaxDiameter / 2;

struct Touch {
  double time_s = 0;
  Eigen::Vector2d pin = Eigen::Vector2d::Zero();  // m
  double glance = 0;                              // 0 full on, 1 just passing
};

// Straight way of the ball in front of the pins.
struct FreePath {
  double t0 = 0;
  LocalFit x, y;

  std::optional<Touch> FirstTouch() const {
    std::optional<Touch> first;
    if (!x.ok || !y.ok || !(y.slope > 0.5)) return first;
    constexpr double kReach = kBallRadius + kPinRadius;
    for (const auto& pin : lane::PinSpots()) {
      const Eigen::Vector2d d(x.value - pin.x, y.value - pin.y), v(x.slope, y.slope);
      const double a = v.squaredNorm(), b = d.dot(v), q = b * b - a * (d.squaredNorm() - kReach * kReach);
      if (q <= 0) continue;
      const double t = t0 + (-b - std::sqrt(q)) / a;
      const double passes = std::abs(d.x() * v.y() - d.y() * v.x()) / std::sqrt(a);
      if (!first || t < first->time_s) first = Touch{t, {pin.x, pin.y}, passes / kReach};
    }
    return first;
  }
};

}  // namespace

// In the hand the ball does not go the way it rolls, and before the ball came into sight the chain may have hung on the
// bowler. From the ball's way some metres down the lane the chain is followed back in time; what lies before two sights
// in a row off that way is not the rolling ball. Near the foul line and without a gap that moment is the release.
void Refiner::FindRelease() {
  std::vector<std::size_t> seen;
  for (std::size_t i = 0; i < fits_.size(); ++i)
    if (Believed(fits_[i])) seen.push_back(i);
  const auto t = [&](std::size_t k) { return fits_[seen[k]].step->time_s; };
  std::size_t first = 0;
  for (std::size_t k = 0; k < seen.size(); ++k)
    if (fits_[seen[k]].contact.y() < 4) first = k + 1;
  first = std::max<std::size_t>(first, std::min<std::size_t>(8, seen.size()));
  if (first + 6 > seen.size()) return;
  // The way is told where the ball is seen well: something in front of it just there would bend it.
  const auto steady = [&](std::size_t from) {
    std::vector<Eigen::Vector3d> xs, ys;
    std::size_t to = from;
    for (; to < seen.size() && (to - from < 8 || t(to) - t(from) < kWayBack); ++to) {
      xs.emplace_back(t(to), fits_[seen[to]].contact.x(), 1);
      ys.emplace_back(t(to), fits_[seen[to]].contact.y(), 1);
    }
    std::size_t on = 0;
    for (std::size_t m = from; m < to; ++m) {
      const LocalFit x = FitLocal(xs, t(m), true), y = FitLocal(ys, t(m), true);
      const auto disc = x.ok && y.ok ? corridor_.Disc({x.value, y.value}) : std::nullopt;
      on += disc && (fits_[seen[m]].fit.p - *disc).norm() < 0.8 + 0.03 * fits_[seen[m]].radius;
    }
    return 5 * on >= 4 * (to - from);
  };
  for (std::size_t k = first; k + 6 <= seen.size() && t(k) - t(first) < kHiddenFor; ++k)
    if (steady(k)) {
      first = k;
      break;
    }
  int off = 0;
  std::size_t held = 0;
  std::vector<bool> out(seen.size(), false);  // off the way
  // A ball hidden on the lane (by a leg, by its own reflection) comes back to the way, one in the hand was never on it.
  // The oldest of the sights that are back on it; those in between that are not are put out.
  const auto returns = [&](std::size_t before) {
    std::vector<Eigen::Vector3d> xs, ys;
    for (std::size_t m = held + 1; m < seen.size() && (xs.size() < 8 || t(m) - t(held) < kWayBack); ++m) {
      if (out[m]) continue;
      xs.emplace_back(t(m), fits_[seen[m]].contact.x(), 1);
      ys.emplace_back(t(m), fits_[seen[m]].contact.y(), 1);
    }
    // Five of eight sights in a row: one or two may lie off it by themselves.
    std::deque<bool> latest;  // from the last sight looked at, which is the oldest, on
    for (std::size_t m = before; m-- > 0 && t(held) - t(m) < kHiddenFor;) {
      const LocalFit x = FitLocal(xs, t(m), false), y = FitLocal(ys, t(m), false);
      const auto disc = x.ok && y.ok ? corridor_.Disc({x.value, y.value}) : std::nullopt;
      const Fitted& f = fits_[seen[m]];
      // A straight way is good to half of 2 m/s^2 over the time.
      const double metre = f.radius / kBallRadius, dt = t(held + 1) - t(m);
      const bool fits = disc && f.contact.y() > kHandEndsY &&
                        (f.fit.p - *disc).norm() < 0.8 + 0.03 * f.radius + 1.0 * dt * dt * metre;
      latest.push_front(fits);
      if (latest.size() > 8) latest.pop_back();
      if (!fits || std::count(latest.begin(), latest.end(), true) < 5) continue;
      for (std::size_t i = m; i <= held; ++i) out[i] = i - m >= latest.size() || !latest[i - m];
      return std::optional<std::size_t>(m);
    }
    return std::optional<std::size_t>();
  };
  for (std::size_t k = first; k-- > 0;) {
    std::vector<Eigen::Vector3d> xs, ys;
    int used = 0;
    for (std::size_t m = k + 1 + static_cast<std::size_t>(off); m < seen.size() && (used < 8 || t(m) - t(k) < 0.3);
         ++m) {
      if (out[m]) continue;
      ++used;
      xs.emplace_back(t(m), fits_[seen[m]].contact.x(), 1);
      ys.emplace_back(t(m), fits_[seen[m]].contact.y(), 1);
    }
    const LocalFit x = FitLocal(xs, t(k), true), y = FitLocal(ys, t(k), true);
    if (!x.ok || !y.ok) return;
    const auto disc = corridor_.Disc({x.value, y.value});
    const Fitted& f = fits_[seen[k]];
    // A ball whose pattern draws the rim this way and that scatters by more than the usual pixel.
    std::vector<double> scatter;
    for (std::size_t i = 0; i < xs.size(); ++i) {
      const double ti = xs[i][0];
      const LocalFit xi = FitLocal(xs, ti, true), yi = FitLocal(ys, ti, true);
      if (const auto on_way = corridor_.Disc({xi.value, yi.value}))
        if (const auto there = corridor_.Disc({xs[i][1], ys[i][1]})) scatter.push_back((*there - *on_way).norm());
    }
    const double usual = scatter.empty() ? 0 : MedianOf(scatter) / kMedianOfNormal2,
                 foretold = usual * std::sqrt(1 + std::max(x.variance, y.variance));
    if (!disc || (f.fit.p - *disc).norm() < std::max(0.8 + 0.03 * f.radius, kOffWay * foretold)) {
      off = 0;
      continue;
    }
    if (++off == 1) held = k;
    if (off == 2) {
      if (const auto back = returns(k)) {
        // All that came back is the way from here on: the sights behind what hid it alone, followed back over the gap,
        // would foretell the next one badly.
        off = 0;
        k = *back;
        continue;
      }
      start_s_ = 0.5 * (t(held) + t(held + 1));
      const double y = fits_[seen[held + 1]].contact.y();
      if (y < 0.8 && y > -0.5 && t(held + 1) - t(held) < 0.05 + frame_s_) release_s_ = start_s_;
      return;
    }
  }
}

// Before it lies on the lane a ball flies, and may bounce. Its height over the way it rolls later, followed back,
//   h(t) = a + b t - g t^2 / 2   between touches of the lane,
// tells flight from the hand, where the arm's circle lifts it with several g the other way. Sights of flight are kept:
// they carry direction and speed of the release. Arcs of fewer than three sights prove nothing.
void Refiner::FindFlight() {
  air_.assign(fits_.size(), false);
  if (!start_s_) return;
  std::size_t first = fits_.size();
  std::vector<Eigen::Vector3d> xs, ys;  // of the rolling ball
  for (std::size_t i = 0; i < fits_.size(); ++i) {
    const double t = fits_[i].step->time_s;
    if (t < *start_s_ || !Believed(fits_[i]) || fits_[i].contact.y() < kSurelyDownY) continue;
    if (first == fits_.size()) first = i;
    if (t - fits_[first].step->time_s > kWayBack) break;
    xs.emplace_back(t, fits_[i].contact.x(), 1);
    ys.emplace_back(t, fits_[i].contact.y(), 1);
  }
  if (xs.size() < 6 || ys.front()[1] > kFlightEndsY) return;
  const double t0 = xs.front()[0];
  LocalFit x = FitLocal(xs, t0, false), y = FitLocal(ys, t0, false);
  if (!x.ok || !y.ok || y.slope < 3) return;
  bool rolling = true;

  struct Place {
    std::size_t i;
    double t, h, side;  // s after t0, m
  };
  std::vector<Place> arc;
  int arcs = 0;
  double last_s = t0;
  bool stopped = false;
  const auto keep = [&] {
    if (arc.size() < 3) return;
    for (const Place& p : arc) air_[p.i] = true;
    last_s = t0 + arc.back().t;
  };
  double newest = t0;
  for (std::size_t i = first; i-- > 0 && !stopped;) {
    Fitted f = fits_[i];
    const double t = f.step->time_s - t0;
    if (!f.fit.ok || newest - f.step->time_s > 0.05 + frame_s_) break;
    const Eigen::Vector2d at(x.value + x.slope * t, y.value + y.slope * t);
    const auto floor = corridor_.Disc(at), above = corridor_.Disc(at, kBallRadius + 0.1);
    const auto outline = corridor_.OutlineAt(at);
    if (!floor || !above || !outline) break;
    const Eigen::Vector2d up = (*above - *floor) / 0.1, side(-up.y() / up.norm(), up.x() / up.norm());
    double h = (f.fit.p - *floor).dot(up) / up.squaredNorm();
    double metre = f.radius / kBallRadius, tolerance = (0.8 + 0.03 * f.radius) / metre;
    // Nearer to the camera than the place on the lane that it hides, the ball is larger: fitted again as it is, unless
    // it surely rolls.
    const bool rolls = rolling && Believed(f) && std::abs(h) < tolerance / 2 &&
                       std::abs((f.fit.p - *floor).dot(side) / metre) < tolerance / 2;
    for (int round = 0; round < 3 && !rolls; ++round) {
      h = (f.fit.p - *floor).dot(up) / up.squaredNorm();
      f.outline = *outline;
      f.radius = outline->radius * corridor_.RadiusPx(at, kBallRadius + std::clamp(h, 0.0, kMostHeight)) /
                 corridor_.RadiusPx(at);
      f.start = f.fit.p;
      DiscModel model = Model(f);
      model.near = round > 0;
      const DiscFit again = FitAt(f, model);
      if (!again.ok) break;
      f.fit = again;
    }
    if (!Believed(f)) break;
    newest = f.step->time_s;
    h = (f.fit.p - *floor).dot(up) / up.squaredNorm();
    metre = f.radius / kBallRadius, tolerance = (0.8 + 0.03 * f.radius) / metre;
    const Place place{i, t, h, (f.fit.p - *floor).dot(side) / metre};
    if (rolling && std::abs(h) < tolerance && std::abs(place.side) < tolerance) {
      const auto contact = corridor_.Contact(f.fit.p);
      if (!contact) break;
      xs.emplace_back(f.step->time_s, contact->x(), 1), ys.emplace_back(f.step->time_s, contact->y(), 1);
      const auto old = [&](const Eigen::Vector3d& p) { return p[0] > f.step->time_s + kWayBack; };
      std::erase_if(xs, old), std::erase_if(ys, old);
      if (xs.size() < 5) break;
      x = FitLocal(xs, t0, false), y = FitLocal(ys, t0, false);
      continue;
    }
    rolling = false;
    if (h < -2 * tolerance || h > kMostHeight || std::abs(place.side) > 0.15) break;
    fits_[i] = f;
    if (arc.size() < 2) {
      arc.push_back(place);
      continue;
    }
    std::vector<Eigen::Vector3d> hs, sides;
    for (const Place& p : arc) {
      hs.emplace_back(p.t, p.h + 0.5 * lane::kStandardGravity * p.t * p.t, 1);
      sides.emplace_back(p.t, p.side, 1);
    }
    const auto line = [&](const std::vector<Eigen::Vector3d>& v) {
      if (v.size() > 2) return FitLocal(v, t, false).value;
      return v[1][1] + (v[1][1] - v[0][1]) / (v[1][0] - v[0][0]) * (t - v[1][0]);
    };
    const double expected = line(hs) - 0.5 * lane::kStandardGravity * t * t;
    if (std::abs(h - expected) < tolerance && std::abs(place.side - line(sides)) < tolerance) {
      arc.push_back(place);
      continue;
    }
    // The lane ends an arc; so may the cut through a bounce that left a sight or two of it.
    const bool touch = expected < tolerance, rest = arcs == 0 && arc.size() < 3 && arc.back().h < 0.04;
    if ((touch || rest) && ++arcs <= 3) {
      const Place joint = arc.back();
      keep();
      if (!touch || arc.size() < 3) {
        for (const Place& p : arc)
          if (&p != &arc.back()) air_[p.i] = false;
        arc = {joint, place};
      } else {
        arc = {place};
      }
      continue;
    }
    stopped = true;
  }
  keep();
  if (last_s >= t0) return;
  // Nothing between the earliest sight of flight and the lane may be left out but what proved nothing.
  if (stopped) release_s_ = last_s - 0.5 * frame_s_;
}

// A release that was hidden, or in the air: balls leave the hand within an arm's length of the foul line (common
// practice, no source), so that it is placed where the rolling ball's way, followed back, meets the line.
void Refiner::GuessRelease() {
  if (release_s_) return;
  std::vector<Eigen::Vector3d> ys;
  double first_s = 0;
  for (std::size_t i = 0; i < fits_.size(); ++i) {
    if (!kept_[i]) continue;
    const double t = fits_[i].step->time_s;
    if (ys.empty()) first_s = t;
    if (t - first_s > 0.35 && ys.size() >= 8) break;
    ys.emplace_back(t, fits_[i].contact.y(), 1);
  }
  if (ys.size() < 6 || ys.front()[1] > kGuessY) return;
  const LocalFit y = FitLocal(ys, first_s, false);
  if (y.ok && y.slope > 3) release_s_ = first_s - std::max(0.0, y.value / y.slope);
}

// Just after the release the body is on the inner side of the ball's way: left of it for a right hand. Counted at the
// foul line, within 0.9 m of where the way crosses it, over the frames while the ball rolls its first metres.
std::optional<char> Refiner::FindHand() const {
  std::vector<Eigen::Vector3d> xs;
  for (std::size_t i = 0; i < fits_.size(); ++i)
    if (kept_[i] && fits_[i].contact.y() < 5) xs.emplace_back(fits_[i].contact.y(), fits_[i].contact.x(), 1);
  if (xs.size() < 5 || xs.front()[0] > 3) return std::nullopt;
  const LocalFit x = FitLocal(xs, 0, false);
  if (!x.ok || std::abs(x.value) > corridor_.half_width()) return std::nullopt;
  double left = 0, right = 0;
  int frames = 0;
  for (const Fitted& f : fits_) {
    if (f.contact.y() < 0.3 || f.contact.y() > 4.5) continue;
    ++frames;
    for (int c = 0; c < kBodyColumns; ++c) {
      const double off = -kBodyReach + (c + 0.5) * kBodyColumn - x.value;
      if (std::abs(off) > 0.9 || std::abs(off) < 0.05) continue;
      (off < 0 ? left : right) += f.step->body[static_cast<std::size_t>(c)] * kBodyColumn;
    }
  }
  if (frames < 4) return std::nullopt;
  left /= frames, right /= frames;
  // A body covers a fifth of a square metre of this plane or more; the other side must hold much less of it (an arm, a
  // trailing foot).
  if (std::max(left, right) < 0.12 || std::max(left, right) < 2.5 * std::min(left, right)) return std::nullopt;
  return left > right ? 'r' : 'l';
}

// Beyond the lane's edge nothing carries the ball: once its centre is past it and stays there, it is in the gutter. Its
// height is then no longer known, so that only sights before count; the time is where their way across meets the edge.
void Refiner::FindGutter() {
  gutter_s_.reset();
  const double half = corridor_.half_width();
  std::vector<std::size_t> seen;
  for (std::size_t i = 0; i < fits_.size(); ++i)
    if (Believed(fits_[i]) && fits_[i].contact.y() < lane::kHeadPinY) seen.push_back(i);
  const auto x = [&](std::size_t k) { return fits_[seen[k]].contact.x(); };
  const auto t = [&](std::size_t k) { return fits_[seen[k]].step->time_s; };
  for (std::size_t k = 0; k + 2 < seen.size(); ++k) {
    if (std::abs(x(k)) <= half) continue;
    const double side = x(k) < 0 ? -1 : 1;
    std::vector<double> after;
    for (std::size_t m = k; m < seen.size() && t(m) - t(k) < 0.3; ++m) after.push_back(side * x(m));
    if (after.size() < 3 || MedianOf(after) < half + 0.015) continue;
    const auto inside = std::count_if(after.begin(), after.end(), [&](double a) { return a < half - 0.005; });
    if (static_cast<double>(inside) > 0.2 * static_cast<double>(after.size())) continue;
    gutter_side_ = static_cast<int>(side);
    std::vector<Eigen::Vector3d> xs;
    for (std::size_t m = 0; m < k; ++m)
      if (t(k) - t(m) < 0.25) xs.emplace_back(t(m), side * x(m), 1);
    gutter_s_ = t(k);
    const LocalFit f = FitLocal(xs, t(k), false);
    if (f.ok && f.slope > 0.02)
      gutter_s_ = std::clamp(t(k) + (half - f.value) / f.slope, k > 0 ? t(k - 1) : t(k), t(k));
    return;
  }
  // Lost at the drop: the last sights run over the edge within a tenth of a second.
  if (seen.size() < 6) return;
  const double last = t(seen.size() - 1), side = x(seen.size() - 1) < 0 ? -1 : 1;
  if (fits_[seen.back()].contact.y() > lane::kHeadPinY - 1.5 || chain_.steps().back().time_s - last < 0.2) return;
  std::vector<Eigen::Vector3d> xs;
  for (std::size_t m = 0; m < seen.size(); ++m)
    if (last - t(m) < 0.25) xs.emplace_back(t(m), side * x(m), 1);
  const LocalFit f = FitLocal(xs, last, false);
  if (!f.ok || f.slope < 0.05 || f.value < half - 0.04 || f.value + 0.1 * f.slope < half) return;
  gutter_s_ = last + std::max(0.0, (half - f.value) / f.slope);
  gutter_side_ = static_cast<int>(side);
}

void Refiner::Ending(double clip_end_s, Track& track) const {
  const std::size_t n = track.sights.size();
  std::vector<double> t(n);
  std::vector<Eigen::Vector2d> c(n);
  for (std::size_t i = 0; i < n; ++i) {
    t[i] = track.sights[i].time_s;
    c[i] = corridor_.Contact(track.sights[i].p_in_image).value_or(Eigen::Vector2d(0, -1));
  }
  if (gutter_s_) {
    track.gutter_s = gutter_s_;
    track.end = gutter_side_ < 0 ? TrackEnd::kGutterLeft : TrackEnd::kGutterRight;
    return;
  }

  // Free path near the pins, from the last stretch before any pin can be touched.
  const double first_touch_y = lane::kHeadPinY - kBallRadius - kPinRadius;
  const auto free_path = [&](double until_s) {
    std::vector<Eigen::Vector3d> xs, ys;
    for (double back = 2.5; back < 6 && ys.size() < 6; back += 1) {
      xs.clear(), ys.clear();
      for (std::size_t i = 0; i < n; ++i)
        if (c[i].y() < first_touch_y && c[i].y() > first_touch_y - back && t[i] <= until_s) {
          xs.emplace_back(t[i], c[i].x(), 1);
          ys.emplace_back(t[i], c[i].y(), 1);
        }
    }
    FreePath path;
    if (ys.size() < 4) return path;
    path.t0 = ys.back()[0];
    path.x = FitLocal(xs, path.t0, false);
    path.y = FitLocal(ys, path.t0, false);
    return path;
  };
  const double t_end = chain_.steps().back().time_s;
  const FreePath path = free_path(1e9);
  double reach_y = -1;
  if (path.y.ok && path.y.slope > 0.5) reach_y = path.y.value + path.y.slope * (t_end + 0.1 - path.t0);
  if (reach_y < first_touch_y - 0.1 || !path.x.ok) {
    track.end = clip_end_s - t_end < 3 * frame_s_ ? TrackEnd::kClipEnd : TrackEnd::kLost;
    return;
  }
  track.end = TrackEnd::kPins;
  const auto first_touch = path.FirstTouch();

  // First lasting change among the pins against the tenths of a second before. Seen from behind, near the pins half a
  // pixel of the ball's centre is a quarter of a metre: the pins tell the time better than its way does.
  std::vector<double> before;
  std::optional<double> onset;
  const auto& steps = chain_.steps();
  const double earliest = first_touch ? first_touch->time_s - kTouchDoubt / path.y.slope : path.t0;
  for (std::size_t i = 0; i + 1 < steps.size() && !onset; ++i) {
    if (steps[i].pin_change < 0) continue;
    if (steps[i].time_s >= earliest && before.size() >= 5) {
      const double base = MedianOf(before);
      std::vector<double> off;
      for (const double b : before) off.push_back(std::abs(b - base));
      const double spread = 1.4826 * MedianOf(off), step = std::max(6 * spread, 0.6);
      if (steps[i].pin_change > base + step && steps[i + 1].pin_change > base + step) {
        // A pin just pushed changes little: back to where the rise began.
        std::size_t k = i;
        while (k > 0 && i - k < kRiseFrames && steps[k - 1].pin_change > base + std::max(4 * spread, 0.1)) --k;
        onset = steps[k].time_s;
      }
    }
    before.push_back(steps[i].pin_change);
    if (before.size() > kPinsBefore) before.erase(before.begin());
  }
  if (!onset) return;
  // It is seen in the first picture after the touch, sometimes in the second; of the ball in those nothing is believed.
  track.pin_contact_s = *onset - kTouchSeenAfter * frame_s_;
  const double cut = *onset - 1.25 * frame_s_;
  while (!track.sights.empty() && track.sights.back().time_s > cut) track.sights.pop_back();
  // Encoders show a ball in front of the pins where it was, so that its way seems to meet them late: what is touched
  // earlier than that is the first pin of its way all the same. Touched later, it may be one of the pins behind, of
  // those that were left to spare.
  const FreePath before_touch = free_path(cut);
  const auto touch = before_touch.FirstTouch();
  if (!touch || touch->glance > kGlance) return;
  if (*track.pin_contact_s > touch->time_s + std::max(kTouchLate / before_touch.y.slope, frame_s_)) return;
  track.pin_touched = touch->pin;
  track.pin_contact_sd_s = kTouchFrames * frame_s_;
}

}  // namespace hookline::track
