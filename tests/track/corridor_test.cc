#include "track/corridor.h"

#include <doctest/doctest.h>

#include <cmath>

#include "camera/projection.h"
#include "lane/units.h"
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

TEST_CASE("the outline is where the rays that touch the ball meet the picture") {
  // Tangent points: the circle at R^2 / D before the centre, of radius R sqrt(1 - R^2 / D^2), each projected by itself.
  LaneSetup setup = track_test::Setup();
  setup.camera.k1 = -0.05;
  const Corridor corridor(setup);
  const CameraModel& camera = corridor.camera();
  for (const double y : {0.5, 4.0, 17.0})
    for (const double x : {-0.5, 0.3}) {
      const auto outline = corridor.OutlineAt({x, y});
      REQUIRE(outline);
      const Eigen::Vector3d centre(x, y, track::kBallRadius), ray = centre - camera.position_in_lane;
      const double distance = ray.norm(), share = track::kBallRadius / distance;
      const Eigen::Vector3d n = ray / distance, a = n.unitOrthogonal(), b = n.cross(a);
      const Eigen::Vector2d middle = *corridor.Disc({x, y}) + outline->shift;
      double least = 1e9, most = 0, plain = 0;
      for (int k = 0; k < 36; ++k) {
        const double w = 2 * lane::kPi * k / 36;
        const Eigen::Vector3d rim =
            centre - share * track::kBallRadius * n +
            track::kBallRadius * std::sqrt(1 - share * share) * (std::cos(w) * a + std::sin(w) * b);
        const auto p = camera::ImageFromLane(camera, rim);
        REQUIRE(p);
        const double r = (outline->round * (*p - middle)).norm();
        least = std::min(least, r), most = std::max(most, r);
        plain = std::max(plain, std::abs((*p - *corridor.Disc({x, y})).norm() - outline->radius));
      }
      CHECK(least > outline->radius - 0.02);
      CHECK(most < outline->radius + 0.02);
      if (y < 1) CHECK(plain > 0.1);  // a circle about the centre would not do
    }
}

TEST_CASE("a lane outside the picture gives an empty corridor") {
  LaneSetup s = track_test::Setup();
  s.camera.rotation = Eigen::Vector3d(0, 3.0, 0);  // looking back
  const Corridor corridor(s);
  CHECK(corridor.empty());
}
