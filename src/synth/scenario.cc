#include "synth/scenario.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

namespace hookline::synth {
namespace {

using Json = nlohmann::ordered_json;

// The library's own macro speaks only of its unordered form; a scenario keeps the order of its keys.
#define HOOKLINE_JSON(Type, ...)                                                            \
  template <typename J>                                                                     \
  void to_json(J& nlohmann_json_j, const Type& nlohmann_json_t) {                           \
    NLOHMANN_JSON_EXPAND(NLOHMANN_JSON_PASTE(NLOHMANN_JSON_TO, __VA_ARGS__))                \
  }                                                                                         \
  template <typename J>                                                                     \
  void from_json(const J& nlohmann_json_j, Type& nlohmann_json_t) {                         \
    const Type nlohmann_json_default_obj{};                                                 \
    NLOHMANN_JSON_EXPAND(NLOHMANN_JSON_PASTE(NLOHMANN_JSON_FROM_WITH_DEFAULT, __VA_ARGS__)) \
  }

}  // namespace

HOOKLINE_JSON(VideoSpec, width, height, fps, shutter_s, readout_s, time_jitter_s, dropped_share, noise, exposure,
              contrast, warmth, vignette, blur_px, codec, bit_rate_kbps, quality, gop, rotation_deg)
HOOKLINE_JSON(CameraSpec, position_ft, yaw_deg, pitch_deg, roll_deg, focal_px, centre_offset_px, k1, k2, shake_deg,
              shake_hz, knock_s, knock_deg, drift_deg_per_s)
HOOKLINE_JSON(LanesSpec, width_in, centres_in, arrow_tips_ft, arrow_style, arrow_length_in, arrow_width_in, dots_ft,
              dot_boards, dot_diameter_in, approach_dot_rows_ft, approach_dot_boards, range_marks, foul_line_in,
              foul_line_colour, mark_colour, lane_colour, lane_colour_2, approach_colour, approach_colour_2,
              board_contrast, grain, gloss, approach_gloss, roughness, gutter_depth_in, gutter_colour, cap_height_in,
              cap_colour)
HOOKLINE_JSON(HallSpec, left_wall_in, right_wall_in, ceiling_ft, wall_colour, wall_style, wall_colour_2, ceiling_colour,
              ceiling_style, lamp_style, lamp_rows, lamp_columns, lamp_first_ft, lamp_last_ft, lamp_light,
              lane_lamp_share, ambient, pin_light, lamp_colour, masking_style, masking_colours, masking_bottom_in,
              masking_top_in, masking_y_ft, deck_side_colour, pit_colour, pin_band_colour, monitors, ball_return,
              ball_return_x_in, ball_return_y_ft, ball_return_colour, ball_return_balls)
HOOKLINE_JSON(BallSpec, diameter_in, rg_in, look, colours, gloss)
HOOKLINE_JSON(FrictionSpec, oil, outside, dry, oil_length_ft, transition_ft, outside_board, rolling)
HOOKLINE_JSON(FigureSpec, height_ft, build, shirt, trousers, skin, hair, shoes, shirt_style, shorts, cap)
HOOKLINE_JSON(ShotSpec, lane, hand, release_s, laydown_board, laydown_ft, speed_mph, angle_deg, rev_rpm,
              axis_rotation_deg, axis_tilt_deg, release_height_in, release_climb_mph, bounce, ball, friction, bowler,
              bowler_shown, approach_s, pins_before, sweep_after_s)
HOOKLINE_JSON(PersonSpec, figure, way, facing_deg)
HOOKLINE_JSON(Scenario, format, version, name, description, seed, duration_s, video, camera, lanes, hall, shots, people)

namespace {

Status Bad(const std::string& sentence) { return {StatusCode::kBadFile, "Scenario: " + sentence}; }

Status Within(const char* field, double value, double low, double high) {
  if (value >= low && value <= high) return Status::Ok();
  std::ostringstream s;
  s << field << " is " << value << ", it must lie in " << low << " .. " << high << ".";
  return Bad(s.str());
}

Status OneOf(const char* field, const std::string& value, std::initializer_list<const char*> allowed) {
  std::string list;
  for (const char* a : allowed) {
    if (value == a) return Status::Ok();
    list += (list.empty() ? "" : ", ") + std::string(a);
  }
  return Bad(std::string(field) + " is '" + value + "', it must be one of " + list + ".");
}

Status Colour(const char* field, const std::string& c) {
  if (c.size() == 7 && c[0] == '#' && c.find_first_not_of("0123456789abcdefABCDEF", 1) == std::string::npos)
    return Status::Ok();
  return Bad(std::string(field) + " is '" + c + "', it must be a colour like #a0b0c0.");
}

// The first key of `given` that the full form does not have, as a dotted path; empty when there is none.
std::string UnknownKey(const Json& given, const Json& full, const std::string& path) {
  if (given.is_object() && full.is_object()) {
    for (const auto& [key, value] : given.items()) {
      if (!full.contains(key)) return path + key;
      std::string below = UnknownKey(value, full[key], path + key + ".");
      if (!below.empty()) return below;
    }
  } else if (given.is_array() && full.is_array()) {
    for (std::size_t i = 0; i < given.size() && i < full.size(); ++i) {
      std::string below = UnknownKey(given[i], full[i], path + std::to_string(i) + ".");
      if (!below.empty()) return below;
    }
  }
  return {};
}

#define HOOKLINE_TRY(expression)                     \
  do {                                               \
    Status status_of_line = (expression);            \
    if (!status_of_line.ok()) return status_of_line; \
  } while (false)

Status CheckFigure(const FigureSpec& f) {
  HOOKLINE_TRY(Within("figure height_ft", f.height_ft, 3.5, 7.2));
  HOOKLINE_TRY(Within("figure build", f.build, 0.6, 1.6));
  HOOKLINE_TRY(OneOf("figure shirt_style", f.shirt_style, {"plain", "hoops", "halves"}));
  for (const std::string& c : {f.shirt, f.trousers, f.skin, f.hair, f.shoes}) HOOKLINE_TRY(Colour("figure colour", c));
  return Status::Ok();
}

Status CheckShot(const ShotSpec& s) {
  HOOKLINE_TRY(OneOf("shot hand", s.hand, {"right", "left"}));
  HOOKLINE_TRY(Within("shot laydown_board", s.laydown_board, 0.5, 39.5));
  HOOKLINE_TRY(Within("shot laydown_ft", s.laydown_ft, -2, 10));
  HOOKLINE_TRY(Within("shot speed_mph", s.speed_mph, 6, 30));
  HOOKLINE_TRY(Within("shot angle_deg", s.angle_deg, -12, 12));
  HOOKLINE_TRY(Within("shot rev_rpm", s.rev_rpm, 0, 800));
  HOOKLINE_TRY(Within("shot axis_tilt_deg", s.axis_tilt_deg, -80, 80));
  HOOKLINE_TRY(Within("shot axis_rotation_deg", s.axis_rotation_deg, -180, 180));
  HOOKLINE_TRY(Within("shot release_height_in", s.release_height_in, 0, 30));
  HOOKLINE_TRY(Within("shot release_climb_mph", s.release_climb_mph, -3, 4));
  HOOKLINE_TRY(Within("shot bounce", s.bounce, 0, 0.6));
  HOOKLINE_TRY(Within("shot approach_s", s.approach_s, 1, 6));
  HOOKLINE_TRY(Within("ball diameter_in", s.ball.diameter_in, 8.3, 8.8));
  HOOKLINE_TRY(Within("ball rg_in", s.ball.rg_in, 2.2, 3.2));
  HOOKLINE_TRY(OneOf("ball look", s.ball.look, {"plain", "swirl", "marks"}));
  for (const std::string& c : s.ball.colours) HOOKLINE_TRY(Colour("ball colours", c));
  HOOKLINE_TRY(Within("friction oil", s.friction.oil, 0, 0.5));
  HOOKLINE_TRY(Within("friction outside", s.friction.outside, 0, 0.5));
  HOOKLINE_TRY(Within("friction dry", s.friction.dry, 0, 0.5));
  HOOKLINE_TRY(Within("friction transition_ft", s.friction.transition_ft, 0.1, 30));
  for (int pin : s.pins_before) HOOKLINE_TRY(Within("shot pins_before", pin, 1, 10));
  return CheckFigure(s.bowler);
}

}  // namespace

Status Scenario::Check() const {
  HOOKLINE_TRY(OneOf("format", format, {"hookline-scenario"}));
  HOOKLINE_TRY(Within("version", version, 1, 1));
  HOOKLINE_TRY(Within("duration_s", duration_s, 0.05, 600));
  HOOKLINE_TRY(Within("video width", video.width, 64, 4096));
  HOOKLINE_TRY(Within("video height", video.height, 64, 4096));
  if (video.width % 2 != 0 || video.height % 2 != 0) return Bad("video width and height must be even.");
  HOOKLINE_TRY(Within("video fps", video.fps, 10, 480));
  HOOKLINE_TRY(Within("video shutter_s", video.shutter_s, 0, 1 / video.fps));
  HOOKLINE_TRY(Within("video readout_s", video.readout_s, 0, 0.04));
  HOOKLINE_TRY(Within("video time_jitter_s", video.time_jitter_s, 0, 0.45 / video.fps));
  HOOKLINE_TRY(Within("video dropped_share", video.dropped_share, 0, 0.3));
  HOOKLINE_TRY(Within("video noise", video.noise, 0, 10));
  HOOKLINE_TRY(Within("video exposure", video.exposure, 0.05, 10));
  HOOKLINE_TRY(Within("video contrast", video.contrast, 0.5, 2));
  HOOKLINE_TRY(Within("video blur_px", video.blur_px, 0, 3));
  HOOKLINE_TRY(Within("video vignette", video.vignette, 0, 0.8));
  if (video.rotation_deg % 90 != 0) return Bad("video rotation_deg must be 0, 90, 180 or 270.");
  HOOKLINE_TRY(Within("camera focal_px", camera.focal_px, 100, 20000));
  HOOKLINE_TRY(Within("camera position_ft[1]", camera.position_ft[1], -60, -2));
  HOOKLINE_TRY(Within("camera position_ft[2]", camera.position_ft[2], 0.5, hall.ceiling_ft - 0.3));
  HOOKLINE_TRY(Within("camera shake_deg", camera.shake_deg, 0, 2));
  HOOKLINE_TRY(Within("lanes width_in", lanes.width_in, 40, 43));
  HOOKLINE_TRY(Within("lanes foul_line_in", lanes.foul_line_in, 0.25, 2));
  HOOKLINE_TRY(Within("lanes gutter_depth_in", lanes.gutter_depth_in, 1.5, 3));
  HOOKLINE_TRY(OneOf("lanes arrow_style", lanes.arrow_style, {"solid", "chevron", "dart"}));
  bool own = false;
  double before = -1e9;
  for (double c : lanes.centres_in) {
    own = own || c == 0;
    if (c < before + lanes.width_in + 19) return Bad("lanes centres_in must grow by at least a lane and two gutters.");
    if (c - lanes.width_in / 2 - 9.25 < hall.left_wall_in || c + lanes.width_in / 2 + 9.25 > hall.right_wall_in)
      return Bad("lanes centres_in holds a lane that lies outside the side walls.");
    before = c;
  }
  if (!own) return Bad("lanes centres_in must hold 0, the own lane.");
  HOOKLINE_TRY(OneOf("hall wall_style", hall.wall_style, {"plain", "stripe", "panels", "brick", "dots"}));
  HOOKLINE_TRY(OneOf("hall ceiling_style", hall.ceiling_style, {"plain", "tiles", "beams"}));
  HOOKLINE_TRY(OneOf("hall lamp_style", hall.lamp_style, {"panels", "tubes_along", "tubes_across", "discs", "coves"}));
  HOOKLINE_TRY(
      OneOf("hall masking_style", hall.masking_style, {"hills", "lanterns", "triangles", "stripes", "stars", "plain"}));
  HOOKLINE_TRY(Within("hall lamp_rows", hall.lamp_rows, 1, 12));
  HOOKLINE_TRY(Within("hall lamp_columns", hall.lamp_columns, 1, 12));
  HOOKLINE_TRY(Within("hall masking_bottom_in", hall.masking_bottom_in, 18, 60));
  HOOKLINE_TRY(Within("hall masking_y_ft", hall.masking_y_ft, 56, 60.5));
  for (const std::string& c :
       {lanes.foul_line_colour, lanes.mark_colour, lanes.lane_colour, lanes.lane_colour_2, lanes.approach_colour,
        lanes.approach_colour_2, lanes.gutter_colour, lanes.cap_colour, hall.wall_colour, hall.wall_colour_2,
        hall.ceiling_colour, hall.lamp_colour, hall.masking_colours[0], hall.masking_colours[1],
        hall.masking_colours[2], hall.deck_side_colour, hall.pit_colour, hall.pin_band_colour, hall.ball_return_colour})
    HOOKLINE_TRY(Colour("a colour of lanes or hall", c));
  const int lanes_left =
      static_cast<int>(std::find(lanes.centres_in.begin(), lanes.centres_in.end(), 0.0) - lanes.centres_in.begin());
  for (const ShotSpec& s : shots) {
    HOOKLINE_TRY(CheckShot(s));
    HOOKLINE_TRY(
        Within("shot lane", s.lane, -lanes_left, static_cast<double>(lanes.centres_in.size()) - 1 - lanes_left));
  }
  for (const PersonSpec& p : people) {
    HOOKLINE_TRY(CheckFigure(p.figure));
    if (p.way.empty()) return Bad("a person needs at least one entry in way.");
  }
  return Status::Ok();
}

Result<Scenario> ScenarioFromJson(const std::string& text) {
  try {
    const Json given = Json::parse(text);
    if (!given.is_object()) return Bad("the file does not hold a JSON object.");
    const Scenario s = given.get<Scenario>();
    const std::string unknown = UnknownKey(given, Json(s), "");
    if (!unknown.empty()) return Bad("the key '" + unknown + "' is not known (docs/scenario-file.md lists all).");
    const Status status = s.Check();
    if (!status.ok()) return status;
    return s;
  } catch (const nlohmann::json::exception& e) {
    return Bad(std::string("not readable as JSON: ") + e.what() + ".");
  }
}

std::string JsonFromScenario(const Scenario& scenario) { return Json(scenario).dump(1) + "\n"; }

Result<Scenario> ReadScenario(const std::string& file) {
  std::ifstream in(file, std::ios::binary);
  std::ostringstream text;
  if (!in || !(text << in.rdbuf())) return Status(StatusCode::kBadFile, file + ": cannot be read; check the name.");
  Result<Scenario> s = ScenarioFromJson(text.str());
  if (!s.ok()) return Status(s.status().code(), file + ": " + s.status().sentence());
  return s;
}

Status WriteScenario(const Scenario& scenario, const std::string& file) {
  std::ofstream out(file, std::ios::binary);
  out << JsonFromScenario(scenario);
  out.close();
  if (!out) return {StatusCode::kBadFile, file + ": cannot be written; check the folder and the free space."};
  return Status::Ok();
}

}  // namespace hookline::synth
