#include "synth/render_impl.h"

#include <algorithm>
#include <cmath>
#include <opencv2/core/utility.hpp>
#include <opencv2/imgproc.hpp>

#include "camera/projection.h"

namespace hookline::synth {

Renderer::Impl::Impl(const Scene& s)
    : scene(s),
      hall(s.hall()),
      camera(s.camera().still()),
      video(s.scenario().video),
      width(camera.width),
      height(camera.height),
      film(video, static_cast<std::uint32_t>(s.scenario().seed)) {
  tiles_x = (width + kTile - 1) / kTile;
  tiles_y = (height + kTile - 1) / kTile;
  tiles.resize(TileAt(0, tiles_y));
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
      const int column = std::clamp(static_cast<int>(u), 0, width - 1),
                row = std::clamp(static_cast<int>(v), 0, height - 1);
      in_still = TurnAt(column, row).transpose() * in_still;
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

void Renderer::Impl::RenderTile(int tile) {
  const TileList& list = tiles[static_cast<std::size_t>(tile)];
  const int u0 = tile % tiles_x * kTile, v0 = tile / tiles_x * kTile;
  const int u1 = std::min(width, u0 + kTile), v1 = std::min(height, v0 + kTile);
  const bool direct = list.direct(), mirrored = list.mirrored();
  const TileView view = ViewOf(u0, v0);
  const int most = !list.balls.empty()                                ? 12
                   : list.pins.empty() && !list.mirrored_pins.empty() ? 16
                   : !list.pins.empty()                               ? 8
                   : direct || mirrored                               ? 4
                                                                      : 1;
  // Inside a large body, and well outside, two looks that agree are enough; a ball's and a pin's rims want them all.
  const bool may_stop = list.balls.empty() && list.pins.empty() && list.mirrored_balls.empty();
  std::vector<Caster> near;
  for (const std::uint16_t i : list.casters) near.push_back(casters[i]);
  const CameraPath& camera_path = scene.camera();
  const float span = static_cast<float>(to_s - from_s);
  // How much later the next column and the next row are read.
  const auto later = [&](double u, double v) {
    return static_cast<float>(camera_path.LineTime(0, camera_path.LineOf(u, v)) -
                              camera_path.LineTime(0, camera_path.LineOf(0, 0)));
  };
  const float column_s = later(1, 0), row_s = later(0, 1);
  for (int v = v0; v < v1; ++v) {
    auto* out = base_sharp.ptr<cv::Vec3f>(v);
    for (int u = u0; u < u1; ++u) {
      const float pixel_s = static_cast<float>(camera_path.LineTime(frame_s, camera_path.LineOf(u, v)) - from_s);
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
        const float time = pixel_s + du * column_s + dv * row_s + dt * static_cast<float>(video.shutter_s);
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
    auto* out = base_sharp.ptr<cv::Vec3f>(v);
    for (int u = 0; u < width; ++u) {
      float x, y;
      (*undistort)(static_cast<float>(u), static_cast<float>(v), &x, &y);
      const V3 q = TurnAt(u, v).transpose() * V3(x, y, 1);
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

void Renderer::Impl::Render(double time_s, std::uint32_t index, cv::Mat& bgr) {
  frame_s = time_s;
  const double half = 0.5 * (video.readout_s + video.shutter_s);
  from_s = time_s - half;
  to_s = time_s + half;
  moving = scene.At(from_s, to_s);
  const bool moves = scene.camera().moves();
  if (moves) {
    line_turn.clear();
    for (int line = 0; line < scene.camera().lines(); ++line)
      line_turn.push_back(scene.camera().TurnAt(scene.camera().LineTime(time_s, line)).cast<float>());
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
                near = near || changed[TileAt(x + dx, y + dy)] != 0;
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
  film.Develop(soft, index, bgr);
}

Renderer::Renderer(const Scene& scene) : impl_(std::make_unique<Impl>(scene)) {}
Renderer::~Renderer() = default;
void Renderer::Render(double time_s, std::uint32_t index, cv::Mat& bgr) { impl_->Render(time_s, index, bgr); }

}  // namespace hookline::synth
