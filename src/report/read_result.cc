#include "report/read_result.h"

#include <simdjson.h>

#include <cmath>

#include "core/whole_file.h"
#include "lane/units.h"

namespace hookline::report {
namespace {

using Element = simdjson::dom::element;
using Object = simdjson::dom::object;
using Array = simdjson::dom::array;

// The one asked for where it is there and of that kind.
template <typename T>
std::optional<T> Of(const Object& j, const char* key) {
  T value;
  return j.at_key(key).get(value) == simdjson::SUCCESS ? std::optional<T>(value) : std::nullopt;
}

// Whole numbers too.
std::optional<double> NumberOf(const Object& j, const char* key) {
  const auto v = Of<double>(j, key);
  return v && std::isfinite(*v) ? v : std::nullopt;
}

std::string TextOf(const Object& j, const char* key) {
  const auto text = Of<std::string_view>(j, key);
  return text ? std::string(*text) : std::string();
}

bool Flag(const Object& j, const char* key) { return Of<bool>(j, key).value_or(false); }

Measure MeasureOf(const std::optional<Object>& measures, const char* key) {
  const auto m = measures ? Of<Object>(*measures, key) : std::nullopt;
  if (!m) return Measure::None("The file does not have it.");
  const auto value = NumberOf(*m, "value"), sd = NumberOf(*m, "sd");
  if (value && sd && *sd >= 0) return Measure::Of(*value, *sd);
  const std::string reason = TextOf(*m, "reason");
  return Measure::None(reason.empty() ? "The file gives no value." : reason);
}

Shot ShotOf(const Object& j) {
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
  if (const auto t = Of<Object>(j, "target")) {
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
  const auto measures = Of<Object>(j, "measures");
  for (std::size_t i = 0; i < kMeasureCount; ++i)
    shot.measures.all[i] = MeasureOf(measures, std::string(kMeasureTable[i].key).c_str());
  if (const auto zones = Of<Array>(j, "friction"))
    for (const Element& z : *zones) {
      Object zone;
      if (z.get(zone) != simdjson::SUCCESS) continue;
      const auto from = NumberOf(zone, "from_ft"), to = NumberOf(zone, "to_ft"), value = NumberOf(zone, "value"),
                 sd = NumberOf(zone, "sd");
      if (from && to && value && sd && *to > *from && *value > 0 && *sd > 0)
        shot.friction.push_back({*from, *to, *value, *sd});
    }
  if (const auto path = Of<Array>(j, "path"))
    for (const Element& at : *path) {
      Object p;
      if (at.get(p) != simdjson::SUCCESS) continue;
      const auto t = NumberOf(p, "t_s"), x = NumberOf(p, "x_in"), y = NumberOf(p, "y_ft");
      if (!t || !x || !y) continue;
      PathPoint point;
      point.time_s = *t;
      point.x = lane::MetresFromInches(*x);
      point.y = lane::MetresFromFeet(*y);
      point.sd_x = lane::MetresFromInches(NumberOf(p, "sd_x_in").value_or(0));
      point.sd_y = lane::MetresFromFeet(NumberOf(p, "sd_y_ft").value_or(0));
      point.seen = Flag(p, "seen");
      point.u_px = NumberOf(p, "u_px").value_or(0);
      point.v_px = NumberOf(p, "v_px").value_or(0);
      point.set_by_hand = Flag(p, "by_hand");
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
  if (const auto pins = Of<Object>(j, "pins")) {
    const auto list = [&](const char* key) -> std::optional<std::vector<int>> {
      const auto given = Of<Array>(*pins, key);
      if (!given) return std::nullopt;
      std::vector<int> out;
      for (const Element& pin : *given)
        if (std::int64_t n = 0; pin.get(n) == simdjson::SUCCESS && n >= 1 && n <= 10)
          out.push_back(static_cast<int>(n));
      return out;
    };
    shot.pins_before = list("before");
    shot.pins_after = list("after");
    shot.pins_reason = TextOf(*pins, "reason");
  }
  if (const auto hand = Of<Object>(j, "by_hand")) {
    shot.by_hand.added = Flag(*hand, "added");
    shot.by_hand.release = Flag(*hand, "release_s");
    shot.by_hand.pin_contact = Flag(*hand, "pin_contact_s");
    shot.by_hand.placed = static_cast<int>(NumberOf(*hand, "ball_placed").value_or(0));
    shot.by_hand.removed = static_cast<int>(NumberOf(*hand, "ball_removed").value_or(0));
  }
  return shot;
}

template <int kSize>
std::optional<Eigen::Matrix<double, kSize, 1>> VectorOf(const Object& j, const char* key) {
  const auto given = Of<Array>(j, key);
  if (!given || given->size() != kSize) return std::nullopt;
  Eigen::Matrix<double, kSize, 1> v;
  int i = 0;
  for (const Element& e : *given)
    if (e.get(v[i++]) != simdjson::SUCCESS) return std::nullopt;
  return v.allFinite() ? std::optional<Eigen::Matrix<double, kSize, 1>>(v) : std::nullopt;
}

// The lane as far as it can be drawn with: camera, width, arrows. Its covariance and neighbours are not in the file.
std::optional<LaneSetup> SetupOf(const Object& j, const ClipInfo& clip) {
  if (!Flag(j, "found")) return std::nullopt;
  const auto camera = Of<Object>(j, "camera");
  if (!camera) return std::nullopt;
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
  s.lane.arrows_measured = Flag(j, "arrows_measured");
  if (const auto residual = NumberOf(j, "residual_px")) s.residual_px = *residual;
  return s;
}

}  // namespace

Result<ClipResult> ParseResult(const std::string& text, const std::string& file) {
  const auto bad = [&](const std::string& what) { return Status(StatusCode::kBadFile, file + ": " + what); };
  // An editor may have put a byte order mark in front.
  const std::string_view whole = std::string_view(text).substr(text.starts_with("\xEF\xBB\xBF") ? 3 : 0);
  simdjson::dom::parser parser;
  Object j;
  if (parser.parse(whole.data(), whole.size()).get(j) != simdjson::SUCCESS)
    return bad("this is no JSON document; give a result file that `hookline measure --json` wrote.");
  if (TextOf(j, "format") != "hookline-shots")
    return bad("this is no result file (its \"format\" is not \"hookline-shots\").");
  if (NumberOf(j, "version").value_or(0) != 1)
    return bad("this result file has a version this program does not know; 1 is known.");
  const auto shots = Of<Array>(j, "shots");
  if (!shots) return bad("this result file has no list of shots.");
  ClipResult result;
  if (const auto clip = Of<Object>(j, "clip")) {
    result.clip.file = TextOf(*clip, "file");
    result.clip.width = static_cast<int>(NumberOf(*clip, "width").value_or(0));
    result.clip.height = static_cast<int>(NumberOf(*clip, "height").value_or(0));
    result.clip.duration_s = NumberOf(*clip, "duration_s").value_or(0);
  }
  if (const auto lane = Of<Object>(j, "lane_setup")) {
    result.lane_setup = SetupOf(*lane, result.clip);
    result.lane_reason = TextOf(*lane, "reason");
  }
  for (const Element& entry : *shots) {
    Object shot;
    if (entry.get(shot) != simdjson::SUCCESS) return bad("an entry of its list of shots is no object.");
    result.shots.push_back(ShotOf(shot));
  }
  result.no_shot_reason = TextOf(j, "no_shot_reason");
  if (const auto warnings = Of<Array>(j, "warnings"))
    for (const Element& w : *warnings)
      if (std::string_view said; w.get(said) == simdjson::SUCCESS) result.warnings.emplace_back(said);
  return result;
}

Shot ParseShot(const std::string& text) {
  simdjson::dom::parser parser;
  Object j;
  if (parser.parse(text).get(j) != simdjson::SUCCESS) j = parser.parse("{}", 2).get_object();
  return ShotOf(j);
}

Result<ClipResult> ReadResult(const std::string& file) {
  const auto text = ReadWholeFile(file);
  if (!text.ok()) return text.status();
  return ParseResult(*text, file);
}

}  // namespace hookline::report
