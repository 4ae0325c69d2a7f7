// Corrections by hand on a whole clip: the window's way (measured once, corrected without the clip, also after a
// restart) and the program's (--corrections) are one function and give one result.
#include <doctest/doctest.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "cli/program.h"
#include "pipeline/refit.h"
#include "pipeline/run_file.h"
#include "report/corrections_json.h"
#include "report/result_json.h"
#include "scratch_folder.h"
#include "setup/setup_file.h"

using namespace hookline;
using nlohmann::json;
using test::Hookline;
using test::ScratchFolder;

namespace {

const ProgressFn kSilent = [](std::string_view, double) {};
const std::string kClip = HOOKLINE_SAMPLES "/straight_spare.mp4";

double CornersApart(const LaneSetup& a, const LaneSetup& b) {
  const auto pa = report::LaneCorners(a, {}), pb = report::LaneCorners(b, {});
  double largest = 0;
  for (std::size_t i = 0; i < pa.size(); ++i) largest = std::max(largest, (*pa[i] - *pb[i]).norm());
  return largest;
}

}  // namespace

TEST_CASE("a corrected clip: window, restarted window and command line give equal results" *
          doctest::test_suite("slow")) {
  const auto base = pipeline::MeasureClip(kClip, {}, kSilent, StopToken());
  REQUIRE(base.ok());
  REQUIRE(base->result.shots.size() == 1);
  const Track& track = base->tracks[0];
  REQUIRE(track.sights.size() > 60);
  Corrections hand;
  hand.shots.emplace_back();
  ShotCorrection& c = hand.shots[0];
  c.at_s = track.sights[30].time_s;
  for (const std::size_t i : {20U, 40U, 41U})
    c.sights.push_back({track.sights[i].time_s, track.sights[i].p_in_frame + Eigen::Vector2d(0.7, -0.4), 1.0});
  c.no_ball_s = {track.sights[50].time_s};
  c.release_s = track.sights[2].time_s;
  const auto corners = report::LaneCorners(*base->result.lane_setup, base->result.first_frame);
  hand.lane_marks["headpin_left"] = {*corners[2] + Eigen::Vector2d(-0.6, 0.5), base->frame_times_s.front()};
  REQUIRE_FALSE(pipeline::NeedsClip(*base, hand));

  const auto window = pipeline::Refit(*base, hand, {});
  REQUIRE_MESSAGE(window.ok(), window.status().sentence());
  const std::string numbers = report::ResultJson(window->result);
  CHECK(numbers != report::ResultJson(base->result));
  CHECK(window->result.shots[0].by_hand.placed == 3);
  // A mark put within what a hand can do: the picture still says where the lane is, to a fraction of a pixel.
  CHECK(window->result.lane_setup->marks_by_hand.size() == 1);
  CHECK(CornersApart(*window->result.lane_setup, *base->result.lane_setup) < 1.0);
  CHECK(window->result.lane_setup->residual_px < 1.0);

  const auto again = pipeline::RunFromBytes(pipeline::RunBytes(*base), "run", {});
  REQUIRE(again.ok());
  CHECK(report::ResultJson(again->result) == report::ResultJson(base->result));
  const auto restarted = pipeline::Refit(*again, hand, {});
  REQUIRE(restarted.ok());
  CHECK(report::ResultJson(restarted->result) == numbers);

  const ScratchFolder folder;
  test::WriteContent(folder / "by-hand.json", report::CorrectionsText(hand, kClip));
  const auto program = Hookline("measure '" + kClip + "' --corrections '" + (folder / "by-hand.json") + "' --json -");
  CHECK(program.code == 0);
  CHECK(program.out == numbers);
  const auto table = Hookline("measure '" + kClip + "' --corrections '" + (folder / "by-hand.json") + "'");
  CHECK(table.out.find("set by hand: the lane (headpin_left); shot 1* (release, 3 places of the ball, 1 taken out)") !=
        std::string::npos);
}

TEST_CASE("a lane marked far from where it was found is measured from the pictures again" *
          doctest::test_suite("slow")) {
  const auto base = pipeline::MeasureClip(kClip, {}, kSilent, StopToken());
  REQUIRE(base.ok());
  Corrections hand;
  const auto corners = report::LaneCorners(*base->result.lane_setup, base->result.first_frame);
  int i = 0;
  for (const char* name : {"foul_left", "foul_right", "headpin_left", "headpin_right"})
    hand.lane_marks[name] = {*corners[static_cast<std::size_t>(i++)] + Eigen::Vector2d(1, -1), 0};
  CHECK_FALSE(pipeline::NeedsClip(*base, hand));
  // A saved lane that is wrong by a third of a lane's width stands for one found wrong.
  LaneSetup wrong = *base->result.lane_setup;
  wrong.camera.position_in_lane.x() += 0.35;
  const ScratchFolder folder;
  REQUIRE(setup::SaveSetup(folder / "wrong.json", wrong).ok());
  pipeline::MeasureOptions options;
  options.lane.setup_file = folder / "wrong.json";
  int decoded = 0;
  double last = 0;
  const ProgressFn count = [&](std::string_view stage, double share) {
    if (stage != "following the ball") return;
    decoded += share < last || decoded == 0 ? 1 : 0;
    last = share;
  };
  const auto both = pipeline::MeasureCorrected(kClip, hand, options, count, StopToken());
  REQUIRE_MESSAGE(both.ok(), both.status().sentence());
  CHECK(decoded == 2);
  CHECK(CornersApart(*both->run.result.lane_setup, *base->result.lane_setup) < 0.6);
  CHECK(both->run.result.lane_setup->marks_by_hand.size() == 4);
  REQUIRE(both->run.result.shots.size() == 1);
  const Measure &by_marks = both->run.result.shots[0].measures[MeasureId::kBoardAtArrows],
                &found = base->result.shots[0].measures[MeasureId::kBoardAtArrows];
  REQUIRE(by_marks.value);
  CHECK(std::abs(*by_marks.value - *found.value) < 0.1);
  // Corrected further from its base, the clip is not needed again.
  CHECK_FALSE(pipeline::NeedsClip(both->base, hand));
  const auto further = pipeline::Refit(both->base, hand, options);
  REQUIRE(further.ok());
  CHECK(report::ResultJson(further->result) == report::ResultJson(both->run.result));
  // With other marks it is: the ball was followed on the lane of these.
  hand.lane_marks["foul_left"].p_in_frame.x() += 0.5;
  CHECK(pipeline::NeedsClip(both->base, hand));
  CHECK(pipeline::DraggedLane(both->base, hand).ok());
}

TEST_CASE("corrections that cannot be used are told before the clip is looked at") {
  const ScratchFolder folder;
  const auto missing = Hookline("measure '" + kClip + "' --corrections '" + (folder / "none.json") + "'");
  CHECK(missing.code == 5);
  CHECK(missing.err.find("none.json") != std::string::npos);
  test::WriteContent(folder / "text.json", "hello");
  CHECK(Hookline("measure '" + kClip + "' --corrections '" + (folder / "text.json") + "'").code == 5);
  test::WriteContent(folder / "good.json", report::CorrectionsText({}, ""));
  const auto two = Hookline("measure a.mp4 b.mp4 --corrections '" + (folder / "good.json") + "'");
  CHECK(two.code == 2);
  CHECK(two.err.find("one clip") != std::string::npos);
}
