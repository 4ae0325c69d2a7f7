#include "synth/figure.h"

#include <algorithm>
#include <array>
#include <cmath>

#include "lane/units.h"

namespace hookline::synth {
namespace {

using Vec = Eigen::Vector3d;

double Smooth(double a, double b, double x) {
  const double t = std::clamp((x - a) / (b - a), 0.0, 1.0);
  return t * t * (3 - 2 * t);
}

// Cubic through keys (time, value) with slopes from their neighbours; flat beyond the ends.
template <std::size_t N>
double Keyed(const std::array<std::array<double, 2>, N>& keys, double t) {
  if (t <= keys.front()[0]) return keys.front()[1];
  if (t >= keys.back()[0]) return keys.back()[1];
  std::size_t i = 0;
  while (keys[i + 1][0] < t) ++i;
  const auto slope = [&](std::size_t k) {
    if (k == 0 || k + 1 == N) return 0.0;
    return (keys[k + 1][1] - keys[k - 1][1]) / (keys[k + 1][0] - keys[k - 1][0]);
  };
  const double h = keys[i + 1][0] - keys[i][0], f = (t - keys[i][0]) / h, f2 = f * f, f3 = f2 * f;
  return (2 * f3 - 3 * f2 + 1) * keys[i][1] + (f3 - 2 * f2 + f) * h * slope(i) + (3 * f2 - 2 * f3) * keys[i + 1][1] +
         (f3 - f2) * h * slope(i + 1);
}

// The joint between a and b of a limb with two bones, bent towards `pole`.
Vec Joint(const Vec& a, const Vec& b, double upper, double lower, const Vec& pole) {
  const Vec d = b - a;
  const double distance = std::max(1e-6, d.norm()), reach = std::min(distance, 0.999 * (upper + lower));
  const Vec u = d / distance;
  const double along = std::clamp((upper * upper - lower * lower + reach * reach) / (2 * reach), -upper, upper);
  const double out = std::sqrt(std::max(0.0, upper * upper - along * along));
  Vec side = pole - pole.dot(u) * u;
  if (side.norm() < 1e-6) side = u.unitOrthogonal();
  return a + u * (along * distance / reach) + side.normalized() * out;
}

Vec Forward(double facing) { return {std::sin(facing), std::cos(facing), 0}; }
Vec Right(double facing) { return {std::cos(facing), -std::sin(facing), 0}; }

struct Trunk {
  Vec hip_centre, chest, neck, head;
  Vec hip[2], shoulder[2];
  Vec up, forward, right;
};

Trunk TrunkOf(const BodyPose& p, double height) {
  Trunk t;
  const Vec f = Forward(p.facing), r = Right(p.facing);
  t.up = (Vec::UnitZ() * std::cos(p.lean) + f * std::sin(p.lean)) * std::cos(p.side_lean) + r * std::sin(p.side_lean);
  t.up.normalize();
  t.forward = (f - f.dot(t.up) * t.up).normalized();
  t.right = t.forward.cross(t.up);
  t.hip_centre = p.pelvis;
  t.chest = p.pelvis + t.up * (0.235 * height);
  t.neck = p.pelvis + t.up * (0.30 * height);
  // The head stays nearer to upright than the trunk.
  const Vec head_up = (0.55 * t.up + 0.45 * Vec::UnitZ()).normalized();
  t.head = t.neck + head_up * (0.105 * height);
  for (int i = 0; i < 2; ++i) {
    const double side = i == 0 ? -1 : 1;
    t.hip[i] = p.pelvis + r * (side * 0.052 * height) - t.up * (0.01 * height);
    t.shoulder[i] = p.pelvis + t.up * (0.275 * height) + t.right * (side * 0.108 * height);
  }
  return t;
}

}  // namespace

std::vector<BodyPart> PartsOf(const BodyPose& pose, const FigureSpec& figure) {
  const double h = lane::MetresFromFeet(figure.height_ft), w = figure.build;
  const Trunk t = TrunkOf(pose, h);
  std::vector<BodyPart> parts;
  const auto add = [&](const Vec& a, const Vec& b, double ra, double rb, Garment g) {
    parts.push_back({a.cast<float>(), b.cast<float>(), static_cast<float>(ra), static_cast<float>(rb), g});
  };
  const Vec r = t.right;
  // Trunk: three cones side by side make it wider than deep.
  for (double side : {-1.0, 0.0, 1.0})
    add(t.hip_centre + r * (side * 0.026 * h * w) + t.up * (0.03 * h), t.chest + r * (side * 0.042 * h * w),
        0.064 * h * w, 0.068 * h * w, Garment::kShirt);
  add(t.shoulder[0] + r * (0.03 * h), t.shoulder[1] - r * (0.03 * h), 0.043 * h * w, 0.043 * h * w, Garment::kShirt);
  add(t.hip[0], t.hip[1], 0.064 * h * w, 0.064 * h * w, Garment::kTrousers);
  add(t.neck - t.up * (0.02 * h), t.head, 0.030 * h, 0.030 * h, Garment::kSkin);
  add(t.head - 0.012 * h * t.up, t.head + 0.018 * h * t.up, 0.050 * h, 0.053 * h, Garment::kSkin);
  add(t.head + 0.012 * h * t.up - t.forward * (0.012 * h), t.head + 0.030 * h * t.up - t.forward * (0.006 * h),
      0.056 * h, 0.054 * h, Garment::kHair);
  if (figure.cap)
    add(t.head + 0.045 * h * t.up, t.head + 0.045 * h * t.up + t.forward * (0.085 * h), 0.030 * h, 0.012 * h,
        Garment::kHair);
  for (int i = 0; i < 2; ++i) {
    const double side = i == 0 ? -1 : 1;
    // Knees bend forward, elbows back and out.
    const Vec knee = Joint(t.hip[i], pose.ankle[i], 0.245 * h, 0.246 * h, Forward(pose.facing) + r * (0.15 * side));
    const Garment shin = figure.shorts ? Garment::kSkin : Garment::kTrousers;
    add(t.hip[i], knee, 0.056 * h * w, 0.038 * h * w, Garment::kTrousers);
    add(knee, pose.ankle[i], 0.036 * h * w, 0.024 * h * w, shin);
    const Vec toe_dir = Forward(pose.facing);
    Vec heel = pose.ankle[i] - toe_dir * (0.015 * h), toe = pose.ankle[i] + toe_dir * (0.085 * h);
    heel.z() = std::max(0.024 * h, heel.z() - 0.022 * h);
    toe.z() = std::max(0.018 * h, pose.ankle[i].z() - 0.03 * h);
    add(heel, toe, 0.024 * h, 0.018 * h, Garment::kShoes);
    const Vec elbow =
        Joint(t.shoulder[i], pose.wrist[i], 0.172 * h, 0.152 * h, -t.forward - 0.4 * t.up + r * (0.5 * side));
    const Vec half = t.shoulder[i] + 0.6 * (elbow - t.shoulder[i]);
    add(t.shoulder[i], half, 0.036 * h * w, 0.031 * h * w, Garment::kShirt);
    add(half, elbow, 0.026 * h * w, 0.024 * h * w, Garment::kSkin);
    add(elbow, pose.wrist[i], 0.024 * h * w, 0.018 * h, Garment::kSkin);
    const Vec on = (pose.wrist[i] - elbow).normalized();
    add(pose.wrist[i], pose.wrist[i] + on * (0.045 * h), 0.019 * h, 0.021 * h, Garment::kSkin);
  }
  return parts;
}

BodyPose Standing(const FigureSpec& figure, const Eigen::Vector2d& place, double facing) {
  const double h = lane::MetresFromFeet(figure.height_ft);
  BodyPose p;
  p.facing = facing;
  p.lean = 0.03;
  p.pelvis = {place.x(), place.y(), 0.525 * h};
  for (int i = 0; i < 2; ++i) {
    const double side = i == 0 ? -1 : 1;
    p.ankle[i] = Vec(place.x(), place.y(), 0.045 * h) + Right(facing) * (side * 0.065 * h);
    p.wrist[i] =
        p.pelvis + Right(facing) * (side * 0.145 * h) + Forward(facing) * (0.03 * h) - Vec::UnitZ() * (0.03 * h);
  }
  return p;
}

BodyPose Walking(const FigureSpec& figure, const Eigen::Vector2d& place, double facing, double travelled) {
  BodyPose p = Standing(figure, place, facing);
  const double h = lane::MetresFromFeet(figure.height_ft), stride = 0.78 * h;  // two steps
  const Vec f = Forward(facing);
  for (int i = 0; i < 2; ++i) {
    double cycle = travelled / stride + 0.5 * i;
    cycle -= std::floor(cycle);
    // Half of the cycle on the floor moving back against the body, half in the air.
    const double on = cycle < 0.5 ? 0.25 - cycle : -0.25 + (cycle - 0.5);
    p.ankle[i] += f * (on * stride);
    if (cycle > 0.5) p.ankle[i].z() += 0.06 * h * std::sin((cycle - 0.5) * 2 * lane::kPi);
    p.wrist[i] -= f * (0.55 * on * stride);
  }
  p.pelvis.z() -= 0.012 * h;
  return p;
}

BodyPose PoseOf(const PersonSpec& person, double time_s) {
  const auto place = [](const std::array<double, 3>& w) {
    return Eigen::Vector2d(lane::MetresFromFeet(w[1]), lane::MetresFromFeet(w[2]));
  };
  const auto& way = person.way;
  double travelled = 0, facing = lane::RadiansFromDegrees(person.facing_deg);
  for (std::size_t i = 0; i + 1 < way.size(); ++i) {
    const Eigen::Vector2d a = place(way[i]), b = place(way[i + 1]);
    const double length = (b - a).norm();
    if (length > 0.05) facing = std::atan2(b.x() - a.x(), b.y() - a.y());
    if (time_s < way[i][0]) return Standing(person.figure, a, facing);
    if (time_s < way[i + 1][0]) {
      const double f = (time_s - way[i][0]) / (way[i + 1][0] - way[i][0]);
      if (length <= 0.05) return Standing(person.figure, a, facing);
      return Walking(person.figure, a + f * (b - a), facing, travelled + f * length);
    }
    travelled += length;
  }
  return Standing(person.figure, place(way.back()), facing);
}

namespace {

// Of the four steps: when each foot lands, in shares of the approach. Ball side first; the last is the slide.
constexpr double kLand[4] = {0.30, 0.52, 0.72, 0.87};

}  // namespace

Bowler::Bowler(const ShotRun& run, double lane_x, double shown_from, double shown_until)
    : run_(&run), side_(run.hand_sign()), from_(shown_from), until_(shown_until) {
  const ShotSpec& s = run.spec();
  height_ = lane::MetresFromFeet(s.bowler.height_ft);
  slide_end_ = s.release_s + 0.10;
  start_ = slide_end_ - s.approach_s;
  const Vec release = run.At(s.release_s).motion.p + Vec(lane_x, 0, 0);
  body_x_ = release.x() - side_ * 0.15 * height_;
  foot_y_ = std::min(-0.13, release.y() - 0.12);
  // Once as the free swing has it, then shifted so that the free swing ends at the release as far as the foul line
  // allows.
  for (int pass = 0; pass < 3; ++pass) {
    stance_y_ = foot_y_ - (1.45 + 0.78 * s.approach_s);
    Vec ball;
    correction_.setZero();
    Approach(s.release_s, &ball);
    correction_ = release - ball;
    if (pass < 2) {
      body_x_ += correction_.x();
      foot_y_ = std::min(-0.13, foot_y_ + correction_.y());
    }
  }
  bench_ = {lane_x - side_ * 1.5, stance_y_ - 2.2};
}

double Bowler::PelvisY(double tau) const {
  const double f = Smooth(0, 1, std::pow(std::clamp(tau, 0.0, 1.0), 1.2));
  return stance_y_ + (foot_y_ - 0.16 * height_ - stance_y_) * f;
}

Vec Bowler::FootAt(bool ball_side, double tau) const {
  const double x = body_x_ + side_ * (ball_side ? 0.055 : -0.035) * height_, z = 0.045 * height_;
  const auto planted = [&](double land) { return PelvisY(land) + 0.11 * height_; };
  const Vec first(x, stance_y_, z);
  struct Plant {
    double lift, land, y;
  };
  const Plant mine[2] = {
      ball_side ? Plant{0.04, kLand[0], planted(kLand[0])} : Plant{kLand[0] - 0.02, kLand[1], planted(kLand[1])},
      ball_side ? Plant{kLand[1] - 0.02, kLand[2], planted(kLand[2])}
                : Plant{kLand[2] - 0.02, kLand[3], foot_y_ - 0.42}};
  Vec p = first;
  for (const Plant& plant : mine) {
    const double f = std::clamp((tau - plant.lift) / (plant.land - plant.lift), 0.0, 1.0);
    if (f <= 0) break;
    const double s = Smooth(0, 1, f);
    p.y() += (plant.y - p.y()) * s;
    p.z() = z + (f < 1 ? 0.055 * height_ * std::sin(lane::kPi * f) : 0);
  }
  if (!ball_side && tau > kLand[3]) {  // the slide
    const double f = std::clamp((tau - kLand[3]) / (1.02 - kLand[3]), 0.0, 1.0);
    p.y() += 0.42 * (1 - (1 - f) * (1 - f));
  }
  if (ball_side && tau > kLand[3] - 0.03) {  // the trailing leg swings behind the other
    const double f = Smooth(kLand[3] - 0.03, 1.06, tau);
    const Vec behind(body_x_ - side_ * 0.20 * height_, foot_y_ - 0.36 * height_, 0.075 * height_);
    p += (behind - p) * f;
  }
  return p;
}

BodyPose Bowler::Approach(double time_s, Eigen::Vector3d* ball) const {
  const double tau = (time_s - start_) / (slide_end_ - start_);
  const double tau_release = (run_->release_s() - start_) / (slide_end_ - start_);
  BodyPose p;
  p.facing = 0;
  p.lean = Keyed<5>({{{0, 0.16}, {0.5, 0.32}, {tau_release, 0.72}, {1.12, 0.62}, {1.5, 0.35}}}, tau);
  p.side_lean = side_ * Keyed<4>({{{0.3, 0.0}, {tau_release, 0.13}, {1.1, 0.08}, {1.5, -0.10}}}, tau);
  const double sink = Keyed<5>({{{0, 0.515}, {0.6, 0.49}, {tau_release, 0.405}, {1.12, 0.40}, {1.5, 0.44}}}, tau);
  p.pelvis = {body_x_, PelvisY(tau), sink * height_};
  const int ball_hand = side_ > 0 ? 1 : 0;
  p.ankle[ball_hand] = FootAt(true, tau);
  p.ankle[1 - ball_hand] = FootAt(false, tau);
  const Trunk t = TrunkOf(p, height_);
  const double angle = Keyed<9>({{{-0.1, 0.80},
                                  {0.05, 0.80},
                                  {0.25, 0.95},
                                  {0.46, 0.0},
                                  {0.72, -1.72},
                                  {tau_release, 0.10},
                                  {1.02, 1.05},
                                  {1.14, 1.75},
                                  {1.5, 1.2}}},
                                tau);
  const double stretch = Keyed<8>({{{-0.1, 0.52},
                                    {0.05, 0.52},
                                    {0.25, 0.86},
                                    {0.46, 1.0},
                                    {tau_release, 1.0},
                                    {1.02, 0.9},
                                    {1.14, 0.78},
                                    {1.5, 0.55}}},
                                  tau);
  const double grip = 0.028 * height_, arm = 0.324 * height_ + grip + run_->radius();
  const Vec swing(0, std::sin(angle), -std::cos(angle));
  const Vec shoulder = t.shoulder[ball_hand];
  // Held before the body's middle at first, beside the leg in the swing.
  const double middle = 1 - Smooth(0.08, 0.32, tau);
  Vec centre = shoulder + swing * (arm * stretch) - Vec(side_ * 0.06 * height_ * middle, 0, 0);
  const double after = time_s - run_->release_s();
  const double weight = after <= 0 ? Smooth(-0.55, 0, after) : 1 - Smooth(0, 0.35, after);
  centre += correction_ * weight;
  if (ball != nullptr) *ball = centre;
  const Vec to_shoulder = (shoulder - centre).normalized();
  // Before the swing the hand carries the ball from below.
  const Vec below = Vec(0, -0.35, -1).normalized();
  const Vec grip_dir = (to_shoulder * (1 - middle) + below * middle).normalized();
  p.wrist[ball_hand] = centre + grip_dir * (run_->radius() + grip);
  const Vec other = t.shoulder[1 - ball_hand];
  const Vec support = centre + Vec(-side_ * 0.8, -0.1, -0.55).normalized() * (run_->radius() + grip);
  const Vec balance = other + Vec(-side_ * 0.24 * height_, -0.02 * height_, -0.12 * height_);
  p.wrist[1 - ball_hand] = support + (balance - support) * Smooth(0.18, 0.5, tau);
  return p;
}

BodyPose Bowler::PoseAt(double time_s) const {
  constexpr double kHold = 1.1, kWalk = 1.1;  // s after the release; m/s
  const Eigen::Vector2d stance(body_x_, stance_y_);
  const double come = (stance - bench_).norm() / kWalk, address = 1.6;
  if (time_s < start_ - address) {
    const double f = (time_s - (start_ - address - come)) / come;
    if (f <= 0) return Standing(figure(), bench_, 0);
    const Eigen::Vector2d at = bench_ + f * (stance - bench_), way = stance - bench_;
    BodyPose p = Walking(figure(), at, std::atan2(way.x(), way.y()), f * come * kWalk);
    const BodyPose held = Approach(start_ - 1, nullptr);
    for (int i = 0; i < 2; ++i) p.wrist[i] = held.wrist[i] - held.pelvis + p.pelvis;
    return p;
  }
  const double after = time_s - run_->release_s();
  if (after < kHold) return Approach(time_s, nullptr);
  const BodyPose end = Approach(run_->release_s() + kHold, nullptr);
  const Eigen::Vector2d from = end.pelvis.head<2>(), way = bench_ - from;
  const double walked = std::min(way.norm(), (after - kHold) * kWalk);
  const BodyPose walk = Walking(figure(), from + way.normalized() * walked, std::atan2(way.x(), way.y()), walked);
  if (walked >= way.norm()) return Standing(figure(), bench_, 0);
  const double f = Smooth(0, 0.45, after - kHold);
  if (f >= 1) return walk;
  BodyPose p = walk;
  p.pelvis += (end.pelvis - walk.pelvis) * (1 - f);
  p.lean += (end.lean - walk.lean) * (1 - f);
  p.side_lean = end.side_lean * (1 - f);
  p.facing = f * walk.facing;
  for (int i = 0; i < 2; ++i) {
    p.ankle[i] += (end.ankle[i] - walk.ankle[i]) * (1 - f);
    p.wrist[i] += (end.wrist[i] - walk.wrist[i]) * (1 - f);
  }
  return p;
}

Vec Bowler::BallAt(double time_s) const {
  if (time_s < start_ - 1.6) {
    const BodyPose p = PoseAt(time_s), held = Approach(start_ - 1, nullptr);
    Vec ball;
    Approach(start_ - 1, &ball);
    return ball - held.pelvis + p.pelvis;
  }
  Vec ball;
  Approach(std::min(time_s, run_->release_s()), &ball);
  return ball;
}

}  // namespace hookline::synth
