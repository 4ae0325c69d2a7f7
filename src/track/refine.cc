#include "track/refine.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/core/utility.hpp>

#include "camera/projection.h"
#include "track/refiner.h"

namespace hookline::track {
namespace {

// Of sights far down the lane whose rim is seen for less than half, two in five are a reflection or a pin beside the
// ball; of all others one in a hundred (docs/accuracy.md).
constexpr double kSeenFarDown = 0.45, kSeenFromY = 9;  // m
constexpr double kFloorPx = 0.03;   // standard deviation that no sight goes below: pixel grid, interpolation
constexpr double kCodecLag = 0.35;  // of a frame's way, where that is small
// In front of the pins encoders spend their bits on the pins and show the ball where it was: half a frame's way on the
// average, where that is small, a quarter more or less.
constexpr double kPinLagMean = 0.5;
constexpr double kPinLag = 0.25;
constexpr double kPinGlare = 0.03;   // of the radius, up or down, in front of the pins
constexpr double kPinSide = 0.015;   // of the radius, sideways: white pins and dark gaps beside the rim
constexpr double kPinSidePx = 0.04;  // and px
// What makes a centre scatter (a pattern that turns, lamps in the gloss, an edge of the lane behind the rim) makes its
// neighbours wrong alike too, by about as much, and no more than so many px (docs/accuracy.md).
constexpr double kLastingU = 0.7, kLastingV = 1.0, kMostLastingPx = 0.25;
constexpr std::size_t kBlurBalls = 5;  // balls over the track that choose blur, tone curve, exposure and chroma's place
constexpr double kBlock = 8;           // px, half a block of the encoders
// Patches handed on for looking at the ball's surface.
constexpr double kSurfaceRadius = 11;  // px, least
constexpr double kSurfaceSpan = 0.8;   // s from the first
constexpr double kSurfaceSeen = 0.75;  // share of the rim
constexpr std::size_t kSurfacePatches = 60;

// Far down the lane: a reflection or a pin beside the ball as likely as the ball.
bool HardlySeen(const Fitted& f) { return f.contact.y() > kSeenFromY && f.fit.seen_share < kSeenFarDown; }

}  // namespace

double MedianOf(std::vector<double> v) {
  if (v.empty()) return std::numeric_limits<double>::quiet_NaN();
  const auto mid = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
  std::nth_element(v.begin(), mid, v.end());
  return *mid;
}

LocalFit FitLocal(const std::vector<Eigen::Vector3d>& points, double t0, bool bent) {
  const int k = bent ? 3 : 2;
  Eigen::Matrix3d a = Eigen::Matrix3d::Zero();
  Eigen::Vector3d b = Eigen::Vector3d::Zero();
  double reach = 1e-6;
  for (const auto& p : points) reach = std::max(reach, std::abs(p[0] - t0));
  for (const auto& p : points) {
    const double s = (p[0] - t0) / reach;
    const Eigen::Vector3d row(1, s, s * s);
    a += p[2] * row * row.transpose();
    b += p[2] * p[1] * row;
  }
  LocalFit f;
  if (static_cast<int>(points.size()) < k + 1) return f;
  const Eigen::MatrixXd m = a.topLeftCorner(k, k);
  const Eigen::MatrixXd inverse = m.inverse();
  if (!inverse.allFinite()) return f;
  const Eigen::VectorXd x = inverse * b.head(k);
  f.ok = true;
  f.value = x[0];
  f.slope = x[1] / reach;
  f.variance = inverse(0, 0);
  return f;
}

void Refiner::Prepare() {
  const auto& steps = chain_.steps();
  std::vector<double> gaps;
  for (std::size_t i = 1; i < steps.size(); ++i) gaps.push_back(steps[i].time_s - steps[i - 1].time_s);
  if (!gaps.empty()) frame_s_ = MedianOf(gaps);
  exposure_ = 0.5 * frame_s_;
  for (const Step& s : steps) {
    if (s.patch.luma.empty()) continue;
    // Rough contact and speed from the chain's hits around, which also bridges frames without one.
    std::vector<Eigen::Vector3d> xs, ys;
    for (const double half : {0.09, 0.18, 0.35}) {
      xs.clear(), ys.clear();
      for (const Step& o : steps) {
        if (!o.hit || std::abs(o.time_s - s.time_s) > half) continue;
        xs.emplace_back(o.time_s, o.contact.x(), 1);
        ys.emplace_back(o.time_s, o.contact.y(), 1);
      }
      if (xs.size() >= 5) break;
    }
    const LocalFit x = FitLocal(xs, s.time_s, false), y = FitLocal(ys, s.time_s, false);
    Fitted f;
    f.step = &s;
    f.contact = x.ok && y.ok ? Eigen::Vector2d(x.value, y.value) : s.contact;
    const auto disc = corridor_.Disc(f.contact);
    if (!disc) continue;
    f.start = s.hit && (s.p - *disc).norm() > 2 + 0.3 * corridor_.RadiusPx(f.contact) ? s.p : *disc;
    Expect(f);
    const auto j = corridor_.ContactJacobian(*disc);
    if (j && x.ok && y.ok) f.velocity = j->inverse() * Eigen::Vector2d(x.slope, y.slope);
    fits_.push_back(f);
  }
}

// The outline expected where the ball is.
void Refiner::Expect(Fitted& f) const {
  f.radius = corridor_.RadiusPx(f.contact);
  if (const auto o = corridor_.OutlineAt(f.contact)) f.outline = *o, f.radius = o->radius;
}

// The fit sees the outline; the sight is the ball's centre.
DiscFit Refiner::FitAt(const Fitted& f, const DiscModel& model) const {
  DiscFit fit = FitDisc(f.step->patch, f.start + f.outline.shift, model);
  fit.p -= f.outline.shift;
  return fit;
}

DiscModel Refiner::Model(const Fitted& f) const {
  DiscModel m;
  m.radius = factor_ * f.radius + offset_;
  m.round = f.outline.round;
  m.down = corridor_.Down(f.contact);
  m.motion = f.velocity * exposure_;
  if (m.motion.norm() > f.radius) m.motion *= f.radius / m.motion.norm();
  m.blur = blur_;
  m.linear_light = gamma_ > 1;
  m.chroma_at = chroma_at_;
  return m;
}

void Refiner::FitAll(double radius_sd, std::size_t stride, bool rough) {
  const auto count = static_cast<int>((fits_.size() + stride - 1) / stride);
  cv::parallel_for_(cv::Range(0, count), [&](const cv::Range& range) {
    for (int k = range.start; k < range.end; ++k) {
      Fitted& f = fits_[static_cast<std::size_t>(k) * stride];
      DiscModel m = Model(f);
      m.radius_sd = radius_sd > 0 ? radius_sd * std::max(1.0, 0.05 * m.radius) : 0;
      m.rough = rough;
      m.near = f.fit.ok || f.step->rim;
      // The pixels looked at and the expected radius belong to where the ball is: again from there when that proves to
      // be elsewhere.
      for (int round = 0; round < 3; ++round) {
        f.fit = FitAt(f, m);
        if (!f.fit.ok) break;
        const double moved = (f.fit.p - f.start).norm();
        const auto c = corridor_.Contact(f.fit.p);
        if (!c) break;
        f.contact = *c;
        Expect(f);
        f.start = f.fit.p;
        m.near = true;
        if (moved < 0.4) break;
        m.radius = factor_ * f.radius + offset_;
        m.round = f.outline.round;
      }
    }
  });
}

void Refiner::ChooseBlur() {
  // A few well seen balls spread over the track decide; the nearest ones move fastest in the picture and tell the
  // exposure.
  std::vector<Fitted*> good;
  for (Fitted& f : fits_)
    if (Believed(f) && f.fit.seen_share > 0.6) good.push_back(&f);
  if (good.size() < 4) return;
  const auto cost = [&](bool near) {
    double sum = 0;
    const std::size_t span = near ? std::max<std::size_t>(4, good.size() / 3) : good.size(),
                      n = std::min<std::size_t>(kBlurBalls, span);
    std::array<double, kBlurBalls> each{};
    cv::parallel_for_(cv::Range(0, static_cast<int>(n)), [&](const cv::Range& range) {
      for (int k = range.start; k < range.end; ++k) {
        const auto i = static_cast<std::size_t>(k);
        const Fitted& f = *good[i * span / n];
        DiscModel m = Model(f);
        m.radius_sd = 0.5;
        m.near = true;
        const DiscFit d = FitAt(f, m);
        each[i] = std::log(d.ok ? d.cost : 50.0);
      }
    });
    for (const double e : each) sum += e;
    return sum;
  };
  const auto choose = [&](auto& value, auto choices, bool near) {
    double best = 1e18;
    auto chosen = value;
    for (const auto& c : choices) {
      value = c;
      const double now = cost(near);
      if (now < best) best = now, chosen = c;
    }
    value = chosen;
  };
  choose(blur_, std::vector{0.4, 0.55, 0.75, 1.0, 1.4}, false);
  // Light adds up before the tone curve, so 2.2 is the rule; a picture composed otherwise has to show it.
  gamma_ = 1;
  const double plain = cost(false);
  gamma_ = 2.2;
  if (plain < cost(false) - 6 * 0.15) gamma_ = 1;
  choose(exposure_, std::vector{0.15 * frame_s_, 0.5 * frame_s_, 0.9 * frame_s_}, true);
  // Most files sample chroma at the left pixel of each pair; a picture that was turned has that elsewhere, some have it
  // in the middle.
  using P = Eigen::Vector2d;
  chroma_at_ = P(0, 0);
  const double middle = cost(false);
  P best_at = chroma_at_;
  // Where colour says little the costs differ by chance, and half a pixel of chroma is soon a tenth of the centre.
  double least = middle - 6 * 0.04;
  for (const P& at : {P(-0.5, 0), P(0.5, 0), P(0, -0.5), P(0, 0.5)}) {
    chroma_at_ = at;
    if (const double now = cost(false); now < least) least = now, best_at = at;
  }
  chroma_at_ = best_at;
}

void Refiner::PoolRadius() {
  // radius = (1 + e) expected + d by robust least squares with priors of 1 % (ball, setup) and 0.4 px.
  factor_ = 1, offset_ = 0;
  double e = 0, d = 0;
  for (int round = 0; round < 8; ++round) {
    Eigen::Matrix2d a = Eigen::Vector2d(1 / (0.01 * 0.01), 1 / (0.4 * 0.4)).asDiagonal();
    Eigen::Vector2d b = Eigen::Vector2d::Zero();
    std::vector<double> off;
    for (const Fitted& f : fits_)
      if (Counts(f)) off.push_back(std::abs(f.fit.radius - (1 + e) * f.radius - d));
    if (off.size() < 5) return;
    const double width = std::max(0.05, 1.4826 * MedianOf(off));
    for (const Fitted& f : fits_) {
      if (!Counts(f)) continue;
      const double r = (f.fit.radius - (1 + e) * f.radius - d) / width;
      const double s = std::hypot(3 * f.fit.radius_sd, 0.1);
      const double w =
          (std::abs(r) < 4 ? std::pow(1 - r * r / 16, 2) : 0) / (s * s) / static_cast<double>(off.size()) * 40;
      const Eigen::Vector2d row(f.radius, 1);
      a += w * row * row.transpose();
      b += w * (f.fit.radius - f.radius) * row;
    }
    const Eigen::Vector2d x = a.ldlt().solve(b);
    e = x[0], d = x[1];
  }
  pooled_ = true;
  factor_ = 1 + std::clamp(e, -0.05, 0.05);
  offset_ = std::clamp(d, -1.2, 1.2);
}

void Refiner::Calibrate(RefineReport& report) {
  const std::size_t n = fits_.size();
  kept_.assign(n, false);
  std::vector<Eigen::Matrix2d> lane_from_px(n, Eigen::Matrix2d::Zero());
  for (std::size_t i = 0; i < n; ++i) {
    if (!Believed(fits_[i]) || HardlySeen(fits_[i]) || fits_[i].contact.y() > lane::kHeadPinY + 0.1 ||
        (gutter_s_ && fits_[i].step->time_s > *gutter_s_))
      continue;
    if ((start_s_ && fits_[i].step->time_s < *start_s_) || air_[i]) continue;
    const auto j = corridor_.ContactJacobian(fits_[i].fit.p);
    const double r = fits_[i].radius;
    if (!j || fits_[i].contact.y() > kLastY) continue;
    if (!(fits_[i].fit.covariance.trace() < 0.1 * r * r)) continue;
    lane_from_px[i] = *j;
    kept_[i] = true;
  }
  double su = 1, sv = 1;
  for (int round = 0; round < 20; ++round) {
    std::vector<double> zu, zv, px, bad(n, 0.0);
    for (std::size_t i = 0; i < n; ++i) {
      if (!kept_[i]) continue;
      std::vector<Eigen::Vector3d> xs, ys;
      // Neighbours nearest in time, up to six on each side within a quarter of a second.
      const auto take = [&](std::size_t k) {
        const Eigen::Matrix2d c = lane_from_px[k] * fits_[k].fit.covariance * lane_from_px[k].transpose();
        xs.emplace_back(fits_[k].step->time_s, fits_[k].contact.x(), 1 / (c(0, 0) + 1e-8));
        ys.emplace_back(fits_[k].step->time_s, fits_[k].contact.y(), 1 / (c(1, 1) + 1e-8));
      };
      const double t = fits_[i].step->time_s;
      int taken = 0;
      for (std::size_t k = i; k-- > 0 && taken < 6 && t - fits_[k].step->time_s < 0.25;)
        if (kept_[k]) take(k), ++taken;
      taken = 0;
      for (std::size_t k = i + 1; k < n && taken < 6 && fits_[k].step->time_s - t < 0.25; ++k)
        if (kept_[k]) take(k), ++taken;
      // Alone for a quarter of a second, it can be held against nothing.
      if (xs.size() < 3) {
        kept_[i] = false;
        continue;
      }
      const bool bent = xs.size() >= 7;
      const LocalFit x = FitLocal(xs, t, bent), y = FitLocal(ys, t, bent);
      if (!x.ok || !y.ok) continue;
      const Eigen::Matrix2d px_from_lane = lane_from_px[i].inverse();
      const Eigen::Vector2d off = px_from_lane * (fits_[i].contact - Eigen::Vector2d(x.value, y.value));
      // The neighbours' own share of the scatter, in px, by the same scale.
      const Eigen::Matrix2d near =
          px_from_lane * Eigen::Vector2d(x.variance, y.variance).asDiagonal() * px_from_lane.transpose();
      const double du = off.x() / std::sqrt(fits_[i].fit.covariance(0, 0) + near(0, 0));
      const double dv = off.y() / std::sqrt(fits_[i].fit.covariance(1, 1) + near(1, 1));
      px.push_back(off.norm());
      zu.push_back(std::abs(du));
      zv.push_back(std::abs(dv));
      // Far off in units of the scatter, and by more than codecs and textures explain.
      const double su_px = su * std::sqrt(fits_[i].fit.covariance(0, 0)),
                   sv_px = sv * std::sqrt(fits_[i].fit.covariance(1, 1));
      const double least = 0.2 + 0.01 * fits_[i].radius;
      if (round > 0)
        bad[i] =
            std::max(std::abs(off.x()) / std::max(5 * su_px, least), std::abs(off.y()) / std::max(5 * sv_px, least));
    }
    if (zu.size() < 6) break;
    off_px_ = MedianOf(px);
    // Median and root mean square (cut) agree for a normal scatter; the larger is taken, tails belong to the doubt.
    const auto width = [](const std::vector<double>& z) {
      const double m = MedianOf(z) / 0.6745;
      double sum = 0;
      int count = 0;
      for (const double x : z)
        if (x < 4 * m) sum += x * x, ++count;
      return std::max(m, count > 0 ? std::sqrt(sum / count) : m);
    };
    su = std::clamp(width(zu), 0.7, 12.0);
    sv = std::clamp(width(zv), 0.7, 12.0);
    // Only the worst of a neighbourhood goes: one bad sight spoils what its neighbours are held against.
    bool any = false;
    for (std::size_t i = 0; i < n; ++i) {
      if (!kept_[i] || bad[i] <= 1) continue;
      bool worst = true;
      for (std::size_t k = i > 8 ? i - 8 : 0; k < std::min(n, i + 9); ++k)
        worst = worst && (!kept_[k] || bad[k] <= bad[i]);
      if (worst) kept_[i] = false, any = true, ++report.dropped;
    }
    if (round > 1 && !any) break;
  }
  report.scale_u = su, report.scale_v = sv;
}

// After the first few fits: discs of about the size expected where the chain says there are some.
bool Refiner::Promising(std::size_t stride) const {
  int asked = 0, good = 0;
  for (std::size_t i = 0; i < fits_.size(); i += stride) {
    const Fitted& f = fits_[i];
    if (!f.step->hit || f.contact.y() > lane::kHeadPinY - 0.3) continue;
    ++asked;
    good += Believed(f) && std::abs(f.fit.radius - f.radius) < 0.15 * f.radius + 0.7;
  }
  return asked >= 4 && good > 0.5 * asked;
}

// A ball keeps a size, a speed and a straight enough way; legs, arms and rakes that passed for one so far do not.
bool Refiner::Plausible() const {
  std::vector<Eigen::Vector3d> ys, xs;
  std::vector<double> wide;
  int asked = 0, kept = 0;
  for (std::size_t i = 0; i < fits_.size(); ++i) {
    if (gutter_s_ && fits_[i].step->time_s > *gutter_s_) continue;
    if (start_s_ && fits_[i].step->time_s < *start_s_) continue;
    if (fits_[i].step->hit && !air_[i] && !HardlySeen(fits_[i])) ++asked, kept += kept_[i];
    if (!kept_[i]) continue;
    ys.emplace_back(fits_[i].step->time_s, fits_[i].contact.y(), 1);
    xs.emplace_back(fits_[i].step->time_s, fits_[i].contact.x(), 1);
  }
  if (ys.size() < 6 || kept < 0.5 * asked) return false;
  const double t0 = ys.front()[0], t1 = ys.back()[0], travel = ys.back()[1] - ys.front()[1];
  if (travel < least_way_ || travel < 3 * (t1 - t0) || travel > 14.5 * (t1 - t0)) return false;
  // Arms, legs and rakes pass for a ball over a few metres at most; what keeps on for ten is one, however its pattern
  // and the encoder make its sights scatter.
  const double patience = 1 + std::clamp((travel - 5) / 5, 0.0, 1.0);
  if (off_px_ > patience * (0.25 + 0.02 * MedianRadius())) return false;
  const double r = MedianRadius();
  if (pooled_ && std::abs(factor_ * r + offset_ - r) > 0.06 * r + 0.6) return false;
  return true;
}

double Refiner::MedianRadius() const {
  std::vector<double> r;
  for (std::size_t i = 0; i < fits_.size(); ++i)
    if (kept_[i]) r.push_back(fits_[i].radius);
  return r.empty() ? 0 : MedianOf(r);
}

std::optional<Track> Refiner::Run(double clip_end_s, RefineReport& report) {
  Prepare();
  report.patches = static_cast<int>(fits_.size());
  const std::size_t stride = std::max<std::size_t>(1, fits_.size() / 40);
  FitAll(0.5, stride, true);
  if (!Promising(stride)) return std::nullopt;
  ChooseBlur();
  FitAll(0.5, stride);
  FindGutter();  // beyond it the expected radius is wrong
  PoolRadius();
  FitAll(0);
  for (const Fitted& f : fits_) report.fitted += Believed(f);
  report.radius_factor = factor_, report.radius_offset = offset_;
  report.blur = blur_, report.exposure_s = exposure_;
  FindGutter();
  FindRelease();
  FindFlight();
  Calibrate(report);
  report.gamma = gamma_, report.off_px = off_px_;
  if (!Plausible()) return std::nullopt;

  Track track;
  double first_y = 1e9, last_y = -1e9;
  for (std::size_t i = 0; i < fits_.size(); ++i) {
    if (!kept_[i] && !air_[i]) continue;
    const Fitted& f = fits_[i];
    BallSight s;
    s.frame = f.step->frame;
    s.time_s = f.step->time_s;
    s.p_in_image = f.fit.p;
    const Eigen::DiagonalMatrix<double, 2> grow(report.scale_u, report.scale_v);
    s.covariance = grow * f.fit.covariance * grow;
    s.covariance.diagonal().array() += kFloorPx * kFloorPx;
    Eigen::Matrix2d lasting =
        Eigen::Vector2d(kLastingU * kLastingU * s.covariance(0, 0), kLastingV * kLastingV * s.covariance(1, 1))
            .cwiseMin(kMostLastingPx * kMostLastingPx)
            .asDiagonal();
    // Where the ball moves by less than a pixel a frame, encoders let it lag behind: they take the last picture over
    // with a rounded shift. Some 0.1 px, alike over several frames, so that the scatter does not show it.
    const double moved = f.velocity.norm() * frame_s_;
    if (moved > 1e-6) {
      const Eigen::Vector2d along = f.velocity.normalized();
      double lag = kCodecLag * moved / (1 + moved * moved / 0.25);
      // In front of the pins the top of a glossy ball mirrors them, so that its rim melts into what is behind, and
      // encoders spend their bits on the pins. Both last.
      const cv::Rect& pins = corridor_.pins();
      if (pins.area() > 0) {
        const double into = pins.y + pins.height - (f.fit.p.y() - f.radius);
        const double share = std::clamp((into + kBlock) / (kBlock + f.radius), 0.0, 1.0);
        const double way = moved / (1 + moved * moved);
        s.p_in_image += share * kPinLagMean * way * along;
        lag = std::hypot(lag, share * kPinLag * way);
        const Eigen::Vector2d glare = share * kPinGlare * f.radius * corridor_.Down(f.contact);
        lasting += glare * glare.transpose();
        const Eigen::Vector2d down = corridor_.Down(f.contact), across(-down.y(), down.x());
        const double side = share * (kPinSide * f.radius + kPinSidePx);
        lasting += side * side * across * across.transpose();
      }
      lasting += lag * lag * along * along.transpose();
    }
    s.lasting_sd = lasting.diagonal().cwiseSqrt();
    s.p_in_frame = camera::FrameFromReference(corridor_.camera(), f.step->motion, s.p_in_image);
    s.by_radius_u = f.fit.by_radius_u;
    s.radius_px = f.radius;
    s.in_air = air_[i];
    s.seen_share = f.fit.seen_share;
    track.sights.push_back(s);
    first_y = std::min(first_y, f.contact.y()), last_y = std::max(last_y, f.contact.y());
  }
  if (track.sights.size() < 6 || last_y - first_y < least_way_) return std::nullopt;
  GuessRelease();
  track.release_s = release_s_;
  track.hand = FindHand();
  Ending(clip_end_s, track);
  if (track.sights.size() < 6) return std::nullopt;
  track.patches = SurfacePatches();
  return track;
}

std::vector<BallPatch> Refiner::SurfacePatches() const {
  std::vector<const Fitted*> large;
  for (std::size_t i = 0; i < fits_.size(); ++i) {
    const Fitted& f = fits_[i];
    if ((!kept_[i] && !air_[i]) || f.radius < kSurfaceRadius || f.fit.seen_share < kSurfaceSeen) continue;
    if (!large.empty() && f.step->time_s > large.front()->step->time_s + kSurfaceSpan) break;
    large.push_back(&f);
  }
  std::vector<BallPatch> out;
  const std::size_t n = std::min(large.size(), kSurfacePatches);
  for (std::size_t k = 0; k < n; ++k) {
    const Patch& p = large[k * large.size() / n]->step->patch;
    out.push_back({p.time_s, p.box.tl(), p.luma, p.cb, p.cr});
  }
  return out;
}

std::optional<Track> RefineTrack(const Chain& chain, const Corridor& corridor, double clip_end_s, double least_way,
                                 RefineReport* report) {
  RefineReport own;
  Refiner refiner(chain, corridor, least_way);
  return refiner.Run(clip_end_s, report ? *report : own);
}

}  // namespace hookline::track
