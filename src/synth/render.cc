#include "synth/render.h"

#include <algorithm>
#include <cmath>
#include <opencv2/core/utility.hpp>
#include <opencv2/imgproc.hpp>
#include <random>

#include "camera/projection.h"
#include "synth/still_picture.h"

namespace hookline::synth {
namespace {

constexpr int kTile = 16;  // px
constexpr int kCodes = 8192;
constexpr float kBrightest = 16;  // of the tone table, in linear light

// What can touch a tile, by index into Moving.
struct TileList {
  std::vector<std::uint16_t> cones, balls, pins, boxes;                      // seen directly
  std::vector<std::uint16_t> mirrored_cones, mirrored_balls, mirrored_pins;  // in the floor's mirror
  std::vector<std::uint16_t> casters;
  bool direct() const { return !(cones.empty() && balls.empty() && pins.empty() && boxes.empty()); }
  bool mirrored() const { return !(mirrored_cones.empty() && mirrored_balls.empty() && mirrored_pins.empty()); }
  bool any() const { return direct() || mirrored() || !casters.empty(); }
  void clear() {
    for (auto* list : {&cones, &balls, &pins, &boxes, &mirrored_cones, &mirrored_balls, &mirrored_pins, &casters})
      list->clear();
  }
};

struct Box2 {
  float u0 = 1e9f, v0 = 1e9f, u1 = -1e9f, v1 = -1e9f;
  void Add(float u, float v, float r) {
    u0 = std::min(u0, u - r);
    u1 = std::max(u1, u + r);
    v0 = std::min(v0, v - r);
    v1 = std::max(v1, v + r);
  }
};

// Of a number that is not negative.
float Fraction(float x) { return x - static_cast<float>(static_cast<int>(x)); }

V3 Mirrored(const V3& p) { return {p.x(), p.y(), -p.z()}; }

}  // namespace

struct Renderer::Impl {
  explicit Impl(const Scene& s);
  void Render(double time_s, std::uint32_t index, cv::Mat& bgr);

  const Scene& scene;
  const Hall& hall;
  const CameraModel& camera;
  VideoSpec video;
  int width, height, tiles_x, tiles_y;
  V3 eye;
  Eigen::Matrix3f camera_from_lane;
  std::unique_ptr<Undistorter> undistort;
  StillPicture still;
  cv::Mat base;        // CV_32FC3 of the still camera, diffuse + mirrored, at light_scale
  cv::Mat base_sharp;  // the frame before the lens's blur
  cv::Mat base_soft;   // a frame without anything that moves, after the blur (still camera)
  cv::Mat soft;
  cv::Mat vignette;
  std::vector<TileList> tiles;
  std::vector<char> touched;  // drawn on by the frame before
  std::vector<std::uint32_t> content,
      content_before;  // of tiles that hold nothing but standing pins; 0: something moves
  std::vector<Caster> casters;
  std::vector<float> tone, spread, grain;

  // Of the frame in work.
  Moving moving;
  double frame_s = 0, from_s = 0, to_s = 0;
  std::vector<Eigen::Matrix3f> row_turn;  // R_j of every row, when the camera moves

  float largest_radius() const {
    const double m = still.margin + 2.0;
    const double a = std::max(camera.centre_u, camera.width - camera.centre_u) + m,
                 b = std::max(camera.centre_v, camera.height - camera.centre_v) + m;
    return static_cast<float>(std::hypot(a, b) / camera.focal_px);
  }
  bool Project(const V3& p, double time_s, float* u, float* v, float* z) const;
  void AddBall(Box2& box, const V3& centre, float radius, float pad_px) const;
  template <typename Fn>
  void ForTiles(const Box2& box, Fn&& fn);
  void MakeTiles();
  V3 SentByCone(const MovingCone& cone, const V3& p, const V3& n) const;
  V3 SentByBall(const MovingBall& ball, float s, const V3& p, const V3& n, const V3& d) const;
  V3 SentByPin(const V3& p, const V3& n, float height) const;
  // The nearest moving thing along a ray closer than `limit`; false when there is none.
  bool HitAny(const Ray& ray, float s, float limit, const std::vector<std::uint16_t>& cones,
              const std::vector<std::uint16_t>& balls, const std::vector<std::uint16_t>& pins,
              const std::vector<std::uint16_t>& boxes, V3* light, int* id) const;
  // What the still picture holds where a pixel coordinate of the frame looks.
  struct Look {
    Ray ray;
    float still_u, still_v, depth;
    Ground ground;
  };
  // Over a tile the lens and the camera's turn are so nearly linear (to 0.001 px) that the corners are enough.
  struct TileView {
    float still_u[4], still_v[4];
    V3 way[4];
  };
  TileView ViewOf(int u0, int v0) const;
  Look LookAt(const TileView& view, float across, float down) const;
  // Light of a moving thing in the floor's mirror at that place, already weighted by the mirror's strength.
  bool HitMirrored(const TileList& list, const Look& look, float s, std::uint32_t seed, V3* light) const;
  // Hash of a tile that holds nothing but pins at rest, so that it need not be drawn again; 0 for any other.
  std::uint32_t ContentOf(const TileList& list) const;
  void RenderTile(int tile);
  V3 LightAt(const std::vector<float>& light, float u, float v) const;
  void WarpRows(int from, int to);
  void Develop(std::uint32_t index, cv::Mat& bgr) const;
};

Renderer::Impl::Impl(const Scene& s)
    : scene(s),
      hall(s.hall()),
      camera(s.camera().still()),
      video(s.scenario().video),
      width(camera.width),
      height(camera.height) {
  tiles_x = (width + kTile - 1) / kTile;
  tiles_y = (height + kTile - 1) / kTile;
  tiles.resize(static_cast<std::size_t>(tiles_x * tiles_y));
  touched.assign(tiles.size(), 0);
  content.assign(tiles.size(), 0);
  content_before = content;
  eye = camera.position_in_lane.cast<float>();
  camera_from_lane = s.camera().rotation().cast<float>();

  const bool moves = s.camera().moves();
  int margin = 0;
  if (moves) {
    double largest = 0;
    for (double t = -0.05; t < s.scenario().duration_s + 0.05; t += 0.004) {
      const Eigen::Matrix3d turn = s.camera().TurnAt(t);
      for (const Eigen::Vector2d& corner : {Eigen::Vector2d(0, 0), Eigen::Vector2d(width, 0),
                                            Eigen::Vector2d(0, height), Eigen::Vector2d(width, height)}) {
        const Eigen::Vector2d n = camera::NormalisedFromImage(camera, corner);
        const Eigen::Vector3d q = turn.transpose() * Eigen::Vector3d(n.x(), n.y(), 1);
        largest =
            std::max(largest, (camera::ImageFromNormalised(camera, {q.x() / q.z(), q.y() / q.z()}) - corner).norm());
      }
    }
    margin = static_cast<int>(std::ceil(largest)) + 4;
  }
  still.margin = margin;
  undistort = std::make_unique<Undistorter>(camera, largest_radius());
  const bool large = static_cast<double>(width) * height > 2.5e6;
  const int scale = large ? 1 : 2, light_scale = moves && !large ? 2 : 1;
  still = CastStill(scene, *undistort, margin, scale, light_scale);

  base.create(still.height * light_scale, still.width * light_scale, CV_32FC3);
  const std::size_t values = still.diffuse.size();
  auto* sum = reinterpret_cast<float*>(base.data);
  for (std::size_t i = 0; i < values; ++i) sum[i] = still.diffuse[i] + still.mirror[i];
  // Read between cells: a little softer, but without steps from cell to cell as the camera turns.
  if (moves && light_scale == 2) cv::blur(base, base, cv::Size(2, 2), cv::Point(0, 0), cv::BORDER_REPLICATE);

  base_sharp.create(height, width, CV_32FC3);
  if (!moves) base.copyTo(base_sharp);
  base_soft.create(height, width, CV_32FC3);
  if (video.blur_px > 0.05)
    cv::GaussianBlur(base_sharp, base_soft, cv::Size(5, 5), video.blur_px, video.blur_px, cv::BORDER_REPLICATE);
  else
    base_sharp.copyTo(base_soft);
  base_soft.copyTo(soft);

  vignette.create(height, width, CV_32F);
  const float corner2 = 0.25f * static_cast<float>(width * width + height * height);
  for (int v = 0; v < height; ++v) {
    for (int u = 0; u < width; ++u) {
      const float x = static_cast<float>(u) - 0.5f * static_cast<float>(width),
                  y = static_cast<float>(v) - 0.5f * static_cast<float>(height);
      vignette.at<float>(v, u) =
          static_cast<float>(video.exposure) * (1 - static_cast<float>(video.vignette) * (x * x + y * y) / corner2);
    }
  }
  // Tone: a power curve around middle grey, then a soft shoulder. Noise: of light's counting and of the reading, in
  // code values.
  tone.resize(kCodes + 1);
  spread.resize(kCodes + 1);
  const auto curve = [&](double light) {
    double x = 0.18 * std::pow(light / 0.18, video.contrast);
    x = x < 0.5 ? x : 0.5 + (1 - std::exp(-(x - 0.5) / 0.55)) * 0.55;
    x = std::min(1.0, x);
    return 255 * (x <= 0.0031308 ? 12.92 * x : 1.055 * std::pow(x, 1 / 2.4) - 0.055);
  };
  for (int i = 0; i <= kCodes; ++i) {
    const double root = std::sqrt(static_cast<double>(kBrightest)) * i / kCodes, light = root * root;
    tone[static_cast<std::size_t>(i)] = static_cast<float>(curve(light));
    const double noise = video.noise * std::sqrt(0.0035 * 0.0035 + 0.00022 * light);
    spread[static_cast<std::size_t>(i)] =
        static_cast<float>(std::min(12.0, 0.5 * (curve(light + noise) - curve(std::max(0.0, light - noise)))));
  }
  std::mt19937 random(static_cast<std::uint32_t>(s.scenario().seed) + 99);
  grain.resize(1 << 20);
  for (std::size_t i = 0; i < grain.size(); i += 2) {
    const double a = std::sqrt(-2 * std::log((static_cast<double>(random()) + 1) / 4294967297.0)),
                 b = 6.283185307179586 * static_cast<double>(random()) / 4294967296.0;
    grain[i] = static_cast<float>(a * std::cos(b));
    grain[i + 1] = static_cast<float>(a * std::sin(b));
  }
}

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
    for (int x = x0; x <= x1; ++x) fn(tiles[static_cast<std::size_t>(y * tiles_x + x)]);
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
      s = static_cast<float>((scene.camera().RowTime(frame_s, static_cast<double>(v)) - from_s) / (to_s - from_s));
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
      TileList& t = tiles[static_cast<std::size_t>(y * tiles_x + x)];
      if (!t.mirrored()) continue;
      float nx, ny;
      (*undistort)(static_cast<float>(x * kTile + kTile / 2), static_cast<float>(y * kTile), &nx, &ny);
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

V3 Renderer::Impl::SentByCone(const MovingCone& cone, const V3& p, const V3& n) const {
  const V3 from_foot = p - cone.foot;
  return ColourOf(*cone.look, from_foot, from_foot.x() * cone.facing_x).cwiseProduct(hall.LightOn(p, n));
}

V3 Renderer::Impl::SentByBall(const MovingBall& ball, float s, const V3& p, const V3& n, const V3& d) const {
  const V3 in_ball = ball.TurnAt(s).conjugate() * n;
  const V3 c = ball.At(s);
  V3 light = BallAt(*ball.look, in_ball).cwiseProduct(hall.LightOn(p, n));
  // Near the floor the ball shades its own underside.
  const float low = Clamp01(1 - (c.z() - ball.radius) / 0.3f);
  light *= 1 - 0.55f * low * Clamp01(-n.z());
  const float cosine = -d.dot(n);
  if (ball.look->gloss > 0 && cosine > 0) {
    const float share = ball.look->gloss * Hall::Fresnel(cosine);
    const V3 r = d + 2 * cosine * n;
    const float dark = r.z() < 0 ? 1 - 0.7f * low * Clamp01(-r.z() * 3) : 1;
    light += share * dark * hall.Radiance(Ray{p + 1e-3f * n, r.normalized()}, 0.01f);
  }
  return light;
}

V3 Renderer::Impl::SentByPin(const V3& p, const V3& n, float height) const {
  return hall.PinColour(height).cwiseProduct(hall.LightOn(p, n));
}

bool Renderer::Impl::HitAny(const Ray& ray, float s, float limit, const std::vector<std::uint16_t>& cones,
                            const std::vector<std::uint16_t>& balls, const std::vector<std::uint16_t>& pins,
                            const std::vector<std::uint16_t>& boxes, V3* light, int* id) const {
  float best = limit, height = 0, best_height = 0;
  int kind = 0;
  std::size_t which = 0;
  V3 n, best_n = V3::UnitZ();
  const auto take = [&](float t, int k, std::size_t i) {
    if (t >= best || t <= 1e-3f) return;
    best = t;
    best_n = n;
    best_height = height;
    kind = k;
    which = i;
  };
  for (const std::uint16_t i : cones) {
    const MovingCone& c = moving.cones[i];
    const V3 oc = c.middle - ray.o;
    const float along = oc.dot(ray.d);
    if (oc.squaredNorm() - along * along < c.reach2) take(HitMoving(ray, c, s, &n), 1, i);
  }
  for (const std::uint16_t i : balls) take(HitMoving(ray, moving.balls[i], s, &n), 2, i);
  for (const std::uint16_t i : pins) take(HitMoving(ray, moving.pins[i], s, &n, &height), 3, i);
  for (const std::uint16_t i : boxes) take(HitMoving(ray, moving.boxes[i], s, &n), 4, i);
  if (kind == 0) return false;
  *id = static_cast<int>(which) * 4 + kind;
  const V3 p = ray.o + best * ray.d;
  if (kind == 1) *light = SentByCone(moving.cones[which], p, best_n);
  if (kind == 2) *light = SentByBall(moving.balls[which], s, p, best_n, ray.d);
  if (kind == 3) *light = SentByPin(p, best_n, best_height);
  if (kind == 4) *light = moving.boxes[which].colour.cwiseProduct(hall.LightOn(p, best_n));
  return true;
}

V3 Renderer::Impl::LightAt(const std::vector<float>& light, float u, float v) const {
  const int s = still.light_scale, w = still.width * s, h = still.height * s;
  const float x = (u + 0.5f + static_cast<float>(still.margin)) * static_cast<float>(s) - 0.5f;
  const float y = (v + 0.5f + static_cast<float>(still.margin)) * static_cast<float>(s) - 0.5f;
  const int i = std::clamp(static_cast<int>(x), 0, w - 2), j = std::clamp(static_cast<int>(y), 0, h - 2);
  const float f = Clamp01(x - static_cast<float>(i)), g = Clamp01(y - static_cast<float>(j));
  const float* a =
      light.data() + 3 * (static_cast<std::size_t>(j) * static_cast<std::size_t>(w) + static_cast<std::size_t>(i));
  const float* b = a + 3 * static_cast<std::size_t>(w);
  V3 out;
  for (int k = 0; k < 3; ++k) out[k] = (1 - g) * ((1 - f) * a[k] + f * a[k + 3]) + g * ((1 - f) * b[k] + f * b[k + 3]);
  return out;
}

Renderer::Impl::TileView Renderer::Impl::ViewOf(int u0, int v0) const {
  TileView view;
  for (int k = 0; k < 4; ++k) {
    const float u = static_cast<float>(u0 + (k & 1) * kTile) - 0.5f,
                v = static_cast<float>(v0 + (k >> 1) * kTile) - 0.5f;
    float x, y;
    (*undistort)(u, v, &x, &y);
    V3 in_still(x, y, 1);
    view.still_u[k] = u;
    view.still_v[k] = v;
    if (scene.camera().moves()) {
      const int row = std::clamp(static_cast<int>(v), 0, height - 1);
      in_still = row_turn[static_cast<std::size_t>(row)].transpose() * in_still;
      in_still /= in_still.z();
      const float r2 = in_still.head<2>().squaredNorm();
      const float g = 1 + r2 * (static_cast<float>(camera.k1) + static_cast<float>(camera.k2) * r2);
      view.still_u[k] = static_cast<float>(camera.focal_px) * in_still.x() * g + static_cast<float>(camera.centre_u);
      view.still_v[k] = static_cast<float>(camera.focal_px) * in_still.y() * g + static_cast<float>(camera.centre_v);
    }
    view.way[k] = camera_from_lane.transpose() * in_still;
  }
  return view;
}

Renderer::Impl::Look Renderer::Impl::LookAt(const TileView& view, float across, float down) const {
  Look look;
  const auto blend = [&](const auto& corner) {
    return (1 - down) * ((1 - across) * corner[0] + across * corner[1]) +
           down * ((1 - across) * corner[2] + across * corner[3]);
  };
  look.still_u = blend(view.still_u);
  look.still_v = blend(view.still_v);
  const std::size_t cell = still.CellAt(look.still_u, look.still_v);
  const V3 way = (1 - down) * ((1 - across) * view.way[0] + across * view.way[1]) +
                 down * ((1 - across) * view.way[2] + across * view.way[3]);
  look.ray = Ray{eye, way / way.norm()};
  look.depth = still.depth[cell];
  look.ground = static_cast<Ground>(still.ground[cell]);
  return look;
}

bool Renderer::Impl::HitMirrored(const TileList& list, const Look& look, float s, std::uint32_t seed, V3* light) const {
  const LanesSpec& lanes = scene.scenario().lanes;
  const bool on_lane = look.ground == Ground::kLane;
  const float gloss = static_cast<float>(on_lane                            ? lanes.gloss
                                         : look.ground == Ground::kApproach ? lanes.approach_gloss
                                                                            : 0.0);
  if (gloss <= 0) return false;
  const std::uint32_t a = Hash(seed), b = Hash(a), c = Hash(b), d = Hash(c);
  const float rough = 2.45f * static_cast<float>(lanes.roughness) * (on_lane ? 1.0f : 2.0f);
  const V3 n = V3(rough * (Unit(a) + Unit(b) - 1), rough * (Unit(c) + Unit(d) - 1), 1).normalized();
  const float cosine = -look.ray.d.dot(n);
  if (cosine <= 0) return false;
  const V3 r = (look.ray.d + 2 * cosine * n).normalized();
  const V3 p = look.ray.o + look.depth * look.ray.d;
  static const std::vector<std::uint16_t> none;
  int id;
  if (r.z() <= 0 || !HitAny(Ray{V3(p.x(), p.y(), 1e-4f), r}, s, 60, list.mirrored_cones, list.mirrored_balls,
                            list.mirrored_pins, none, light, &id))
    return false;
  *light *= gloss * Hall::Fresnel(cosine);
  return true;
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

void Renderer::Impl::RenderTile(int tile) {
  const TileList& list = tiles[static_cast<std::size_t>(tile)];
  const int u0 = tile % tiles_x * kTile, v0 = tile / tiles_x * kTile;
  const int u1 = std::min(width, u0 + kTile), v1 = std::min(height, v0 + kTile);
  const bool direct = list.direct(), mirrored = list.mirrored();
  const TileView view = ViewOf(u0, v0);
  const int most = !list.balls.empty() ? 12 : !list.pins.empty() ? 8 : direct || mirrored ? 4 : 1;
  // Inside a large body, and well outside, two looks that agree are enough; a ball's and a pin's rims want them all.
  const bool may_stop = list.balls.empty() && list.pins.empty() && list.mirrored_balls.empty();
  std::vector<Caster> near;
  for (const std::uint16_t i : list.casters) near.push_back(casters[i]);
  const float span = static_cast<float>(to_s - from_s), rows_s = static_cast<float>(video.readout_s / height);
  for (int v = v0; v < v1; ++v) {
    auto* out = base_sharp.ptr<cv::Vec3f>(v);
    const float row_s = static_cast<float>(scene.camera().RowTime(frame_s, v) - from_s);
    for (int u = u0; u < u1; ++u) {
      V3 moving_light = V3::Zero(), mirror_light = V3::Zero(), light;
      int covered = 0, mirror_hits = 0, samples = 0, id = 0, first_id = 0;
      float open = -1, still_u = static_cast<float>(u), still_v = static_cast<float>(v);
      const std::uint32_t pixel = Hash(static_cast<std::uint32_t>(u), static_cast<std::uint32_t>(v));
      const float shift_u = Unit(pixel), shift_v = Unit(Hash(pixel)), shift_t = Unit(Hash(pixel + 9));
      for (int k = 0; k < most; ++k) {
        if (k == 2 && may_stop && (covered == 0 ? mirror_hits != 1 : covered == 2 && id == first_id)) break;
        ++samples;
        // The plastic-number sequence fills the square evenly; time is split evenly among the samples.
        const float kf = static_cast<float>(k);
        const float du = Fraction(shift_u + kf * 0.7548777f) - 0.5f, dv = Fraction(shift_v + kf * 0.5698403f) - 0.5f;
        const float dt = Fraction(shift_t + kf * 0.6180340f) - 0.5f;
        const float time = row_s + dv * rows_s + dt * static_cast<float>(video.shutter_s);
        const float s = span > 0 ? Clamp01(time / span) : 0.5f;
        const Look look = LookAt(view, (static_cast<float>(u - u0) + 0.5f + du) / kTile,
                                 (static_cast<float>(v - v0) + 0.5f + dv) / kTile);
        if (k == 0) {
          still_u = look.still_u - du;
          still_v = look.still_v - dv;
        }
        if (direct &&
            HitAny(look.ray, s, look.depth - 1e-3f, list.cones, list.balls, list.pins, list.boxes, &light, &id)) {
          moving_light += light;
          if (covered++ == 0) first_id = id;
          continue;
        }
        if (look.ground == Ground::kNone) continue;
        // A shadow is soft: one look a pixel is enough.
        if (open < 0)
          open = near.empty() ? 1 : hall.Unshaded(look.ray.o + look.depth * look.ray.d, near.data(), near.size());
        if (mirrored && HitMirrored(list, look, s, pixel + static_cast<std::uint32_t>(k) * 977u, &light)) {
          mirror_light += light;
          ++mirror_hits;
        }
      }
      if (open < 0) open = 1;
      if (covered == 0 && mirror_hits == 0 && open > 0.9999f) continue;
      V3 total = moving_light;
      const float seen = static_cast<float>(samples - covered);
      if (seen > 0)
        total += seen * open * LightAt(still.diffuse, still_u, still_v) +
                 (seen - static_cast<float>(mirror_hits)) * LightAt(still.mirror, still_u, still_v) + mirror_light;
      total /= static_cast<float>(samples);
      out[u] = cv::Vec3f(total.x(), total.y(), total.z());
    }
  }
}

void Renderer::Impl::WarpRows(int from, int to) {
  const int s = still.light_scale, w = base.cols, h = base.rows;
  const float shift = s == 2 ? 1.0f : 0.5f;  // the prefilter moved the picture by half a cell
  for (int v = from; v < to; ++v) {
    const Eigen::Matrix3f still_from_frame = row_turn[static_cast<std::size_t>(v)].transpose();
    auto* out = base_sharp.ptr<cv::Vec3f>(v);
    for (int u = 0; u < width; ++u) {
      float x, y;
      (*undistort)(static_cast<float>(u), static_cast<float>(v), &x, &y);
      const V3 q = still_from_frame * V3(x, y, 1);
      const float a = q.x() / q.z(), b = q.y() / q.z(), r2 = a * a + b * b;
      const float g = 1 + r2 * (static_cast<float>(camera.k1) + static_cast<float>(camera.k2) * r2);
      const float su = static_cast<float>(camera.focal_px) * a * g + static_cast<float>(camera.centre_u);
      const float sv = static_cast<float>(camera.focal_px) * b * g + static_cast<float>(camera.centre_v);
      const float cx = (su + 0.5f + static_cast<float>(still.margin)) * static_cast<float>(s) - shift;
      const float cy = (sv + 0.5f + static_cast<float>(still.margin)) * static_cast<float>(s) - shift;
      const int i = std::clamp(static_cast<int>(cx), 0, w - 2), j = std::clamp(static_cast<int>(cy), 0, h - 2);
      const float f = Clamp01(cx - static_cast<float>(i)), e = Clamp01(cy - static_cast<float>(j));
      const auto* p = base.ptr<cv::Vec3f>(j) + i;
      const auto* r = base.ptr<cv::Vec3f>(j + 1) + i;
      for (int k = 0; k < 3; ++k)
        out[u][k] = (1 - e) * ((1 - f) * p[0][k] + f * p[1][k]) + e * ((1 - f) * r[0][k] + f * r[1][k]);
    }
  }
}

void Renderer::Impl::Develop(std::uint32_t index, cv::Mat& bgr) const {
  bgr.create(height, width, CV_8UC3);
  const float scale = kCodes / std::sqrt(kBrightest);
  const float red = 1 + 0.12f * static_cast<float>(video.warmth), blue = 1 - 0.16f * static_cast<float>(video.warmth);
  cv::parallel_for_(cv::Range(0, height), [&](const cv::Range& rows) {
    for (int v = rows.start; v < rows.end; ++v) {
      const auto* in = soft.ptr<cv::Vec3f>(v);
      const float* shade = vignette.ptr<float>(v);
      auto* out = bgr.ptr<cv::Vec3b>(v);
      std::size_t g = Hash(static_cast<std::uint32_t>(v), index + 1) & (grain.size() - 4);
      for (int u = 0; u < width; ++u) {
        const float light[3] = {in[u][2] * blue * shade[u], in[u][1] * shade[u], in[u][0] * red * shade[u]};
        const float* grains = grain.data() + g;
        const float common = 0.75f * grains[0];
        for (int k = 0; k < 3; ++k) {
          // Steps of the table are a sixth of a code value or less.
          const auto c = static_cast<std::size_t>(
              std::min(static_cast<float>(kCodes), std::sqrt(std::max(0.0f, light[k])) * scale));
          const float value = tone[c] + spread[c] * (common + 0.66f * grains[1 + k]);
          out[u][k] = static_cast<unsigned char>(std::clamp(value + 0.5f, 0.0f, 255.0f));
        }
        g = (g + 4) & (grain.size() - 1);
      }
    }
  });
}

void Renderer::Impl::Render(double time_s, std::uint32_t index, cv::Mat& bgr) {
  frame_s = time_s;
  const double half = 0.5 * (video.readout_s + video.shutter_s);
  from_s = time_s - half;
  to_s = time_s + half;
  moving = scene.At(from_s, to_s);
  const bool moves = scene.camera().moves();
  if (moves) {
    row_turn.resize(static_cast<std::size_t>(height));
    for (int v = 0; v < height; ++v)
      row_turn[static_cast<std::size_t>(v)] = scene.camera().TurnAt(scene.camera().RowTime(time_s, v)).cast<float>();
    cv::parallel_for_(cv::Range(0, height), [&](const cv::Range& rows) { WarpRows(rows.start, rows.end); });
  }
  MakeTiles();
  content.swap(content_before);
  std::vector<char> changed(tiles.size(), 0);
  std::vector<int> work;
  for (std::size_t i = 0; i < tiles.size(); ++i) {
    const bool now = tiles[i].any();
    content[i] = now && !moves ? ContentOf(tiles[i]) : 0;
    if (content[i] != 0 && content[i] == content_before[i]) continue;  // drawn already
    changed[i] = static_cast<char>(now || touched[i] != 0);
    const cv::Rect area(static_cast<int>(i) % tiles_x * kTile, static_cast<int>(i) / tiles_x * kTile, kTile, kTile);
    const cv::Rect inside = area & cv::Rect(0, 0, width, height);
    if (!moves && changed[i]) base(inside).copyTo(base_sharp(inside));
    if (now) work.push_back(static_cast<int>(i));
  }
  cv::parallel_for_(
      cv::Range(0, static_cast<int>(work.size())),
      [&](const cv::Range& range) {
        for (int i = range.start; i < range.end; ++i) RenderTile(work[static_cast<std::size_t>(i)]);
      },
      32);
  const bool blurred = video.blur_px > 0.05;
  if (moves) {
    if (blurred)
      cv::GaussianBlur(base_sharp, soft, cv::Size(5, 5), video.blur_px, video.blur_px, cv::BORDER_REPLICATE);
    else
      base_sharp.copyTo(soft);
  } else {
    // Only what changed, now or by the frame before, and the blur's reach around it.
    cv::parallel_for_(cv::Range(0, tiles_y), [&](const cv::Range& rows) {
      for (int y = rows.start; y < rows.end; ++y) {
        for (int x = 0; x < tiles_x; ++x) {
          bool near = false;
          for (int dy = -1; dy <= 1; ++dy)
            for (int dx = -1; dx <= 1; ++dx)
              if (x + dx >= 0 && x + dx < tiles_x && y + dy >= 0 && y + dy < tiles_y)
                near = near || changed[static_cast<std::size_t>((y + dy) * tiles_x + x + dx)] != 0;
          if (!near) continue;
          const cv::Rect area = cv::Rect(x * kTile, y * kTile, kTile, kTile) & cv::Rect(0, 0, width, height);
          cv::Mat target = soft(area);
          if (blurred)
            cv::GaussianBlur(base_sharp(area), target, cv::Size(5, 5), video.blur_px, video.blur_px,
                             cv::BORDER_REPLICATE);
          else
            base_sharp(area).copyTo(target);
        }
      }
    });
  }
  for (std::size_t i = 0; i < tiles.size(); ++i) touched[i] = static_cast<char>(tiles[i].any());
  Develop(index, bgr);
}

Renderer::Renderer(const Scene& scene) : impl_(std::make_unique<Impl>(scene)) {}
Renderer::~Renderer() = default;
void Renderer::Render(double time_s, std::uint32_t index, cv::Mat& bgr) { impl_->Render(time_s, index, bgr); }

}  // namespace hookline::synth
