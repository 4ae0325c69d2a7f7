// Rays against shapes, by closed answers.
#include "synth/shapes.h"

#include <doctest/doctest.h>

#include <cmath>

#include "synth/shot_run.h"

namespace hookline::synth {

using doctest::Approx;

TEST_CASE("a ball far away is met to 0.1 mm") {
  const Ray ray{V3(0, -5, 1.5f), V3(0, 1, 0)};
  CHECK(HitSphere(ray, V3(0, 18, 1.5f), 0.1085f) == Approx(23 - 0.1085).epsilon(1e-5));
  CHECK(HitSphere(ray, V3(0.2f, 18, 1.5f), 0.1085f) == kMiss);
  CHECK(HitSphere(ray, V3(0, -8, 1.5f), 0.1085f) == kMiss);  // behind
}

TEST_CASE("a round cone: sides, caps, normals") {
  // From the side, half way up, a capsule is as far as its radius.
  Surface s = HitRoundCone({V3(-3, 0, 0.5f), V3(1, 0, 0)}, V3(0, 0, 0), V3(0, 0, 1), 0.2f, 0.2f);
  CHECK(s.t == Approx(2.8).epsilon(1e-5));
  CHECK(s.n.x() == Approx(-1).epsilon(1e-5));
  // Down on its top.
  s = HitRoundCone({V3(0, 0, 5), V3(0, 0, -1)}, V3(0, 0, 0), V3(0, 0, 1), 0.2f, 0.1f);
  CHECK(s.t == Approx(3.9).epsilon(1e-5));
  // With radii 0.3 and 0.1 over length 1 the side leans by asin(0.2) towards the thin end.
  s = HitRoundCone({V3(-3, 0, 0.5f), V3(1, 0, 0)}, V3(0, 0, 0), V3(0, 0, 1), 0.3f, 0.1f);
  CHECK(s.n.z() == Approx(0.2).epsilon(1e-4));
  // (distance from axis) cos + z sin = ra
  CHECK(s.t == Approx(3 - (0.3 - 0.5 * 0.2) / std::sqrt(1 - 0.04)).epsilon(1e-5));
  // Normals are unit and face the ray from every side.
  for (int i = 0; i < 50; ++i) {
    const float a = 0.1257f * static_cast<float>(i);
    const V3 o(3 * std::cos(a), 3 * std::sin(a), 0.7f + 0.5f * std::sin(3 * a));
    const Ray ray{o, (V3(0.02f, 0.01f, 0.45f) - o).normalized()};
    s = HitRoundCone(ray, V3(0, 0, 0), V3(0.3f, 0, 1), 0.25f, 0.12f);
    REQUIRE(s.t < kMiss);
    CHECK(s.n.norm() == Approx(1).epsilon(1e-3));
    CHECK(s.n.dot(ray.d) < 0);
  }
}

TEST_CASE("a pin has its specified widths") {
  // measuringknowhow.com: 4.766 in at 4.5 in, 1.797 in at 10 in, 2.547 in at 13.5 in.
  for (const auto& [height, diameter] : {std::pair{4.5, 4.766}, {10.0, 1.797}, {13.5, 2.547}}) {
    CHECK(PinRadius(height * 0.0254) == Approx(diameter / 2 * 0.0254).epsilon(1e-9));
    const Ray ray{V3(0, -3, static_cast<float>(height * 0.0254)), V3(0, 1, 0)};
    const Surface s = HitPin(ray, V3::Zero(), V3::UnitZ(), nullptr);
    CHECK(s.t == Approx(3 - diameter / 2 * 0.0254).epsilon(1e-4));
  }
  CHECK(HitPin({V3(0, -3, 0.40f), V3(0, 1, 0)}, V3::Zero(), V3::UnitZ(), nullptr).t == kMiss);  // over its top
}

}  // namespace hookline::synth
