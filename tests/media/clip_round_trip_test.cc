// What the writer stores comes back from the reader, and ffprobe and ffmpeg see the same in it.
#include <cmath>

#include "media/frame_planes.h"
#include "media_fixture.h"

extern "C" {
#include <libavutil/display.h>
}

// x265 3.5 keeps about a kilobyte for each encoder it opened; what leaks in this program itself is still told.
extern "C" const char* __lsan_default_suppressions() { return "leak:libx265\n"; }

namespace hookline::media {
namespace {

struct Kind {
  std::string codec;
  std::string ending;
  int bits;
  double tick_s;     // of the container's clock
  double tolerance;  // grey levels, of a flat patch after lossy coding
};

TEST_CASE("every codec and container comes back with its pictures and times, as ffprobe counts and times them") {
  const TempFolder folder;
  const std::vector<Kind> kinds = {
      {"h264", "mp4", 8, 1.0 / 90000, 3},  {"h264", "mov", 8, 1.0 / 90000, 3},    {"h264", "mkv", 8, 1e-3, 3},
      {"h264", "avi", 8, 1.0 / 30, 3},     {"h264", "mp4", 10, 1.0 / 90000, 3},   {"hevc", "mp4", 8, 1.0 / 90000, 3},
      {"hevc", "mkv", 10, 1e-3, 3},        {"vp9", "webm", 8, 1e-3, 4},           {"vp9", "mp4", 10, 1.0 / 90000, 4},
      {"av1", "mp4", 8, 1.0 / 90000, 4},   {"av1", "webm", 10, 1e-3, 4},          {"mjpeg", "avi", 8, 1.0 / 30, 4},
      {"mjpeg", "mov", 8, 1.0 / 90000, 4}, {"prores", "mov", 10, 1.0 / 90000, 3}, {"ffv1", "mkv", 8, 1e-3, 2},
      {"ffv1", "avi", 10, 1.0 / 30, 2},
  };
  const std::vector<double> times = EvenTimes(14, 30);
  for (const Kind& kind : kinds) {
    CAPTURE(kind.codec);
    CAPTURE(kind.ending);
    CAPTURE(kind.bits);
    const std::string file = folder / (kind.codec + std::to_string(kind.bits) + "." + kind.ending);
    ClipWriterOptions options;
    options.width = 192;
    options.height = 128;
    options.codec = kind.codec;
    options.bit_depth = kind.bits;
    options.nominal_rate = 30;
    options.quality = 12;
    WriteClip(file, options, times);
    CHECK_FALSE(std::filesystem::exists(file + ".part"));

    const ReadClip clip = ReadAll(file);
    const nlohmann::json probe = Probe(file);
    const auto& stream = probe.at("streams").at(0);
    CHECK(clip.warnings.empty());
    CHECK(clip.info.width == stream.at("width").get<int>());
    CHECK(clip.info.height == stream.at("height").get<int>());
    CHECK(clip.info.codec == stream.at("codec_name").get<std::string>());
    CHECK(clip.info.rotation_deg == 0);
    CHECK_FALSE(clip.info.variable_rate);
    CHECK(clip.info.frame_rate_mean == doctest::Approx(30).epsilon(0.003));
    CHECK(clip.info.duration_s == doctest::Approx(14 / 30.0).epsilon(0.01));
    const std::vector<double> probed = ProbedTimes(probe);
    REQUIRE(clip.pictures.size() == times.size());
    // AVI holds no time stamps, and ffprobe names none for the last pictures of a stream whose order of decoding is
    // another.
    if (kind.ending == "avi") {
      REQUIRE(probe["frames"].size() == times.size());
    } else {
      REQUIRE(probed.size() == times.size());
    }
    CHECK(clip.info.frames == static_cast<std::int64_t>(times.size()));
    for (size_t i = 0; i < times.size(); ++i) {
      CAPTURE(i);
      const Picture& picture = clip.pictures[i];
      CHECK(picture.index == static_cast<std::int64_t>(i));
      if (i < probed.size()) CHECK(std::abs(picture.time_s - probed[i]) < 1.5e-6);  // ffprobe prints six decimals
      CHECK(std::abs(picture.time_s - times[i]) <= 0.51 * kind.tick_s);
      CHECK(picture.luma.size() == cv::Size(192, 128));
      CHECK(picture.cb.size() == cv::Size(96, 64));
      CHECK(picture.luma.type() == CV_8UC1);
      const bool full_range = kind.codec == "mjpeg";
      CheckCorners(picture, kind.tolerance, full_range);
      const double grey = ExpectedOf(cv::Scalar::all(GreyOf(static_cast<int>(i))), full_range).y;
      CHECK(std::abs(MeanIn(picture.luma, MiddlePatch(picture.luma.size())) - grey) < kind.tolerance);
    }
  }
}

TEST_CASE("uneven times come back to 1/90000 s, and ffprobe reads the same ticks") {
  const TempFolder folder;
  const std::string file = folder / "uneven.mp4";
  const std::vector<int> steps = {1501, 3003, 2999, 3000, 6007, 1500, 9001, 3000, 2998, 3002, 751, 749, 3000, 12000};
  std::vector<std::int64_t> ticks = {0};
  for (int s : steps) ticks.push_back(ticks.back() + s);
  std::vector<double> times;
  for (std::int64_t t : ticks) times.push_back(static_cast<double>(t) / 90000);
  ClipWriterOptions options;
  options.width = 128;
  options.height = 96;
  WriteClip(file, options, times);

  const ReadClip clip = ReadAll(file);
  const nlohmann::json probe = Probe(file);
  CHECK(probe["streams"][0]["time_base"] == "1/90000");
  REQUIRE(clip.pictures.size() == times.size());
  REQUIRE(probe["frames"].size() == times.size());
  const auto first = probe["frames"][0]["best_effort_timestamp"].get<std::int64_t>();
  for (size_t i = 0; i < times.size(); ++i) {
    CHECK(clip.pictures[i].time_s == doctest::Approx(times[i]).epsilon(1e-12));
    CHECK(probe["frames"][i]["best_effort_timestamp"].get<std::int64_t>() - first == ticks[i]);
    CHECK(NumberIn(clip.pictures[i]) == static_cast<int>(i));
  }
  CHECK(clip.info.variable_rate);
  CHECK(clip.info.frame_rate_mean == doctest::Approx(14 * 90000.0 / static_cast<double>(ticks.back())));
}

TEST_CASE("a dropped picture makes the rate variable, a clock that rounds to milliseconds does not") {
  const TempFolder folder;
  ClipWriterOptions options;
  options.width = 128;
  options.height = 96;
  WriteClip(folder / "even240.mkv", options, EvenTimes(60, 240));
  CHECK_FALSE(ReadAll(folder / "even240.mkv").info.variable_rate);
  std::vector<double> dropped = EvenTimes(60, 240);
  dropped.erase(dropped.begin() + 30);
  WriteClip(folder / "dropped.mkv", options, dropped);
  CHECK(ReadAll(folder / "dropped.mkv").info.variable_rate);
}

TEST_CASE("rotated clips are shown upright, byte for byte as ffmpeg turns them by itself") {
  const TempFolder folder;
  const cv::Size shown(150, 214);  // no multiple of the block in which planes are turned
  for (int rotation : {0, 90, 180, 270}) {
    CAPTURE(rotation);
    const std::string file = folder / ("turned" + std::to_string(rotation) + ".mov");
    ClipWriterOptions options;
    options.width = shown.width;
    options.height = shown.height;
    options.rotation_deg = rotation;
    WriteClip(file, options, EvenTimes(3, 30));

    const ReadClip clip = ReadAll(file);
    CHECK(clip.info.rotation_deg == rotation);
    CHECK(clip.info.width == shown.width);
    CHECK(clip.info.height == shown.height);
    REQUIRE(clip.pictures.size() == 3);
    CheckCorners(clip.pictures[0], 3);

    const auto stream = Probe(file)["streams"][0];
    CHECK(stream["width"].get<int>() == (rotation % 180 ? shown.height : shown.width));
    if (rotation != 0) {
      // ffprobe gives the turn counterclockwise.
      const int probed = stream["side_data_list"][0]["rotation"].get<int>();
      CHECK((360 - probed) % 360 == rotation);
    }

    const std::string raw = folder / "raw.yuv";
    Run("ffmpeg -y -v error -i " + file + " -frames:v 1 -f rawvideo -pix_fmt yuv420p " + raw);
    std::string bytes = ReadBytes(raw);
    const size_t luma = static_cast<size_t>(shown.area());
    REQUIRE(bytes.size() == luma * 3 / 2);
    const cv::Size half(shown.width / 2, shown.height / 2);
    CHECK(SamePixels(clip.pictures[0].luma, cv::Mat(shown, CV_8UC1, bytes.data())));
    CHECK(SamePixels(clip.pictures[0].cb, cv::Mat(half, CV_8UC1, bytes.data() + luma)));
    CHECK(SamePixels(clip.pictures[0].cr, cv::Mat(half, CV_8UC1, bytes.data() + luma * 5 / 4)));
  }
}

TEST_CASE("any display matrix becomes the nearest of the eight ways to lay a picture") {
  // Closed answer: the corners of a picture go where ISO/IEC 14496-12's (x', y') = (a x + c y, b x + d y) sends them.
  for (int turn = 0; turn < 360; turn += 90) {
    for (bool mirror : {false, true}) {
      for (int off : {-20, 0, 20}) {
        CAPTURE(turn);
        CAPTURE(mirror);
        CAPTURE(off);
        std::int32_t matrix[9];
        av_display_rotation_set(matrix, turn + off);
        if (mirror) av_display_matrix_flip(matrix, 1, 0);
        std::int32_t exact[9];
        av_display_rotation_set(exact, turn);
        if (mirror) av_display_matrix_flip(exact, 1, 0);
        const Orientation o = OrientationOf(matrix);
        for (auto [x, y] : {std::pair{1, 0}, {0, 1}, {1, 1}}) {
          int to_x = o.transpose ? y : x, to_y = o.transpose ? x : y;
          if (o.flip_x) to_x = -to_x;
          if (o.flip_y) to_y = -to_y;
          CHECK(to_x * 65536.0 ==
                doctest::Approx(static_cast<double>(exact[0]) * x + static_cast<double>(exact[3]) * y).epsilon(1e-4));
          CHECK(to_y * 65536.0 ==
                doctest::Approx(static_cast<double>(exact[1]) * x + static_cast<double>(exact[4]) * y).epsilon(1e-4));
        }
        if (!mirror) CHECK(o.clockwise_deg() == turn);
      }
    }
  }
}

TEST_CASE("pixels that are not square are shown square, upright and sideways") {
  const TempFolder folder;
  for (int rotation : {0, 90}) {
    CAPTURE(rotation);
    const std::string file = folder / ("wide" + std::to_string(rotation) + ".mp4");
    ClipWriterOptions options;
    options.width = rotation ? 144 : 256;
    options.height = rotation ? 256 : 144;
    options.sample_aspect_num = 4;
    options.sample_aspect_den = 3;
    options.rotation_deg = rotation;
    options.quality = 8;
    WriteClip(file, options, EvenTimes(3, 30));
    const auto stream = Probe(file)["streams"][0];
    CHECK(stream["width"].get<int>() == 192);
    CHECK(stream["height"].get<int>() == 144);
    CHECK(stream["sample_aspect_ratio"] == "4:3");
    const ReadClip clip = ReadAll(file);
    CHECK(clip.info.width == options.width);
    CHECK(clip.info.height == options.height);
    CHECK(clip.pictures.at(0).cb.size() == cv::Size(options.width / 2, options.height / 2));
    CheckCorners(clip.pictures.at(0), 4);
  }
}

TEST_CASE("odd sizes are kept by the reader and made even by the writer") {
  const TempFolder folder;
  ClipWriterOptions options;
  options.width = 161;
  options.height = 121;
  WriteClip(folder / "even.mp4", options, EvenTimes(3, 30));
  const auto stream = Probe(folder / "even.mp4")["streams"][0];
  CHECK(stream["width"].get<int>() == 162);
  CHECK(stream["height"].get<int>() == 122);
  Run("ffmpeg -y -v error -i " + (folder / "even.mp4") + " -vf crop=161:121:0:0:exact=1 -c:v ffv1 " +
      (folder / "odd.mkv"));
  const ReadClip odd = ReadAll(folder / "odd.mkv");
  CHECK(odd.info.width == 161);
  CHECK(odd.pictures.at(0).luma.size() == cv::Size(161, 121));
  CHECK(odd.pictures.at(0).cb.size() == cv::Size(81, 61));
}

TEST_CASE("every way to store pixels gives the same planes") {
  const TempFolder folder;
  ClipWriterOptions options;
  options.width = 192;
  options.height = 128;
  options.codec = "ffv1";
  WriteClip(folder / "base.mkv", options, EvenTimes(2, 30));
  const ReadClip base = ReadAll(folder / "base.mkv");
  CheckCorners(base.pictures[0], 2);
  struct Stored {
    std::string codec;
    std::string pixels;
  };
  // The conversion is ffmpeg's. Its 8 to 10 bit steps and RGB round trips cost up to two grey levels.
  for (const Stored& s : {Stored{"ffv1", "yuv422p"},
                          {"ffv1", "yuv444p"},
                          {"ffv1", "yuv420p10le"},
                          {"ffv1", "yuv422p10le"},
                          {"ffv1", "yuv444p16le"},
                          {"ffv1", "yuva420p"},
                          {"rawvideo", "nv12"},
                          {"rawvideo", "yuyv422"},
                          {"ffv1", "yuv411p"},
                          {"ffv1", "bgr0"},
                          {"ffv1", "gbrp10le"}}) {
    CAPTURE(s.pixels);
    const std::string file = folder / (s.pixels + ".nut");
    Run("ffmpeg -y -v error -i " + (folder / "base.mkv") +
        " -vf scale=out_color_matrix=bt709:in_color_matrix=bt709 -pix_fmt " + s.pixels + " -c:v " + s.codec + " " +
        file);
    const ReadClip clip = ReadAll(file);
    REQUIRE(clip.pictures.size() == 2);
    CHECK(clip.pictures[0].cb.size() == cv::Size(96, 64));
    CheckCorners(clip.pictures[0], 3);
  }
  Run("ffmpeg -y -v error -i " + (folder / "base.mkv") + " -vf extractplanes=y -pix_fmt gray -c:v ffv1 " +
      (folder / "grey.mkv"));
  const ReadClip grey = ReadAll(folder / "grey.mkv");
  REQUIRE(grey.pictures.size() == 2);
  CHECK(SamePixels(grey.pictures[0].luma, base.pictures[0].luma));
  CHECK(cv::countNonZero(grey.pictures[0].cb != 128) == 0);
  CHECK(grey.pictures[0].cr.size() == cv::Size(96, 64));
}

TEST_CASE("pictures stay whole after the reader is gone, and chroma can be left out") {
  const TempFolder folder;
  ClipWriterOptions options;
  options.width = 192;
  options.height = 128;
  WriteClip(folder / "clip.mp4", options, EvenTimes(40, 30));
  std::vector<cv::Mat> kept, copies;
  {
    auto reader = ClipReader::Open(folder / "clip.mp4");
    REQUIRE(reader.ok());
    while (auto picture = (*reader)->Next()) {
      kept.push_back(picture->luma(cv::Rect(8, 8, 100, 100)));
      copies.push_back(kept.back().clone());
    }
  }
  REQUIRE(kept.size() == 40);
  for (size_t i = 0; i < kept.size(); ++i) CHECK(SamePixels(kept[i], copies[i]));

  ClipReaderOptions luma_only;
  luma_only.chroma = false;
  luma_only.threads = 1;
  const ReadClip clip = ReadAll(folder / "clip.mp4", luma_only);
  REQUIRE(clip.pictures.size() == 40);
  CHECK(clip.pictures[0].cb.empty());
  CHECK(clip.pictures[0].cr.empty());
  CHECK(SamePixels(clip.pictures[39].luma(cv::Rect(8, 8, 100, 100)), copies[39]));
}

}  // namespace
}  // namespace hookline::media
