#include "setup/setup_file.h"

#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>

#include "camera/projection.h"

using namespace hookline;

namespace {

LaneSetup Some() {
  LaneSetup s;
  s.camera.width = 1280;
  s.camera.height = 720;
  s.camera.focal_px = 987.654321;
  s.camera.centre_u = 640.1;
  s.camera.centre_v = 359.2;
  s.camera.k1 = -0.0123;
  s.camera.k2 = 0.0045;
  s.camera.rotation = {1.68, 0.01, -0.02};
  s.camera.position_in_lane = {0.1, -4.5, 1.6};
  s.lane.width = 1.052;
  s.lane.arrow_tip_y = {3.81, 4.15, 4.48, 4.82, 4.47, 4.14, 3.80};
  s.lane.arrows_measured = true;
  for (int i = 0; i < kSetupParameters; ++i) s.covariance(i, i) = 0.01 * (i + 1);
  s.covariance(0, 9) = s.covariance(9, 0) = -0.003;
  s.neighbours = {{1, 1.67}, {-1, -1.71}};
  s.residual_px = 0.21;
  return s;
}

}  // namespace

TEST_CASE("a lane setup comes back from its text as it was") {
  const LaneSetup s = Some();
  const auto r = setup::SetupFromText(setup::SetupText(s), "some.json");
  REQUIRE(r.ok());
  CHECK(camera::ParametersOf(*r).isApprox(camera::ParametersOf(s), 1e-15));
  CHECK(r->covariance.isApprox(s.covariance, 1e-15));
  CHECK(r->lane.arrow_tip_y == s.lane.arrow_tip_y);
  CHECK(r->lane.arrows_measured);
  CHECK(r->neighbours.size() == 2);
  CHECK(r->neighbours[1].centre_x == -1.71);
  CHECK(r->source == SetupSource::kFile);
  CHECK(r->camera.width == 1280);
}

TEST_CASE("what is no lane setup is refused with one sentence naming the file") {
  for (const std::string text :
       {"", "{}", "not json", "[1,2]", R"({"format":"hookline-lane-setup","version":2})",
        R"({"format":"hookline-lane-setup","version":1,"picture":{"width":10,"height":10}})"}) {
    const auto r = setup::SetupFromText(text, "odd.json");
    REQUIRE_FALSE(r.ok());
    CHECK(r.status().code() == StatusCode::kBadFile);
    CHECK(r.status().sentence().find("odd.json") != std::string::npos);
  }
  LaneSetup below = Some();
  below.camera.position_in_lane.z() = -1;
  CHECK_FALSE(setup::SetupFromText(setup::SetupText(below), "below.json").ok());
}

TEST_CASE("saving does not overwrite, loading tells what is missing") {
  const auto dir = std::filesystem::temp_directory_path() / "hookline_setup_file_test";
  std::filesystem::remove_all(dir);
  std::filesystem::create_directories(dir);
  const std::string file = (dir / "lane.json").string();
  CHECK_FALSE(setup::LoadSetup(file).ok());
  REQUIRE(setup::SaveSetup(file, Some()).ok());
  CHECK(setup::LoadSetup(file).ok());
  const Status again = setup::SaveSetup(file, Some());
  CHECK_FALSE(again.ok());
  CHECK(again.sentence().find("exists") != std::string::npos);
  CHECK_FALSE(setup::LoadSetup(dir.string()).ok());
  std::filesystem::remove_all(dir);
}
