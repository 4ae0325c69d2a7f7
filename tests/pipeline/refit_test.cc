// What a person sets by hand, and the shots measured again from it. Balls by a closed formula (rolling_ball.h), so that
// what is right is known.
#include "pipeline/refit.h"

#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "camera/projection.h"
#include "pipeline/rolling_ball.h"
#include "pipeline/run_file.h"
#include "pipeline/shots_from_tracks.h"
#include "report/read_result.h"
#include "report/result_json.h"
#include "report/result_table.h"

using namespace hookline;
using doctest::Approx;
using Eigen::Vector2d;
using test::EmptyRun;
using test::kToPins;
using test::Mentions;
using test::RightHanded;
using test::RollingBall;

namespace {

// Farther back than the fixture's, so that the foul line is in the picture.
CameraModel Camera() {
  CameraModel c = test::BehindTheLane();
  c.position_in_lane.y() = -8;
  return c;
}

constexpr double kX0 = 0.12, kVx = 0.20, kCurve = 0.075;

pipeline::ClipRun NothingYet() {
  pipeline::ClipRun run = EmptyRun();
  run.result.lane_setup->camera = Camera();
  return run;
}

pipeline::ClipRun Measured(const std::vector<Track>& tracks, pipeline::ClipRun run = NothingYet()) {
  run.clip_warnings = {"A sentence about the clip."};
  run.result.warnings = run.clip_warnings;
  pipeline::ShotsFromTracks(tracks, RightHanded(), &run);
  return run;
}

pipeline::ClipRun Corrected(const pipeline::ClipRun& base, const Corrections& c) {
  auto run = pipeline::Refit(base, c, RightHanded());
  REQUIRE_MESSAGE(run.ok(), run.status().sentence());
  return std::move(*run);
}

Track Ball(double start_s = 1) { return RollingBall(Camera(), start_s, kX0, kVx, kCurve, kToPins); }

// Where the ball of Ball(start_s) truly is in the picture.
Vector2d TruePlace(double since_s) {
  const double t = since_s;
  return *camera::ImageFromLane(
      Camera(), {kX0 + kVx * t - kCurve * t * t, 0.3 + 7.9 * t - 0.25 * t * t, lane::kBallDiameter / 2});
}

double BoardAt40() {
  // 0.25 t^2 - 7.9 t + (y - 0.3) = 0
  const double y = lane::MetresFromFeet(40), t = (7.9 - std::sqrt(7.9 * 7.9 - (y - 0.3))) / 0.5;
  return lane::BoardFromX(kX0 + kVx * t - kCurve * t * t, lane::kNominalWidth, lane::Hand::kRight);
}

double Board(const Shot& shot, MeasureId id) {
  REQUIRE_MESSAGE(shot.measures[id].value, shot.measures[id].reason);
  return *shot.measures[id].value;
}

// A lane found a little wrong: the camera a degree aside and nearer.
LaneSetup FoundWrong() {
  LaneSetup setup;
  setup.camera = Camera();
  setup.camera.rotation.x() += 0.002;
  setup.camera.rotation.z() += 0.004;
  setup.camera.position_in_lane.x() += 0.03;
  setup.covariance.diagonal().setConstant(1e-8);
  return setup;
}

Vector2d TrueMark(const std::string& name) {
  const double side = name.ends_with("left") ? -0.5 : 0.5;
  return *camera::ImageFromLane(Camera(),
                                {side * lane::kNominalWidth, name.starts_with("foul") ? 0 : lane::kHeadPinY, 0});
}

double CornersOff(const LaneSetup& setup) {
  double largest = 0;
  for (const char* name : {"foul_left", "foul_right", "headpin_left", "headpin_right"}) {
    const std::string n = name;
    const double side = n.ends_with("left") ? -0.5 : 0.5;
    const auto p =
        camera::ImageFromLane(setup.camera, {side * setup.lane.width, n.starts_with("foul") ? 0 : lane::kHeadPinY, 0});
    largest = std::max(largest, (*p - TrueMark(n)).norm());
  }
  return largest;
}

}  // namespace

TEST_CASE("without corrections the base comes again, number for number, also after a way through bytes") {
  Track scrap = Ball(5);
  scrap.sights.resize(4);
  const pipeline::ClipRun base = Measured({Ball(), scrap, Ball(9)});
  REQUIRE(base.result.shots.size() == 2);
  REQUIRE(base.left_out.size() == 1);
  const std::string numbers = report::ResultJson(base.result);
  CHECK(report::ResultJson(Corrected(base, {}).result) == numbers);
  const auto read = pipeline::RunFromBytes(pipeline::RunBytes(base), "a.run", RightHanded());
  REQUIRE(read.ok());
  CHECK(report::ResultJson(read->result) == numbers);
  CHECK(read->left_out.size() == 1);
}

TEST_CASE("bytes that are no run are refused in a sentence") {
  const pipeline::ClipRun base = Measured({Ball()});
  const std::string bytes = pipeline::RunBytes(base);
  for (const std::string& broken :
       {std::string(), std::string("text"), bytes.substr(0, bytes.size() / 2), bytes.substr(1), bytes + "x"}) {
    const auto read = pipeline::RunFromBytes(broken, "a.run", RightHanded());
    REQUIRE_FALSE(read.ok());
    CHECK(read.status().code() == StatusCode::kBadFile);
  }
}

TEST_CASE("a ball put by hand counts instead of what the tracker took for it, and is shown as such") {
  // From 8 to 13 m the tracker held on to something 25 px beside the ball, smoothly: more than half of the way there.
  Track wrong = Ball();
  Corrections hand;
  hand.shots.emplace_back();
  hand.shots[0].at_s = 2;
  std::mt19937 random(3);
  std::normal_distribution<double> noise(0, 1);
  for (BallSight& s : wrong.sights) {
    const double y = 0.3 + 7.9 * (s.time_s - 1) - 0.25 * std::pow(s.time_s - 1, 2);
    if (y < 8 || y > 13) continue;
    s.p_in_image.x() += 25;
    s.p_in_frame = s.p_in_image;
    hand.shots[0].sights.push_back({s.time_s, TruePlace(s.time_s - 1) + Vector2d(noise(random), noise(random)), 1.0});
  }
  const pipeline::ClipRun base = Measured({wrong});
  REQUIRE(base.result.shots.size() == 1);
  const pipeline::ClipRun run = Corrected(base, hand);
  REQUIRE(run.result.shots.size() == 1);
  const Shot& shot = run.result.shots[0];
  const double before = std::abs(Board(base.result.shots[0], MeasureId::kBoardAt40Ft) - BoardAt40());
  const double after = std::abs(Board(shot, MeasureId::kBoardAt40Ft) - BoardAt40());
  CAPTURE(before);
  CHECK(after < 3 * shot.measures[MeasureId::kBoardAt40Ft].sd);
  CHECK(after < 0.3);
  CHECK(after < before + 0.05);

  const auto placed = static_cast<int>(hand.shots[0].sights.size());
  CHECK(shot.by_hand.placed == placed);
  int marked = 0;
  for (const PathPoint& p : shot.path) marked += p.set_by_hand ? 1 : 0;
  CHECK(marked == placed);
  // In the file and back, and in the table.
  const auto read = report::ParseResult(report::ResultJson(run.result), "a.json");
  REQUIRE(read.ok());
  CHECK(read->shots[0].by_hand.placed == placed);
  marked = 0;
  for (const PathPoint& p : read->shots[0].path) marked += p.set_by_hand ? 1 : 0;
  CHECK(marked == placed);
  const std::string table = report::ResultTable(std::vector<ClipResult>{run.result});
  CHECK(table.find("1*") != std::string::npos);
  CHECK(table.find("set by hand: shot 1* (" + std::to_string(placed) + " places of the ball)") != std::string::npos);
  // Where nothing was set nothing is said.
  CHECK(report::ResultJson(base.result).find("by_hand") == std::string::npos);
  CHECK(report::ResultTable(std::vector<ClipResult>{base.result}).find("hand:") == std::string::npos);
}

TEST_CASE("a ball put where all others say it is not: kept, shown, and the person is told") {
  const pipeline::ClipRun base = Measured({Ball()});
  const double t = base.tracks[0].sights[60].time_s;
  Corrections hand;
  hand.shots.emplace_back();
  hand.shots[0].at_s = t;
  hand.shots[0].sights.push_back({t, TruePlace(t - 1) + Vector2d(40, 0), 1.0});
  const pipeline::ClipRun run = Corrected(base, hand);
  REQUIRE(run.result.shots.size() == 1);
  CHECK(run.tracks[0].sights[60].set_by_hand);
  CHECK(run.tracks[0].sights.size() == base.tracks[0].sights.size());
  CHECK(Mentions(run.result.warnings, "px beside the path"));
  CHECK(Board(run.result.shots[0], MeasureId::kBoardAt40Ft) ==
        Approx(Board(base.result.shots[0], MeasureId::kBoardAt40Ft)).epsilon(0.005));
}

TEST_CASE("balls taken out, release and impact set: the shot says so") {
  const pipeline::ClipRun base = Measured({Ball()});
  Corrections hand;
  hand.shots.emplace_back();
  ShotCorrection& c = hand.shots[0];
  c.at_s = 2;
  for (int i = 40; i < 50; ++i) c.no_ball_s.push_back(base.tracks[0].sights[static_cast<std::size_t>(i)].time_s);
  c.release_s = 1 + 4 / 60.0;
  c.pin_contact_s = *base.result.shots[0].pin_contact_s - 1 / 60.0;
  const pipeline::ClipRun run = Corrected(base, hand);
  REQUIRE(run.result.shots.size() == 1);
  const Shot& shot = run.result.shots[0];
  CHECK(*shot.release_s == *c.release_s);
  CHECK(*shot.pin_contact_s == *c.pin_contact_s);
  CHECK(shot.by_hand.release);
  CHECK(shot.by_hand.pin_contact);
  CHECK(shot.by_hand.removed == 10);
  CHECK(run.tracks[0].sights.size() + 10 == base.tracks[0].sights.size());
  const auto read = report::ParseResult(report::ResultJson(run.result), "a.json");
  REQUIRE(read.ok());
  CHECK(read->shots[0].by_hand.release);
  CHECK(read->shots[0].by_hand.pin_contact);
  CHECK(read->shots[0].by_hand.removed == 10);
  // One ball taken out of a frame in which none was seen is no news.
  c.no_ball_s.assign(1, c.no_ball_s.front());
  CHECK(Corrected(run, {}).tracks[0].sights.size() == run.tracks[0].sights.size());
}

TEST_CASE("what is no shot is taken out, and the others keep their numbers in order") {
  const pipeline::ClipRun base = Measured({Ball(1), Ball(9)});
  Corrections hand;
  hand.shots.emplace_back();
  hand.shots[0].at_s = 1.5;
  hand.shots[0].removed = true;
  pipeline::ClipRun run = Corrected(base, hand);
  REQUIRE(run.result.shots.size() == 1);
  CHECK(run.result.shots[0].number == 1);
  CHECK(*run.result.shots[0].pin_contact_s > 9);
  CHECK(Mentions(run.result.warnings, "taken out by hand"));
  hand.shots.emplace_back(hand.shots[0]);
  hand.shots[1].at_s = 10;
  run = Corrected(base, hand);
  CHECK(run.result.shots.empty());
  CHECK_FALSE(run.result.no_shot_reason.empty());
}

TEST_CASE("a shot added by hand is measured from a few clicks, with the doubt they leave") {
  const pipeline::ClipRun base = Measured({Ball(9)});
  std::mt19937 random(5);
  std::normal_distribution<double> noise(0, 1);
  Corrections hand;
  hand.shots.emplace_back();
  ShotCorrection& c = hand.shots[0];
  c.added = true;
  c.at_s = 2;
  for (const int frame : {10, 25, 40, 55, 70, 85, 100, 115, 130})
    c.sights.push_back({base.frame_times_s[static_cast<std::size_t>(60 + frame)],
                        TruePlace(frame / 60.0) + Vector2d(noise(random), noise(random)), 1.0});
  const pipeline::ClipRun run = Corrected(base, hand);
  REQUIRE(run.result.shots.size() == 2);
  const Shot& shot = run.result.shots[0];
  CHECK(shot.by_hand.added);
  CHECK(shot.by_hand.placed == 9);
  const Measure& at40 = shot.measures[MeasureId::kBoardAt40Ft];
  REQUIRE(at40.value);
  CHECK(std::abs(*at40.value - BoardAt40()) < 3 * at40.sd);
  CHECK(at40.sd > base.result.shots[0].measures[MeasureId::kBoardAt40Ft].sd);
  CHECK(at40.sd < 1.5);
  // Too few clicks are no shot yet, but nothing is lost and the reason is said.
  c.sights.resize(4);
  const pipeline::ClipRun begun = Corrected(base, hand);
  CHECK(begun.result.shots.size() == 1);
  CHECK(Mentions(begun.result.warnings, "not measured"));
  CHECK(begun.left_out.size() == 1);
}

// Found with the mouse: after "No shot" on what was followed in a ball's stead, clicks on that ball in the same seconds
// were taken for corrections of what had been taken out, and no shot came of them.
TEST_CASE("a shot is added by hand where something else was taken out") {
  const pipeline::ClipRun base = Measured({Ball()});
  Corrections hand;
  hand.shots.resize(2);
  hand.shots[0].added = true;
  for (const int frame : {10, 25, 40, 55, 70, 85, 100, 115, 130})
    hand.shots[0].sights.push_back(
        {base.frame_times_s[static_cast<std::size_t>(60 + frame)], TruePlace(frame / 60.0), 1.0});
  hand.shots[0].at_s = hand.shots[0].sights.front().time_s;
  hand.shots[1].removed = true;
  hand.shots[1].at_s = base.tracks[0].sights[base.tracks[0].sights.size() / 2].time_s;
  const pipeline::ClipRun run = Corrected(base, hand);
  REQUIRE(run.result.shots.size() == 1);
  CHECK(run.result.shots[0].by_hand.added);
  CHECK(run.result.shots[0].by_hand.placed == 9);
  CHECK(Mentions(run.result.warnings, "taken out by hand"));
}

TEST_CASE("balls put by hand rescue what was followed too shortly to be measured") {
  Track scrap = Ball();
  scrap.sights.resize(5);
  const pipeline::ClipRun base = Measured({scrap});
  REQUIRE(base.result.shots.empty());
  Corrections hand;
  hand.shots.emplace_back();
  hand.shots[0].at_s = scrap.sights[2].time_s;
  for (const int frame : {20, 35, 50, 65, 80, 95, 110, 125})
    hand.shots[0].sights.push_back(
        {base.frame_times_s[static_cast<std::size_t>(60 + frame)], TruePlace(frame / 60.0), 1.0});
  const pipeline::ClipRun run = Corrected(base, hand);
  REQUIRE(run.result.shots.size() == 1);
  CHECK(run.result.no_shot_reason.empty());
  CHECK_FALSE(run.result.shots[0].by_hand.added);
}

TEST_CASE("a place in a frame of a moved camera is taken back to where the others are") {
  pipeline::ClipRun moved = NothingYet();
  const CameraModel camera = moved.result.lane_setup->camera;
  for (FrameMotion& m : moved.motions) m.rotation[1] = 0.02;
  Track track = Ball();
  for (BallSight& s : track.sights) s.p_in_frame = camera::FrameFromReference(camera, moved.motions[0], s.p_in_image);
  const pipeline::ClipRun base = Measured({track}, moved);
  const BallSight& sight = base.tracks[0].sights[70];
  Corrections hand;
  hand.shots.emplace_back();
  hand.shots[0].at_s = sight.time_s;
  hand.shots[0].sights.push_back({sight.time_s, sight.p_in_frame, 1.0});
  const pipeline::ClipRun run = Corrected(base, hand);
  CHECK((run.tracks[0].sights[70].p_in_image - sight.p_in_image).norm() < 1e-6);
  CHECK_FALSE(Mentions(run.result.warnings, "beside the path"));
}

TEST_CASE("corrections that make no sense are named") {
  const pipeline::ClipRun base = Measured({Ball()});
  const auto code = [&](const ShotCorrection& c) {
    Corrections hand;
    hand.shots.push_back(c);
    const auto run = pipeline::Refit(base, hand, RightHanded());
    return run.ok() ? StatusCode::kOk : run.status().code();
  };
  ShotCorrection c;
  c.at_s = 2;
  CHECK(code(c) == StatusCode::kOk);
  c.sights = {{99, {5, 5}, 1}};
  CHECK(code(c) == StatusCode::kBadUse);
  c.sights = {{2, {5, 5}, 0}};
  CHECK(code(c) == StatusCode::kBadUse);
  c.sights = {{2, {std::nan(""), 5}, 1}};
  CHECK(code(c) == StatusCode::kBadUse);
  c.sights.clear();
  c.release_s = 3;
  c.pin_contact_s = 2;
  CHECK(code(c) == StatusCode::kBadUse);
  // One that belongs to no shot is told, not thrown away in silence.
  ShotCorrection lone;
  lone.at_s = 15;
  lone.release_s = 15;
  Corrections hand;
  hand.shots = {lone};
  CHECK(Mentions(Corrected(base, hand).result.warnings, "belongs to no shot"));
}

TEST_CASE("four marks put the lane where they are; one moves its own end and leaves the other") {
  pipeline::ClipRun found = NothingYet();
  found.result.lane_setup = FoundWrong();
  const pipeline::ClipRun base = Measured({Ball()}, found);
  const double before = CornersOff(*base.result.lane_setup);
  REQUIRE(before > 5);
  Corrections hand;
  CHECK(CornersOff(*pipeline::DraggedLane(base, hand)) == before);
  for (const char* name : {"foul_left", "foul_right", "headpin_left", "headpin_right"})
    hand.lane_marks[name] = {TrueMark(name), 1.0};
  const auto dragged = pipeline::DraggedLane(base, hand);
  REQUIRE(dragged.ok());
  CHECK(CornersOff(*dragged) < 0.5);
  CHECK(dragged->source == SetupSource::kPoints);
  CHECK(dragged->marks_by_hand.size() == 4);
  CHECK(dragged->covariance(11, 11) > 0);

  Corrections one;
  const std::string name = "headpin_left";
  const auto place = [&](const LaneSetup& s, const std::string& n) {
    const double side = n.ends_with("left") ? -0.5 : 0.5;
    return *camera::ImageFromLane(s.camera, {side * s.lane.width, n.starts_with("foul") ? 0 : lane::kHeadPinY, 0});
  };
  const LaneSetup& old = *base.result.lane_setup;
  one.lane_marks[name] = {place(old, name) + Vector2d(-6, 3), 1.0};
  const auto moved = pipeline::DraggedLane(base, one);
  REQUIRE(moved.ok());
  CHECK((place(*moved, name) - one.lane_marks[name].p_in_frame).norm() < 1.5);
  CHECK((place(*moved, "foul_left") - place(old, "foul_left")).norm() < 2.5);
  CHECK((place(*moved, "foul_right") - place(old, "foul_right")).norm() < 2.5);
}

TEST_CASE("shots are measured again on the lane that a person put right, and the result says who did") {
  pipeline::ClipRun found = NothingYet();
  found.result.lane_setup = FoundWrong();
  found.background = std::make_shared<Background>();
  Background grey;
  grey.luma = cv::Mat(1080, 1920, CV_8UC1, cv::Scalar(90));
  found.background = std::make_shared<const Background>(grey);
  const pipeline::ClipRun base = Measured({Ball()}, found);
  Corrections hand;
  for (const char* name : {"foul_left", "foul_right", "headpin_left", "headpin_right"})
    hand.lane_marks[name] = {TrueMark(name), 1.0};
  REQUIRE_FALSE(pipeline::NeedsClip(base, hand));
  const pipeline::ClipRun run = Corrected(base, hand);
  const double before = std::abs(Board(base.result.shots[0], MeasureId::kBoardAt40Ft) - BoardAt40());
  const Measure& after = run.result.shots[0].measures[MeasureId::kBoardAt40Ft];
  REQUIRE(after.value);
  CHECK(before > 0.5);
  CHECK(std::abs(*after.value - BoardAt40()) < 0.2);
  // Marks set by hand to a pixel or two leave more doubt than a lane of which every edge was seen.
  CHECK(after.sd > base.result.shots[0].measures[MeasureId::kBoardAt40Ft].sd);
  const std::string json = report::ResultJson(run.result);
  CHECK(json.find("\"source\": \"points\"") != std::string::npos);
  CHECK(json.find("\"by_hand\": {\n   \"foul_left\"") != std::string::npos);
  const std::string table = report::ResultTable(std::vector<ClipResult>{run.result});
  CHECK(table.find("set by hand: the lane (foul_left, foul_right, headpin_left, headpin_right)") != std::string::npos);
  // Corrected further from there, the lane stays as it is.
  pipeline::ClipRun next = base;
  next.result.lane_setup = run.result.lane_setup;
  next.lane_marks = run.lane_marks;
  CHECK(report::ResultJson(Corrected(next, hand).result) == json);
  const auto read = pipeline::RunFromBytes(pipeline::RunBytes(next), "a.run", RightHanded());
  REQUIRE(read.ok());
  CHECK(report::ResultJson(read->result) == json);
}

TEST_CASE("marks that no lane has, unknown names, and a lane that must be looked for anew") {
  pipeline::ClipRun base = Measured({Ball()});
  base.background = std::make_shared<Background>();
  Corrections hand;
  hand.lane_marks["foul_middle"] = {{500, 500}, 0};
  CHECK(pipeline::DraggedLane(base, hand).status().code() == StatusCode::kBadUse);
  hand.lane_marks.clear();
  hand.lane_marks["foul_left"] = {{-90, 500}, 0};
  CHECK(pipeline::DraggedLane(base, hand).status().code() == StatusCode::kBadUse);
  hand.lane_marks.clear();
  // Left and right changed over.
  hand.lane_marks["foul_left"] = {TrueMark("foul_right"), 0};
  hand.lane_marks["foul_right"] = {TrueMark("foul_left"), 0};
  hand.lane_marks["headpin_left"] = {TrueMark("headpin_left"), 0};
  hand.lane_marks["headpin_right"] = {TrueMark("headpin_right"), 0};
  CHECK(pipeline::DraggedLane(base, hand).status().code() == StatusCode::kLaneNotFound);
  // The next lane to the right: the ball that was followed is not on it.
  hand.lane_marks.clear();
  for (const char* name : {"foul_left", "foul_right", "headpin_left", "headpin_right"}) {
    const std::string n = name;
    const double x = 1.6 + (n.ends_with("left") ? -0.5 : 0.5) * lane::kNominalWidth;
    const auto p = camera::ImageFromLane(Camera(), {x, n.starts_with("foul") ? 0 : lane::kHeadPinY, 0});
    hand.lane_marks[name] = {*p, 0};
  }
  CHECK(pipeline::NeedsClip(base, hand));
  CHECK(pipeline::Refit(base, hand, RightHanded()).status().code() == StatusCode::kBadUse);
  pipeline::ClipRun none = NothingYet();
  none.result.lane_setup.reset();
  CHECK(pipeline::NeedsClip(none, hand));
  CHECK_FALSE(pipeline::NeedsClip(none, {}));
}

TEST_CASE("the bowler's own words stay with a shot that is measured again") {
  pipeline::ClipRun base = Measured({Ball(1), Ball(9)});
  base.result.shots[1].ball = "blue";
  base.result.shots[1].target.arrows_board = 12;
  Corrections hand;
  hand.shots.emplace_back();
  hand.shots[0].at_s = 1.5;
  hand.shots[0].removed = true;
  const pipeline::ClipRun run = Corrected(base, hand);
  REQUIRE(run.result.shots.size() == 1);
  CHECK(run.result.shots[0].ball == "blue");
  CHECK(run.result.shots[0].target.arrows_board == 12);
}
