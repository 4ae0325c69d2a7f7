#include "synth/shapes.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <string>

#include "synth/shot_run.h"

namespace hookline::synth {
namespace {

// Lower root of a t^2 + 2 b t + c = 0, or kMiss.
float LowerRoot(float a, float b, float c) {
  const float d = b * b - a * c;
  if (d < 0 || a == 0) return kMiss;
  return (-b - std::copysign(std::sqrt(d), a)) / a;
}

int Floor(float x) {
  const int i = static_cast<int>(x);
  return static_cast<float>(i) > x ? i - 1 : i;
}

float Fade(float t) { return t * t * (3 - 2 * t); }

}  // namespace

float HitSphere(const Ray& ray, const V3& centre, float radius) {
  const V3 oc = centre - ray.o;
  const float along = oc.dot(ray.d);
  if (along <= 0) return kMiss;
  // Distance from the ray to the centre, not the difference of two large squares.
  const float off2 = (oc - along * ray.d).squaredNorm(), inside = radius * radius - off2;
  return inside < 0 ? kMiss : along - std::sqrt(inside);
}

Surface HitRoundCone(const Ray& ray, const V3& a, const V3& b, float ra, float rb) {
  Surface best;
  const V3 axis = b - a;
  const float length = axis.norm();
  // Start near the shape: single precision would lose small shapes far away.
  const V3 middle = 0.5f * (a + b);
  const float shift = (middle - ray.o).dot(ray.d);
  const V3 o = ray.o + shift * ray.d;
  const float bound = 0.5f * length + std::max(ra, rb);
  if ((o - middle).squaredNorm() > bound * bound || shift < -bound) return best;
  if (length > std::abs(ra - rb) + 1e-6f) {
    const V3 u = axis / length;
    const float sine = (ra - rb) / length, cosine = std::sqrt(1 - sine * sine);
    // On the cone: (distance from axis) cosine + (place along axis) sine = ra.
    const V3 oa = o - a;
    const float s0 = oa.dot(u), s1 = ray.d.dot(u), c2 = cosine * cosine;
    const float e0 = ra - sine * s0, e1 = -sine * s1;
    const float qa = c2 * (1 - s1 * s1) - e1 * e1;
    const float qb = c2 * (oa.dot(ray.d) - s0 * s1) - e0 * e1;
    const float qc = c2 * (oa.squaredNorm() - s0 * s0) - e0 * e0;
    const float t = LowerRoot(qa, qb, qc);
    if (t < kMiss && t + shift > 0) {
      const float s = s0 + t * s1;
      const V3 radial = oa + t * ray.d - s * u;
      const float w = radial.norm();
      const float centre = s - w * sine / cosine;  // of the swept ball that touches here
      if (centre >= 0 && centre <= length && e0 + t * e1 > 0) {
        best.t = t + shift;
        best.n = u * sine + radial * (cosine / std::max(1e-9f, w));
        return best;  // the shape is convex: entered through its side, not through an end
      }
    }
  }
  for (int end = 0; end < 2; ++end) {
    const V3& c = end == 0 ? a : b;
    const float r = end == 0 ? ra : rb;
    const float t = HitSphere(ray, c, r);
    if (t < best.t && t > 0) {
      best.t = t;
      best.n = (ray.o + t * ray.d - c) / r;
    }
  }
  return best;
}

Surface HitBox(const Ray& ray, const V3& low, const V3& high) {
  Surface s;
  float t0 = -kMiss, t1 = kMiss;
  int side = 0;
  for (int i = 0; i < 3; ++i) {
    const float inverse = 1 / (ray.d[i] == 0 ? 1e-20f : ray.d[i]);
    float a = (low[i] - ray.o[i]) * inverse, b = (high[i] - ray.o[i]) * inverse;
    if (a > b) std::swap(a, b);
    if (a > t0) {
      t0 = a;
      side = i;
    }
    t1 = std::min(t1, b);
  }
  if (t0 > t1 || t0 <= 0) return s;
  s.t = t0;
  s.n.setZero();
  s.n[side] = ray.d[side] > 0 ? -1.0f : 1.0f;
  return s;
}

Surface HitPin(const Ray& ray, const V3& base, const V3& axis, float* height) {
  Surface best;
  struct Ring {
    float h, r;
  };
  static const std::array<Ring, kPinRings> rings = [] {
    std::array<Ring, kPinRings> out{};
    for (std::size_t i = 0; i < out.size(); ++i)
      out[i] = {static_cast<float>(PinProfile()[i][0]), static_cast<float>(PinProfile()[i][1])};
    return out;
  }();
  const float tall = rings.back().h, widest = 0.0606f;
  const V3 middle = base + 0.5f * tall * axis;
  const float shift = (middle - ray.o).dot(ray.d);
  const V3 o = ray.o + shift * ray.d;
  if (shift <= 0 || (o - middle).squaredNorm() > 0.2f * 0.2f) return best;
  const V3 oa = o - base;
  const float s0 = oa.dot(axis), s1 = ray.d.dot(axis), od = oa.dot(ray.d), oo = oa.squaredNorm();
  // Inside the widest cylinder at all?
  if (LowerRoot(1 - s1 * s1, od - s0 * s1, oo - s0 * s0 - widest * widest) == kMiss) return best;
  float at = 0;
  for (std::size_t i = 1; i < rings.size(); ++i) {
    const float slope = (rings[i].r - rings[i - 1].r) / (rings[i].h - rings[i - 1].h);
    const float e0 = rings[i - 1].r + slope * (s0 - rings[i - 1].h), e1 = slope * s1;
    const float t = LowerRoot(1 - s1 * s1 - e1 * e1, od - s0 * s1 - e0 * e1, oo - s0 * s0 - e0 * e0);
    if (t >= best.t) continue;
    const float s = s0 + t * s1;
    if (s < rings[i - 1].h || s > rings[i].h) continue;
    best.t = t;
    at = s;
    // Slopes of the neighbouring rings blended, so that the outline of light is round.
    const std::size_t next = std::min(i + 1, rings.size() - 1), before = i > 1 ? i - 2 : 0;
    const float up = (rings[next].r - rings[i - 1].r) / (rings[next].h - rings[i - 1].h);
    const float down = (rings[i].r - rings[before].r) / (rings[i].h - rings[before].h);
    const float f = (s - rings[i - 1].h) / (rings[i].h - rings[i - 1].h);
    const V3 radial = (oa + t * ray.d - s * axis).normalized();
    best.n = (radial - (down + f * (up - down)) * axis).normalized();
  }
  if (best.t < kMiss) best.t += shift;
  // The flat base is seen when the pin lies.
  const float tb = std::abs(s1) > 1e-6f ? -s0 / s1 : kMiss;
  if (s1 > 0 && tb + shift < best.t && (oa + tb * ray.d).squaredNorm() < rings[0].r * rings[0].r) {
    best.t = tb + shift;
    best.n = -axis;
    at = 0;
  }
  if (height != nullptr) *height = at;
  return best;
}

std::uint32_t Hash(std::uint32_t x) {
  x ^= x >> 16;
  x *= 0x7feb352du;
  x ^= x >> 15;
  x *= 0x846ca68bu;
  x ^= x >> 16;
  return x;
}

float Noise1(float x, std::uint32_t seed) {
  const int i = Floor(x);
  const float f = Fade(x - static_cast<float>(i));
  const auto at = [&](int k) { return Unit(Hash(static_cast<std::uint32_t>(k), seed)); };
  return at(i) + f * (at(i + 1) - at(i));
}

float Noise2(float x, float y, std::uint32_t seed) {
  const int j = Floor(y);
  const float f = Fade(y - static_cast<float>(j));
  const float a = Noise1(x, Hash(static_cast<std::uint32_t>(j), seed)),
              b = Noise1(x, Hash(static_cast<std::uint32_t>(j + 1), seed));
  return a + f * (b - a);
}

float Noise3(const V3& p, std::uint32_t seed) {
  const int k = Floor(p.z());
  const float f = Fade(p.z() - static_cast<float>(k));
  const float a = Noise2(p.x(), p.y(), Hash(static_cast<std::uint32_t>(k), seed ^ 0x51u));
  const float b = Noise2(p.x(), p.y(), Hash(static_cast<std::uint32_t>(k + 1), seed ^ 0x51u));
  return a + f * (b - a);
}

V3 LinearFromColour(const char* colour) {
  const std::string text(colour);
  V3 c = V3::Constant(0.5f);
  if (text.size() != 7) return c;
  for (int i = 0; i < 3; ++i) {
    const std::size_t at = 1 + 2 * static_cast<std::size_t>(i);
    const float s = static_cast<float>(std::strtol(text.substr(at, 2).c_str(), nullptr, 16)) / 255.0f;
    c[i] = s <= 0.04045f ? s / 12.92f : std::pow((s + 0.055f) / 1.055f, 2.4f);
  }
  return c;
}

}  // namespace hookline::synth
