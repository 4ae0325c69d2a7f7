#include "viewer/saved_work.h"

#include <doctest/doctest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <random>
#include <thread>

#include "pipeline/rolling_ball.h"
#include "pipeline/shots_from_tracks.h"
#include "report/corrections_json.h"
#include "report/result_json.h"
#include "scratch_folder.h"

using namespace hookline;
using namespace hookline::viewer;
using hookline::test::ScratchFolder;

namespace {

std::unique_ptr<SavedWork> Opened(const std::string& folder) {
  auto work = SavedWork::Open(folder);
  REQUIRE_MESSAGE(work.ok(), work.status().sentence());
  return std::move(*work);
}

SavedClip ClipAt(const std::string& file) {
  SavedClip clip;
  clip.file = file;
  return clip;
}

Corrections WithMark(double u) {
  Corrections c;
  c.lane_marks["foul_left"] = {{u, 900}, 0.5};
  return c;
}

pipeline::ClipRun SomeRun() {
  pipeline::ClipRun run = test::EmptyRun();
  const CameraModel camera = run.result.lane_setup->camera;
  pipeline::ShotsFromTracks({test::RollingBall(camera, 1, 0.12, 0.20, 0.075, test::kToPins)}, test::RightHanded(),
                            &run);
  REQUIRE(run.result.shots.size() == 1);
  return run;
}

}  // namespace

TEST_CASE("a window that is opened again is where it was: clips, options, corrections, runs") {
  const ScratchFolder folder;
  const std::string a = folder / "a.mp4", b = folder / "b.mp4", at = folder / "deep/er/work";
  test::WriteContent(a, "first clip");
  test::WriteContent(b, "second clip");
  const pipeline::ClipRun run = SomeRun();
  {
    const auto work = Opened(at);
    CHECK(work->clips().empty());
    SavedClip second = ClipAt(b);
    second.options.hand = lane::Hand::kLeft;
    second.options.ball_gyration = 0.0635;
    second.options.readout_s = 0.011;
    second.options.lane.lane_offset = -1;
    second.options.lane.setup_file = "lane.json";
    second.kept["selected"] = "yes";
    REQUIRE(work->Save({ClipAt(a), second}).ok());
    REQUIRE(work->SaveRun(a, test::RightHanded(), run).ok());
    REQUIRE(work->SaveCorrections(a, WithMark(512.25)).ok());
  }
  const auto work = Opened(at);
  CHECK(work->notice().empty());
  REQUIRE(work->clips().size() == 2);
  CHECK(work->clips()[0].file == a);
  CHECK(work->clips()[0].measured);
  CHECK(work->clips()[0].corrections == WithMark(512.25));
  const SavedClip& second = work->clips()[1];
  CHECK_FALSE(second.measured);
  CHECK(second.options.hand == lane::Hand::kLeft);
  CHECK(second.options.ball_gyration == 0.0635);
  CHECK(second.options.readout_s == 0.011);
  CHECK(second.options.lane.lane_offset == -1);
  CHECK(second.options.lane.setup_file == "lane.json");
  CHECK(second.kept.at("selected") == "yes");
  CHECK(work->Opened(b).kept.at("selected") == "yes");
  const auto loaded = work->LoadRun(a, test::RightHanded());
  REQUIRE(loaded.ok());
  CHECK(report::ResultJson(loaded->result) == report::ResultJson(run.result));
  CHECK(work->LoadRun(b, second.options).status().code() == StatusCode::kNotDetermined);
}

TEST_CASE("a run of another clip under the same name, or of another lane, is not used; corrections are kept") {
  const ScratchFolder folder;
  const std::string a = folder / "a.mp4", at = folder / "work";
  test::WriteContent(a, "first clip");
  const auto work = Opened(at);
  REQUIRE(work->Save({ClipAt(a)}).ok());
  REQUIRE(work->SaveRun(a, {}, SomeRun()).ok());
  REQUIRE(work->SaveCorrections(a, WithMark(5)).ok());
  REQUIRE(work->LoadRun(a, {}).ok());
  pipeline::MeasureOptions other;
  other.lane.lane_offset = 1;
  CHECK_FALSE(work->LoadRun(a, other).ok());
  CHECK_FALSE(work->Opened(a, other).measured);
  test::WriteContent(a, "another clip of another size");
  CHECK_FALSE(work->LoadRun(a, {}).ok());
  CHECK_FALSE(work->Opened(a).measured);
  CHECK(work->Opened(a).corrections == WithMark(5));
  std::filesystem::remove(a);
  CHECK_FALSE(work->LoadRun(a, {}).ok());
}

TEST_CASE("a clip taken off the list takes its files with it") {
  const ScratchFolder folder;
  const std::string a = folder / "a.mp4", b = folder / "b.mp4", at = folder / "work";
  test::WriteContent(a, "first clip");
  test::WriteContent(b, "second clip");
  const auto work = Opened(at);
  REQUIRE(work->Save({ClipAt(a), ClipAt(b)}).ok());
  REQUIRE(work->SaveCorrections(a, WithMark(5)).ok());
  REQUIRE(work->SaveRun(a, {}, SomeRun()).ok());
  REQUIRE(work->SaveCorrections(b, WithMark(6)).ok());
  REQUIRE(work->Save({work->clips()[1]}).ok());
  CHECK(work->Opened(a).corrections.empty());
  CHECK_FALSE(work->Opened(a).measured);
  CHECK(work->Opened(b).corrections == WithMark(6));
}

TEST_CASE("two windows do not work in one folder; a killed one leaves it free") {
  const ScratchFolder folder;
  const std::string at = folder / "work";
  {
    const auto work = Opened(at);
    CHECK(SavedWork::Open(at).status().code() == StatusCode::kBadUse);
  }
  const pid_t child = fork();
  if (child == 0) {
    const auto work = SavedWork::Open(at);
    if (!work.ok()) _exit(1);
    raise(SIGKILL);
  }
  int status = 0;
  REQUIRE(waitpid(child, &status, 0) == child);
  REQUIRE(WIFSIGNALED(status));
  CHECK(SavedWork::Open(at).ok());
}

TEST_CASE("a list that a disk has damaged is put aside and said; corrections are taken up when the clip is opened") {
  const ScratchFolder folder;
  const std::string a = folder / "a.mp4", at = folder / "work";
  test::WriteContent(a, "first clip");
  {
    const auto work = Opened(at);
    REQUIRE(work->Save({ClipAt(a)}).ok());
    REQUIRE(work->SaveCorrections(a, WithMark(5)).ok());
  }
  test::WriteContent(at + "/clips.json", "{ \"format\": \"hookline-w");
  const auto work = Opened(at);
  CHECK(work->clips().empty());
  CHECK(work->notice().find("clips.json.damaged") != std::string::npos);
  CHECK(std::filesystem::exists(at + "/clips.json.damaged"));
  CHECK(work->Opened(a).corrections == WithMark(5));
}

TEST_CASE("a folder that cannot be made is told in a sentence") {
  const ScratchFolder folder;
  test::WriteContent(folder / "file", "x");
  const auto work = SavedWork::Open(folder / "file/work");
  REQUIRE_FALSE(work.ok());
  CHECK(work.status().code() == StatusCode::kBadFile);
}

TEST_CASE("the folder is where the XDG rules have it") {
  const char* state = std::getenv("XDG_STATE_HOME");
  const std::string before = state ? state : "";
  setenv("XDG_STATE_HOME", "/somewhere/state", 1);
  CHECK(WorkFolder() == "/somewhere/state/hookline/work");
  setenv("XDG_STATE_HOME", "relative", 1);  // to be passed over, says the standard
  CHECK(WorkFolder().ends_with("/.local/state/hookline/work"));
  unsetenv("XDG_STATE_HOME");
  CHECK(WorkFolder().ends_with("/.local/state/hookline/work"));
  if (state) setenv("XDG_STATE_HOME", before.c_str(), 1);
}

// A person drags, a measurement ends, the battery dies: at whatever moment, everything that was said to be saved is
// there again, whole.
TEST_CASE("killed in the midst of saving, nothing that was saved is lost and the next start is clean") {
  const ScratchFolder folder;
  const std::string a = folder / "a.mp4", at = folder / "work";
  test::WriteContent(a, "first clip");
  pipeline::ClipRun run = SomeRun();
  // As large as of a real clip, so that writing it takes a while.
  Background still;
  still.luma = cv::Mat(1080, 1920, CV_8UC1, cv::Scalar(90));
  run.background = std::make_shared<const Background>(still);
  const std::string numbers = report::ResultJson(run.result);
  std::mt19937 random(17);
  int killed_writing = 0, with_run = 0;
  for (int round = 0; round < 40; ++round) {
    std::filesystem::remove_all(at);
    int told[2];
    REQUIRE(pipe(told) == 0);
    const pid_t child = fork();
    if (child == 0) {
      const auto work = SavedWork::Open(at);
      if (!work.ok() || !(*work)->Save({ClipAt(a)}).ok()) _exit(1);
      for (int n = 1;; ++n) {
        SavedClip clip = ClipAt(a);
        clip.corrections = WithMark(n);
        clip.kept["n"] = std::to_string(n);
        bool saved = n % 2 == 0 ? (*work)->Save({clip}).ok() : (*work)->SaveCorrections(a, clip.corrections).ok();
        if (n % 3 == 0) saved = saved && (*work)->SaveRun(a, {}, run).ok();
        if (!saved || write(told[1], &n, sizeof n) != sizeof n) _exit(1);
      }
    }
    close(told[1]);
    std::this_thread::sleep_for(std::chrono::milliseconds(5 + random() % 60));
    kill(child, SIGKILL);
    int status = 0;
    REQUIRE(waitpid(child, &status, 0) == child);
    REQUIRE(WIFSIGNALED(status));
    int last = 0;
    for (int n = 0; read(told[0], &n, sizeof n) == sizeof n;) last = n;
    close(told[0]);
    std::error_code not_there;  // killed before it made the folder
    for (const auto& entry : std::filesystem::directory_iterator(at, not_there))
      killed_writing += entry.path().extension() == ".part" ? 1 : 0;

    const auto work = Opened(at);
    CHECK(work->notice().empty());
    for (const auto& entry : std::filesystem::directory_iterator(at)) CHECK(entry.path().extension() != ".part");
    if (last == 0) continue;
    REQUIRE(work->clips().size() == 1);
    const Corrections& kept = work->clips()[0].corrections;
    REQUIRE(kept.lane_marks.size() == 1);
    // What was told is there; at most one step more, which was being saved.
    CHECK(kept.lane_marks.at("foul_left").p_in_frame.x() >= last);
    CHECK(kept.lane_marks.at("foul_left").p_in_frame.x() <= last + 1);
    if (last < 3) continue;
    CHECK(work->clips()[0].measured);
    if (with_run++ % 5 == 0) {
      const auto loaded = work->LoadRun(a, test::RightHanded());
      REQUIRE(loaded.ok());
      CHECK(report::ResultJson(loaded->result) == numbers);
    }
  }
  MESSAGE("killed while a file was being written: ", killed_writing, " of 40");
  CHECK(with_run > 0);
}
