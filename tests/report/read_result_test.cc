#include "report/read_result.h"

#include <doctest/doctest.h>

#include "report/fixture.h"
#include "report/result_json.h"

using namespace hookline;
using doctest::Approx;

TEST_CASE("a result file read back gives what was written") {
  ClipResult result = test::TwoShots();
  REQUIRE_FALSE(result.shots.empty());
  Shot& shot = result.shots.front();
  shot.bowler = "Robin";
  shot.ball = "blue";
  shot.plan = "narrow";
  shot.target.arrows_board = 12;
  shot.target.stance_board = 25.5;
  shot.friction = {{1, 34, 0.041, 0.002}, {46, 52, 0.18, 0.02}};
  shot.pins_before = std::vector<int>{1, 2, 3};
  shot.pins_after = std::vector<int>{};
  const auto back = report::ParseResult(report::ResultJson(result), "x.json");
  REQUIRE(back.ok());
  REQUIRE(back->shots.size() == result.shots.size());
  const Shot& got = back->shots.front();
  CHECK(got.bowler == "Robin");
  CHECK(got.ball == "blue");
  CHECK(got.plan == "narrow");
  CHECK(got.target.arrows_board == 12);
  CHECK(got.target.stance_board == 25.5);
  CHECK_FALSE(got.target.breakpoint_board.has_value());
  CHECK(got.hand == shot.hand);
  CHECK(got.hand_source == shot.hand_source);
  CHECK(got.pins_before == shot.pins_before);
  REQUIRE(got.pins_after.has_value());
  CHECK(got.pins_after->empty());
  REQUIRE(got.friction.size() == 2);
  CHECK(got.friction[1].value == Approx(0.18));
  REQUIRE(got.path.size() == shot.path.size());
  for (std::size_t i = 0; i < kMeasureCount; ++i) {
    CAPTURE(kMeasureTable[i].key);
    const Measure &a = shot.measures.all[i], &b = got.measures.all[i];
    REQUIRE(a.value.has_value() == b.value.has_value());
    if (a.value) {
      CHECK(*b.value == Approx(*a.value).epsilon(1e-4));
      CHECK(b.sd == Approx(a.sd).epsilon(1e-4));
    } else {
      CHECK_FALSE(b.reason.empty());
    }
  }
}

TEST_CASE("what is no result file is said in one sentence with the file's name") {
  for (const char* text :
       {"", "not json", "[1]", R"({"format":"other","version":1,"shots":[]})",
        R"({"format":"hookline-shots","version":7,"shots":[]})", R"({"format":"hookline-shots","version":1})",
        R"({"format":"hookline-shots","version":1,"shots":[3]})"}) {
    CAPTURE(text);
    const auto r = report::ParseResult(text, "evening.json");
    REQUIRE_FALSE(r.ok());
    CHECK(r.status().code() == StatusCode::kBadFile);
    CHECK(r.status().sentence().rfind("evening.json: ", 0) == 0);
  }
  CHECK_FALSE(report::ReadResult("there-is-no-such-file.json").ok());
}

TEST_CASE("the camera, and speed and angle along the path, come back as written") {
  ClipResult result = test::TwoShots();
  PathPoint& p = result.shots.front().path[10];
  p.speed = 7.9;
  p.sd_speed = 0.03;
  p.angle = -0.04;
  p.sd_angle = 0.002;
  result.lane_setup->lane.width = lane::MetresFromInches(41.7);
  result.lane_setup->lane.arrow_tip_y[2] = 4.5;
  const auto back = report::ParseResult(report::ResultJson(result), "x.json");
  REQUIRE(back.ok());
  REQUIRE(back->lane_setup.has_value());
  const CameraModel &a = result.lane_setup->camera, &b = back->lane_setup->camera;
  CHECK(b.width == a.width);
  CHECK(b.focal_px == Approx(a.focal_px));
  CHECK(b.k1 == Approx(a.k1));
  CHECK((b.rotation - a.rotation).norm() < 1e-5);
  CHECK((b.position_in_lane - a.position_in_lane).norm() < 1e-5);
  CHECK(back->lane_setup->lane.width == Approx(lane::MetresFromInches(41.7)));
  CHECK(back->lane_setup->lane.arrow_tip_y[2] == Approx(4.5));
  const PathPoint& q = back->shots.front().path[10];
  REQUIRE((q.speed && q.angle));
  CHECK(*q.speed == Approx(7.9));
  CHECK(q.sd_speed == Approx(0.03).epsilon(1e-4));
  CHECK(*q.angle == Approx(-0.04).epsilon(1e-4));
  CHECK(q.sd_angle == Approx(0.002).epsilon(1e-3));
  CHECK_FALSE(back->shots.front().path[11].speed.has_value());
}

TEST_CASE("a camera that is no camera is left out") {
  for (const char* camera : {R"(3)", R"({"focal_px":0,"centre_px":[1,2],"rotation_rad":[0,0,0],"position_m":[0,0,1]})",
                             R"({"focal_px":900,"centre_px":[1],"rotation_rad":[0,0,0],"position_m":[0,0,1]})"}) {
    CAPTURE(camera);
    const auto r = report::ParseResult(
        std::string(R"({"format":"hookline-shots","version":1,"clip":{"width":10,"height":10},"shots":[],)") +
            R"("lane_setup":{"found":true,"lane_width_in":41.5,"arrow_tips_ft":[1,1,1,1,1,1,1],"camera":)" + camera +
            "}}",
        "x.json");
    REQUIRE(r.ok());
    CHECK_FALSE(r->lane_setup.has_value());
  }
}
