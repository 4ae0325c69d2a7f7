#include "synth/hall.h"

#include <algorithm>
#include <cmath>

#include "lane/lane_spec.h"

namespace hookline::synth {
namespace {

constexpr float kFoot = 0.3048f, kInch = 0.0254f;
constexpr float kDeckEnd = 62.85f * kFoot, kPitEnd = 66.0f * kFoot, kApproachEnd = -16.5f * kFoot,
                kRoomBack = -60.0f * kFoot;

}  // namespace

std::array<PartLook, static_cast<std::size_t>(Garment::kCount)> LooksOf(const FigureSpec& f) {
  const auto plain = [](const std::string& c, float gloss) {
    PartLook look;
    look.colour = look.colour_2 = LinearFromColour(c.c_str());
    look.gloss = gloss;
    return look;
  };
  std::array<PartLook, static_cast<std::size_t>(Garment::kCount)> looks = {
      plain(f.shirt, 0), plain(f.trousers, 0), plain(f.skin, 0.1f), plain(f.hair, 0.1f), plain(f.shoes, 0.2f)};
  looks[0].style = f.shirt_style == "hoops" ? 1 : f.shirt_style == "halves" ? 2 : 0;
  looks[0].colour_2 = looks[0].style == 1 ? V3(V3::Constant(0.75f)) : V3(0.3f * looks[0].colour);
  return looks;
}

V3 ColourOf(const PartLook& look, const V3& p_from_foot, float side) {
  if (look.style == 1) return std::fmod(p_from_foot.z() + 10, 0.16f) < 0.06f ? look.colour_2 : look.colour;
  if (look.style == 2) return side > 0 ? look.colour : look.colour_2;
  return look.colour;
}

Hall::Hall(const Scenario& s) : spec_(s.hall), seed_(static_cast<std::uint32_t>(s.seed * 2654435761u + 17)) {
  const LanesSpec& l = s.lanes;
  for (double c : l.centres_in) {
    if (c == 0) own_ = static_cast<int>(centres_.size());
    centres_.push_back(static_cast<float>(c) * kInch);
  }
  pins_left_out_.assign(centres_.size(), false);
  half_ = static_cast<float>(l.width_in) * kInch / 2;
  gutter_ = static_cast<float>(lane::kGutterWidth);
  gutter_depth_ = static_cast<float>(l.gutter_depth_in) * kInch;
  trough_radius_ = (gutter_ * gutter_ / 4 + gutter_depth_ * gutter_depth_) / (2 * gutter_depth_);
  cap_ = static_cast<float>(l.cap_height_in) * kInch;
  left_ = static_cast<float>(spec_.left_wall_in) * kInch;
  right_ = static_cast<float>(spec_.right_wall_in) * kInch;
  ceiling_ = static_cast<float>(spec_.ceiling_ft) * kFoot;
  masking_y_ = static_cast<float>(spec_.masking_y_ft) * kFoot;
  masking_low_ = static_cast<float>(spec_.masking_bottom_in) * kInch;
  masking_high_ = static_cast<float>(spec_.masking_top_in) * kInch;
  foul_half_ = static_cast<float>(l.foul_line_in) * kInch / 2;
  gloss_ = static_cast<float>(l.gloss);
  approach_gloss_ = static_cast<float>(l.approach_gloss);
  roughness_ = static_cast<float>(l.roughness);
  const auto colour = [](const std::string& c) { return LinearFromColour(c.c_str()); };
  lane_wood_ = {
      colour(l.lane_colour),       colour(l.lane_colour_2), 2 * half_ / 39, 2.6f, static_cast<float>(l.board_contrast),
      static_cast<float>(l.grain), Hash(seed_ + 1)};
  approach_wood_ = {colour(l.approach_colour),
                    colour(l.approach_colour_2),
                    2 * half_ / 39,
                    1.7f,
                    static_cast<float>(l.board_contrast),
                    static_cast<float>(l.grain),
                    Hash(seed_ + 2)};
  marks_ = MarksOf(l);
  mark_colour_ = colour(l.mark_colour);
  foul_colour_ = colour(l.foul_line_colour);
  gutter_colour_ = colour(l.gutter_colour);
  cap_colour_ = colour(l.cap_colour);
  wall_ = colour(spec_.wall_colour);
  wall_2_ = colour(spec_.wall_colour_2);
  ceiling_colour_ = colour(spec_.ceiling_colour);
  deck_side_ = colour(spec_.deck_side_colour);
  pit_ = colour(spec_.pit_colour);
  band_ = colour(spec_.pin_band_colour);
  for (std::size_t i = 0; i < 3; ++i) masking_[i] = colour(spec_.masking_colours[i]);
  lamp_colour_ = colour(spec_.lamp_colour);
  pin_light_ = static_cast<float>(spec_.pin_light);
  ambient_ = static_cast<float>(spec_.ambient) * Mix(lamp_colour_, V3::Ones(), 0.5f);
  PlaceLamps(s);
  PlaceThings(s);
}

void Hall::PlaceLamps(const Scenario&) {
  const float first = static_cast<float>(spec_.lamp_first_ft) * kFoot,
              last = static_cast<float>(spec_.lamp_last_ft) * kFoot;
  const int rows = spec_.lamp_rows, columns = spec_.lamp_columns;
  const auto add = [&](float x, float y, float hx, float hy, bool round) {
    const float share = y < 0 ? 1.0f : static_cast<float>(spec_.lane_lamp_share);
    lamps_.push_back(
        {x, y, hx, hy, round, lamp_colour_ * (0.6f + 2.6f * std::sqrt(share)) * static_cast<float>(spec_.lamp_light)});
    const float area = round ? 3.14f * hx * hx : 4 * hx * hy;
    lights_.push_back({V3(x, y, ceiling_ - 0.05f), lamp_colour_ * (share * area), 0.5f * (hx + hy)});
  };
  for (int r = 0; r < rows; ++r) {
    const float y = rows > 1 ? first + (last - first) * static_cast<float>(r) / static_cast<float>(rows - 1) : first;
    if (spec_.lamp_style == "coves") {
      const float length = (last - first) / static_cast<float>(rows) / 2;
      add(left_ + 0.12f, y, 0.10f, length * 0.97f, false);
      add(right_ - 0.12f, y, 0.10f, length * 0.97f, false);
      continue;
    }
    for (int c = 0; c < columns; ++c) {
      const float x = left_ + (right_ - left_) * (static_cast<float>(c) + 0.5f) / static_cast<float>(columns);
      if (spec_.lamp_style == "panels") add(x, y, 0.30f, 0.30f, false);
      if (spec_.lamp_style == "tubes_along") add(x, y, 0.07f, 0.75f, false);
      if (spec_.lamp_style == "tubes_across") add(x, y, 0.80f, 0.06f, false);
      if (spec_.lamp_style == "discs") add(x, y, 0.16f, 0.16f, true);
    }
  }
  // A handful of lights is enough for soft shading: merge neighbours of a row.
  while (lights_.size() > 10) {
    std::vector<Light> merged;
    for (std::size_t i = 0; i + 1 < lights_.size(); i += 2)
      merged.push_back({V3(0.5f * (lights_[i].at + lights_[i + 1].at)), V3(lights_[i].light + lights_[i + 1].light),
                        lights_[i].radius + 0.5f * (lights_[i].at - lights_[i + 1].at).norm()});
    if (lights_.size() % 2 == 1) merged.push_back(lights_.back());
    lights_.swap(merged);
  }
  // Scaled so that the approach, open to all lamps and the ambient light, gets `lamp_light`.
  const V3 ambient = ambient_;
  ambient_.setZero();
  const float pin = pin_light_;
  pin_light_ = 0;
  const float raw = LightOn(V3(0, -2, 0), V3::UnitZ()).mean();
  pin_light_ = pin;
  light_scale_ = std::max(0.05f, static_cast<float>(spec_.lamp_light) - ambient.mean()) / std::max(1e-6f, raw);
  for (Light& light : lights_) light.light *= light_scale_;
  ambient_ = ambient;
  // The lamps that throw a shadow at the foul line.
  key_ = lights_;
  const auto strength = [](const Light& light) {
    const V3 d = light.at - V3(0, 1.5f, 0);
    return light.light.sum() * d.z() * d.z() / (d.squaredNorm() * d.squaredNorm());
  };
  std::sort(key_.begin(), key_.end(), [&](const Light& a, const Light& b) { return strength(a) > strength(b); });
  if (key_.size() > 2) key_.erase(key_.begin() + 2, key_.end());
}

void Hall::Group::Close() {
  V3 low = V3::Constant(1e9f), high = V3::Constant(-1e9f);
  for (const Solid& s : solids) {
    const V3 pad_a = V3::Constant(s.ra), pad_b = V3::Constant(s.kind == Solid::Kind::kBall ? s.ra : s.rb);
    low = low.cwiseMin(s.a - pad_a).cwiseMin(s.kind == Solid::Kind::kBall ? V3(s.a - pad_a) : V3(s.b - pad_b));
    high = high.cwiseMax(s.a + pad_a).cwiseMax(s.kind == Solid::Kind::kBall ? V3(s.a + pad_a) : V3(s.b + pad_b));
    if (s.kind == Solid::Kind::kCone && casters.size() < 40) {
      casters.push_back({s.a, s.ra});
      casters.push_back({s.b, s.rb});
    }
  }
  centre = 0.5f * (low + high);
  radius = 0.5f * (high - low).norm();
}

void Hall::PlaceThings(const Scenario& s) {
  const auto solid = [](Solid::Kind kind, const V3& a, const V3& b, float ra, float rb, const V3& colour) {
    Solid out;
    out.kind = kind;
    out.a = a;
    out.b = b;
    out.ra = ra;
    out.rb = rb;
    out.look.colour = out.look.colour_2 = colour;
    return out;
  };
  if (spec_.ball_return) {
    // A low hood at the end, a tray of two rails and a foot; the balls lie in two rows.
    Group g;
    const float x = static_cast<float>(spec_.ball_return_x_in) * kInch,
                y = static_cast<float>(spec_.ball_return_y_ft) * kFoot;
    const V3 colour = LinearFromColour(spec_.ball_return_colour.c_str()), dark = 0.35f * colour;
    g.solids.push_back(
        solid(Solid::Kind::kCone, V3(x, y + 1.0f, 0.30f), V3(x, y + 0.72f, 0.40f), 0.24f, 0.27f, colour));
    g.solids.push_back(solid(Solid::Kind::kCone, V3(x, y + 1.25f, 0.10f), V3(x, y + 0.7f, 0.12f), 0.20f, 0.26f, dark));
    g.solids.push_back(
        solid(Solid::Kind::kBox, V3(x - 0.22f, y - 0.55f, 0.02f), V3(x + 0.22f, y + 0.6f, 0.40f), 0, 0, dark));
    for (float side : {-1.0f, 1.0f})
      g.solids.push_back(solid(Solid::Kind::kCone, V3(x + side * 0.27f, y - 0.60f, 0.46f),
                               V3(x + side * 0.27f, y + 0.7f, 0.46f), 0.045f, 0.045f, colour));
    for (float k : {-0.5f, 0.0f, 0.5f}) g.casters.push_back({V3(x, y + k, 0.2f), 0.28f});
    for (Solid& part : g.solids) part.look.gloss = 0.35f;
    for (int i = 0; i < spec_.ball_return_balls; ++i) {
      const std::uint32_t h = Hash(static_cast<std::uint32_t>(i + 1), seed_ + 77);
      BallLook look;
      look.style = Unit(h) < 0.5f ? BallLook::Style::kSwirl : BallLook::Style::kPlain;
      for (std::size_t c = 0; c < 3; ++c)
        for (int k = 0; k < 3; ++k)
          look.colours[c][k] =
              std::pow(Unit(Hash(h + 31, static_cast<std::uint32_t>(c * 3 + static_cast<std::size_t>(k)))), 2.0f) *
                  0.7f +
              0.01f;
      look.seed = h;
      Solid ball =
          solid(Solid::Kind::kBall,
                V3(x + (i % 2 == 0 ? -0.115f : 0.115f), y - 0.42f + 0.2225f * static_cast<float>(i / 2), 0.51f),
                V3::Zero(), 0.1085f, 0, V3::Zero());
      ball.ball = static_cast<int>(ball_looks_.size());
      ball.look.gloss = 0.8f;
      ball_looks_.push_back(look);
      g.solids.push_back(ball);
    }
    g.Close();
    groups_.push_back(g);
  }
  if (spec_.monitors > 0) {
    Group g;
    for (int i = 0; i < spec_.monitors; ++i) {
      const float f = (static_cast<float>(i) + 0.5f) / static_cast<float>(spec_.monitors);
      const float x = left_ + (right_ - left_) * f, y = -0.6f, z = std::min(ceiling_ - 0.5f, 2.75f);
      Solid screen = solid(Solid::Kind::kBox, V3(x - 0.5f, y, z - 0.29f), V3(x + 0.5f, y + 0.08f, z + 0.29f), 0, 0,
                           V3::Constant(0.01f));
      const std::uint32_t h = Hash(static_cast<std::uint32_t>(i), seed_ + 5);
      screen.glow = V3(0.2f + 0.5f * Unit(h), 0.25f + 0.5f * Unit(Hash(h)), 0.4f + 0.5f * Unit(Hash(h + 1)));
      g.solids.push_back(screen);
    }
    g.Close();
    g.casters.clear();
    groups_.push_back(g);
  }
  for (const PersonSpec& person : s.people) {
    if (person.way.size() != 1) continue;
    Group g;
    const auto looks = LooksOf(person.figure);
    const BodyPose pose = PoseOf(person, 0);
    for (const BodyPart& part : PartsOf(pose, person.figure)) {
      Solid cone = solid(Solid::Kind::kCone, part.a, part.b, part.ra, part.rb, V3::Zero());
      cone.look = looks[static_cast<std::size_t>(part.garment)];
      cone.foot = V3(static_cast<float>(pose.pelvis.x()), static_cast<float>(pose.pelvis.y()), 0);
      cone.facing_x = std::cos(static_cast<float>(pose.facing));
      g.solids.push_back(cone);
    }
    g.Close();
    groups_.push_back(g);
  }
}

int Hall::LaneAt(float x) const {
  int best = 0;
  for (int i = 1; i < static_cast<int>(centres_.size()); ++i)
    if (std::abs(x - centres_[static_cast<std::size_t>(i)]) < std::abs(x - centres_[static_cast<std::size_t>(best)]))
      best = i;
  return best;
}

V3 Hall::LightOn(const V3& p, const V3& n) const {
  V3 sum = ambient_ * (0.62f + 0.38f * n.z());
  for (const Light& light : lights_) {
    const V3 d = light.at - p;
    const float cosine = d.dot(n);
    if (cosine <= 0 || d.z() <= 0) continue;
    const float d2 = d.squaredNorm() + light.radius * light.radius;
    sum += light.light * (cosine * d.z() / (d2 * d2));
  }
  // The pin deck has lamps of its own, hidden above the masking's lower edge.
  const float y0 = masking_y_ - 0.9f;
  if (p.y() > y0 && p.z() < masking_low_ + 0.05f) {
    const float facing = std::max(0.0f, -0.62f * n.y() + 0.78f * n.z());
    sum += V3::Constant(pin_light_ * SmoothStep(y0, masking_y_ + 0.1f, p.y()) * (0.25f + 0.75f * facing));
  }
  return sum;
}

float Hall::Unshaded(const V3& p, const Caster* casters, std::size_t count) const {
  float open = 1;
  for (std::size_t i = 0; i < count; ++i) {
    const V3 v = casters[i].centre - p;
    const float r = casters[i].radius, d2 = v.squaredNorm();
    if (d2 > 64 * r * r && v.z() > 6 * r) continue;
    const float d = std::sqrt(std::max(d2, r * r * 1.0001f));
    open *= 1 - 0.85f * std::max(0.0f, v.z() / d) * r * r / (d * d);
    for (const Light& light : key_) {
      const V3 to = light.at - p;
      const float distance = to.norm();
      const V3 u = to / distance;
      const float along = v.dot(u);
      if (along < 0 || along > distance) continue;
      const float off = (v - along * u).norm(), soft = along * light.radius / distance + 0.004f;
      if (off > r + soft) continue;
      const float depth = std::min(1.0f, r * r / (soft * soft));
      open *= 1 - 0.22f * depth * SmoothStep(r + soft, std::max(0.0f, r - soft), off);
    }
  }
  return open;
}

V3 Hall::PinColour(float height) const {
  // Two bands at the neck.
  const float h = height / kInch;
  if ((h > 9.2f && h < 9.75f) || (h > 10.35f && h < 10.9f)) return band_;
  return V3(0.78f, 0.77f, 0.73f);
}

void Hall::PaintFloor(const Ray& ray, float pixel_angle, int lane, Spot& spot) const {
  const float x = spot.p.x(), y = spot.p.y(), xr = x - centres_[static_cast<std::size_t>(lane)];
  const float blur = pixel_angle * spot.t;
  if (y < kApproachEnd) {
    spot.albedo = Mix(wall_2_, V3::Constant(0.1f), 0.5f) * (0.8f + 0.4f * Noise2(x * 6, y * 6, seed_));
    return;
  }
  if (std::abs(y) < foul_half_) {
    spot.albedo = foul_colour_;
    spot.ground = Ground::kApproach;
    spot.gloss = approach_gloss_;
    spot.roughness = roughness_ * 2;
    return;
  }
  const bool on_lane = y > 0;
  const bool in_range = std::abs(xr) < half_ + 0.4f;
  if (in_range && MarkAt(marks_, xr, y) && std::abs(xr) < half_)
    spot.albedo = mark_colour_;
  else
    spot.albedo =
        WoodAt(on_lane ? lane_wood_ : approach_wood_, on_lane ? xr + half_ + static_cast<float>(lane) * 7 : x, y, blur);
  // Pin spots are painted discs.
  if (y > 59.8f * kFoot && on_lane) {
    for (const lane::Point2& s : lane::PinSpots()) {
      const float dx = xr - static_cast<float>(s.x), dy = y - static_cast<float>(s.y);
      if (dx * dx + dy * dy < 0.0286f * 0.0286f) spot.albedo = 0.3f * mark_colour_;
    }
  }
  spot.ground = on_lane ? Ground::kLane : Ground::kApproach;
  spot.gloss = on_lane ? gloss_ : approach_gloss_;
  spot.roughness = on_lane ? roughness_ : roughness_ * 2;
  (void)ray;
}

void Hall::TraceFloor(const Ray& ray, float pixel_angle, Spot& spot) const {
  if (ray.d.z() >= -1e-5f || ray.o.z() <= 0) return;
  const float t0 = -ray.o.z() / ray.d.z();
  const float y0 = ray.o.y() + t0 * ray.d.y(), x0 = ray.o.x() + t0 * ray.d.x();
  if (y0 > kDeckEnd || x0 < left_ - 0.5f || x0 > right_ + 0.5f) return;  // the pit and the walls are met before
  spot.n = V3::UnitZ();
  int lane = LaneAt(x0);
  if (y0 <= foul_half_) {
    spot.t = t0;
    spot.p = V3(x0, y0, 0);
    PaintFloor(ray, pixel_angle, lane, spot);
    return;
  }
  // Division strips stand above the lanes: their top, or the side that looks at a gutter.
  const float th = (cap_ - ray.o.z()) / ray.d.z();
  const float xh = ray.o.x() + th * ray.d.x(), yh = ray.o.y() + th * ray.d.y();
  const int lane_h = LaneAt(xh);
  const float xr_h = xh - centres_[static_cast<std::size_t>(lane_h)];
  const auto strip = [&](float t, float x, float y, float z, const V3& n) {
    spot.t = t;
    spot.p = V3(x, y, z);
    spot.n = n;
    spot.albedo = cap_colour_ * (0.9f + 0.2f * Noise2(x * 12, y * 0.9f, seed_ + 3));
    spot.gloss = 0.12f;
    spot.roughness = 0.05f;
    spot.ground = Ground::kNone;
  };
  if (std::abs(xr_h) > half_ + gutter_ && yh > foul_half_) return strip(th, xh, yh, cap_, V3::UnitZ());
  const float xr = x0 - centres_[static_cast<std::size_t>(lane)];
  const float beyond = std::abs(xr) - half_;
  if (beyond > gutter_ && yh <= foul_half_) {
    const float t = (foul_half_ - ray.o.y()) / ray.d.y();  // the strip's end, towards the approach
    return strip(t, ray.o.x() + t * ray.d.x(), foul_half_, ray.o.z() + t * ray.d.z(), V3(0, -1, 0));
  }
  if (beyond > gutter_) {
    // Came in over the gutter: the strip's side.
    const float edge = centres_[static_cast<std::size_t>(lane_h)] +
                       std::copysign(half_ + gutter_, x0 - centres_[static_cast<std::size_t>(lane_h)]);
    const float t = std::abs(ray.d.x()) > 1e-7f ? (edge - ray.o.x()) / ray.d.x() : t0;
    return strip(t, edge, ray.o.y() + t * ray.d.y(), ray.o.z() + t * ray.d.z(), V3(ray.d.x() > 0 ? -1.0f : 1.0f, 0, 0));
  }
  if (beyond <= 0) {
    spot.t = t0;
    spot.p = V3(x0, y0, 0);
    PaintFloor(ray, pixel_angle, lane, spot);
    return;
  }
  // The trough: a cylinder along y.
  const float cx = centres_[static_cast<std::size_t>(lane)] + std::copysign(half_ + gutter_ / 2, xr),
              cz = trough_radius_ - gutter_depth_;
  const float ox = x0 - cx, oz = -cz;
  const float a = ray.d.x() * ray.d.x() + ray.d.z() * ray.d.z(), b = ox * ray.d.x() + oz * ray.d.z();
  const float c = ox * ox + oz * oz - trough_radius_ * trough_radius_;
  const float step = (-b + std::sqrt(std::max(0.0f, b * b - a * c))) / a;
  spot.t = t0 + step;
  spot.p = V3(x0 + step * ray.d.x(), y0 + step * ray.d.y(), step * ray.d.z());
  spot.n = V3(cx - spot.p.x(), 0, cz - spot.p.z()).normalized();
  const float deep = Clamp01(-spot.p.z() / gutter_depth_);
  spot.albedo =
      gutter_colour_ * (1 - 0.35f * deep) * (0.92f + 0.16f * Noise2(spot.p.x() * 20, spot.p.y() * 0.7f, seed_ + 9));
  spot.gloss = 0.10f;
  spot.roughness = 0.04f;
  spot.ground = Ground::kTrough;
}

void Hall::TraceDeck(const Ray& ray, float pixel_angle, Spot& spot) const {
  if (ray.d.y() <= 1e-5f) return;
  const float tm = (masking_y_ - ray.o.y()) / ray.d.y();
  if (tm <= 0 || tm > spot.t) return;
  const V3 pm = ray.o + tm * ray.d;
  if (pm.z() > masking_low_) {
    spot = Spot();
    spot.t = tm;
    spot.p = pm;
    spot.n = V3(0, -1, 0);
    if (pm.z() < masking_high_) {
      spot.albedo = MaskingAt(spec_, masking_, pm.x(), pm.z(), seed_ + 21);
      spot.glow = spot.albedo * 0.18f;  // lit from inside a little
      spot.gloss = 0.05f;
    } else {
      spot.albedo = 0.6f * ceiling_colour_ + 0.15f * wall_;
    }
    return;
  }
  // Kickbacks: between the outer gutter edges of neighbouring lanes.
  const int lane = LaneAt(pm.x());
  const float xr = pm.x() - centres_[static_cast<std::size_t>(lane)], bay = half_ + gutter_;
  if (std::abs(xr) > bay) {
    spot = Spot();
    spot.t = tm;
    spot.p = pm;
    spot.n = V3(0, -1, 0);
    spot.albedo = deck_side_;
    return;
  }
  const float edge = centres_[static_cast<std::size_t>(lane)] + std::copysign(bay, ray.d.x());
  const float ts = std::abs(ray.d.x()) > 1e-7f ? (edge - ray.o.x()) / ray.d.x() : kMiss;
  if (ts < spot.t && ts > tm) {
    spot = Spot();
    spot.t = ts;
    spot.p = ray.o + ts * ray.d;
    spot.n = V3(ray.d.x() > 0 ? -1.0f : 1.0f, 0, 0);
    spot.albedo = deck_side_;
  }
  const float tb = (kPitEnd - ray.o.y()) / ray.d.y();
  if (tb < spot.t) {
    spot = Spot();
    spot.t = tb;
    spot.p = ray.o + tb * ray.d;
    spot.n = V3(0, -1, 0);
    spot.albedo = pit_ * (0.7f + 0.6f * Noise1(spot.p.x() * 14, seed_ + 4));
  }
  // The bay's roof.
  if (ray.d.z() > 1e-6f) {
    const float tr = (masking_low_ + 0.08f - ray.o.z()) / ray.d.z();
    if (tr < spot.t) {
      spot = Spot();
      spot.t = tr;
      spot.p = ray.o + tr * ray.d;
      spot.n = V3(0, 0, -1);
      spot.albedo = V3::Constant(0.02f);
    }
  }
  if (pins_left_out_[static_cast<std::size_t>(lane)]) return;
  for (const lane::Point2& s : lane::PinSpots()) {
    float height = 0;
    const V3 base(centres_[static_cast<std::size_t>(lane)] + static_cast<float>(s.x), static_cast<float>(s.y), 0);
    const Surface hit = HitPin(ray, base, V3::UnitZ(), &height);
    if (hit.t >= spot.t) continue;
    spot = Spot();
    spot.t = hit.t;
    spot.p = ray.o + hit.t * ray.d;
    spot.n = hit.n;
    spot.albedo = PinColour(height);
    spot.gloss = 0.15f;
  }
  (void)pixel_angle;
}

void Hall::TraceRoom(const Ray& ray, float pixel_angle, Spot& spot) const {
  if (std::abs(ray.d.x()) > 1e-6f) {
    const float wall = ray.d.x() > 0 ? right_ : left_;
    const float t = (wall - ray.o.x()) / ray.d.x();
    if (t > 0 && t < spot.t) {
      spot = Spot();
      spot.t = t;
      spot.p = ray.o + t * ray.d;
      spot.n = V3(ray.d.x() > 0 ? -1.0f : 1.0f, 0, 0);
      spot.albedo = WallAt(spec_.wall_style, wall_, wall_2_, spot.p.y(), spot.p.z(), pixel_angle * t);
    }
  }
  if (ray.d.z() > 1e-6f) {
    const float t = (ceiling_ - ray.o.z()) / ray.d.z();
    if (t < spot.t) {
      spot = Spot();
      spot.t = t;
      spot.p = ray.o + t * ray.d;
      spot.n = V3(0, 0, -1);
      const float x = spot.p.x(), y = spot.p.y();
      spot.albedo = CeilingAt(spec_.ceiling_style, ceiling_colour_, x, y);
      for (const Lamp& lamp : lamps_) {
        const float dx = std::abs(x - lamp.x), dy = std::abs(y - lamp.y);
        if (dx > lamp.half_x || dy > lamp.half_y) continue;
        if (lamp.round && dx * dx + dy * dy > lamp.half_x * lamp.half_x) continue;
        spot.glow = lamp.glow;
        spot.albedo.setZero();
        break;
      }
    }
  }
  if (ray.d.y() < -1e-6f) {
    const float t = (kRoomBack - ray.o.y()) / ray.d.y();
    if (t < spot.t) {
      spot = Spot();
      spot.t = t;
      spot.p = ray.o + t * ray.d;
      spot.n = V3(0, 1, 0);
      spot.albedo = wall_;
    }
  }
}

Spot Hall::Trace(const Ray& ray, float pixel_angle) const {
  Spot spot;
  TraceFloor(ray, pixel_angle, spot);
  TraceRoom(ray, pixel_angle, spot);
  TraceDeck(ray, pixel_angle, spot);
  for (const Group& g : groups_) {
    const V3 oc = g.centre - ray.o;
    const float along = oc.dot(ray.d);
    if (along < -g.radius || (oc - along * ray.d).squaredNorm() > g.radius * g.radius) continue;
    for (const Solid& s : g.solids) {
      Surface hit;
      switch (s.kind) {
        case Solid::Kind::kCone:
          hit = HitRoundCone(ray, s.a, s.b, s.ra, s.rb);
          break;
        case Solid::Kind::kBox:
          hit = HitBox(ray, s.a, s.b);
          break;
        case Solid::Kind::kBall:
          hit.t = HitSphere(ray, s.a, s.ra);
          if (hit.t < kMiss) hit.n = (ray.o + hit.t * ray.d - s.a) / s.ra;
          break;
      }
      if (hit.t >= spot.t || hit.t <= 1e-4f) continue;
      spot = Spot();
      spot.t = hit.t;
      spot.p = ray.o + hit.t * ray.d;
      spot.n = hit.n;
      spot.albedo = s.ball >= 0 ? BallAt(ball_looks_[static_cast<std::size_t>(s.ball)], hit.n)
                                : ColourOf(s.look, spot.p - s.foot, (spot.p.x() - s.foot.x()) * s.facing_x);
      spot.gloss = s.look.gloss;
      spot.glow = s.glow;
      if (s.glow.x() > 0) {  // a screen shows a table of blocks
        const float u = (spot.p.x() - s.a.x()) / (s.b.x() - s.a.x()), v = (spot.p.z() - s.a.z()) / (s.b.z() - s.a.z());
        if (u < 0.04f || u > 0.96f || v < 0.07f || v > 0.93f || spot.n.y() > -0.5f)
          spot.glow.setZero();
        else
          spot.glow *= Unit(Hash(static_cast<std::uint32_t>(u * 11), static_cast<std::uint32_t>(v * 6) + seed_)) < 0.4f
                           ? 0.35f
                           : 1.0f;
      }
    }
    if (spot.ground != Ground::kNone && !g.casters.empty() && (spot.p - g.centre).head<2>().norm() < g.radius + 0.8f)
      spot.albedo *= Unshaded(spot.p, g.casters.data(), g.casters.size());
  }
  return spot;
}

V3 Hall::Radiance(const Ray& ray, float pixel_angle) const { return Sent(Trace(ray, pixel_angle)); }

}  // namespace hookline::synth
