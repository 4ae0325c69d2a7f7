// What the renderer keeps and does; for render.cc and render_tiles.cc only.
#pragma once

#include <memory>
#include <vector>

#include "synth/film.h"
#include "synth/render.h"
#include "synth/still_picture.h"

namespace hookline::synth {
inline constexpr int kTile = 16;  // px

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
inline float Fraction(float x) { return x - static_cast<float>(static_cast<int>(x)); }

inline V3 Mirrored(const V3& p) { return {p.x(), p.y(), -p.z()}; }

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
  Film film;
  std::vector<TileList> tiles;
  std::vector<char> touched;  // drawn on by the frame before
  std::vector<std::uint32_t> content,
      content_before;  // of tiles that hold nothing but standing pins; 0: something moves
  std::vector<Caster> casters;

  // Of the frame in work.
  Moving moving;
  double frame_s = 0, from_s = 0, to_s = 0;
  std::vector<Eigen::Matrix3f> line_turn;  // R_j of every line of the sensor, when the camera moves
  const Eigen::Matrix3f& TurnAt(int u, int v) const {
    return line_turn[static_cast<std::size_t>(scene.camera().LineOf(u, v))];
  }

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
  std::size_t TileAt(int x, int y) const {
    return static_cast<std::size_t>(y) * static_cast<std::size_t>(tiles_x) + static_cast<std::size_t>(x);
  }
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
};

}  // namespace hookline::synth
