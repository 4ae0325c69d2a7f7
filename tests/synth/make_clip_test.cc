// The room's door: a scenario file becomes a clip and its truth, whole or not at all.
#include "synth/make_clip.h"

#include <doctest/doctest.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "core/whole_file.h"
#include "media/clip_reader.h"
#include "scratch_folder.h"
#include "synth/truth.h"

namespace hookline::synth {
namespace {

Scenario Tiny() {
  Scenario s;
  s.duration_s = 0.2;
  s.video.width = 160;
  s.video.height = 90;
  s.video.fps = 30;
  s.camera.focal_px = 120;
  s.shots.emplace_back();
  s.shots[0].release_s = 0.1;
  return s;
}

}  // namespace

TEST_CASE("clip and truth are written, and nothing else stays behind") {
  const test::ScratchFolder folder;
  const std::string clip = (folder / "a.mp4");
  const auto made = MakeClip(Tiny(), clip);
  REQUIRE_MESSAGE(made.ok(), made.status().sentence());
  CHECK(made->frames == 6);
  CHECK(made->truth_file == (folder / "a.truth.json"));
  const auto text = ReadWholeFile(made->truth_file);
  REQUIRE(text.ok());
  const nlohmann::json truth = nlohmann::json::parse(*text);
  CHECK(truth["clip"] == "a.mp4");
  CHECK(truth["n_frames"] == 6);
  CHECK(folder.Files() == 2);
  // What the file says of its times is what the truth says.
  auto reader = media::ClipReader::Open(clip);
  REQUIRE(reader.ok());
  std::size_t i = 0;
  for (auto picture = (*reader)->Next(); picture; picture = (*reader)->Next(), ++i)
    CHECK(std::abs(picture->time_s - truth["pts"][i].get<double>()) < 1e-5);
  CHECK(i == 6);
}

TEST_CASE("a stopped run leaves no file") {
  const test::ScratchFolder folder;
  StopToken stop;
  stop.RequestStop();
  const auto made = MakeClip(Tiny(), (folder / "a.mp4"), {}, {}, &stop);
  CHECK_FALSE(made.ok());
  CHECK(made.status().code() == StatusCode::kStopped);
  CHECK(folder.Files() == 0);
}

TEST_CASE("repeats write the frames again, without a jump in time") {
  const test::ScratchFolder folder;
  MakeOptions options;
  options.truth = false;
  options.repeats = 3;
  const auto made = MakeClip(Tiny(), (folder / "a.mp4"), options);
  REQUIRE(made.ok());
  CHECK(made->frames == 18);
  CHECK(made->truth_file.empty());
  options.repeats = 0;
  CHECK_FALSE(MakeClip(Tiny(), (folder / "b.mp4"), options).ok());
}

TEST_CASE("the truth beside the sample clips is what their scenarios give") {
  for (const char* name : {"hook", "left_portrait", "straight_spare", "gutter", "two_balls", "no_shot"}) {
    CAPTURE(name);
    const std::string base = std::string(HOOKLINE_SAMPLES) + "/" + name;
    const auto scenario = ReadScenario(base + ".scenario.json");
    REQUIRE_MESSAGE(scenario.ok(), scenario.status().sentence());
    const auto text = ReadWholeFile(base + ".truth.json");
    REQUIRE(text.ok());
    const nlohmann::json kept = nlohmann::json::parse(*text);
    const std::vector<double> times = FrameTimes(*scenario);
    CHECK(kept["n_frames"] == times.size());
    CHECK(kept["clip"] == std::string(name) + ".mp4");
    REQUIRE(kept["shots"].size() == scenario->shots.size());
    for (std::size_t i = 0; i < scenario->shots.size(); ++i) {
      const ShotRun run(scenario->shots[i], lane::MetresFromInches(scenario->lanes.width_in),
                        lane::MetresFromInches(scenario->lanes.gutter_depth_in));
      const ShotTruth truth = TruthOf(run, LaneOf(scenario->lanes));
      const nlohmann::json& shot = kept["shots"][i];
      REQUIRE(truth.arrows);
      CHECK(lane::InchesFromMetres(truth.arrows->x) ==
            doctest::Approx(shot["arrows_cross"]["x_in"].get<double>()).epsilon(1e-4));
      CHECK(lane::MphFromMetresPerSecond(truth.speed_15ft) ==
            doctest::Approx(shot["speed_mph"]["arrows_15ft"].get<double>()).epsilon(1e-4));
      CHECK(shot["gutter_ball"] == run.gutter_s().has_value());
      CHECK(shot["breakpoint"].is_null() == !truth.breakpoint.has_value());
    }
  }
}

}  // namespace hookline::synth
