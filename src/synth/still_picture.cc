#include "synth/still_picture.h"

#include <algorithm>
#include <cmath>
#include <opencv2/core/utility.hpp>

#include "camera/projection.h"

namespace hookline::synth {

Undistorter::Undistorter(const CameraModel& camera, double largest_radius)
    : focal_(static_cast<float>(camera.focal_px)),
      cu_(static_cast<float>(camera.centre_u)),
      cv_(static_cast<float>(camera.centre_v)) {
  constexpr int kSteps = 4096;
  step_ = static_cast<float>(largest_radius * largest_radius / (kSteps - 2));
  factor_.resize(kSteps);
  for (int i = 0; i < kSteps; ++i) {
    const double rd = std::sqrt(static_cast<double>(i) * static_cast<double>(step_));
    const Eigen::Vector2d n =
        camera::NormalisedFromImage(camera, {camera.centre_u + camera.focal_px * rd, camera.centre_v});
    factor_[static_cast<std::size_t>(i)] = rd > 0 ? static_cast<float>(n.x() / rd) : 1;
  }
}

void Undistorter::operator()(float u, float v, float* x, float* y) const {
  const float a = (u - cu_) / focal_, b = (v - cv_) / focal_;
  const float f = std::min((a * a + b * b) / step_, static_cast<float>(factor_.size() - 2));
  const auto i = static_cast<std::size_t>(f);
  const float g = factor_[i] + (f - static_cast<float>(i)) * (factor_[i + 1] - factor_[i]);
  *x = a * g;
  *y = b * g;
}

std::size_t StillPicture::CellAt(float u, float v) const {
  const float s = static_cast<float>(scale);
  const int x = std::clamp(static_cast<int>((u + 0.5f + static_cast<float>(margin)) * s), 0, width * scale - 1);
  const int y = std::clamp(static_cast<int>((v + 0.5f + static_cast<float>(margin)) * s), 0, height * scale - 1);
  return static_cast<std::size_t>(y) * static_cast<std::size_t>(width * scale) + static_cast<std::size_t>(x);
}

StillPicture CastStill(const Scene& scene, const Undistorter& undistort, int margin, int scale, int light_scale) {
  const CameraModel& camera = scene.camera().still();
  StillPicture still;
  still.margin = margin;
  still.width = camera.width + 2 * margin;
  still.height = camera.height + 2 * margin;
  still.scale = scale;
  still.light_scale = light_scale;
  const auto light_cells =
      static_cast<std::size_t>(still.width * light_scale) * static_cast<std::size_t>(still.height * light_scale);
  still.diffuse.assign(3 * light_cells, 0);
  still.mirror.assign(3 * light_cells, 0);
  const auto cells = static_cast<std::size_t>(still.width * scale) * static_cast<std::size_t>(still.height * scale);
  still.depth.assign(cells, 0);
  still.ground.assign(cells, 0);

  const V3 eye = camera.position_in_lane.cast<float>();
  const Eigen::Matrix3f lane_from_camera = scene.camera().rotation().transpose().cast<float>();
  const float pixel_angle = static_cast<float>(1 / camera.focal_px);
  const int per_side = 4 / scale;  // rays of a cell each way, so that a pixel has 16
  const Hall& hall = scene.hall();
  cv::parallel_for_(cv::Range(0, still.height), [&](const cv::Range& rows) {
    for (int row = rows.start; row < rows.end; ++row) {
      for (int sy = 0; sy < scale; ++sy) {
        const int cell_row = row * scale + sy;
        for (int cx = 0; cx < still.width * scale; ++cx) {
          V3 diffuse = V3::Zero(), mirror = V3::Zero();
          const std::size_t cell = static_cast<std::size_t>(cell_row) * static_cast<std::size_t>(still.width * scale) +
                                   static_cast<std::size_t>(cx);
          for (int k = 0; k < per_side * per_side; ++k) {
            const std::uint32_t h = Hash(static_cast<std::uint32_t>(cx * 16 + k), static_cast<std::uint32_t>(cell_row));
            // One random point in each of the cell's squares.
            const float fx = (static_cast<float>(k % per_side) + Unit(h)) / static_cast<float>(per_side);
            const int k_row = k / per_side;
            const float fy = (static_cast<float>(k_row) + Unit(Hash(h))) / static_cast<float>(per_side);
            const float u =
                (static_cast<float>(cx) + fx) / static_cast<float>(scale) - 0.5f - static_cast<float>(margin);
            const float v =
                (static_cast<float>(cell_row) + fy) / static_cast<float>(scale) - 0.5f - static_cast<float>(margin);
            float x, y;
            undistort(u, v, &x, &y);
            const Ray ray{eye, (lane_from_camera * V3(x, y, 1)).normalized()};
            const Spot spot = hall.Trace(ray, pixel_angle);
            float share = 0;
            if (spot.gloss > 0) {
              V3 n = spot.n;
              if (spot.roughness > 0) {
                // Two uniform numbers make a triangle-shaped spread of the wanted rms.
                const std::uint32_t a = Hash(h + 101), b = Hash(a), c = Hash(b), d = Hash(c);
                n += spot.roughness * 2.45f * V3(Unit(a) + Unit(b) - 1, Unit(c) + Unit(d) - 1, 0);
                n.normalize();
              }
              const float cosine = -ray.d.dot(n);
              if (cosine > 0) {
                share = spot.gloss * Hall::Fresnel(cosine);
                const V3 d = ray.d + 2 * cosine * n;
                mirror += share * hall.Radiance(Ray{spot.p + 1e-3f * spot.n, d.normalized()}, 4 * pixel_angle);
              }
            }
            diffuse += (1 - share) * hall.Sent(spot);
            if (k == per_side * per_side / 2) {
              still.depth[cell] = spot.t;
              still.ground[cell] = static_cast<std::uint8_t>(spot.ground);
            }
          }
          const std::size_t light_row = static_cast<std::size_t>(cell_row * light_scale / scale),
                            light_x = static_cast<std::size_t>(cx * light_scale / scale);
          const std::size_t at = 3 * (light_row * static_cast<std::size_t>(still.width * light_scale) + light_x);
          const float weight = static_cast<float>(light_scale * light_scale) / 16;
          for (int i = 0; i < 3; ++i) {
            still.diffuse[at + static_cast<std::size_t>(i)] += weight * diffuse[i];
            still.mirror[at + static_cast<std::size_t>(i)] += weight * mirror[i];
          }
        }
      }
    }
  });
  return still;
}

}  // namespace hookline::synth
