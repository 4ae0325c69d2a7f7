#include "synth/truth.h"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <nlohmann/json.hpp>

#include "camera/projection.h"

namespace hookline::synth {
namespace {

using Json = nlohmann::ordered_json;
using lane::DegreesFromRadians;
using lane::FeetFromMetres;
using lane::InchesFromMetres;
using lane::MetresFromFeet;
using lane::MphFromMetresPerSecond;

constexpr double kNaN = std::numeric_limits<double>::quiet_NaN();

// First sign change of f from below zero to zero or more in (from, to), by steps and then bisection.
std::optional<double> FirstRise(const std::function<double(double)>& f, double from, double to, double step) {
  double before = f(from), a = from;
  for (double b = from + step; b <= to; b += step) {
    const double value = f(b);
    if (before < 0 && value >= 0) {
      double low = a, high = b;
      for (int i = 0; i < 60; ++i) {
        const double middle = 0.5 * (low + high);
        (f(middle) < 0 ? low : high) = middle;
      }
      return 0.5 * (low + high);
    }
    before = value;
    a = b;
  }
  return std::nullopt;
}

double Round(double v, int decimals) {
  const double f = std::pow(10, decimals);
  return std::round(v * f) / f;
}

Json Pixel(const Eigen::Vector2d& p) { return {Round(p.x(), 3), Round(p.y(), 3)}; }

struct Views {
  std::optional<Eigen::Vector2d> undistorted, distorted;
};
Views Project(const CameraModel& c, const Eigen::Matrix3d& rotation, const Eigen::Matrix3d& turn,
              const Eigen::Vector3d& p) {
  const Eigen::Vector3d q = turn * rotation * (p - c.position_in_lane);
  if (q.z() < 0.01) return {};
  const Eigen::Vector2d n(q.x() / q.z(), q.y() / q.z());
  return {Eigen::Vector2d(c.focal_px * n.x() + c.centre_u, c.focal_px * n.y() + c.centre_v),
          camera::ImageFromNormalised(c, n)};
}

bool Inside(const CameraModel& c, const Eigen::Vector2d& p) {
  return p.x() >= -0.5 && p.y() >= -0.5 && p.x() < c.width - 0.5 && p.y() < c.height - 0.5;
}

std::optional<ShotTruth::Extremum> ExtremumOf(const ShotRun& run, double from_s, double to_s, double side,
                                              double board) {
  // Outermost place towards `side`; none when it lies at an end of the stretch.
  const auto out = [&](double t) { return side * run.At(t).motion.p.x(); };
  const double step = 0.001;
  double best = from_s, best_out = out(from_s);
  for (double t = from_s; t <= to_s; t += step) {
    if (out(t) > best_out) {
      best_out = out(t);
      best = t;
    }
  }
  if (best < from_s + 2 * step || best > to_s - 2 * step) return std::nullopt;
  double a = best - step, b = best + step;
  for (int i = 0; i < 60; ++i) {  // golden section is not needed: the outermost is where the level speed changes sign
    const double middle = 0.5 * (a + b);
    (side * run.At(middle).motion.v.x() > 0 ? a : b) = middle;
  }
  ShotTruth::Extremum e;
  const double t = 0.5 * (a + b);
  const BallMoment m = run.At(t);
  e.at = {t, m.motion.p.x(), m.motion.p.y()};
  best_out = out(t);
  double low = t, high = t;
  while (low > from_s && best_out - out(low) < 0.1 * board) low -= step / 2;
  while (high < to_s && best_out - out(high) < 0.1 * board) high += step / 2;
  // A wiggle smaller than this is not a breakpoint: the path must turn by more than its own stretch of doubt.
  if (best_out - out(from_s) < 0.02 * board || best_out - out(to_s) < 0.02 * board) return std::nullopt;
  e.y_low = run.At(low).motion.p.y();
  e.y_high = run.At(high).motion.p.y();
  return e;
}

}  // namespace

lane::LaneSpec LaneOf(const LanesSpec& lanes) {
  lane::LaneSpec out;
  out.width = lane::MetresFromInches(lanes.width_in);
  for (std::size_t i = 0; i < 7; ++i) out.arrow_tip_y[i] = MetresFromFeet(lanes.arrow_tips_ft[i]);
  return out;
}

std::optional<ShotTruth::Crossing> ShotTruth::CrossY(const ShotRun& run, double y) {
  const auto t = FirstRise([&](double s) { return run.At(s).motion.p.y() - y; }, run.release_s(), run.end_s(), 0.002);
  if (!t) return std::nullopt;
  const Eigen::Vector3d p = run.At(*t).motion.p;
  return Crossing{*t, p.x(), p.y()};
}

std::optional<ShotTruth::Crossing> ShotTruth::CrossArrows(const ShotRun& run, const lane::LaneSpec& lane) {
  const auto t = FirstRise(
      [&](double s) {
        const Eigen::Vector3d p = run.At(s).motion.p;
        return p.y() - lane.ArrowLineY(p.x());
      },
      run.release_s(), run.end_s(), 0.002);
  if (!t) return std::nullopt;
  const Eigen::Vector3d p = run.At(*t).motion.p;
  return Crossing{*t, p.x(), p.y()};
}

ShotTruth TruthOf(const ShotRun& run, const lane::LaneSpec& lane) {
  ShotTruth t;
  const BallMotion release = run.At(run.release_s()).motion;
  if (release.p.y() >= 0) {
    t.foul_line_s = run.release_s() - release.p.y() / release.v.y();
  } else {
    const auto c = ShotTruth::CrossY(run, 0);
    t.foul_line_s = c ? c->time_s : kNaN;
  }
  t.arrows = ShotTruth::CrossArrows(run, lane);
  const auto speed_at = [&](double y_ft) {
    const auto c = ShotTruth::CrossY(run, MetresFromFeet(y_ft));
    return c ? run.At(c->time_s).motion.v.norm() : kNaN;
  };
  t.speed_2ft = speed_at(2);
  t.speed_15ft = speed_at(15);
  t.speed_59ft = speed_at(59);
  const auto at3 = ShotTruth::CrossY(run, MetresFromFeet(3)), at10 = ShotTruth::CrossY(run, MetresFromFeet(10));
  t.launch_x_angle = at3 && at10 ? std::atan2(at10->x - at3->x, at10->y - at3->y) : kNaN;
  t.entry = ShotTruth::CrossY(run, lane::kEntryY);
  t.speed_mean = t.entry ? lane::kEntryY / (t.entry->time_s - t.foul_line_s) : kNaN;
  if (run.pin_contact_s() && (!t.entry || *run.pin_contact_s() - 0.001 < t.entry->time_s)) {
    const double s = *run.pin_contact_s() - 0.001;
    const Eigen::Vector3d p = run.At(s).motion.p;
    t.entry = ShotTruth::Crossing{s, p.x(), p.y()};
    // y travelled from the foul line to the entry point, over the time.
    t.speed_mean = p.y() / (s - t.foul_line_s);
  }
  if (t.entry) {
    const Eigen::Vector3d v = run.At(t.entry->time_s).motion.v;
    t.entry_vx = v.x();
    t.entry_vy = v.y();
  }
  const auto at59 = ShotTruth::CrossY(run, MetresFromFeet(59));
  if (t.arrows && at59 && !run.gutter_s()) {
    const double board = lane::BoardWidth(lane.width);
    t.breakpoint = ExtremumOf(run, t.arrows->time_s, at59->time_s, run.hand_sign(), board);
    t.turning_point =
        t.breakpoint ? t.breakpoint : ExtremumOf(run, t.arrows->time_s, at59->time_s, -run.hand_sign(), board);
  }
  return t;
}

namespace {

struct Writer {
  const Scene& scene;
  const std::vector<double>& times;
  lane::LaneSpec lane;
  double board_width;

  double Board(double x) const { return lane::kCentreBoard - x / board_width; }
  static double Own(double board, const ShotRun& run) { return run.hand_sign() > 0 ? board : 40 - board; }

  Json Extremum(const std::optional<ShotTruth::Extremum>& e, const ShotRun& run) const {
    if (!e) return nullptr;
    const double b = Board(e->at.x);
    return {{"board", Round(b, 4)},
            {"board_own_hand", Round(Own(b, run), 4)},
            {"y_ft", Round(FeetFromMetres(e->at.y), 3)},
            {"y_range_within_0p1_board_ft", {Round(FeetFromMetres(e->y_low), 2), Round(FeetFromMetres(e->y_high), 2)}}};
  }

  Json Landmark(const Eigen::Vector3d& p) const {
    const CameraModel& c = scene.camera().still();
    const Views v = Project(c, scene.camera().rotation(), Eigen::Matrix3d::Identity(), p);
    Json j = {
        {"world_in",
         {Round(InchesFromMetres(p.x()), 3), Round(InchesFromMetres(p.y()), 3), Round(InchesFromMetres(p.z()), 3)}}};
    if (v.distorted) {
      j["undistorted_px"] = Pixel(*v.undistorted);
      j["px"] = Pixel(*v.distorted);
      j["in_frame"] = Inside(c, *v.distorted);
    } else {
      j["undistorted_px"] = j["px"] = nullptr;
      j["in_frame"] = false;
    }
    return j;
  }

  Json Landmarks(double shift) const {
    Json all = Json::object();
    const double half = lane.width / 2;
    const auto add = [&](const std::string& name, double x, double y, double z) {
      all[name] = Landmark({shift + x, y, z});
    };
    const double deck_end = lane::kHeadPinY + lane::MetresFromInches(34 + 3.0 / 16);
    add("foul_left", -half, 0, 0);
    add("foul_right", half, 0, 0);
    add("edge60_left", -half, lane::kHeadPinY, 0);
    add("edge60_right", half, lane::kHeadPinY, 0);
    add("deck_end_left", -half, deck_end, 0);
    add("deck_end_right", half, deck_end, 0);
    add("headpin_spot", 0, lane::kHeadPinY, 0);
    for (int i = 0; i < 7; ++i)
      add("arrow_" + std::to_string(5 * (i + 1)), lane.ArrowX(i), lane.arrow_tip_y[static_cast<std::size_t>(i)], 0);
    const auto spots = lane::PinSpots();
    for (std::size_t i = 0; i < 10; ++i) {
      add("pin_" + std::to_string(i + 1), spots[i].x, spots[i].y, 0);
      add("pin_" + std::to_string(i + 1) + "_top", spots[i].x, spots[i].y, lane::kPinHeight);
    }
    for (double b : scene.scenario().lanes.dot_boards)
      add("dot7_" + std::to_string(static_cast<int>(b)), lane::XFromBoard(b, lane.width, lane::Hand::kRight),
          MetresFromFeet(scene.scenario().lanes.dots_ft), 0);
    return all;
  }

  Json Samples(std::size_t index) const {
    const ShotRun& run = scene.runs()[index];
    const CameraModel& c = scene.camera().still();
    const double shift = scene.LaneX(run.spec().lane);
    Json all = Json::array();
    for (std::size_t f = 0; f < times.size(); ++f) {
      const double t = times[f];
      if (t < run.release_s() || t > run.end_s()) continue;
      const BallMoment m = run.At(t);
      if (m.motion.p.z() < -0.5) break;
      const Eigen::Matrix3d turn = scene.camera().TurnAt(t);
      const Eigen::Vector3d centre = m.motion.p + Eigen::Vector3d(shift, 0, 0),
                            contact = centre - Eigen::Vector3d(0, 0, run.radius());
      const Views v = Project(c, scene.camera().rotation(), turn, centre),
                  vc = Project(c, scene.camera().rotation(), turn, contact);
      if (!v.distorted || !vc.distorted) continue;
      const double depth = (turn * scene.camera().rotation() * (centre - c.position_in_lane)).z();
      // With a rolling shutter the ball is seen where it is when its own row is exposed.
      double row_s = t;
      Eigen::Vector2d seen = *v.distorted;
      for (int i = 0; i < 20; ++i) {
        row_s = scene.camera().LineTime(t, scene.camera().LineOf(seen.x(), seen.y()));
        const Eigen::Vector3d p = run.At(std::max(row_s, run.release_s())).motion.p + Eigen::Vector3d(shift, 0, 0);
        const Views s = Project(c, scene.camera().rotation(), scene.camera().TurnAt(row_s), p);
        if (s.distorted) seen = *s.distorted;
      }
      Json j = {{"frame", f},
                {"t", Round(t, 6)},
                {"x_in", Round(InchesFromMetres(m.motion.p.x()), 4)},
                {"y_ft", Round(FeetFromMetres(m.motion.p.y()), 5)},
                {"z_in", Round(InchesFromMetres(m.motion.p.z()), 3)},
                {"center_px", Pixel(*v.distorted)},
                {"contact_px", Pixel(*vc.distorted)},
                {"center_undist_px", Pixel(*v.undistorted)},
                {"seen_px", Pixel(seen)},
                {"seen_t", Round(row_s, 6)},
                {"radius_px", Round(c.focal_px * run.radius() / depth, 3)},
                {"visible", Round(scene.BallVisible(index, t), 3)},
                {"phase", NameOf(m.phase)},
                {"speed_mph", Round(MphFromMetresPerSecond(m.motion.v.norm()), 4)},
                {"omega_rad_s", {Round(m.motion.w.x(), 3), Round(m.motion.w.y(), 3), Round(m.motion.w.z(), 3)}}};
      all.push_back(j);
    }
    return all;
  }

  Json PinsSeen(std::size_t index, double before_s, bool last) const {
    std::size_t frame = 0;
    for (std::size_t f = 0; f < times.size(); ++f)
      if (times[f] <= before_s) frame = f;
    if (last) frame = times.size() - 1;
    Json share = Json::object();
    for (int pin = 1; pin <= 10; ++pin)
      share[std::to_string(pin)] = Round(scene.PinVisible(index, pin, times[frame]), 2);
    return {{"frame", frame}, {"t", Round(times[frame], 4)}, {"fraction", share}};
  }

  Json Shot(std::size_t index) const {
    const ShotRun& run = scene.runs()[index];
    const ShotSpec& spec = run.spec();
    const ShotTruth t = TruthOf(run, lane);
    Json s;
    const auto mph = [](double v) -> Json {
      return std::isfinite(v) ? Json(Round(MphFromMetresPerSecond(v), 4)) : Json(nullptr);
    };
    s["lane"] = spec.lane;
    s["hand"] = spec.hand;
    s["release_time_s"] = Round(run.release_s(), 6);
    s["laydown_time_s"] = Round(run.laydown_s(), 6);
    s["ball_diameter_in"] = spec.ball.diameter_in;
    s["ball_rg_in"] = spec.ball.rg_in;
    s["ball_look"] = spec.ball.look + " " + spec.ball.colours[0];
    s["kind"] = run.gutter_s() ? "gutter" : "";
    const Eigen::Vector3d lay = run.At(run.laydown_s()).motion.p;
    s["laydown"] = {{"board", Round(Board(lay.x()), 4)},
                    {"board_own_hand", Round(Own(Board(lay.x()), run), 4)},
                    {"y_ft", Round(FeetFromMetres(lay.y()), 4)}};
    if (t.arrows) {
      s["board_at_arrows"] = Round(Board(t.arrows->x), 4);
      s["board_at_arrows_own_hand"] = Round(Own(Board(t.arrows->x), run), 4);
      s["arrows_cross"] = {{"x_in", Round(InchesFromMetres(t.arrows->x), 4)},
                           {"y_ft", Round(FeetFromMetres(t.arrows->y), 4)},
                           {"time_s", Round(t.arrows->time_s, 6)}};
    } else {
      s["board_at_arrows"] = s["board_at_arrows_own_hand"] = s["arrows_cross"] = nullptr;
    }
    for (int ft : {10, 15, 20, 30, 40, 50}) {
      const auto c = ShotTruth::CrossY(run, MetresFromFeet(ft));
      const std::string key = "board_at_" + std::to_string(ft) + "ft";
      s[key] = c ? Json(Round(Board(c->x), 4)) : Json(nullptr);
      s[key + "_own_hand"] = c ? Json(Round(Own(Board(c->x), run), 4)) : Json(nullptr);
    }
    s["breakpoint"] = Extremum(t.breakpoint, run);
    s["turning_point_any_side"] = Extremum(t.turning_point, run);
    if (t.entry) {
      const double x_angle = DegreesFromRadians(std::atan2(t.entry_vx, t.entry_vy));
      s["entry"] = {{"board", Round(Board(t.entry->x), 4)},
                    {"board_own_hand", Round(Own(Board(t.entry->x), run), 4)},
                    {"y_ft", Round(FeetFromMetres(t.entry->y), 3)},
                    {"angle_deg", Round(-run.hand_sign() * x_angle, 4)},
                    {"angle_x_deg", Round(x_angle, 4)},
                    {"time_s", Round(t.entry->time_s, 6)}};
    } else {
      s["entry"] = nullptr;
    }
    s["launch_angle_deg"] =
        std::isfinite(t.launch_x_angle) ? Json(Round(DegreesFromRadians(t.launch_x_angle), 4)) : Json(nullptr);
    s["speed_mph"] = {{"release_2ft", mph(t.speed_2ft)},
                      {"arrows_15ft", mph(t.speed_15ft)},
                      {"entry_59ft", mph(t.speed_59ft)},
                      {"mean_foul_to_59p5ft", mph(t.speed_mean)}};
    s["rev_rate_rpm"] = spec.rev_rpm;
    s["axis_rotation_deg"] = spec.axis_rotation_deg;
    s["axis_tilt_deg"] = spec.axis_tilt_deg;
    const auto at59 = ShotTruth::CrossY(run, MetresFromFeet(59));
    s["rev_rate_at_59ft_rpm"] =
        at59 ? Json(Round(run.At(at59->time_s).motion.w.norm() * 60 / (2 * lane::kPi), 2)) : Json(nullptr);
    s["gutter_ball"] = run.gutter_s().has_value();
    if (run.gutter_s()) {
      const BallMoment g = run.At(*run.gutter_s());
      s["gutter_y_ft"] = Round(FeetFromMetres(g.motion.p.y()), 4);
      s["gutter_side"] = g.motion.p.x() * run.hand_sign() > 0 ? "own" : "other";
      s["gutter_time_s"] = Round(*run.gutter_s(), 6);
    }
    s["first_rolling_y_ft"] = run.roll_s() && !run.gutter_s()
                                  ? Json(Round(FeetFromMetres(run.At(*run.roll_s()).motion.p.y()), 3))
                                  : Json(nullptr);
    s["foul_line_time_s"] = std::isfinite(t.foul_line_s) ? Json(Round(t.foul_line_s, 6)) : Json(nullptr);
    const FrictionSpec& f = spec.friction;
    s["mu_profile"] = {{"mu_oil", f.oil},
                       {"mu_out", f.outside},
                       {"mu_dry", f.dry},
                       {"oil_len_ft", f.oil_length_ft},
                       {"trans_ft", f.transition_ft},
                       {"out_board", f.outside_board},
                       {"rolling", f.rolling}};
    s["pins_before"] = spec.pins_before;
    s["pins_after"] = run.pins_after();
    s["pins_down"] = spec.pins_before.size() - run.pins_after().size();
    s["fall_time_s"] = s["tilt45_time_s"] = Json::object();
    for (std::size_t i = 0; i < 10; ++i) {
      if (run.fall_s()[i]) s["fall_time_s"][std::to_string(i + 1)] = Round(*run.fall_s()[i], 4);
      if (run.tilt45_s()[i]) s["tilt45_time_s"][std::to_string(i + 1)] = Round(*run.tilt45_s()[i], 4);
    }
    s["first_pin_contact_s"] = run.pin_contact_s() ? Json(Round(*run.pin_contact_s(), 6)) : Json(nullptr);
    s["sweep_down_from_s"] = std::isfinite(run.sweep_s()) ? Json(Round(run.sweep_s(), 3)) : Json(nullptr);
    const double deck_s = run.pin_contact_s() ? *run.pin_contact_s() : t.entry ? t.entry->time_s : times.back();
    s["pin_visible_before"] = PinsSeen(index, std::min(times.back(), deck_s - 0.03), false);
    s["pin_visible_after"] = PinsSeen(index, 0, true);
    s["samples"] = Samples(index);
    return s;
  }
};

}  // namespace

std::string TruthJson(const Scene& scene, const std::vector<double>& times, const std::string& clip_file) {
  const Scenario& sc = scene.scenario();
  Writer w{scene, times, LaneOf(sc.lanes), 0};
  w.board_width = lane::BoardWidth(w.lane.width);
  const CameraModel& c = scene.camera().still();
  const double mean_rate = times.size() > 1 ? static_cast<double>(times.size() - 1) / times.back() : sc.video.fps;
  Json j;
  j["format_version"] = 1;
  j["clip"] = clip_file;
  j["width"] = c.width;
  j["height"] = c.height;
  j["coded_rotation_deg"] = sc.video.rotation_deg;
  j["fps_nominal"] = sc.video.fps;
  j["fps"] = Round(mean_rate, 4);
  j["n_frames"] = times.size();
  Json pts = Json::array();
  for (double t : times) pts.push_back(Round(t, 6));
  j["pts"] = pts;
  j["container_first_pts"] = 0.0;
  j["pts_are"] = "mid-exposure times";
  j["shutter_s"] = sc.video.shutter_s;
  j["readout_s"] = sc.video.readout_s;
  j["description"] = sc.description;
  j["hand"] = nullptr;
  for (const ShotSpec& s : sc.shots)
    if (s.lane == 0 && j["hand"].is_null()) j["hand"] = s.hand;
  const Eigen::Matrix3d& r = scene.camera().rotation();
  Json rows = Json::array();
  for (int i = 0; i < 3; ++i) rows.push_back({Round(r(i, 0), 9), Round(r(i, 1), 9), Round(r(i, 2), 9)});
  j["camera"] = {
      {"position_ft", sc.camera.position_ft},
      {"rotation", rows},
      {"fx", c.focal_px},
      {"fy", c.focal_px},
      {"cx", c.centre_u},
      {"cy", c.centre_v},
      {"k1", c.k1},
      {"k2", c.k2},
      {"convention",
       "p_cam = R (p_world - C); camera x right, y down, z forward; pixel centre of the top-left pixel is (0,0)"}};
  j["lane_width_in"] = sc.lanes.width_in;
  j["lane_centres_in"] = sc.lanes.centres_in;
  j["arrow_tips_ft"] = sc.lanes.arrow_tips_ft;
  j["dots_ft"] = sc.lanes.dots_ft;
  j["foul_line_in"] = sc.lanes.foul_line_in;
  j["landmarks"] = w.Landmarks(0);
  Json others = Json::object();
  for (std::size_t i = 0; i < scene.hall().centres().size(); ++i) {
    const int k = static_cast<int>(i) - scene.hall().own_lane();
    if (std::abs(k) == 1) others[std::to_string(k)] = w.Landmarks(scene.LaneX(k));
  }
  j["landmarks_other_lanes"] = others;
  if (scene.camera().moves()) {
    Json all = Json::array();
    for (double t : times) {
      const Eigen::Matrix3d h = scene.camera().HomographyAt(t);
      Json m = Json::array();
      for (int i = 0; i < 3; ++i)
        for (int k = 0; k < 3; ++k) m.push_back(Round(h(i, k), 12));
      all.push_back(m);
    }
    j["jitter_homography"] = all;
  } else {
    j["jitter_homography"] = nullptr;
  }
  j["shots"] = Json::array();
  for (std::size_t i = 0; i < scene.runs().size(); ++i) j["shots"].push_back(w.Shot(i));
  return j.dump(1) + "\n";
}

}  // namespace hookline::synth
