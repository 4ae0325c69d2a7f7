// Shared by the tests of this room: a folder that goes away, small pictures whose corners tell them apart, and ffprobe
// and ffmpeg as the outside source.
#pragma once

#include <doctest/doctest.h>

#include <array>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <opencv2/core.hpp>
#include <string>
#include <vector>

#include "media/clip_reader.h"
#include "media/clip_writer.h"

namespace hookline::media {

class TempFolder {
 public:
  TempFolder() {
    std::string name = (std::filesystem::temp_directory_path() / "hookline_media_XXXXXX").string();
    REQUIRE(mkdtemp(name.data()) != nullptr);
    path_ = name;
  }
  ~TempFolder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  std::string operator/(const std::string& name) const { return (path_ / name).string(); }
  const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

// Standard output of a command; the test fails when the command does.
inline std::string Run(const std::string& command) {
  FILE* pipe = popen((command + " 2>&1").c_str(), "r");
  REQUIRE(pipe != nullptr);
  std::string out;
  std::array<char, 65536> block{};
  for (size_t n = 0; (n = fread(block.data(), 1, block.size(), pipe)) > 0;) out.append(block.data(), n);
  const int rc = pclose(pipe);
  INFO(command, ": ", out.substr(0, 400));
  REQUIRE(rc == 0);
  return out;
}

// ffprobe (FFmpeg's own tool) on the first video stream: {"streams": [..], "frames": [..]}.
inline nlohmann::json Probe(const std::string& file) {
  return nlohmann::json::parse(
      Run("ffprobe -v quiet -select_streams v:0 -show_streams -show_frames -show_entries "
          "frame=best_effort_timestamp_time,best_effort_timestamp -of json " +
          file));
}

inline std::vector<double> ProbedTimes(const nlohmann::json& probe) {
  std::vector<double> times;
  for (const auto& frame : probe.at("frames")) {
    if (frame.contains("best_effort_timestamp_time"))
      times.push_back(std::stod(frame["best_effort_timestamp_time"].get<std::string>()));
  }
  for (size_t i = times.size(); i-- > 0;) times[i] -= times[0];
  return times;
}

// Grey 64 with a square in each corner (red, green, blue, white from the top left clockwise) and one in the middle
// whose grey tells the picture's number.
inline const std::array<cv::Scalar, 4> kCorners = {cv::Scalar(0, 0, 200), cv::Scalar(0, 200, 0), cv::Scalar(200, 0, 0),
                                                   cv::Scalar(230, 230, 230)};
inline cv::Rect CornerPatch(int corner, cv::Size size) {
  const int side = 32;
  return {corner == 1 || corner == 2 ? size.width - side : 0, corner >= 2 ? size.height - side : 0, side, side};
}
inline cv::Rect MiddlePatch(cv::Size size) { return {size.width / 2 - 16, size.height / 2 - 16, 32, 32}; }
inline int GreyOf(int number) { return 30 + 3 * (number % 64); }
inline cv::Mat TestPicture(cv::Size size, int number) {
  cv::Mat picture(size, CV_8UC3, cv::Scalar(64, 64, 64));
  for (int c = 0; c < 4; ++c) picture(CornerPatch(c, size)).setTo(kCorners[static_cast<size_t>(c)]);
  picture(MiddlePatch(size)).setTo(cv::Scalar::all(GreyOf(number)));
  return picture;
}

// ITU-R BT.709-6, table 3: limited range luma and chroma of 8 bit BGR; MJPEG's full range (JFIF 1.02) when asked.
struct YCbCr {
  double y, cb, cr;
};
inline YCbCr ExpectedOf(const cv::Scalar& bgr, bool full_range = false) {
  const double b = bgr[0] / 255, g = bgr[1] / 255, r = bgr[2] / 255;
  const double y = 0.2126 * r + 0.7152 * g + 0.0722 * b;
  const double cb = (b - y) / 1.8556, cr = (r - y) / 1.5748;
  if (full_range) return {255 * y, 128 + 255 * cb, 128 + 255 * cr};
  return {16 + 219 * y, 128 + 224 * cb, 128 + 224 * cr};
}

inline double MeanIn(const cv::Mat& plane, cv::Rect patch) {
  const cv::Rect inner(patch.x + patch.width / 4, patch.y + patch.height / 4, patch.width / 2, patch.height / 2);
  return cv::mean(plane(inner))[0];
}
inline cv::Rect Halved(cv::Rect r) { return {r.x / 2, r.y / 2, r.width / 2, r.height / 2}; }

inline void CheckCorners(const Picture& picture, double tolerance, bool full_range = false) {
  for (int c = 0; c < 4; ++c) {
    CAPTURE(c);
    const YCbCr want = ExpectedOf(kCorners[static_cast<size_t>(c)], full_range);
    const cv::Rect patch = CornerPatch(c, picture.luma.size());
    CHECK(std::abs(MeanIn(picture.luma, patch) - want.y) < tolerance);
    if (picture.cb.empty()) continue;
    CHECK(std::abs(MeanIn(picture.cb, Halved(patch)) - want.cb) < tolerance);
    CHECK(std::abs(MeanIn(picture.cr, Halved(patch)) - want.cr) < tolerance);
  }
}

// The number that TestPicture drew, from limited range luma.
inline int NumberIn(const Picture& picture) {
  const double grey = (MeanIn(picture.luma, MiddlePatch(picture.luma.size())) - 16) * 255 / 219;
  return static_cast<int>(std::lround((grey - 30) / 3));
}

inline void WriteClip(const std::string& file, const ClipWriterOptions& options, const std::vector<double>& times) {
  auto writer = ClipWriter::Open(file, options);
  INFO(writer.status().sentence());
  REQUIRE(writer.ok());
  const cv::Size size(options.width, options.height);
  for (size_t i = 0; i < times.size(); ++i) {
    const Status added = (*writer)->Add(TestPicture(size, static_cast<int>(i)), times[i]);
    INFO(added.sentence());
    REQUIRE(added.ok());
  }
  const Status finished = (*writer)->Finish();
  INFO(finished.sentence());
  REQUIRE(finished.ok());
}

inline std::vector<double> EvenTimes(int count, double rate) {
  std::vector<double> times;
  for (int i = 0; i < count; ++i) times.push_back(i / rate);
  return times;
}

struct ReadClip {
  ClipInfo info;
  std::vector<Picture> pictures;
  std::vector<std::string> warnings;
};
inline ReadClip ReadAll(const std::string& file, const ClipReaderOptions& options = {}) {
  auto reader = ClipReader::Open(file, options);
  INFO(reader.status().sentence());
  REQUIRE(reader.ok());
  ReadClip clip;
  while (auto picture = (*reader)->Next()) clip.pictures.push_back(std::move(*picture));
  CHECK_FALSE((*reader)->Next().has_value());
  clip.info = (*reader)->info();
  clip.warnings = (*reader)->warnings();
  return clip;
}

inline bool SamePixels(const cv::Mat& a, const cv::Mat& b) {
  return a.size() == b.size() && a.type() == b.type() && cv::norm(a, b, cv::NORM_INF) == 0;
}

inline void WriteBytes(const std::string& file, const std::string& bytes) {
  std::ofstream(file, std::ios::binary) << bytes;
}
inline std::string ReadBytes(const std::string& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

}  // namespace hookline::media
