// The program on the sample clips, as a user runs it, against their exact truth.
#include <doctest/doctest.h>
#include <fcntl.h>
#include <signal.h>
#include <unistd.h>

#include <chrono>
#include <cmath>
#include <nlohmann/json.hpp>
#include <string>
#include <thread>
#include <vector>

#include "cli/program.h"
#include "pipeline/measure_clip.h"
#include "report/result_json.h"

using namespace hookline;
using namespace hookline::test;
using nlohmann::json;

namespace {

// The worst error that the bars in docs/accuracy.md allow on good footage; hard footage has twice.
constexpr double kBoardNear = 0.30, kBoardFar = 0.50;  // boards; up to 15 ft, and beyond
constexpr double kBreakpointFt = 3.0;                  // ft, from the stretch within 0.1 board of the outermost
constexpr double kLaunchDeg = 0.20, kEntryDeg = 0.40;
constexpr double kSpeedMph = 0.25, kEndSpeedMph = 0.60;  // mean and at the arrows; at release and at the pins
constexpr double kGood = 1, kHard = 2;
// Nor may an error be many times its stated doubt.
constexpr double kMostSds = 4;

std::string Sample(const std::string& name) { return std::string(HOOKLINE_SAMPLES "/") + name; }

json Truth(const std::string& clip) { return json::parse(Content(Sample(clip + ".truth.json"))).at("shots").at(0); }

void CheckMeasure(const json& shot, const std::string& key, double truth, double bar) {
  const json& m = shot.at("measures").at(key);
  CAPTURE(key);
  CAPTURE(m.dump());
  CAPTURE(truth);
  REQUIRE(m.at("value").is_number());
  const double error = std::abs(m.at("value").get<double>() - truth), sd = m.at("sd").get<double>();
  CHECK(sd > 0);
  CHECK(error < bar);
  CHECK(error < kMostSds * sd);
}

void CheckShot(const json& shot, const json& truth, double footage) {
  const double outward = truth.at("hand") == "right" ? 1 : -1;
  const json& speed = truth.at("speed_mph");
  CHECK(shot.at("hand") == truth.at("hand"));
  CheckMeasure(shot, "board_at_arrows", truth.at("board_at_arrows_own_hand"), footage * kBoardNear);
  CheckMeasure(shot, "board_at_15ft", truth.at("board_at_15ft_own_hand"), footage * kBoardNear);
  CheckMeasure(shot, "board_at_40ft", truth.at("board_at_40ft_own_hand"), footage * kBoardFar);
  CheckMeasure(shot, "breakpoint_board", truth.at("breakpoint").at("board_own_hand"), footage * kBoardFar);
  CheckMeasure(shot, "entry_board", truth.at("entry").at("board_own_hand"), footage * kBoardFar);
  CheckMeasure(shot, "entry_angle_deg", truth.at("entry").at("angle_deg"), footage * kEntryDeg);
  CheckMeasure(shot, "launch_angle_deg", outward * truth.at("launch_angle_deg").get<double>(), footage * kLaunchDeg);
  CheckMeasure(shot, "speed_arrows_mph", speed.at("arrows_15ft"), footage * kSpeedMph);
  CheckMeasure(shot, "speed_mean_mph", speed.at("mean_foul_to_59p5ft"), footage * kSpeedMph);
  CheckMeasure(shot, "speed_release_mph", speed.at("release_2ft"), footage * kEndSpeedMph);
  CheckMeasure(shot, "speed_entry_mph", speed.at("entry_59ft"), footage * kEndSpeedMph);
  const json& flat = truth.at("breakpoint").at("y_range_within_0p1_board_ft");
  const double at = shot.at("measures").at("breakpoint_ft").at("value");
  CHECK(at > flat.at(0).get<double>() - footage * kBreakpointFt);
  CHECK(at < flat.at(1).get<double>() + footage * kBreakpointFt);
}

// First video stream of a file as ffprobe 5.1 counts it: every frame is decoded.
json Probed(const std::string& file) {
  const ScratchFolder scratch;
  const std::string out = scratch / "probe.json";
  REQUIRE(std::system(("ffprobe -v error -count_frames -select_streams v:0 -show_streams -of json '" + file + "' >'" +
                       out + "'")
                          .c_str()) == 0);
  return json::parse(Content(out)).at("streams").at(0);
}

// Starts the program, sends it the signal as soon as there is a file in the folder, and waits for its end.
// The exit code, or -1 when it ended by the signal itself or before it wrote anything.
int SignalledWhileWriting(const std::vector<std::string>& arguments, const ScratchFolder& folder, int signal) {
  std::vector<const char*> argv = {HOOKLINE_PROGRAM};
  for (const std::string& a : arguments) argv.push_back(a.c_str());
  argv.push_back(nullptr);
  const pid_t child = fork();
  if (child == 0) {
    const int nowhere = open("/dev/null", O_RDWR);
    for (int fd : {0, 1, 2}) dup2(nowhere, fd);
    execv(HOOKLINE_PROGRAM, const_cast<char* const*>(argv.data()));
    _exit(127);
  }
  int status = 0;
  while (folder.Files() == 0) {
    if (waitpid(child, &status, WNOHANG) == child) return -1;
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
  }
  kill(child, signal);
  waitpid(child, &status, 0);
  return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

}  // namespace

TEST_CASE("a hook: measured within the bars of good footage, hand told from the picture" *
          doctest::test_suite("slow")) {
  const Run run = Hookline("measure '" + Sample("hook.mp4") + "' --json -");
  CAPTURE(run.err);
  REQUIRE(run.code == 0);
  const json result = json::parse(run.out);
  REQUIRE(result.at("shots").size() == 1);
  const json& shot = result.at("shots").at(0);
  CheckShot(shot, Truth("hook"), kGood);
  CHECK(shot.at("hand_source") == "seen");
  CHECK(std::abs(shot.at("pin_contact_s").get<double>() - Truth("hook").at("first_pin_contact_s").get<double>()) <
        0.034);  // two frames
  CHECK(result.at("no_shot_reason").is_null());
}

TEST_CASE("a left-hander upright: measured, and drawn on a clip of the same frames that plays upright" *
          doctest::test_suite("slow")) {
  const ScratchFolder folder;
  const std::string drawn = folder / "drawn.mp4", found = folder / "found.json";
  const std::string command =
      "measure '" + Sample("left_portrait.mp4") + "' --overlay '" + drawn + "' --json '" + found + "'";
  const Run run = Hookline(command);
  CAPTURE(run.err);
  REQUIRE(run.code == 0);
  CHECK(run.err.empty());  // no progress where nobody looks
  CHECK(run.out.find("left-handed") != std::string::npos);
  const json result = json::parse(Content(found));
  CHECK(folder.Files() == 2);
  REQUIRE(result.at("shots").size() == 1);
  CheckShot(result.at("shots").at(0), Truth("left_portrait"), kHard);

  const json before = Probed(Sample("left_portrait.mp4")), after = Probed(drawn);
  CHECK(before.at("width") == 1280);  // stored turned
  CHECK(after.at("width") == result.at("clip").at("width"));
  CHECK(after.at("height") == result.at("clip").at("height"));
  CHECK(after.at("width") == before.at("height"));
  CHECK(after.at("height") == before.at("width"));
  CHECK(after.at("nb_read_frames") == before.at("nb_read_frames"));
  CHECK_FALSE(after.contains("side_data_list"));  // no display matrix is left to turn it again
  CHECK(std::abs(std::stod(after.at("duration").get<std::string>()) -
                 std::stod(before.at("duration").get<std::string>())) < 0.02);

  // Both are the user's now: another run does not touch them unless it is told to.
  const std::string old_clip = Content(drawn), old_result = Content(found);
  CHECK(Hookline(command).code == 2);
  CHECK(Content(drawn) == old_clip);
  CHECK(Content(found) == old_result);
}

TEST_CASE("a gutter ball: where it left the lane, and nothing beyond; the command line and the pipeline agree") {
  const std::string clip = Sample("gutter.mp4");
  const Run run = Hookline("measure '" + clip + "' --json -");
  CAPTURE(run.err);
  REQUIRE(run.code == 0);
  const json result = json::parse(run.out), truth = Truth("gutter");
  REQUIRE(result.at("shots").size() == 1);
  const json& shot = result.at("shots").at(0);
  CheckMeasure(shot, "board_at_arrows", truth.at("board_at_arrows_own_hand"), kHard * kBoardNear);
  CheckMeasure(shot, "launch_angle_deg", truth.at("launch_angle_deg"), kHard * kLaunchDeg);
  CheckMeasure(shot, "speed_arrows_mph", truth.at("speed_mph").at("arrows_15ft"), kHard * kSpeedMph);
  double gutter_ft = 0;
  for (const json& sample : truth.at("samples")) {
    if (sample.at("phase") == "gutter") {
      gutter_ft = sample.at("y_ft");
      break;
    }
  }
  REQUIRE(gutter_ft > 15);
  CHECK(std::abs(shot.at("gutter_ft").get<double>() - gutter_ft) < 2);  // three frames of way, and its doubt
  CHECK(shot.at("gutter_side") == "own");
  CHECK(shot.at("pin_contact_s").is_null());
  for (const char* beyond : {"board_at_40ft", "breakpoint_board", "breakpoint_ft", "entry_board", "entry_angle_deg",
                             "speed_entry_mph", "speed_mean_mph"}) {
    CAPTURE(beyond);
    const json& m = shot.at("measures").at(beyond);
    CHECK(m.at("value").is_null());
    CHECK(m.at("reason").get<std::string>().find("gutter") != std::string::npos);
  }

  const auto same = pipeline::MeasureClip(
      clip, {}, [](std::string_view, double) {}, StopToken());
  REQUIRE(same.ok());
  CHECK(report::ResultJson(same->result) == run.out);
}

TEST_CASE("nobody bowls: exit code 3, an empty list and the reason") {
  const Run run = Hookline("measure '" + Sample("no_shot.mp4") + "' --json -");
  CHECK(run.code == 3);
  const json result = json::parse(run.out);
  CHECK(result.at("lane_setup").at("found") == true);
  CHECK(result.at("shots").empty());
  const std::string reason = result.at("no_shot_reason");
  CHECK(reason.size() > 20);
  CHECK(run.err.find(reason) != std::string::npos);
}

TEST_CASE("Ctrl-C while the annotated clip is being written leaves no file") {
  const ScratchFolder folder;
  CHECK(SignalledWhileWriting({"measure", Sample("straight_spare.mp4"), "--overlay", folder / "drawn.mp4"}, folder,
                              SIGINT) == 130);
  CHECK(folder.Files() == 0);
}
