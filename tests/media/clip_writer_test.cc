// The writer's refusals, and that nothing half-written stays behind.
#include "media/clip_writer.h"

#include <cmath>
#include <functional>
#include <limits>

#include "media_fixture.h"

namespace hookline::media {
namespace {

ClipWriterOptions Small() {
  ClipWriterOptions options;
  options.width = 128;
  options.height = 96;
  return options;
}

size_t FilesIn(const TempFolder& folder) {
  return static_cast<size_t>(std::distance(std::filesystem::directory_iterator(folder.path()), {}));
}

TEST_CASE("a writer that goes away unfinished leaves nothing") {
  const TempFolder folder;
  for (const char* name : {"a.mp4", "a.mkv", "a.avi", "a.webm"}) {
    CAPTURE(std::string(name));
    ClipWriterOptions options = Small();
    if (std::string(name) == "a.webm") options.codec = "vp9";
    {
      auto writer = ClipWriter::Open(folder / name, options);
      REQUIRE(writer.ok());
      for (int i = 0; i < 20; ++i) REQUIRE((*writer)->Add(TestPicture({128, 96}, i), i / 30.0).ok());
      CHECK(std::filesystem::exists((folder / name) + ".part"));
      CHECK_FALSE(std::filesystem::exists(folder / name));
    }
    CHECK(FilesIn(folder) == 0);
  }
}

TEST_CASE("an older file of the name stays until the new one is whole") {
  const TempFolder folder;
  WriteBytes(folder / "a.mp4", "old");
  {
    auto writer = ClipWriter::Open(folder / "a.mp4", Small());
    REQUIRE(writer.ok());
    REQUIRE((*writer)->Add(TestPicture({128, 96}, 0), 0).ok());
  }
  CHECK(ReadBytes(folder / "a.mp4") == "old");
  WriteClip(folder / "a.mp4", Small(), EvenTimes(3, 30));
  CHECK(ReadAll(folder / "a.mp4").pictures.size() == 3);
  CHECK(FilesIn(folder) == 1);
}

TEST_CASE("an empty clip is not written") {
  const TempFolder folder;
  {
    auto writer = ClipWriter::Open(folder / "a.mp4", Small());
    REQUIRE(writer.ok());
    CHECK((*writer)->Finish().code() == StatusCode::kBadUse);
  }
  CHECK(FilesIn(folder) == 0);
}

TEST_CASE("places that cannot be written to") {
  const TempFolder folder;
  for (const std::string& file : {folder / "no/such/folder/a.mp4", folder / "folder.mp4"}) {
    std::filesystem::create_directory(folder / "folder.mp4");
    auto writer = ClipWriter::Open(file, Small());
    REQUIRE_FALSE(writer.ok());
    CHECK(writer.status().code() == StatusCode::kBadFile);
    CHECK(writer.status().sentence().find("\"" + file + "\"") == 0);
  }
  CHECK(FilesIn(folder) == 1);
}

TEST_CASE("a full disk is told") {
  if (!std::filesystem::exists("/dev/full")) return;
  const TempFolder folder;
  std::filesystem::create_symlink("/dev/full", folder / "a.mkv.part");
  auto writer = ClipWriter::Open(folder / "a.mkv", Small());
  Status status = writer.ok() ? Status::Ok() : writer.status();
  for (int i = 0; status.ok() && i < 300; ++i) status = (*writer)->Add(TestPicture({128, 96}, i), i / 30.0);
  if (status.ok()) status = (*writer)->Finish();
  CHECK(status.code() == StatusCode::kBadFile);
  CHECK(status.sentence().find("cannot be written") != std::string::npos);
  CHECK_FALSE(std::filesystem::exists(folder / "a.mkv"));
}

TEST_CASE("options and endings that do not go together are refused by name") {
  const TempFolder folder;
  struct Case {
    std::string file;
    std::string names;
    std::function<void(ClipWriterOptions&)> change;
  };
  const std::vector<Case> cases = {
      {"a.mp4", "width", [](auto& o) { o.width = 0; }},
      {"a.mp4", "height", [](auto& o) { o.height = 20000; }},
      {"a.mp4", "codec", [](auto& o) { o.codec = "betamax"; }},
      {"a.mp4", "bit_depth", [](auto& o) { o.bit_depth = 12; }},
      {"a.avi", "bit_depth", [](auto& o) { o.codec = "mjpeg", o.bit_depth = 10; }},
      {"a.mp4", "bit_rate", [](auto& o) { o.bit_rate = -1; }},
      {"a.mp4", "quality", [](auto& o) { o.quality = 99; }},
      {"a.mp4", "gop", [](auto& o) { o.gop = -1; }},
      {"a.mp4", "rotation_deg", [](auto& o) { o.rotation_deg = 45; }},
      {"a.mp4", "nominal_rate", [](auto& o) { o.nominal_rate = std::numeric_limits<double>::quiet_NaN(); }},
      {"a.mp4", "sample aspect", [](auto& o) { o.sample_aspect_num = 9; }},
      {"a.mkv", "rotation", [](auto& o) { o.rotation_deg = 90; }},
      {"a.webm", "cannot hold h264", [](auto&) {}},
      {"a.mp4", "cannot hold ffv1", [](auto& o) { o.codec = "ffv1"; }},
      {"a.xyz", "ending", [](auto&) {}},
      {"a", "ending", [](auto&) {}},
      {"a.mp4", "preset", [](auto& o) { o.preset = "warp"; }},
  };
  for (const Case& c : cases) {
    ClipWriterOptions options = Small();
    c.change(options);
    auto writer = ClipWriter::Open(folder / c.file, options);
    CAPTURE(c.names);
    REQUIRE_FALSE(writer.ok());
    CHECK(writer.status().code() == StatusCode::kBadUse);
    CHECK(writer.status().sentence().find(c.names) != std::string::npos);
  }
  CHECK(FilesIn(folder) == 0);
}

TEST_CASE("pictures of another size, or not later than the one before, are refused") {
  const TempFolder folder;
  auto writer = ClipWriter::Open(folder / "a.mp4", Small());
  REQUIRE(writer.ok());
  CHECK((*writer)->Add(TestPicture({96, 128}, 0), 0).code() == StatusCode::kBadUse);
  CHECK((*writer)->Add(cv::Mat(96, 128, CV_8UC1, cv::Scalar(0)), 0).code() == StatusCode::kBadUse);
  CHECK((*writer)->Add(TestPicture({128, 96}, 0), std::nan("")).code() == StatusCode::kBadUse);
  CHECK((*writer)->Add(TestPicture({128, 96}, 0), 1.0).ok());
  CHECK((*writer)->Add(TestPicture({128, 96}, 1), 1.0).code() == StatusCode::kBadUse);
  CHECK((*writer)->Add(TestPicture({128, 96}, 1), 0.5).code() == StatusCode::kBadUse);
  CHECK((*writer)->Add(TestPicture({128, 96}, 1), 1.1).ok());
  CHECK((*writer)->Finish().ok());
  CHECK((*writer)->Add(TestPicture({128, 96}, 2), 1.2).code() == StatusCode::kBadUse);
  CHECK(ReadAll(folder / "a.mp4").pictures.size() == 2);
}

TEST_CASE("a bit rate asked for is met") {
  const TempFolder folder;
  ClipWriterOptions options;
  options.width = 320;
  options.height = 192;
  options.nominal_rate = 30;
  cv::RNG random(7);
  for (std::int64_t rate : {400'000, 1'600'000}) {
    options.bit_rate = rate;
    const std::string file = folder / "a.mp4";
    auto writer = ClipWriter::Open(file, options);
    REQUIRE(writer.ok());
    cv::Mat picture(192, 320, CV_8UC3);
    for (int i = 0; i < 150; ++i) {
      random.fill(picture, cv::RNG::UNIFORM, 0, 255);
      REQUIRE((*writer)->Add(picture, i / 30.0).ok());
    }
    REQUIRE((*writer)->Finish().ok());
    // ffprobe's own count of bits over time.
    const double probed = std::stod(Probe(file)["streams"][0]["bit_rate"].get<std::string>());
    CHECK(probed == doctest::Approx(static_cast<double>(rate)).epsilon(0.25));
  }
}

}  // namespace
}  // namespace hookline::media
