// Which tiles of a frame a moving thing, its mirror image or its shadow can touch.

#include <algorithm>
#include <cmath>

#include "synth/render_impl.h"

namespace hookline::synth {

bool Renderer::Impl::Project(const V3& p, double time_s, float* u, float* v, float* z) const {
  V3 q = camera_from_lane * (p - eye);
  if (scene.camera().moves()) q = scene.camera().TurnAt(time_s).cast<float>() * q;
  *z = q.z();
  if (q.z() < 0.05f) return false;
  float a = q.x() / q.z(), b = q.y() / q.z();
  const float r2 = std::min(a * a + b * b, 1.5f),
              g = 1 + r2 * (static_cast<float>(camera.k1) + static_cast<float>(camera.k2) * r2);
  *u = static_cast<float>(camera.focal_px) * a * g + static_cast<float>(camera.centre_u);
  *v = static_cast<float>(camera.focal_px) * b * g + static_cast<float>(camera.centre_v);
  return true;
}

void Renderer::Impl::AddBall(Box2& box, const V3& centre, float radius, float pad_px) const {
  float u, v, z;
  for (double t : {from_s, to_s}) {
    if (!Project(centre, t, &u, &v, &z) || z < radius + 0.1f) {
      box.Add(0.5f * static_cast<float>(width), 0.5f * static_cast<float>(height), static_cast<float>(width + height));
      return;
    }
    box.Add(u, v, 1.15f * static_cast<float>(camera.focal_px) * radius / (z - radius) + 2 + pad_px);
    if (!scene.camera().moves()) return;
  }
}

template <typename Fn>
void Renderer::Impl::ForTiles(const Box2& box, Fn&& fn) {
  const int x0 = std::max(0, static_cast<int>(box.u0) / kTile),
            x1 = std::min(tiles_x - 1, static_cast<int>(box.u1) / kTile);
  const int y0 = std::max(0, static_cast<int>(box.v0) / kTile),
            y1 = std::min(tiles_y - 1, static_cast<int>(box.v1) / kTile);
  if (box.u1 < 0 || box.v1 < 0) return;
  for (int y = y0; y <= y1; ++y)
    for (int x = x0; x <= x1; ++x) fn(tiles[TileAt(x, y)]);
}

void Renderer::Impl::MakeTiles() {
  for (TileList& t : tiles) t.clear();
  casters.clear();
  const float eye_z = eye.z(), focal = static_cast<float>(camera.focal_px);
  const float rough = static_cast<float>(scene.scenario().lanes.roughness) * 2;  // the approach is duller than the lane
  // How far roughness may spread a mirror image of something at this height, px.
  const auto mirror_pad = [&](float z) { return 3 * focal * rough * std::max(0.0f, z) / eye_z; };
  const auto cast_shadow = [&](const V3& centre, float radius) {
    const auto index = static_cast<std::uint16_t>(casters.size());
    casters.push_back({centre, radius});
    const auto mark = [&](TileList& t) {
      if (t.casters.empty() || t.casters.back() != index) t.casters.push_back(index);
    };
    if (centre.z() < 3 * radius) {
      Box2 box;
      AddBall(box, V3(centre.x(), centre.y(), 0), 3.2f * radius, 0);
      ForTiles(box, mark);
    }
    for (const Hall::Light& light : hall.key_lights()) {
      const V3 u = light.at - centre;
      if (u.z() <= 0.2f) continue;
      const float along = centre.z() / u.z();
      if (along > 0.7f) continue;
      const float soft = along * light.radius;
      if (radius * radius < 0.2f * soft * soft) continue;  // too soft to see
      Box2 box;
      AddBall(box, V3(centre - along * u), (radius + soft) * u.norm() / u.z(), 0);
      ForTiles(box, mark);
    }
  };
  for (std::size_t i = 0; i < moving.cones.size(); ++i) {
    const MovingCone& c = moving.cones[i];
    const auto index = static_cast<std::uint16_t>(i);
    Box2 direct, mirror;
    for (const auto& [p, r] : {std::pair{c.a0, c.ra}, {c.b0, c.rb}, {c.a1, c.ra}, {c.b1, c.rb}}) {
      AddBall(direct, p, r, 0);
      AddBall(mirror, Mirrored(p), r, mirror_pad(p.z()));
    }
    ForTiles(direct, [&](TileList& t) { t.cones.push_back(index); });
    ForTiles(mirror, [&](TileList& t) { t.mirrored_cones.push_back(index); });
    const V3 a = 0.5f * (c.a0 + c.a1), b = 0.5f * (c.b0 + c.b1);
    cast_shadow(b, c.rb);
    const int between = std::min(3, static_cast<int>((a - b).norm() / (c.ra + c.rb)));
    for (int k = 0; k < between; ++k) {
      const float f = static_cast<float>(k) / static_cast<float>(between);
      cast_shadow(Mix(a, b, f), c.ra + f * (c.rb - c.ra));
    }
  }
  for (std::size_t i = 0; i < moving.balls.size(); ++i) {
    const MovingBall& ball = moving.balls[i];
    const auto index = static_cast<std::uint16_t>(i);
    Box2 direct, mirror;
    for (int k = 0; k < MovingBall::kTimes; k += 4) {
      AddBall(direct, ball.centre[k], ball.radius, 0);
      AddBall(mirror, Mirrored(ball.centre[k]), ball.radius, mirror_pad(ball.centre[k].z()));
    }
    ForTiles(direct, [&](TileList& t) { t.balls.push_back(index); });
    ForTiles(mirror, [&](TileList& t) { t.mirrored_balls.push_back(index); });
    // The shadow is where the ball was when its own rows were exposed.
    float u, v, z, s = 0.5f;
    if (to_s > from_s && Project(ball.At(0.5f), frame_s, &u, &v, &z))
      s = static_cast<float>((scene.camera().LineTime(frame_s, scene.camera().LineOf(u, v)) - from_s) /
                             (to_s - from_s));
    cast_shadow(ball.At(s), ball.radius);
  }
  for (std::size_t i = 0; i < moving.pins.size(); ++i) {
    const MovingPin& pin = moving.pins[i];
    const auto index = static_cast<std::uint16_t>(i);
    Box2 direct, mirror;
    for (const auto& [base, axis] : {std::pair{pin.base0, pin.axis0}, {pin.base1, pin.axis1}}) {
      for (float h : {0.05f, 0.115f, 0.25f, 0.345f}) {
        AddBall(direct, base + h * axis, 0.062f, 0);
        AddBall(mirror, Mirrored(V3(base + h * axis)), 0.062f, mirror_pad(h));
      }
    }
    ForTiles(direct, [&](TileList& t) { t.pins.push_back(index); });
    ForTiles(mirror, [&](TileList& t) { t.mirrored_pins.push_back(index); });
  }
  // Looked at steeply a floor mirrors too little to be seen.
  const float weakest = 0.012f;
  for (int y = 0; y < tiles_y; ++y) {
    for (int x = 0; x < tiles_x; ++x) {
      TileList& t = tiles[TileAt(x, y)];
      if (!t.mirrored()) continue;
      float nx, ny;
      (*undistort)((static_cast<float>(x) + 0.5f) * kTile, static_cast<float>(y * kTile), &nx, &ny);
      const float cosine = Clamp01(-(camera_from_lane.transpose() * V3(nx, ny, 1)).normalized().z());
      const LanesSpec& lanes = scene.scenario().lanes;
      if (static_cast<float>(std::max(lanes.gloss, lanes.approach_gloss)) * Hall::Fresnel(cosine) > weakest) continue;
      t.mirrored_cones.clear();
      t.mirrored_balls.clear();
      t.mirrored_pins.clear();
    }
  }
  for (std::size_t i = 0; i < moving.boxes.size(); ++i) {
    const MovingBox& b = moving.boxes[i];
    Box2 direct;
    for (const auto& [low, high] : {std::pair{b.low0, b.high0}, {b.low1, b.high1}})
      for (int k = 0; k < 8; ++k)
        AddBall(direct, V3(k & 1 ? low.x() : high.x(), k & 2 ? low.y() : high.y(), k & 4 ? low.z() : high.z()), 0.01f,
                0);
    ForTiles(direct, [&](TileList& t) { t.boxes.push_back(static_cast<std::uint16_t>(i)); });
  }
}

std::uint32_t Renderer::Impl::ContentOf(const TileList& t) const {
  if (!t.cones.empty() || !t.balls.empty() || !t.boxes.empty() || !t.mirrored_cones.empty() ||
      !t.mirrored_balls.empty() || !t.casters.empty())
    return 0;
  std::uint32_t h = 1;
  for (const auto* list : {&t.pins, &t.mirrored_pins}) {
    for (const std::uint16_t i : *list) {
      const MovingPin& p = moving.pins[i];
      if (p.base0 != p.base1 || p.axis0 != p.axis1) return 0;
      h = Hash(h, static_cast<std::uint32_t>(p.lane * 16 + p.number));
      for (const V3& v : {p.base0, p.axis0})
        for (int k = 0; k < 3; ++k) h = Hash(h, static_cast<std::uint32_t>(static_cast<std::int32_t>(v[k] * 1e6f)));
    }
    h = Hash(h + 17);
  }
  return h | 1;
}

}  // namespace hookline::synth
