#include "track/corridor.h"

#include <doctest/doctest.h>

#include "scene.h"

using namespace hookline;
using track::Corridor;

TEST_CASE("contact point and disc are each other's inverse") {
  const Corridor corridor(track_test::Setup());
  REQUIRE_FALSE(corridor.empty());
  for (const double y : {0.5, 4.0, 12.0, 18.0})
    for (const double x : {-0.5, 0.0, 0.4}) {
      const auto disc = corridor.Disc({x, y});
      REQUIRE(disc);
      const auto back = corridor.Contact(*disc);
      REQUIRE(back);
      CHECK(back->x() == doctest::Approx(x).epsilon(1e-6));
      CHECK(back->y() == doctest::Approx(y).epsilon(1e-6));
    }
}

TEST_CASE("contact Jacobian agrees with the projection's own differences") {
  const Corridor corridor(track_test::Setup());
  const Eigen::Vector2d c(0.2, 9.0);
  const auto j = corridor.ContactJacobian(*corridor.Disc(c));
  REQUIRE(j);
  // A step of a centimetre on the lane, through the picture and back.
  for (const Eigen::Vector2d& d : {Eigen::Vector2d(0.01, 0), Eigen::Vector2d(0, 0.01)}) {
    const Eigen::Vector2d px = *corridor.Disc(c + d) - *corridor.Disc(c - d);
    CHECK((*j * px - 2 * d).norm() < 1e-3 * d.norm());
  }
}

TEST_CASE("every spot of the grid lies on its rows and the ball's size shrinks down the lane") {
  const Corridor corridor(track_test::Setup());
  float near = 0, far = 1e9f;
  for (const track::GridSpot& s : corridor.spots()) {
    const int row = std::clamp(static_cast<int>(s.v), 0, corridor.rows() - 1);
    CHECK(corridor.begin(row) <= static_cast<int>(s.u) + 1);
    CHECK(corridor.end(row) >= static_cast<int>(s.u));
    near = std::max(near, s.radius), far = std::min(far, s.radius);
  }
  CHECK(near > 3 * far);
  CHECK(far >= 1.5f);
}

TEST_CASE("a lane outside the picture gives an empty corridor") {
  LaneSetup s = track_test::Setup();
  s.camera.rotation = Eigen::Vector3d(0, 3.0, 0);  // looking back
  const Corridor corridor(s);
  CHECK(corridor.empty());
}
