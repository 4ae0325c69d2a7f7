// Pins are placed where they stand, whatever lights them. The pictures are ray traced by synth, which knows nothing of
// how setup draws a rack; their truth is the scene's own camera and the rule's pin spots.
#include "setup/rack_align.h"

#include <doctest/doctest.h>

#include <cmath>

#include "camera/projection.h"
#include "lane/pin_profile.h"
#include "setup/made_hall.h"
#include "setup/rack_shading.h"

namespace hookline::setup {
namespace {

TEST_CASE("a rack is placed where it stands however it is lit and painted" * doctest::test_suite("slow")) {
  struct Light {
    double pin_light, ambient;
    const char* band;
  };
  for (const Light& l : {Light{1.4, 0.35, "#c02020"}, Light{0.7, 0.2, "#202060"}, Light{0.2, 0.5, "#f0f0f0"}}) {
    synth::Scenario s = FourLanes();
    s.camera.focal_px = 1300;
    s.hall.pin_light = l.pin_light;
    s.hall.ambient = l.ambient;
    s.hall.pin_band_colour = l.band;
    const HallSeen hall = LookOnce(s);
    LaneSetup truth;
    truth.camera = hall.camera;
    const auto found = AlignRack(hall.luma, truth, 0, 6);
    REQUIRE(found);
    CAPTURE(l.pin_light);
    // A pixel is two thirds of an inch there, and .9 ft of the lane: .15 px keep the head pin within .15 ft.
    CHECK(std::abs(found->shift.x()) < 0.1);
    CHECK(std::abs(found->shift.y()) < 0.15);
    CHECK(std::abs(found->growth) < 0.005);
    CHECK(found->match > 0.9);
  }
}

TEST_CASE("a pin's surface seen from the front") {
  const PinOnScreen pin{{100, 200}, {100, 80}, 120 / lane::kPinHeight};  // 8 px an inch
  const double belly = 200 - 4.5 * 8, neck = 200 - 10 * 8;
  // Widest at 4.5 in and narrowest at 10 in (rule), so there the surface faces the camera squarely.
  for (const double v : {belly, neck}) {
    CHECK(LookAtPin(pin, 100, v).normal.y() == doctest::Approx(1).epsilon(0.01));
    CHECK(std::abs(LookAtPin(pin, 100, v).normal.x()) < 1e-9);
  }
  CHECK(LookAtPin(pin, 100, belly).inside == doctest::Approx(4.766 / 2 * 8));
  CHECK(LookAtPin(pin, 100 + 1.797 / 2 * 8, neck).inside == doctest::Approx(0).epsilon(1e-6));
  // Shoulders look up, the lower belly down, the right side right.
  CHECK(LookAtPin(pin, 100, 200 - 8 * 8).normal.z() > 0.3);
  CHECK(LookAtPin(pin, 100, 200 - 2 * 8).normal.z() < -0.3);
  CHECK(LookAtPin(pin, 100 + 2 * 8, belly).normal.x() > 0.8);
  for (const double v : {90.0, 120.0, 150.0, 190.0})
    for (const double u : {95.0, 100.0, 108.0}) CHECK(LookAtPin(pin, u, v).normal.norm() == doctest::Approx(1));
}

TEST_CASE("a light from anywhere is explained, another shape is not") {
  std::vector<PinOnScreen> pins;
  for (const lane::Point2& s : lane::PinSpots()) {
    const double u = 60 + lane::InchesFromMetres(s.x) * 1.6;
    pins.push_back({{u, 50}, {u, 26}, 24 / lane::kPinHeight});
  }
  const SampleGrid grid{20, 18, 1, 81, 28};
  LitRack rack(pins, grid);
  rack.Draw(0.1, 0.7);
  const Eigen::MatrixXd& p = rack.pictures();
  REQUIRE(p.rows() == grid.nx * grid.ny);
  // A lamp above and to the left, a band half as bright, a grey pit.
  const Eigen::VectorXd image = 0.1 * p.col(0) + 0.5 * p.col(1) - 0.2 * p.col(2) + 0.3 * p.col(4) - 0.2 * p.col(5);
  CHECK(rack.Unexplained(image).norm() < 1e-6 * image.norm());
  rack.Draw(0.4, 0.7);
  CHECK(rack.Unexplained(image).norm() > 0.02 * image.norm());
}

}  // namespace
}  // namespace hookline::setup
