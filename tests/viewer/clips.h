// Clips whose every picture tells its own number, and a clock of the test's own.
#pragma once

#include <doctest/doctest.h>

#include <chrono>
#include <cmath>
#include <functional>
#include <opencv2/core.hpp>
#include <string>
#include <thread>
#include <vector>

#include "media/clip_writer.h"
#include "model/picture.h"

namespace hookline::viewer::test {

// The number as eight black or white squares along the top: survives any codec.
inline cv::Mat NumberedPicture(cv::Size size, int number) {
  cv::Mat picture(size, CV_8UC3, cv::Scalar(90, 110, 70));
  for (int bit = 0; bit < 16; ++bit)
    picture(cv::Rect(bit * 16, 0, 16, 16)).setTo(cv::Scalar::all((number >> bit & 1) ? 235 : 20));
  return picture;
}

inline int NumberIn(const Picture& picture) {
  int number = 0;
  for (int bit = 0; bit < 16; ++bit)
    if (picture.luma.at<std::uint8_t>(8, bit * 16 + 8) > 125) number |= 1 << bit;
  return number;
}

inline std::vector<double> UnevenTimes(int count) {
  std::vector<double> times;
  for (int i = 0; i < count; ++i) times.push_back(i / 30.0 + (i % 3 == 1 ? 0.007 : 0.0) + (i > 40 ? 0.25 : 0.0));
  return times;
}

inline void WriteNumbered(const std::string& file, const std::vector<double>& times, int gop = 30,
                          cv::Size size = {256, 144}) {
  media::ClipWriterOptions options;
  options.width = size.width;
  options.height = size.height;
  options.nominal_rate = 30;
  options.gop = gop;
  auto writer = media::ClipWriter::Open(file, options);
  REQUIRE(writer.ok());
  for (std::size_t i = 0; i < times.size(); ++i)
    REQUIRE((*writer)->Add(NumberedPicture(size, static_cast<int>(i)), times[i]).ok());
  REQUIRE((*writer)->Finish().ok());
}

// Until it holds, or a generous time has passed.
inline bool WaitFor(const std::function<bool()>& holds, double seconds = 20) {
  const auto end = std::chrono::steady_clock::now() + std::chrono::duration<double>(seconds);
  while (std::chrono::steady_clock::now() < end) {
    if (holds()) return true;
    std::this_thread::sleep_for(std::chrono::milliseconds(1));
  }
  return holds();
}

}  // namespace hookline::viewer::test
