#include "report/read_result.h"

#include <cmath>
#include <nlohmann/json.hpp>

#include "core/whole_file.h"
#include "lane/units.h"

namespace hookline::report {
namespace {

using Json = nlohmann::json;

std::optional<double> NumberOf(const Json& j, const char* key) {
  const auto it = j.find(key);
  if (it == j.end() || !it->is_number()) return std::nullopt;
  const double v = it->get<double>();
  return std::isfinite(v) ? std::optional<double>(v) : std::nullopt;
}

std::string TextOf(const Json& j, const char* key) {
  const auto it = j.find(key);
  return it != j.end() && it->is_string() ? it->get<std::string>() : std::string();
}

Measure MeasureOf(const Json& measures, const char* key) {
  const auto it = measures.find(key);
  if (it == measures.end() || !it->is_object()) return Measure::None("The file does not have it.");
  const auto value = NumberOf(*it, "value"), sd = NumberOf(*it, "sd");
  if (value && sd && *sd >= 0) return Measure::Of(*value, *sd);
  const std::string reason = TextOf(*it, "reason");
  return Measure::None(reason.empty() ? "The file gives no value." : reason);
}

Shot ShotOf(const Json& j) {
  Shot shot;
  shot.number = static_cast<int>(NumberOf(j, "number").value_or(0));
  shot.lane = static_cast<int>(NumberOf(j, "lane").value_or(0));
  shot.hand = TextOf(j, "hand") == "left" ? lane::Hand::kLeft : lane::Hand::kRight;
  const std::string source = TextOf(j, "hand_source");
  shot.hand_source = source == "given"  ? HandSource::kGiven
                     : source == "seen" ? HandSource::kSeen
                                        : HandSource::kAssumed;
  shot.bowler = TextOf(j, "bowler");
  shot.ball = TextOf(j, "ball");
  shot.plan = TextOf(j, "plan");
  if (const auto t = j.find("target"); t != j.end() && t->is_object()) {
    shot.target.arrows_board = NumberOf(*t, "arrows_board");
    shot.target.breakpoint_board = NumberOf(*t, "breakpoint_board");
    shot.target.stance_board = NumberOf(*t, "stance_board");
    shot.target.target_board = NumberOf(*t, "target_board");
  }
  shot.start_s = NumberOf(j, "start_s");
  shot.release_s = NumberOf(j, "release_s");
  shot.pin_contact_s = NumberOf(j, "pin_contact_s");
  shot.gutter_ft = NumberOf(j, "gutter_ft");
  shot.gutter_own_side = TextOf(j, "gutter_side") == "own";
  shot.path_model = TextOf(j, "path_model");
  const auto measures = j.find("measures");
  for (std::size_t i = 0; i < kMeasureCount; ++i)
    shot.measures.all[i] = measures != j.end() && measures->is_object()
                               ? MeasureOf(*measures, std::string(kMeasureTable[i].key).c_str())
                               : Measure::None("The file does not have it.");
  if (const auto zones = j.find("friction"); zones != j.end() && zones->is_array())
    for (const Json& zone : *zones) {
      if (!zone.is_object()) continue;
      const auto from = NumberOf(zone, "from_ft"), to = NumberOf(zone, "to_ft"), value = NumberOf(zone, "value"),
                 sd = NumberOf(zone, "sd");
      if (from && to && value && sd && *to > *from && *value > 0 && *sd > 0)
        shot.friction.push_back({*from, *to, *value, *sd});
    }
  if (const auto path = j.find("path"); path != j.end() && path->is_array())
    for (const Json& p : *path) {
      if (!p.is_object()) continue;
      const auto t = NumberOf(p, "t_s"), x = NumberOf(p, "x_in"), y = NumberOf(p, "y_ft");
      if (!t || !x || !y) continue;
      PathPoint point;
      point.time_s = *t;
      point.x = lane::MetresFromInches(*x);
      point.y = lane::MetresFromFeet(*y);
      point.sd_x = lane::MetresFromInches(NumberOf(p, "sd_x_in").value_or(0));
      point.sd_y = lane::MetresFromFeet(NumberOf(p, "sd_y_ft").value_or(0));
      point.seen = p.value("seen", false);
      point.u_px = NumberOf(p, "u_px").value_or(0);
      point.v_px = NumberOf(p, "v_px").value_or(0);
      if (const auto hand = p.find("by_hand"); hand != p.end() && hand->is_boolean())
        point.set_by_hand = hand->get<bool>();
      const auto speed = NumberOf(p, "speed_mph"), sd_speed = NumberOf(p, "sd_speed_mph"),
                 angle = NumberOf(p, "angle_deg"), sd_angle = NumberOf(p, "sd_angle_deg");
      if (speed && sd_speed && angle && sd_angle) {
        point.speed = lane::MetresPerSecondFromMph(*speed);
        point.sd_speed = lane::MetresPerSecondFromMph(*sd_speed);
        point.angle = lane::RadiansFromDegrees(*angle);
        point.sd_angle = lane::RadiansFromDegrees(*sd_angle);
      }
      shot.path.push_back(point);
    }
  if (const auto pins = j.find("pins"); pins != j.end() && pins->is_object()) {
    const auto list = [&](const char* key) -> std::optional<std::vector<int>> {
      const auto it = pins->find(key);
      if (it == pins->end() || !it->is_array()) return std::nullopt;
      std::vector<int> out;
      for (const Json& pin : *it)
        if (pin.is_number_integer() && pin.get<int>() >= 1 && pin.get<int>() <= 10) out.push_back(pin.get<int>());
      return out;
    };
    shot.pins_before = list("before");
    shot.pins_after = list("after");
    shot.pins_reason = TextOf(*pins, "reason");
  }
  if (const auto hand = j.find("by_hand"); hand != j.end() && hand->is_object()) {
    const auto set = [&](const char* key) {
      const auto it = hand->find(key);
      return it != hand->end() && it->is_boolean() && it->get<bool>();
    };
    shot.by_hand.added = set("added");
    shot.by_hand.release = set("release_s");
    shot.by_hand.pin_contact = set("pin_contact_s");
    shot.by_hand.placed = static_cast<int>(NumberOf(*hand, "ball_placed").value_or(0));
    shot.by_hand.removed = static_cast<int>(NumberOf(*hand, "ball_removed").value_or(0));
  }
  return shot;
}

template <int kSize>
std::optional<Eigen::Matrix<double, kSize, 1>> VectorOf(const Json& j, const char* key) {
  const auto it = j.find(key);
  if (it == j.end() || !it->is_array() || it->size() != kSize) return std::nullopt;
  Eigen::Matrix<double, kSize, 1> v;
  for (int i = 0; i < kSize; ++i) {
    const Json& e = (*it)[static_cast<std::size_t>(i)];
    if (!e.is_number()) return std::nullopt;
    v[i] = e.get<double>();
  }
  return v.allFinite() ? std::optional<Eigen::Matrix<double, kSize, 1>>(v) : std::nullopt;
}

// The lane as far as it can be drawn with: camera, width, arrows. Its covariance and neighbours are not in the file.
std::optional<LaneSetup> SetupOf(const Json& j, const ClipInfo& clip) {
  if (!j.value("found", false)) return std::nullopt;
  const auto camera = j.find("camera");
  if (camera == j.end() || !camera->is_object()) return std::nullopt;
  const auto focal = NumberOf(*camera, "focal_px");
  const auto centre = VectorOf<2>(*camera, "centre_px");
  const auto rotation = VectorOf<3>(*camera, "rotation_rad"), position = VectorOf<3>(*camera, "position_m");
  const auto width_in = NumberOf(j, "lane_width_in");
  const auto tips = VectorOf<7>(j, "arrow_tips_ft");
  if (!focal || *focal <= 0 || !centre || !rotation || !position || !width_in || *width_in <= 0 || !tips ||
      clip.width <= 0 || clip.height <= 0)
    return std::nullopt;
  LaneSetup s;
  const std::string source = TextOf(j, "source");
  s.source = source == "points" ? SetupSource::kPoints
             : source == "file" ? SetupSource::kFile
                                : SetupSource::kAutomatic;
  s.camera.width = clip.width;
  s.camera.height = clip.height;
  s.camera.focal_px = *focal;
  s.camera.centre_u = centre->x();
  s.camera.centre_v = centre->y();
  s.camera.k1 = NumberOf(*camera, "k1").value_or(0);
  s.camera.k2 = NumberOf(*camera, "k2").value_or(0);
  s.camera.rotation = *rotation;
  s.camera.position_in_lane = *position;
  s.lane.width = lane::MetresFromInches(*width_in);
  for (int i = 0; i < 7; ++i) s.lane.arrow_tip_y[static_cast<std::size_t>(i)] = lane::MetresFromFeet((*tips)[i]);
  s.lane.arrows_measured = j.value("arrows_measured", false);
  if (const auto residual = NumberOf(j, "residual_px")) s.residual_px = *residual;
  return s;
}

}  // namespace

Result<ClipResult> ParseResult(const std::string& text, const std::string& file) {
  const auto bad = [&](const std::string& what) { return Status(StatusCode::kBadFile, file + ": " + what); };
  const Json j = Json::parse(text, nullptr, false);
  if (j.is_discarded() || !j.is_object())
    return bad("this is no JSON document; give a result file that `hookline measure --json` wrote.");
  if (TextOf(j, "format") != "hookline-shots")
    return bad("this is no result file (its \"format\" is not \"hookline-shots\").");
  if (NumberOf(j, "version").value_or(0) != 1)
    return bad("this result file has a version this program does not know; 1 is known.");
  const auto shots = j.find("shots");
  if (shots == j.end() || !shots->is_array()) return bad("this result file has no list of shots.");
  ClipResult result;
  if (const auto clip = j.find("clip"); clip != j.end() && clip->is_object()) {
    result.clip.file = TextOf(*clip, "file");
    result.clip.width = static_cast<int>(NumberOf(*clip, "width").value_or(0));
    result.clip.height = static_cast<int>(NumberOf(*clip, "height").value_or(0));
    result.clip.duration_s = NumberOf(*clip, "duration_s").value_or(0);
  }
  if (const auto lane = j.find("lane_setup"); lane != j.end() && lane->is_object()) {
    result.lane_setup = SetupOf(*lane, result.clip);
    result.lane_reason = TextOf(*lane, "reason");
  }
  for (const Json& shot : *shots) {
    if (!shot.is_object()) return bad("an entry of its list of shots is no object.");
    result.shots.push_back(ShotOf(shot));
  }
  result.no_shot_reason = TextOf(j, "no_shot_reason");
  if (const auto warnings = j.find("warnings"); warnings != j.end() && warnings->is_array())
    for (const Json& w : *warnings)
      if (w.is_string()) result.warnings.push_back(w.get<std::string>());
  return result;
}

Result<ClipResult> ReadResult(const std::string& file) {
  const auto text = ReadWholeFile(file);
  if (!text.ok()) return text.status();
  return ParseResult(*text, file);
}

}  // namespace hookline::report
