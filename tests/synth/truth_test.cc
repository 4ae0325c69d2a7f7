// Every number of the truth on shots whose answer is known without the program.
#include "synth/truth.h"

#include <doctest/doctest.h>

#include <cmath>
#include <nlohmann/json.hpp>

namespace hookline::synth {
namespace {

using doctest::Approx;
using lane::MetresFromFeet;
using lane::MetresFromInches;

constexpr double kWidth = MetresFromInches(41.5), kGutter = MetresFromInches(1.875);

// A ball that only slides, on friction so low that its path is a straight line at constant speed.
ShotSpec Gliding(double board, double angle_deg, const char* hand) {
  ShotSpec s;
  s.hand = hand;
  s.laydown_board = board;
  s.laydown_ft = 1;
  s.angle_deg = angle_deg;
  s.speed_mph = 18;
  s.release_height_in = 0;
  s.friction.oil = s.friction.outside = s.friction.dry = 0;
  s.rev_rpm = 200;
  return s;
}

}  // namespace

TEST_CASE("a straight line: boards, angles and speeds by plane geometry, for both hands") {
  const lane::LaneSpec lane;
  for (const char* hand : {"right", "left"}) {
    CAPTURE(hand);
    const ShotRun run(Gliding(15, 1.2, hand), kWidth, kGutter);
    const ShotTruth t = TruthOf(run, lane);
    const double slope = std::tan(lane::RadiansFromDegrees(1.2)), board = lane::BoardWidth(kWidth);
    const auto own = [&](double x) {
      return lane::BoardFromX(x, kWidth, hand[0] == 'r' ? lane::Hand::kRight : lane::Hand::kLeft);
    };
    const auto board_at = [&](double y_ft) { return 15 - slope * MetresFromFeet(y_ft - 1) / board; };
    for (double y : {10.0, 15.0, 40.0, 50.0})
      CHECK(own(ShotTruth::CrossY(run, MetresFromFeet(y))->x) == Approx(board_at(y)).epsilon(1e-7));
    REQUIRE(t.entry);
    CHECK(own(t.entry->x) == Approx(board_at(59.5)).epsilon(1e-7));
    CHECK(t.entry->y == Approx(MetresFromFeet(59.5)));
    CHECK(run.hand_sign() * std::atan2(t.entry_vx, t.entry_vy) == Approx(lane::RadiansFromDegrees(1.2)).epsilon(1e-9));
    CHECK(run.hand_sign() * t.launch_x_angle == Approx(lane::RadiansFromDegrees(1.2)).epsilon(1e-7));
    const double v = lane::MetresPerSecondFromMph(18);
    for (double s : {t.speed_2ft, t.speed_15ft, t.speed_59ft}) CHECK(s == Approx(v).epsilon(1e-12));
    // Along y only, over the time from the foul line.
    CHECK(t.speed_mean == Approx(v * std::cos(lane::RadiansFromDegrees(1.2))).epsilon(1e-9));
    CHECK(t.foul_line_s ==
          Approx(run.release_s() - MetresFromFeet(1) / (v * std::cos(lane::RadiansFromDegrees(1.2)))).epsilon(1e-9));
    CHECK_FALSE(t.breakpoint);  // a straight ball has none
    CHECK_FALSE(t.turning_point);
  }
}

TEST_CASE("the arrows: on a tip, between tips, and beyond the outer ones") {
  lane::LaneSpec lane;
  lane.arrow_tip_y = {MetresFromFeet(12.6), MetresFromFeet(13.1), MetresFromFeet(13.6), MetresFromFeet(14.6),
                      MetresFromFeet(13.6), MetresFromFeet(13.1), MetresFromFeet(12.6)};
  // Dead straight along board 15, whose tip is at 13.6 ft.
  ShotTruth t = TruthOf(ShotRun(Gliding(15, 0, "right"), kWidth, kGutter), lane);
  REQUIRE(t.arrows);
  CHECK(t.arrows->y == Approx(MetresFromFeet(13.6)).epsilon(1e-9));
  // Half way between boards 15 and 20.
  t = TruthOf(ShotRun(Gliding(17.5, 0, "right"), kWidth, kGutter), lane);
  CHECK(t.arrows->y == Approx(MetresFromFeet(14.1)).epsilon(1e-9));
  // Board 2.5 lies half a leg outside of board 5: the leg from 10 to 5 goes on.
  t = TruthOf(ShotRun(Gliding(2.5, 0, "right"), kWidth, kGutter), lane);
  CHECK(t.arrows->y == Approx(MetresFromFeet(12.6 - 0.25)).epsilon(1e-9));
  // A left-hander's board 15 is a right-hander's 25.
  t = TruthOf(ShotRun(Gliding(15, 0, "left"), kWidth, kGutter), lane);
  CHECK(t.arrows->y == Approx(MetresFromFeet(13.6)).epsilon(1e-9));
  CHECK(t.arrows->x < 0);
}

TEST_CASE("one friction: breakpoint and entry of the parabola in closed form") {
  // While it slides under one friction the ball has the constant acceleration -mu g along its slip, so x(t) is a
  // parabola with its outermost point where vx = 0.
  ShotSpec s = Gliding(12, 2.0, "right");
  s.friction.oil = s.friction.outside = s.friction.dry = 0.03;
  s.rev_rpm = 400;
  s.axis_rotation_deg = 50;
  s.axis_tilt_deg = 0;
  const ShotRun run(s, kWidth, kGutter);
  const BallMotion b = run.At(run.laydown_s()).motion;
  const Eigen::Vector2d slip = SlipVelocity(b, run.body());
  const Eigen::Vector2d a = -0.03 * lane::kStandardGravity * slip.normalized();
  const double t_out = -b.v.x() / a.x();
  REQUIRE(t_out < run.body().k * slip.norm() / ((1 + run.body().k) * 0.03 * lane::kStandardGravity));  // still sliding
  const double x = b.p.x() + b.v.x() * t_out / 2, y = b.p.y() + b.v.y() * t_out + a.y() * t_out * t_out / 2;
  REQUIRE(y > MetresFromFeet(20));
  REQUIRE(y < MetresFromFeet(58));
  const ShotTruth t = TruthOf(run, lane::LaneSpec());
  REQUIRE(t.breakpoint);
  CHECK(t.breakpoint->at.x == Approx(x).epsilon(1e-7));
  CHECK(t.breakpoint->at.y == Approx(y).epsilon(1e-5));
  // Within 0.1 board of the outermost: sqrt(2 * 0.1 board / |ax|) of time on both sides.
  const double half = std::sqrt(2 * 0.1 * lane::BoardWidth(kWidth) / std::abs(a.x()));
  const auto y_at = [&](double time) { return b.p.y() + b.v.y() * time + a.y() * time * time / 2; };
  CHECK(t.breakpoint->y_low == Approx(y_at(t_out - half)).epsilon(2e-3));
  CHECK(t.breakpoint->y_high == Approx(y_at(t_out + half)).epsilon(2e-3));
  // Speed at 15 ft from the same parabola.
  const double c = b.p.y() - MetresFromFeet(15),
               t15 = (-b.v.y() + std::sqrt(b.v.y() * b.v.y() - 2 * a.y() * c)) / a.y();
  CHECK(t.speed_15ft == Approx((b.v.head<2>() + a * t15).norm()).epsilon(1e-6));
}

TEST_CASE("a backup ball has a turning point but no breakpoint") {
  ShotSpec s = Gliding(22, -2.0, "right");
  s.friction.oil = s.friction.outside = s.friction.dry = 0.04;
  s.rev_rpm = 300;
  s.axis_rotation_deg = -50;
  const ShotTruth t = TruthOf(ShotRun(s, kWidth, kGutter), lane::LaneSpec());
  CHECK_FALSE(t.breakpoint);
  REQUIRE(t.turning_point);
  CHECK(t.turning_point->at.y > MetresFromFeet(15));
}

TEST_CASE("a gutter ball drops where the contact point passes the edge") {
  const ShotSpec s = Gliding(8, 3.0, "right");
  const ShotRun run(s, kWidth, kGutter);
  REQUIRE(run.gutter_s());
  const double x0 = lane::XFromBoard(8, kWidth, lane::Hand::kRight);
  const double y = MetresFromFeet(1) + (kWidth / 2 - x0) / std::tan(lane::RadiansFromDegrees(3));
  CHECK(run.At(*run.gutter_s()).motion.p.y() == Approx(y).epsilon(1e-4));
  CHECK(run.At(*run.gutter_s()).motion.p.x() == Approx(kWidth / 2).epsilon(1e-4));
  CHECK_FALSE(TruthOf(run, lane::LaneSpec()).breakpoint);
  // In the end it lies in the trough's middle, at the trough's depth.
  const Eigen::Vector3d p = run.At(ShotTruth::CrossY(run, MetresFromFeet(58))->time_s).motion.p;
  CHECK(p.x() == Approx(kWidth / 2 + lane::kGutterWidth / 2).epsilon(0.01));
  CHECK(p.z() == Approx(run.radius() - kGutter).epsilon(0.03));
  CHECK(run.pins_after().size() == 10);
}

TEST_CASE("a ball dead on the head pin touches it one reach before its spot, and the entry is 1 ms earlier") {
  const ShotRun run(Gliding(20, 0, "right"), kWidth, kGutter);
  REQUIRE(run.pin_contact_s());
  const Eigen::Vector3d p = run.At(*run.pin_contact_s()).motion.p;
  // Ball radius 4.275 in at 4.275 in height meets the pin where it is all but widest (4.766 in at 4.5 in).
  CHECK(lane::InchesFromMetres(lane::kHeadPinY - p.y()) == Approx(4.275 + 2.37).epsilon(0.003));
  const ShotTruth t = TruthOf(run, lane::LaneSpec());
  CHECK(t.entry->time_s == Approx(*run.pin_contact_s() - 0.001).epsilon(1e-9));
  CHECK(run.fall_s()[0].has_value());
  CHECK(*run.fall_s()[0] == Approx(*run.pin_contact_s()).epsilon(1e-9));
}

TEST_CASE("flight: released above the floor it lands where and when the scenario says") {
  ShotSpec s = Gliding(18, 1, "right");
  s.laydown_ft = 4;
  s.release_height_in = 6;
  s.release_climb_mph = 1;
  s.bounce = 0.3;
  const ShotRun run(s, kWidth, kGutter);
  const double g = lane::kStandardGravity, up = lane::MetresPerSecondFromMph(1), h = MetresFromInches(6);
  CHECK(run.laydown_s() - run.release_s() == Approx((up + std::sqrt(up * up + 2 * g * h)) / g).epsilon(1e-12));
  const Eigen::Vector3d p = run.At(run.laydown_s()).motion.p;
  CHECK(p.z() == Approx(run.radius()).epsilon(1e-3));
  CHECK(lane::FeetFromMetres(p.y()) == Approx(4).epsilon(1e-5));
  CHECK(lane::BoardFromX(p.x(), kWidth, lane::Hand::kRight) == Approx(18).epsilon(1e-5));
  CHECK(run.At(run.laydown_s() + 0.02).motion.p.z() > run.radius() + 0.005);  // it bounces
  CHECK(run.At(run.release_s() + 1.5).phase == BallPhase::kLane);
}

TEST_CASE("the truth's JSON holds what the scoring needs, in its units") {
  Scenario s;
  s.lanes.width_in = 41.2;
  s.duration_s = 0.5;
  s.video.width = 320;
  s.video.height = 180;
  s.camera.focal_px = 250;
  s.shots = {Gliding(15, 1.0, "left")};
  s.shots[0].release_s = 0.1;
  const Scene scene(s);
  const std::vector<double> times = FrameTimes(s);
  const nlohmann::json j = nlohmann::json::parse(TruthJson(scene, times, "a.mp4"));
  CHECK(j["clip"] == "a.mp4");
  CHECK(j["pts"].size() == 30);
  CHECK(j["jitter_homography"].is_null());
  CHECK(j["landmarks"]["arrow_20"]["world_in"][1].get<double>() == Approx(15.8 * 12));
  CHECK(j["landmarks"]["foul_right"]["world_in"][0].get<double>() == Approx(41.2 / 2));
  const nlohmann::json shot = j["shots"][0];
  const double board = 41.2 / 39, slope = std::tan(lane::RadiansFromDegrees(1.0));
  CHECK(shot["board_at_15ft_own_hand"].get<double>() == Approx(15 - slope * 14 * 12 / board).epsilon(1e-5));
  CHECK(shot["board_at_15ft"].get<double>() == Approx(40 - shot["board_at_15ft_own_hand"].get<double>()));
  CHECK(shot["launch_angle_deg"].get<double>() == Approx(-1.0).epsilon(1e-4));    // to the left
  CHECK(shot["entry"]["angle_deg"].get<double>() == Approx(-1.0).epsilon(1e-4));  // outward, so not positive
  CHECK(shot["speed_mph"]["mean_foul_to_59p5ft"].get<double>() ==
        Approx(18 * std::cos(lane::RadiansFromDegrees(1))).epsilon(1e-5));
  REQUIRE(shot["samples"].size() > 10);
  CHECK(shot["samples"][0]["t"].get<double>() >= 0.1);
}

}  // namespace hookline::synth
