#include "synth/scene.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "camera/projection.h"
#include "lane/lane_spec.h"

namespace hookline::synth {
namespace {

double Ramp(double a, double b, double x) {
  const double t = std::clamp((x - a) / (b - a), 0.0, 1.0);
  return t * t * (3 - 2 * t);
}

V3 Point(const Eigen::Vector3d& p) { return p.cast<float>(); }

}  // namespace

V3 MovingBall::At(float s) const {
  const float f = Clamp01(s) * (kTimes - 1);
  const int i = std::min(kTimes - 2, static_cast<int>(f));
  return Mix(centre[i], centre[i + 1], f - static_cast<float>(i));
}

Eigen::Quaternionf MovingBall::TurnAt(float s) const {
  const float f = Clamp01(s) * (kTimes - 1);
  const int i = std::min(kTimes - 2, static_cast<int>(f));
  return turn[i].slerp(f - static_cast<float>(i), turn[i + 1]);
}

float HitMoving(const Ray& ray, const MovingCone& c, float s, V3* normal) {
  const Surface hit = HitRoundCone(ray, Mix(c.a0, c.a1, s), Mix(c.b0, c.b1, s), c.ra, c.rb);
  *normal = hit.n;
  return hit.t;
}

float HitMoving(const Ray& ray, const MovingBall& ball, float s, V3* normal) {
  const V3 c = ball.At(s);
  const float t = HitSphere(ray, c, ball.radius);
  if (t < kMiss) *normal = (ray.o + t * ray.d - c) / ball.radius;
  return t;
}

float HitMoving(const Ray& ray, const MovingPin& pin, float s, V3* normal, float* height) {
  const Surface hit = HitPin(ray, Mix(pin.base0, pin.base1, s), Mix(pin.axis0, pin.axis1, s).normalized(), height);
  *normal = hit.n;
  return hit.t;
}

float HitMoving(const Ray& ray, const MovingBox& box, float s, V3* normal) {
  const Surface hit = HitBox(ray, Mix(box.low0, box.low1, s), Mix(box.high0, box.high1, s));
  *normal = hit.n;
  return hit.t;
}

Scene::Scene(const Scenario& scenario) : scenario_(scenario), hall_(scenario), camera_(scenario) {
  const double width = lane::MetresFromInches(scenario.lanes.width_in),
               gutter = lane::MetresFromInches(scenario.lanes.gutter_depth_in);
  shots_of_lane_.resize(hall_.centres().size());
  for (const ShotSpec& s : scenario_.shots) runs_.emplace_back(s, width, gutter);
  for (std::size_t i = 0; i < runs_.size(); ++i) {
    const int lane = hall_.own_lane() + runs_[i].spec().lane;
    shots_of_lane_[static_cast<std::size_t>(lane)].push_back(i);
    ball_looks_.push_back(LookOf(runs_[i].spec().ball, static_cast<std::uint32_t>(scenario.seed + 31)));
    looks_.push_back(LooksOf(runs_[i].spec().bowler));
  }
  for (std::size_t l = 0; l < shots_of_lane_.size(); ++l) {
    auto& shots = shots_of_lane_[l];
    if (!shots.empty()) hall_.SetPinsLeftOut(static_cast<int>(l));
    std::sort(shots.begin(), shots.end(),
              [&](std::size_t a, std::size_t b) { return runs_[a].release_s() < runs_[b].release_s(); });
  }
  bowlers_.resize(runs_.size());
  for (const auto& shots : shots_of_lane_) {
    for (std::size_t k = 0; k < shots.size(); ++k) {
      const ShotRun& run = runs_[shots[k]];
      if (!run.spec().bowler_shown) continue;
      const auto between = [&](std::size_t a, std::size_t b) {
        return 0.55 * runs_[a].release_s() + 0.45 * runs_[b].release_s();
      };
      const double from = k > 0 ? between(shots[k - 1], shots[k]) : -std::numeric_limits<double>::infinity();
      const double until =
          k + 1 < shots.size() ? between(shots[k], shots[k + 1]) : std::numeric_limits<double>::infinity();
      bowlers_[shots[k]] = std::make_unique<Bowler>(run, LaneX(run.spec().lane), from, until);
    }
  }
  for (const PersonSpec& p : scenario_.people) looks_.push_back(LooksOf(p.figure));
}

double Scene::LaneX(int lane) const {
  const int index = hall_.own_lane() + lane;
  return lane::MetresFromInches(scenario_.lanes.centres_in[static_cast<std::size_t>(index)]);
}

void Scene::AddFigure(const BodyPose& p0, const BodyPose& p1, const FigureSpec& figure, std::size_t looks,
                      Moving& out) const {
  const auto parts0 = PartsOf(p0, figure), parts1 = PartsOf(p1, figure);
  for (std::size_t i = 0; i < parts0.size(); ++i) {
    const BodyPart &a = parts0[i], &b = parts1[i];
    MovingCone c{a.a,
                 a.b,
                 b.a,
                 b.b,
                 a.ra,
                 a.rb,
                 &looks_[looks][static_cast<std::size_t>(a.garment)],
                 V3(static_cast<float>(p0.pelvis.x()), static_cast<float>(p0.pelvis.y()), 0),
                 static_cast<float>(std::cos(p0.facing))};
    c.middle = 0.25f * (a.a + a.b + b.a + b.b);
    for (const V3& end : {a.a, a.b, b.a, b.b})
      c.reach2 = std::max(c.reach2, (end - c.middle).norm() + std::max(a.ra, a.rb));
    c.reach2 = c.reach2 * c.reach2 * 1.02f + 3e-4f;
    out.cones.push_back(c);
  }
}

std::array<PinPose, 10> Scene::DeckAt(const std::vector<std::size_t>& shots, double time_s, double* bar_y,
                                      double* bar_z) const {
  *bar_z = -1;
  const double front = lane::MetresFromFeet(scenario_.hall.masking_y_ft) + 0.08,
               up = lane::MetresFromInches(scenario_.hall.masking_bottom_in) + 0.05;
  *bar_y = front;
  std::size_t k = 0;
  // The machine's cycle: bar down, standing pins up, sweep, bar back, pins down, bar up.
  constexpr double kCycle = 4.2;
  while (k + 1 < shots.size() && time_s >= runs_[shots[k]].sweep_s() + kCycle) ++k;
  const ShotRun& run = runs_[shots[k]];
  const double t = time_s - run.sweep_s();
  std::array<PinPose, 10> poses = run.PinsAt(time_s);
  if (t < 0) return poses;
  *bar_z = up - (up - 0.015) * (Ramp(0, 0.4, t) - Ramp(3.7, kCycle, t));
  *bar_y = front + (lane::MetresFromFeet(62.9) - front) * (Ramp(1.3, 2.0, t) - Ramp(2.1, 2.7, t));
  const std::vector<int> after = run.pins_after();
  std::vector<int> next = after;
  if (k + 1 < shots.size()) next = runs_[shots[k + 1]].spec().pins_before;
  if (k + 1 >= shots.size() && after.empty()) next = {1, 2, 3, 4, 5, 6, 7, 8, 9, 10};
  const auto spots = lane::PinSpots();
  for (std::size_t i = 0; i < 10; ++i) {
    const bool stood = std::find(after.begin(), after.end(), static_cast<int>(i) + 1) != after.end();
    if (t < 2.6) {
      if (stood)
        poses[i].base.z() = 0.85 * Ramp(0.5, 1.2, t);
      else if (t > 1.3 && poses[i].base.y() < *bar_y + 0.25)
        poses[i].shown = false;
      if (t > 1.9 && !stood) poses[i].shown = false;
    } else {
      poses[i].shown = std::find(next.begin(), next.end(), static_cast<int>(i) + 1) != next.end();
      poses[i].base = {spots[i].x, spots[i].y, 0.85 * (1 - Ramp(2.7, 3.6, t))};
      poses[i].axis = Eigen::Vector3d::UnitZ();
    }
  }
  return poses;
}

void Scene::AddDeck(int lane_index, double from_s, double to_s, Moving& out) const {
  const auto& shots = shots_of_lane_[static_cast<std::size_t>(lane_index)];
  if (shots.empty()) return;
  double y0, z0, y1, z1;
  const auto p0 = DeckAt(shots, from_s, &y0, &z0), p1 = DeckAt(shots, to_s, &y1, &z1);
  const V3 shift(hall_.centres()[static_cast<std::size_t>(lane_index)], 0, 0);
  for (std::size_t i = 0; i < 10; ++i) {
    if (!p0[i].shown || !p1[i].shown) continue;
    out.pins.push_back({Point(p0[i].base) + shift, Point(p1[i].base) + shift, Point(p0[i].axis), Point(p1[i].axis),
                        lane_index, static_cast<int>(i) + 1});
  }
  if (z0 >= 0 && z1 >= 0) {
    const float half = hall_.lane_half_width() + 0.22f;
    const auto low = [&](double y, double z) {
      return V3(shift.x() - half, static_cast<float>(y), static_cast<float>(z));
    };
    const V3 size(2 * half, 0.05f, 0.13f);
    out.boxes.push_back({low(y0, z0), low(y0, z0) + size, low(y1, z1), low(y1, z1) + size, V3(0.05f, 0.05f, 0.055f)});
  }
}

Moving Scene::At(double from_s, double to_s) const {
  Moving m;
  const double middle = 0.5 * (from_s + to_s);
  for (std::size_t i = 0; i < runs_.size(); ++i) {
    const ShotRun& run = runs_[i];
    const Bowler* bowler = bowlers_[i].get();
    const bool shown = bowler != nullptr && bowler->ShownAt(middle);
    const V3 shift(static_cast<float>(LaneX(run.spec().lane)), 0, 0);
    if (shown) AddFigure(bowler->PoseAt(from_s), bowler->PoseAt(to_s), run.spec().bowler, i, m);
    const bool flying = middle >= run.release_s();
    if ((flying && middle < run.end_s() && run.At(middle).motion.p.z() > -0.5) || (!flying && shown)) {
      MovingBall ball;
      ball.radius = static_cast<float>(run.radius());
      ball.look = &ball_looks_[i];
      ball.shot = static_cast<int>(i);
      for (int k = 0; k < MovingBall::kTimes; ++k) {
        const double t = from_s + (to_s - from_s) * k / (MovingBall::kTimes - 1);
        const BallMoment moment = run.At(std::max(t, run.release_s()));
        const bool held = t < run.release_s() && bowler != nullptr;
        ball.centre[k] = held ? Point(bowler->BallAt(t)) : V3(Point(moment.motion.p) + shift);
        ball.turn[k] = moment.motion.turn.cast<float>();
      }
      m.balls.push_back(ball);
    }
  }
  for (std::size_t i = 0; i < scenario_.people.size(); ++i) {
    const PersonSpec& p = scenario_.people[i];
    if (p.way.size() > 1) AddFigure(PoseOf(p, from_s), PoseOf(p, to_s), p.figure, runs_.size() + i, m);
  }
  for (std::size_t l = 0; l < shots_of_lane_.size(); ++l) AddDeck(static_cast<int>(l), from_s, to_s, m);
  return m;
}

bool Scene::InPicture(const V3& p, double time_s) const {
  const CameraModel& c = camera_.still();
  const Eigen::Vector3d q = camera_.TurnAt(time_s) * camera_.rotation() * (p.cast<double>() - c.position_in_lane);
  if (q.z() <= 0.01) return false;
  const Eigen::Vector2d px = camera::ImageFromNormalised(c, {q.x() / q.z(), q.y() / q.z()});
  return px.x() > -0.5 && px.y() > -0.5 && px.x() < c.width - 0.5 && px.y() < c.height - 0.5;
}

bool Scene::Blocked(const Ray& ray, float distance, const Moving& m, int own_ball, int own_lane, int own_pin) const {
  V3 n;
  float height;
  const float limit = distance - 0.003f;
  if (hall_.Trace(ray, 1e-3f).t < limit) return true;
  for (const MovingCone& c : m.cones)
    if (HitMoving(ray, c, 0.5f, &n) < limit) return true;
  for (const MovingBall& b : m.balls)
    if (b.shot != own_ball && HitMoving(ray, b, 0.5f, &n) < limit) return true;
  for (const MovingPin& p : m.pins)
    if (!(p.lane == own_lane && p.number == own_pin) && HitMoving(ray, p, 0.5f, &n, &height) < limit) return true;
  for (const MovingBox& b : m.boxes)
    if (HitMoving(ray, b, 0.5f, &n) < limit) return true;
  return false;
}

double Scene::BallVisible(std::size_t shot, double time_s) const {
  const Moving m = At(time_s, time_s);
  const V3 eye = Point(camera_.still().position_in_lane);
  const ShotRun& run = runs_[shot];
  const V3 centre = Point(run.At(time_s).motion.p) + V3(static_cast<float>(LaneX(run.spec().lane)), 0, 0);
  const float radius = static_cast<float>(run.radius());
  const V3 to = centre - eye, u = to.normalized(), a = u.unitOrthogonal(), b = u.cross(a);
  int seen = 0;
  constexpr int kPoints = 97;
  for (int i = 0; i < kPoints; ++i) {
    // A sunflower of even density over the disc.
    const float r = 0.985f * radius * std::sqrt((static_cast<float>(i) + 0.5f) / kPoints),
                angle = 2.3999632f * static_cast<float>(i);
    const V3 p = centre + r * (std::cos(angle) * a + std::sin(angle) * b);
    const Ray ray{eye, (p - eye).normalized()};
    const float hit = HitSphere(ray, centre, radius);
    if (hit < kMiss && InPicture(p, time_s) && !Blocked(ray, hit, m, static_cast<int>(shot), -1, -1)) ++seen;
  }
  return static_cast<double>(seen) / kPoints;
}

double Scene::PinVisible(std::size_t shot, int pin, double time_s) const {
  const Moving m = At(time_s, time_s);
  const V3 eye = Point(camera_.still().position_in_lane);
  const int lane_index = hall_.own_lane() + runs_[shot].spec().lane;
  const lane::Point2 spot = lane::PinSpots()[static_cast<std::size_t>(pin - 1)];
  const V3 base(hall_.centres()[static_cast<std::size_t>(lane_index)] + static_cast<float>(spot.x),
                static_cast<float>(spot.y), 0);
  V3 across = (base - eye).cross(V3::UnitZ()).normalized();
  int seen = 0, all = 0;
  for (int i = 0; i < 15; ++i) {
    for (int k = -2; k <= 2; ++k) {
      const float z = 0.381f * (static_cast<float>(i) + 0.5f) / 15;
      const V3 p = base + V3(0, 0, z) + across * (static_cast<float>(k) * 0.4f * static_cast<float>(PinRadius(z)));
      const Ray ray{eye, (p - eye).normalized()};
      float height;
      const float hit = HitPin(ray, base, V3::UnitZ(), &height).t;
      if (hit == kMiss) continue;
      ++all;
      if (InPicture(p, time_s) && !Blocked(ray, hit, m, -1, lane_index, pin)) ++seen;
    }
  }
  return all > 0 ? static_cast<double>(seen) / all : 0;
}

}  // namespace hookline::synth
