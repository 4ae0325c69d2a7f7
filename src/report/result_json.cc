#include "report/result_json.h"

#include <cmath>

#include "camera/projection.h"
#include "lane/units.h"
#include "report/json_parts.h"
#include "report/number_text.h"

namespace hookline::report {
namespace {

Json TextOrNull(const std::string& text) { return text.empty() ? Json(nullptr) : Json(text); }

Json ClipJson(const ClipInfo& clip) {
  return {{"file", clip.file},
          {"width", clip.width},
          {"height", clip.height},
          {"frames", clip.frames < 0 ? Json(nullptr) : Json(clip.frames)},
          {"duration_s", JsonNumber(clip.duration_s)},
          {"frame_rate_mean", JsonNumber(clip.frame_rate_mean)},
          {"variable_rate", clip.variable_rate},
          {"rotation_deg", clip.rotation_deg},
          {"codec", clip.codec}};
}

Json SetupJson(const ClipResult& result) {
  Json j = {{"found", result.lane_setup.has_value()}};
  if (!result.lane_setup) {
    j["reason"] = result.lane_reason;
    j["source"] = j["corners_px"] = j["residual_px"] = j["camera_moved_px"] = nullptr;
    return j;
  }
  const LaneSetup& setup = *result.lane_setup;
  j["reason"] = nullptr;
  j["source"] = SetupSourceName(setup.source);
  static constexpr std::array<const char*, 4> kCorners = {"foul_left", "foul_right", "headpin_left", "headpin_right"};
  const auto corners = LaneCorners(setup, result.first_frame);
  Json px = Json::object();
  for (std::size_t i = 0; i < kCorners.size(); ++i) {
    px[kCorners[i]] = corners[i] ? Json{JsonNumber(corners[i]->x()), JsonNumber(corners[i]->y())} : Json(nullptr);
  }
  j["corners_px"] = std::move(px);
  j["residual_px"] = JsonNumber(setup.residual_px);
  j["camera_moved_px"] = JsonNumber(result.camera_moved_px);
  j["lane_width_in"] = JsonNumber(lane::InchesFromMetres(setup.lane.width));
  j["arrows_measured"] = setup.lane.arrows_measured;
  Json tips = Json::array();
  for (double y : setup.lane.arrow_tip_y) tips.push_back(JsonNumber(lane::FeetFromMetres(y)));
  j["arrow_tips_ft"] = std::move(tips);
  const CameraModel& c = setup.camera;
  const auto triple = [](const Eigen::Vector3d& v) {
    return Json{JsonNumber(v.x()), JsonNumber(v.y()), JsonNumber(v.z())};
  };
  j["camera"] = {{"focal_px", JsonNumber(c.focal_px)},
                 {"centre_px", {JsonNumber(c.centre_u), JsonNumber(c.centre_v)}},
                 {"k1", JsonNumber(c.k1)},
                 {"k2", JsonNumber(c.k2)},
                 {"rotation_rad", triple(c.rotation)},
                 {"position_m", triple(c.position_in_lane)}};
  j["notes"] = setup.notes;
  if (!setup.marks_by_hand.empty()) {
    Json marks = Json::object();
    for (const auto& [name, p] : setup.marks_by_hand) marks[name] = {JsonNumber(p.x()), JsonNumber(p.y())};
    j["by_hand"] = std::move(marks);
  }
  return j;
}

Json MeasureJson(const Measure& measure) {
  if (!Given(measure)) return {{"value", nullptr}, {"reason", ReasonOf(measure)}};
  return {{"value", FileNumber(*measure.value)}, {"sd", FileNumber(measure.sd)}};
}

Json PointJson(const PathPoint& point) {
  Json j = {{"t_s", JsonNumber(point.time_s)},
            {"x_in", JsonNumber(lane::InchesFromMetres(point.x))},
            {"y_ft", JsonNumber(lane::FeetFromMetres(point.y))},
            {"sd_x_in", JsonNumber(lane::InchesFromMetres(point.sd_x))},
            {"sd_y_ft", JsonNumber(lane::FeetFromMetres(point.sd_y))},
            {"seen", point.seen},
            {"u_px", JsonNumber(point.u_px)},
            {"v_px", JsonNumber(point.v_px)}};
  if (point.speed && point.angle) {
    j["speed_mph"] = JsonNumber(lane::MphFromMetresPerSecond(*point.speed));
    j["sd_speed_mph"] = JsonNumber(lane::MphFromMetresPerSecond(point.sd_speed));
    j["angle_deg"] = JsonNumber(lane::DegreesFromRadians(*point.angle));
    j["sd_angle_deg"] = JsonNumber(lane::DegreesFromRadians(point.sd_angle));
  }
  if (point.set_by_hand) j["by_hand"] = true;
  return j;
}

Json ByHandJson(const ByHand& hand) {
  return {{"added", hand.added},
          {"release_s", hand.release},
          {"pin_contact_s", hand.pin_contact},
          {"ball_placed", hand.placed},
          {"ball_removed", hand.removed}};
}

Json TargetJson(const ShotTarget& target) {
  Json j = Json::object();
  const auto add = [&](const char* key, const std::optional<double>& board) {
    if (board) j[key] = JsonNumber(board);
  };
  add("arrows_board", target.arrows_board);
  add("breakpoint_board", target.breakpoint_board);
  add("stance_board", target.stance_board);
  add("target_board", target.target_board);
  return j;
}

Json ShotJson(const Shot& shot) {
  Json j = {{"number", shot.number},
            {"lane", shot.lane},
            {"hand", HandName(shot.hand)},
            {"hand_source", HandSourceName(shot.hand_source)},
            // Who bowled, with what and to which plan is the bowler's to say; a clip does not tell.
            {"bowler", TextOrNull(shot.bowler)},
            {"ball", TextOrNull(shot.ball)},
            {"plan", TextOrNull(shot.plan)},
            {"target", TargetJson(shot.target)},
            {"start_s", JsonNumber(shot.start_s)},
            {"release_s", JsonNumber(shot.release_s)},
            {"pin_contact_s", JsonNumber(shot.pin_contact_s)},
            {"gutter_ft", JsonNumber(shot.gutter_ft)},
            {"gutter_side", shot.gutter_ft ? Json(shot.gutter_own_side ? "own" : "other") : Json(nullptr)}};
  Json measures = Json::object();
  for (std::size_t i = 0; i < kMeasureCount; ++i) {
    measures[std::string(kMeasureTable[i].key)] = MeasureJson(shot.measures.all[i]);
  }
  j["measures"] = std::move(measures);
  Json friction = Json::array();
  for (const FrictionZone& zone : shot.friction)
    friction.push_back({{"from_ft", FileNumber(zone.from_ft)},
                        {"to_ft", FileNumber(zone.to_ft)},
                        {"value", FileNumber(zone.value)},
                        {"sd", FileNumber(zone.sd)}});
  j["friction"] = std::move(friction);
  j["path_model"] = TextOrNull(shot.path_model);
  Json path = Json::array();
  for (const PathPoint& point : shot.path) path.push_back(PointJson(point));
  j["path"] = std::move(path);
  j["pins"] = {{"before", shot.pins_before ? Json(*shot.pins_before) : Json(nullptr)},
               {"after", shot.pins_after ? Json(*shot.pins_after) : Json(nullptr)},
               {"fall_s", Json::object()},
               {"reason", TextOrNull(shot.pins_reason)}};
  if (shot.by_hand.Any()) j["by_hand"] = ByHandJson(shot.by_hand);
  return j;
}

}  // namespace

std::array<std::optional<Eigen::Vector2d>, 4> LaneCorners(const LaneSetup& setup, const FrameMotion& first_frame) {
  const double half = setup.lane.width / 2;
  const std::array<Eigen::Vector3d, 4> places = {Eigen::Vector3d(-half, 0, 0), Eigen::Vector3d(half, 0, 0),
                                                 Eigen::Vector3d(-half, lane::kHeadPinY, 0),
                                                 Eigen::Vector3d(half, lane::kHeadPinY, 0)};
  std::array<std::optional<Eigen::Vector2d>, 4> corners;
  for (std::size_t i = 0; i < places.size(); ++i) {
    corners[i] = camera::ImageFromLane(setup.camera, places[i]);
    if (corners[i] && first_frame.known)
      corners[i] = camera::FrameFromReference(setup.camera, first_frame, *corners[i]);
  }
  return corners;
}

std::string_view HandName(lane::Hand hand) { return hand == lane::Hand::kRight ? "right" : "left"; }

std::string_view HandSourceName(HandSource source) {
  switch (source) {
    case HandSource::kGiven:
      return "given";
    case HandSource::kSeen:
      return "seen";
    case HandSource::kAssumed:
      break;
  }
  return "assumed";
}

std::string_view SetupSourceName(SetupSource source) {
  switch (source) {
    case SetupSource::kAutomatic:
      return "automatic";
    case SetupSource::kPoints:
      return "points";
    case SetupSource::kFile:
      break;
  }
  return "file";
}

std::string ResultJson(const ClipResult& result) {
  Json j = {{"format", "hookline-shots"}, {"version", 1}};
  j["clip"] = ClipJson(result.clip);
  j["lane_setup"] = SetupJson(result);
  j["shots"] = Json::array();
  for (const Shot& shot : result.shots) j["shots"].push_back(ShotJson(shot));
  j["no_shot_reason"] = result.shots.empty() ? TextOrNull(result.no_shot_reason) : Json(nullptr);
  j["warnings"] = result.warnings;
  // A file name that is no UTF-8 must not stop the result from being written.
  return j.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace hookline::report
