// The run on small clips made here: what it says when there is nothing to measure, when it is stopped, and what an
// annotated clip keeps.
#include <doctest/doctest.h>

#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

#include "media/clip_reader.h"
#include "media/clip_writer.h"
#include "pipeline/annotate_clip.h"
#include "pipeline/measure_clip.h"
#include "pipeline/spin_of_shots.h"
#include "report/fixture.h"
#include "scratch_folder.h"

using namespace hookline;
using test::ScratchFolder;

namespace {

const ProgressFn kSilent = [](std::string_view, double) {};

// Grey frames with a bright square that moves; at times that are not even.
std::vector<double> WriteClip(const std::string& file, int width, int height, int frames, int rotation_deg) {
  media::ClipWriterOptions options;
  options.width = width;
  options.height = height;
  options.rotation_deg = rotation_deg;
  auto writer = media::ClipWriter::Open(file, options);
  REQUIRE(writer.ok());
  std::vector<double> times;
  for (int i = 0; i < frames; ++i) {
    cv::Mat bgr(height, width, CV_8UC3, cv::Scalar::all(90));
    cv::rectangle(bgr, cv::Rect(5 * i, 10, 20, 20), cv::Scalar::all(200), cv::FILLED);
    times.push_back(i / 30.0 + (i % 3 == 1 ? 0.004 : 0.0));
    REQUIRE((*writer)->Add(bgr, times.back()).ok());
  }
  REQUIRE((*writer)->Finish().ok());
  return times;
}

std::vector<Picture> ReadAll(const std::string& file) {
  auto reader = media::ClipReader::Open(file);
  REQUIRE(reader.ok());
  std::vector<Picture> pictures;
  while (auto p = (*reader)->Next()) pictures.push_back(*p);
  return pictures;
}

}  // namespace

TEST_CASE("a clip without a lane is a result with a reason and without a number") {
  const ScratchFolder folder;
  WriteClip(folder / "grey.mp4", 320, 240, 20, 0);
  const auto run = pipeline::MeasureClip(folder / "grey.mp4", {}, kSilent, StopToken());
  REQUIRE(run.ok());
  CHECK_FALSE(run->result.lane_setup);
  CHECK(run->result.lane_reason.size() > 20);
  CHECK(run->result.shots.empty());
  CHECK_FALSE(run->result.no_shot_reason.empty());
  CHECK(run->result.clip.width == 320);
}

TEST_CASE("a missing clip and options that make no sense are told apart") {
  const auto missing = pipeline::MeasureClip("no-such-clip.mp4", {}, kSilent, StopToken());
  REQUIRE_FALSE(missing.ok());
  CHECK(missing.status().code() == StatusCode::kBadFile);
  pipeline::MeasureOptions options;
  options.lane.setup_file = "a.json";
  options.lane.points["foul_left"] = {1, 2};
  const auto both = pipeline::MeasureClip("no-such-clip.mp4", options, kSilent, StopToken());
  REQUIRE_FALSE(both.ok());
  CHECK(both.status().code() == StatusCode::kBadUse);
}

TEST_CASE("a run that is asked to stop stops") {
  const ScratchFolder folder;
  WriteClip(folder / "grey.mp4", 320, 240, 20, 0);
  StopToken stop;
  stop.RequestStop();
  const auto run = pipeline::MeasureClip(folder / "grey.mp4", {}, kSilent, stop);
  REQUIRE_FALSE(run.ok());
  CHECK(run.status().code() == StatusCode::kStopped);
}

TEST_CASE("an annotated clip has the clip's pictures and times, upright, also when the file stores them turned") {
  for (const int rotation : {0, 90, 180, 270}) {
    CAPTURE(rotation);
    const ScratchFolder folder;
    const std::string in = folder / "in.mp4", out = folder / "out.mp4";
    WriteClip(in, 240, 426, 24, rotation);
    const std::vector<Picture> before = ReadAll(in);
    pipeline::ClipRun run;
    run.result = test::TwoShots();
    run.result.clip.file = in;
    run.result.clip.width = 240;
    run.result.clip.height = 426;
    run.result.lane_setup->camera = test::BehindTheLane(240, 426);
    run.motions.resize(before.size());
    REQUIRE(pipeline::AnnotateClip(run, {}, out, kSilent, StopToken()).ok());
    const std::vector<Picture> after = ReadAll(out);
    REQUIRE(after.size() == before.size());
    for (std::size_t i = 0; i < after.size(); ++i) {
      CHECK(after[i].luma.size() == before[i].luma.size());
      CHECK(std::abs(after[i].time_s - before[i].time_s) < 1e-4);
    }
    // The square that moves stands clear of every drawing, at the top left, until the shot's panel comes.
    for (const int i : {0, 3, 6}) {
      const auto square = [i](const std::vector<Picture>& p) {
        return int{p[static_cast<std::size_t>(i)].luma.at<std::uint8_t>(20, 5 * i + 10)};
      };
      CHECK(square(before) > 150);
      CHECK(std::abs(square(after) - square(before)) < 20);
    }
    CHECK(folder.Files() == 2);
  }
}

TEST_CASE("an annotated clip that is stopped leaves nothing") {
  const ScratchFolder folder;
  const std::string in = folder / "in.mp4";
  WriteClip(in, 320, 240, 24, 0);
  pipeline::ClipRun run;
  run.result = test::TwoShots();
  run.result.clip.file = in;
  run.result.clip.width = 320;
  run.result.clip.height = 240;
  run.result.lane_setup->camera = test::BehindTheLane(320, 240);
  run.motions.resize(24);
  StopToken stop;
  int calls = 0;
  // Stopped in the middle, from the progress report.
  const ProgressFn after_some = [&](std::string_view, double) {
    if (++calls == 8) stop.RequestStop();
  };
  const Status status = pipeline::AnnotateClip(run, {}, folder / "out.mp4", after_some, stop);
  CHECK(status.code() == StatusCode::kStopped);
  CHECK(folder.Files() == 1);
}

// The level part of the spin is what moves the ball: a reading off the surface that goes another way is light taken for
// marks.
TEST_CASE("a spin off the surface that its path contradicts is not told" * doctest::test_suite("slow")) {
  const auto run = pipeline::MeasureClip(std::string(HOOKLINE_SAMPLES) + "/hook.mp4", {}, kSilent, StopToken());
  REQUIRE(run.ok());
  REQUIRE(run->result.shots.size() == 1);
  const Measures& seen = run->result.shots[0].measures;
  REQUIRE(seen[MeasureId::kAxisRotationDeg].value);
  REQUIRE(seen[MeasureId::kPathTurnDeg].value);
  const auto rotation_when = [&](MeasureId id, double share) {
    pipeline::ClipRun other = *run;
    Measure& by_path = other.result.shots[0].measures[id];
    by_path = Measure::Of(*by_path.value * share, by_path.sd);
    for (std::size_t i = 0; i < other.tracks.size(); ++i)
      pipeline::ReadSpin({}, other.result, other.tracks[i], other.paths[i], &other.result.shots[i]);
    return other.result.shots[0].measures[MeasureId::kAxisRotationDeg];
  };
  CHECK(*rotation_when(MeasureId::kPathTurnDeg, 1).value ==
        doctest::Approx(*seen[MeasureId::kAxisRotationDeg].value).epsilon(1e-6));
  for (const MeasureId id : {MeasureId::kPathTurnDeg, MeasureId::kPathRevRpm}) {
    const Measure rotation = rotation_when(id, 2);
    CHECK_FALSE(rotation.value);
    CHECK(rotation.reason.find("another way") != std::string::npos);
  }
}
