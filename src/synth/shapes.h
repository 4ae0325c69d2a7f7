// What a made scene is built of and how a ray meets it. Single precision, metres, lane frame. Directions are unit
// vectors; every Hit function gives the distance along the ray, or kMiss. Rays start outside of the shapes.
//
// A round cone is a ball swept along a line while its radius changes linearly (Klein's capsule when the radii are
// equal); limbs, bodies, shoes and posts are made of it.
#pragma once

#include <Eigen/Core>
#include <Eigen/Geometry>
#include <array>
#include <cstdint>
#include <limits>

namespace hookline::synth {

using V3 = Eigen::Vector3f;
inline constexpr float kMiss = std::numeric_limits<float>::infinity();

struct Ray {
  V3 o, d;
};

struct Surface {
  float t = kMiss;
  V3 n = V3::UnitZ();
};

float HitSphere(const Ray& ray, const V3& centre, float radius);
Surface HitRoundCone(const Ray& ray, const V3& a, const V3& b, float ra, float rb);
Surface HitBox(const Ray& ray, const V3& low, const V3& high);
// A pin of the specified profile with its base's middle and its unit axis. `height` (optional) gets the place along the
// axis, m.
Surface HitPin(const Ray& ray, const V3& base, const V3& axis, float* height);

// Pseudo-random numbers without state: the same place always gives the same value, 0..1.
std::uint32_t Hash(std::uint32_t x);
inline std::uint32_t Hash(std::uint32_t x, std::uint32_t y) { return Hash(x ^ (Hash(y) * 0x9E3779B1u)); }
inline float Unit(std::uint32_t h) { return static_cast<float>(h >> 8) * (1.0f / 16777216.0f); }
// Smooth noise, 0..1, period about 1.
float Noise1(float x, std::uint32_t seed);
float Noise2(float x, float y, std::uint32_t seed);
float Noise3(const V3& p, std::uint32_t seed);

// Linear light from "#rrggbb".
V3 LinearFromColour(const char* colour);

inline float Clamp01(float x) { return x < 0 ? 0 : x > 1 ? 1 : x; }
inline float SmoothStep(float a, float b, float x) {
  const float t = Clamp01((x - a) / (b - a));
  return t * t * (3 - 2 * t);
}
inline V3 Mix(const V3& a, const V3& b, float t) { return a + t * (b - a); }

}  // namespace hookline::synth
