#include "setup/rack_search.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "camera/projection.h"
#include "setup/made_hall.h"
#include "setup/rack_template.h"

using namespace hookline;

TEST_CASE("the racks at the ends of the lanes are found with nothing known of the camera" *
          doctest::test_suite("slow")) {
  synth::Scenario s = setup::FourLanes();
  s.camera.roll_deg = 1.5;
  const auto [luma, camera] = setup::LookOnce(s);

  const auto rows = setup::FindRackRows({luma});
  REQUIRE_FALSE(rows.empty());
  // Truth: the scene's own camera. A coarse search: three inches (two steps of the template up) and 8 % are near
  // enough.
  for (const double x : {-66.0, 0.0, 66.0}) {
    const auto foot = camera::ImageFromLane(camera, {lane::MetresFromInches(x), lane::kHeadPinY, 0});
    const auto beside = camera::ImageFromLane(camera, {lane::MetresFromInches(x + 10), lane::kHeadPinY, 0});
    REQUIRE(foot);
    REQUIRE(beside);
    const double scale = (*beside - *foot).norm() / 10;
    const bool seen = std::any_of(rows[0].racks.begin(), rows[0].racks.end(), [&](const setup::RackSighting& r) {
      return std::abs(r.u - foot->x()) < 3 * scale && std::abs(r.v - foot->y()) < 3 * scale &&
             std::abs(std::log(r.px_per_inch / scale)) < 0.08;
    });
    CHECK_MESSAGE(seen, "rack at " << x << " in");
  }
  CHECK(rows[0].tilt == doctest::Approx(std::tan(1.5 * CV_PI / 180)).epsilon(0.3));
}

TEST_CASE("no racks in noise") {
  cv::Mat noise(480, 640, CV_8UC1);
  cv::RNG random(7);
  random.fill(noise, cv::RNG::NORMAL, 100, 20);
  for (const setup::RackRow& r : setup::FindRackRows({noise})) CHECK(r.score < 0.2);
  CHECK(setup::FindRackRows({cv::Mat(480, 640, CV_8UC1, cv::Scalar(90))}).empty());
}

TEST_CASE("the template has zero mean and unit norm") {
  for (const double rise : {0.5, 2.0, 5.0}) {
    double sum = 0, square = 0;
    for (const float v : setup::RackFor(rise).value) {
      sum += static_cast<double>(v);
      square += static_cast<double>(v) * static_cast<double>(v);
    }
    CHECK(std::abs(sum) < 1e-4);
    CHECK(square == doctest::Approx(1).epsilon(1e-4));
  }
}
