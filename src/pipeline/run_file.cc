#include "pipeline/run_file.h"

#include <nlohmann/json.hpp>

#include "pipeline/refit.h"

namespace hookline::pipeline {
namespace {

using Json = nlohmann::json;

constexpr const char* kFormat = "hookline-run";
constexpr int kVersion = 3;

template <int kRows, int kCols>
Json MatrixJson(const Eigen::Matrix<double, kRows, kCols>& m) {
  return std::vector<double>(m.data(), m.data() + m.size());
}

template <int kRows, int kCols>
void Get(const Json& j, Eigen::Matrix<double, kRows, kCols>& m) {
  for (Eigen::Index i = 0; i < m.size(); ++i) m.data()[i] = j.at(static_cast<std::size_t>(i)).get<double>();
}

// NaN has no place in JSON's numbers, though it has one in CBOR.
Json MaybeJson(const std::optional<double>& v) { return v ? Json(*v) : Json(); }
void Get(const Json& j, std::optional<double>& v) { v = j.is_null() ? std::nullopt : std::optional(j.get<double>()); }

Eigen::Vector2d PlaceOf(const Json& u, const Json& v) { return {u.get<double>(), v.get<double>()}; }

Json PlaneJson(const cv::Mat& plane) {
  if (plane.empty()) return Json();
  const cv::Mat whole = plane.isContinuous() ? plane : plane.clone();
  return {{"w", plane.cols},
          {"h", plane.rows},
          {"px", Json::binary(std::vector<std::uint8_t>(whole.data, whole.data + whole.total()))}};
}

void Get(const Json& j, cv::Mat& plane) {
  if (j.is_null()) return;
  const int w = j.at("w"), h = j.at("h");
  const auto& px = j.at("px").get_binary();
  if (w <= 0 || h <= 0 || px.size() != static_cast<std::size_t>(w) * static_cast<std::size_t>(h))
    throw Json::other_error::create(501, "a plane of another size", &j);
  plane.create(h, w, CV_8UC1);
  std::copy(px.begin(), px.end(), plane.data);
}

Json MotionJson(const FrameMotion& m) {
  return {m.rotation[0], m.rotation[1], m.rotation[2], m.sd_px, m.known ? 1 : 0};
}

FrameMotion MotionOf(const Json& j) {
  FrameMotion m;
  for (std::size_t i = 0; i < 3; ++i) m.rotation[i] = j.at(i);
  m.sd_px = j.at(3);
  m.known = j.at(4).get<double>() != 0;
  return m;
}

Json SetupJson(const LaneSetup& s) {
  const CameraModel& c = s.camera;
  Json j = {{"source", static_cast<int>(s.source)},
            {"size", {c.width, c.height}},
            {"camera", {c.focal_px, c.centre_u, c.centre_v, c.k1, c.k2}},
            {"rotation", MatrixJson(c.rotation)},
            {"position", MatrixJson(c.position_in_lane)},
            {"width", s.lane.width},
            {"tips", s.lane.arrow_tip_y},
            {"arrows_measured", s.lane.arrows_measured},
            {"covariance", MatrixJson(s.covariance)},
            {"residual_px", s.residual_px},
            {"evidence_points", s.evidence_points},
            {"score", s.score},
            {"notes", s.notes}};
  j["neighbours"] = Json::array();
  for (const NeighbourLane& n : s.neighbours) j["neighbours"].push_back({n.index, n.centre_x});
  j["marks"] = Json::object();
  for (const auto& [name, p] : s.marks_by_hand) j["marks"][name] = {p.x(), p.y()};
  return j;
}

LaneSetup SetupOf(const Json& j) {
  LaneSetup s;
  const int source = j.at("source");
  s.source = source == 1 ? SetupSource::kPoints : source == 2 ? SetupSource::kFile : SetupSource::kAutomatic;
  CameraModel& c = s.camera;
  c.width = j.at("size").at(0);
  c.height = j.at("size").at(1);
  const Json& k = j.at("camera");
  c.focal_px = k.at(0);
  c.centre_u = k.at(1);
  c.centre_v = k.at(2);
  c.k1 = k.at(3);
  c.k2 = k.at(4);
  Get(j.at("rotation"), c.rotation);
  Get(j.at("position"), c.position_in_lane);
  s.lane.width = j.at("width");
  s.lane.arrow_tip_y = j.at("tips").get<std::array<double, 7>>();
  s.lane.arrows_measured = j.at("arrows_measured");
  Get(j.at("covariance"), s.covariance);
  s.residual_px = j.at("residual_px");
  s.evidence_points = j.at("evidence_points");
  s.score = j.at("score");
  s.notes = j.at("notes").get<std::vector<std::string>>();
  for (const Json& n : j.at("neighbours")) s.neighbours.push_back({n.at(0), n.at(1)});
  for (const auto& [name, p] : j.at("marks").items()) s.marks_by_hand[name] = PlaceOf(p.at(0), p.at(1));
  return s;
}

Json TrackJson(const Track& t) {
  Json sights = Json::array();
  for (const BallSight& s : t.sights)
    sights.push_back({s.frame, s.time_s, s.p_in_image.x(), s.p_in_image.y(), MatrixJson(s.covariance), s.p_in_frame.x(),
                      s.p_in_frame.y(), s.radius_px, s.in_air, s.seen_share, s.lasting_sd.x(), s.lasting_sd.y(),
                      s.by_radius_u});
  Json patches = Json::array();
  for (const BallPatch& p : t.patches)
    patches.push_back({p.time_s, p.corner.x, p.corner.y, PlaneJson(p.luma), PlaneJson(p.cb), PlaneJson(p.cr)});
  return {{"lane", t.lane},
          {"sights", std::move(sights)},
          {"end", static_cast<int>(t.end)},
          {"release", MaybeJson(t.release_s)},
          {"contact", MaybeJson(t.pin_contact_s)},
          {"gutter", MaybeJson(t.gutter_s)},
          {"hand", t.hand ? Json(std::string(1, *t.hand)) : Json()},
          {"notes", t.notes},
          {"pin", t.pin_touched ? Json{t.pin_touched->x(), t.pin_touched->y()} : Json()},
          {"contact_sd", t.pin_contact_sd_s},
          {"patches", std::move(patches)}};
}

Track TrackOf(const Json& j) {
  Track t;
  t.lane = j.at("lane");
  for (const Json& v : j.at("sights")) {
    BallSight s;
    s.frame = v.at(0);
    s.time_s = v.at(1);
    s.p_in_image = PlaceOf(v.at(2), v.at(3));
    Get(v.at(4), s.covariance);
    s.p_in_frame = PlaceOf(v.at(5), v.at(6));
    s.radius_px = v.at(7);
    s.in_air = v.at(8);
    s.seen_share = v.at(9);
    s.lasting_sd = PlaceOf(v.at(10), v.at(11));
    s.by_radius_u = v.at(12);
    t.sights.push_back(s);
  }
  const int end = j.at("end");
  if (end < 0 || end > static_cast<int>(TrackEnd::kLost)) throw Json::other_error::create(501, "no such end", &j);
  t.end = static_cast<TrackEnd>(end);
  Get(j.at("release"), t.release_s);
  Get(j.at("contact"), t.pin_contact_s);
  Get(j.at("gutter"), t.gutter_s);
  if (j.at("hand").is_string() && !j.at("hand").get<std::string>().empty()) t.hand = j.at("hand").get<std::string>()[0];
  t.notes = j.at("notes").get<std::vector<std::string>>();
  if (!j.at("pin").is_null()) t.pin_touched = PlaceOf(j.at("pin").at(0), j.at("pin").at(1));
  t.pin_contact_sd_s = j.at("contact_sd");
  for (const Json& v : j.at("patches")) {
    BallPatch p;
    p.time_s = v.at(0);
    p.corner = cv::Point(v.at(1).get<int>(), v.at(2).get<int>());
    Get(v.at(3), p.luma);
    Get(v.at(4), p.cb);
    Get(v.at(5), p.cr);
    t.patches.push_back(std::move(p));
  }
  return t;
}

Json TracksJson(const std::vector<Track>& tracks) {
  Json j = Json::array();
  for (const Track& t : tracks) j.push_back(TrackJson(t));
  return j;
}

}  // namespace

std::string RunBytes(const ClipRun& base) {
  const ClipResult& r = base.result;
  const ClipInfo& clip = r.clip;
  Json j = {{"format", kFormat},
            {"version", kVersion},
            {"clip",
             {{"file", clip.file},
              {"size", {clip.width, clip.height}},
              {"frames", clip.frames},
              {"duration_s", clip.duration_s},
              {"rate", clip.frame_rate_mean},
              {"variable", clip.variable_rate},
              {"rotation", clip.rotation_deg},
              {"codec", clip.codec}}},
            {"setup", r.lane_setup ? SetupJson(*r.lane_setup) : Json()},
            {"lane_reason", r.lane_reason},
            {"no_shot_reason", r.no_shot_reason},
            {"first_frame", MotionJson(r.first_frame)},
            {"camera_moved_px", r.camera_moved_px},
            {"warnings", r.lane_setup ? base.clip_warnings : r.warnings},
            {"tracks", TracksJson(base.tracks)},
            {"left_out", TracksJson(base.left_out)},
            {"times", base.frame_times_s},
            {"still", base.background ? PlaneJson(base.background->luma) : Json()}};
  j["motions"] = Json::array();
  for (const FrameMotion& m : base.motions) j["motions"].push_back(MotionJson(m));
  j["lane_marks"] = Json::object();
  for (const auto& [name, m] : base.lane_marks) j["lane_marks"][name] = {m.p_in_frame.x(), m.p_in_frame.y(), m.time_s};
  std::string bytes;
  Json::to_cbor(j, bytes);
  return bytes;
}

Result<ClipRun> RunFromBytes(const std::string& bytes, const std::string& name, const MeasureOptions& options) {
  const Status bad(StatusCode::kBadFile, name + " holds no measured clip of this version; the clip is measured again.");
  ClipRun base;
  try {
    const Json j = Json::from_cbor(bytes);
    if (j.at("format") != kFormat || j.at("version") != kVersion) return bad;
    ClipResult& r = base.result;
    const Json& c = j.at("clip");
    r.clip.file = c.at("file");
    r.clip.width = c.at("size").at(0);
    r.clip.height = c.at("size").at(1);
    r.clip.frames = c.at("frames");
    r.clip.duration_s = c.at("duration_s");
    r.clip.frame_rate_mean = c.at("rate");
    r.clip.variable_rate = c.at("variable");
    r.clip.rotation_deg = c.at("rotation");
    r.clip.codec = c.at("codec");
    if (!j.at("setup").is_null()) r.lane_setup = SetupOf(j.at("setup"));
    r.lane_reason = j.at("lane_reason");
    r.no_shot_reason = j.at("no_shot_reason");
    r.first_frame = MotionOf(j.at("first_frame"));
    r.camera_moved_px = j.at("camera_moved_px");
    r.warnings = base.clip_warnings = j.at("warnings").get<std::vector<std::string>>();
    for (const Json& t : j.at("tracks")) base.tracks.push_back(TrackOf(t));
    for (const Json& t : j.at("left_out")) base.left_out.push_back(TrackOf(t));
    base.frame_times_s = j.at("times").get<std::vector<double>>();
    for (const Json& m : j.at("motions")) base.motions.push_back(MotionOf(m));
    for (const auto& [mark, m] : j.at("lane_marks").items())
      base.lane_marks[mark] = {PlaceOf(m.at(0), m.at(1)), m.at(2).get<double>()};
    if (!j.at("still").is_null()) {
      auto still = std::make_shared<Background>();
      Get(j.at("still"), still->luma);
      base.background = std::move(still);
    }
  } catch (const Json::exception&) {
    return bad;
  }
  Corrections none;
  none.lane_marks = base.lane_marks;
  return Refit(base, none, options);
}

}  // namespace hookline::pipeline
