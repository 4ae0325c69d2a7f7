// Two shots side by side on small clips made here: in step at the mark, stopped without a trace, refused with a reason.
#include "pipeline/side_by_side.h"

#include <doctest/doctest.h>

#include <filesystem>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include "camera/projection.h"
#include "media/clip_reader.h"
#include "media/clip_writer.h"
#include "report/fixture.h"
#include "report/overlay.h"
#include "scratch_folder.h"

using namespace hookline;

namespace {

const ProgressFn kSilent = [](std::string_view, double) {};
constexpr int kWidth = 640, kHeight = 360;

// A grey clip that turns bright at a time, and a shot whose release that is.
pipeline::ShotInClip ShotAt(const std::string& file, double release_s, double until_s) {
  media::ClipWriterOptions options;
  options.width = kWidth;
  options.height = kHeight;
  auto writer = media::ClipWriter::Open(file, options);
  REQUIRE(writer.ok());
  for (double t = 0; t < until_s; t += 1 / 50.0)
    REQUIRE(
        (*writer)->Add(cv::Mat(kHeight, kWidth, CV_8UC3, cv::Scalar::all(t < release_s - 1e-6 ? 60 : 190)), t).ok());
  REQUIRE((*writer)->Finish().ok());
  pipeline::ShotInClip shot;
  shot.clip = file;
  shot.result.clip.file = file;
  shot.result.clip.width = kWidth;
  shot.result.clip.height = kHeight;
  LaneSetup setup;
  setup.camera = test::BehindTheLane(kWidth, kHeight);
  shot.result.lane_setup = setup;
  Shot s = test::HookShot();
  const double later = release_s - *s.release_s;
  s.release_s = release_s;
  s.pin_contact_s = *s.pin_contact_s + later;
  for (PathPoint& p : s.path) {
    p.time_s += later;
    const auto uv = camera::ImageFromLane(setup.camera, {p.x, p.y, lane::kBallDiameter / 2});
    p.u_px = uv->x();
    p.v_px = uv->y();
  }
  shot.result.shots = {s};
  shot.name = "Shot 1";
  return shot;
}

}  // namespace

TEST_CASE("both shots reach the mark in the same picture") {
  const test::ScratchFolder folder;
  const auto first = ShotAt(folder / "a.mp4", 0.6, 3.4), second = ShotAt(folder / "b.mp4", 1.3, 4.0);
  pipeline::SideBySideOptions options;
  options.path = false;
  options.before_s = 0.5;
  options.height = 360;
  const std::string out = folder / "both.mp4";
  double last = 0;
  const ProgressFn progress = [&](std::string_view, double share) {
    CHECK(share >= last);
    last = share;
  };
  REQUIRE(pipeline::SideBySide(first, second, options, out, progress, StopToken()).ok());
  CHECK(last == doctest::Approx(1));
  auto reader = media::ClipReader::Open(out);
  REQUIRE(reader.ok());
  std::array<double, 2> bright = {-1, -1};
  double end = 0;
  while (auto picture = (*reader)->Next()) {
    const int w = picture->luma.cols, v = picture->luma.rows / 2;
    for (int side = 0; side < 2; ++side)
      if (bright[static_cast<std::size_t>(side)] < 0 &&
          picture->luma.at<unsigned char>(v, side == 0 ? w / 4 : 3 * w / 4) > 120)
        bright[static_cast<std::size_t>(side)] = picture->time_s;
    end = picture->time_s;
  }
  CHECK(bright[0] > 0.4);
  CHECK(std::abs(bright[0] - bright[1]) < 1.5 / 60);
  CHECK(std::abs(bright[0] - 0.5) < 0.03);
  CHECK(end > 2.5);
}

TEST_CASE("slower makes it longer, and stopping leaves nothing") {
  const test::ScratchFolder folder;
  const auto shot = ShotAt(folder / "a.mp4", 0.6, 3.4);
  pipeline::SideBySideOptions options;
  options.height = 240;
  options.rate = 10;
  options.slower = 2;
  const std::string out = folder / "both.mp4";
  REQUIRE(pipeline::SideBySide(shot, shot, options, out, kSilent, StopToken()).ok());
  auto reader = media::ClipReader::Open(out);
  REQUIRE(reader.ok());
  double end = 0;
  while (auto picture = (*reader)->Next()) end = picture->time_s;
  const double natural = shot.result.shots[0].path.back().time_s + options.after_s;
  CHECK(std::abs(end - 2 * natural) < 0.25);

  StopToken stop;
  const ProgressFn stopping = [&](std::string_view, double share) {
    if (share > 0.3) stop.RequestStop();
  };
  const std::string other = folder / "stopped.mp4";
  CHECK(pipeline::SideBySide(shot, shot, options, other, stopping, stop).code() == StatusCode::kStopped);
  CHECK_FALSE(std::filesystem::exists(other));
  CHECK(folder.Files() == 2);
}

TEST_CASE("a mark that a shot does not have is named") {
  const test::ScratchFolder folder;
  auto shot = ShotAt(folder / "a.mp4", 0.6, 3.4);
  auto straight = shot;
  straight.name = "Shot 2";
  straight.result.shots[0].measures[MeasureId::kBreakpointFt] = Measure::None("straight");
  pipeline::SideBySideOptions options;
  options.mark = pipeline::ShotMark::kBreakpoint;
  const Status s = pipeline::SideBySide(shot, straight, options, folder / "x.mp4", kSilent, StopToken());
  CHECK(s.code() == StatusCode::kBadUse);
  CHECK(s.sentence().find("Shot 2") != std::string::npos);
  CHECK(s.sentence().find("breakpoint") != std::string::npos);
  shot.result.lane_setup.reset();
  CHECK(pipeline::SideBySide(shot, straight, {}, folder / "x.mp4", kSilent, StopToken()).code() ==
        StatusCode::kBadFile);
}

TEST_CASE("the camera's turn is told from the path") {
  const LaneSetup setup = [] {
    LaneSetup s;
    s.camera = test::BehindTheLane();
    return s;
  }();
  Shot shot = test::HookShot();
  FrameMotion turned;
  turned.rotation[0] = 0.004;
  turned.rotation[1] = -0.006;
  for (PathPoint& p : shot.path) {
    const auto still = camera::ImageFromLane(setup.camera, {p.x, p.y, lane::kBallDiameter / 2});
    REQUIRE(still.has_value());
    const Eigen::Vector2d now = camera::FrameFromReference(setup.camera, turned, *still);
    p.u_px = now.x();
    p.v_px = now.y();
  }
  const FrameMotion told = pipeline::TurnFromPath(setup, shot, 1.5);
  CHECK(told.rotation[0] == doctest::Approx(0.004).epsilon(0.01));
  CHECK(told.rotation[1] == doctest::Approx(-0.006).epsilon(0.01));
  // A path without a sight tells nothing.
  for (PathPoint& p : shot.path) p.seen = false;
  CHECK(pipeline::TurnFromPath(setup, shot, 1.5).rotation[1] == 0);
}
