#include "report/result_json.h"

#include <doctest/doctest.h>

#include <limits>
#include <nlohmann/json.hpp>
#include <set>

#include "report/fixture.h"

using namespace hookline;
using nlohmann::json;

namespace {

std::set<std::string> Keys(const json& j) {
  std::set<std::string> keys;
  for (const auto& [key, value] : j.items()) keys.insert(key);
  return keys;
}

void CheckHolds(const json& j, const std::set<std::string>& wanted) {
  const auto keys = Keys(j);
  for (const std::string& key : wanted) {
    CAPTURE(key);
    CHECK(keys.count(key) == 1);
  }
}

}  // namespace

TEST_CASE("the result file holds every key of its contract") {  // docs/result-file.md
  const json j = json::parse(report::ResultJson(test::TwoShots()));
  CHECK(j["format"] == "hookline-shots");
  CHECK(j["version"] == 1);
  CheckHolds(j, {"format", "version", "clip", "lane_setup", "shots", "no_shot_reason", "warnings"});
  CheckHolds(j["clip"],
             {"file", "width", "height", "frames", "duration_s", "frame_rate_mean", "variable_rate", "rotation_deg"});
  CheckHolds(j["lane_setup"], {"found", "reason", "source", "corners_px", "residual_px", "camera_moved_px"});
  CheckHolds(j["lane_setup"]["corners_px"], {"foul_left", "foul_right", "headpin_left", "headpin_right"});
  REQUIRE(j["shots"].size() == 2);
  for (const json& shot : j["shots"]) {
    CheckHolds(shot,
               {"number", "lane", "hand", "hand_source", "bowler", "ball", "plan", "target", "start_s", "release_s",
                "pin_contact_s", "gutter_ft", "gutter_side", "measures", "friction", "path", "pins"});
    CheckHolds(shot["measures"],
               {"laydown_board",     "laydown_ft",       "launch_angle_deg", "board_at_arrows", "board_at_15ft",
                "board_at_40ft",     "breakpoint_board", "breakpoint_ft",    "entry_board",     "entry_angle_deg",
                "speed_release_mph", "speed_arrows_mph", "speed_entry_mph",  "speed_mean_mph",  "skid_end_ft",
                "roll_start_ft",     "slip_angle_deg",   "path_turn_deg",    "path_rev_rpm",    "rev_rate_rpm",
                "axis_rotation_deg", "axis_tilt_deg"});
    CHECK(shot["measures"].size() == kMeasureCount);
    CheckHolds(shot["path"][0], {"t_s", "x_in", "y_ft", "sd_x_in", "sd_y_ft", "seen", "u_px", "v_px"});
    CheckHolds(shot["pins"], {"before", "after", "fall_s", "reason"});
  }
}

TEST_CASE("a measure is a value with its sd, or null with a sentence") {
  ClipResult r = test::TwoShots();
  r.shots[0].measures[MeasureId::kEntryBoard] = Measure::Of(17.5, std::numeric_limits<double>::quiet_NaN());
  r.shots[0].measures[MeasureId::kLaydownFt] = Measure::Of(std::numeric_limits<double>::infinity(), 1);
  const json j = json::parse(report::ResultJson(r));
  for (const json& shot : j["shots"]) {
    for (const auto& [name, m] : shot["measures"].items()) {
      const std::string key = name;
      CAPTURE(key);
      if (m["value"].is_null()) {
        CHECK(m["reason"].get<std::string>().size() > 5);
        CHECK(m.count("sd") == 0);
      } else {
        CHECK(m["value"].is_number());
        CHECK(m["sd"].is_number());
      }
    }
  }
  CHECK(j["shots"][0]["measures"]["entry_board"]["value"].is_null());  // no number without a doubt
  CHECK(j["shots"][0]["measures"]["laydown_ft"]["value"].is_null());
  CHECK(j["shots"][1]["gutter_side"] == "own");
  CHECK(j["shots"][0]["gutter_side"].is_null());
}

TEST_CASE("units at the edge: inches across, feet along") {
  ClipResult r = test::TwoShots();
  r.shots[0].path[0].x = 0.254;
  r.shots[0].path[0].y = 3.048;
  const json j = json::parse(report::ResultJson(r));
  CHECK(j["shots"][0]["path"][0]["x_in"].get<double>() == doctest::Approx(10.0));
  CHECK(j["shots"][0]["path"][0]["y_ft"].get<double>() == doctest::Approx(10.0));
}

TEST_CASE("lane not found: no numbers, the reason, an empty list") {
  ClipResult r;
  r.clip.file = "dark.mp4";
  r.lane_reason = "neither the foul line nor the lane's edges could be seen";
  r.no_shot_reason = "the lane was not found";
  const json j = json::parse(report::ResultJson(r));
  CHECK(j["lane_setup"]["found"] == false);
  CHECK(j["lane_setup"]["reason"] == r.lane_reason);
  CHECK(j["lane_setup"]["corners_px"].is_null());
  CHECK(j["shots"].empty());
  CHECK(j["no_shot_reason"] == r.no_shot_reason);
}

TEST_CASE("the corners are those of the first frame used, not of the reference frame") {
  ClipResult r = test::TwoShots();
  const auto still = report::LaneCorners(*r.lane_setup, r.first_frame);
  r.first_frame.rotation[1] = 0.001;  // a turn about the camera's own upright axis
  const auto turned = report::LaneCorners(*r.lane_setup, r.first_frame);
  for (std::size_t i = 0; i < 4; ++i) {
    REQUIRE(still[i]);
    REQUIRE(turned[i]);
    // Near the axis a turn by a moves the picture by f tan a.
    CHECK(turned[i]->x() - still[i]->x() == doctest::Approx(r.lane_setup->camera.focal_px * 0.001).epsilon(0.1));
  }
  CHECK(still[0]->x() < still[1]->x());
  CHECK(still[2]->y() < still[0]->y());
}

TEST_CASE("a file name that is no UTF-8 does not stop the result") {
  ClipResult r = test::TwoShots();
  r.clip.file = "caf\xe9.mp4";
  CHECK(json::accept(report::ResultJson(r)));
}
