#include "setup/background.h"

#include <doctest/doctest.h>

#include <opencv2/imgproc.hpp>
#include <random>

using namespace hookline;

namespace {

// A picture full of corners, the same for the same seed.
cv::Mat Texture(int width, int height, unsigned seed) {
  cv::Mat noise(height, width, CV_8UC1);
  std::mt19937 random(seed);
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < width; ++x) noise.at<unsigned char>(y, x) = static_cast<unsigned char>(random() % 256);
  cv::Mat out;
  cv::GaussianBlur(noise, out, cv::Size(0, 0), 3);
  cv::normalize(out, out, 20, 235, cv::NORM_MINMAX);
  return out;
}

Picture From(const cv::Mat& luma) {
  Picture p;
  p.luma = luma;
  return p;
}

}  // namespace

TEST_CASE("the background is the median, pixel by pixel, and what passes is gone") {
  const cv::Mat still = Texture(320, 200, 1);
  std::vector<Picture> pictures;
  for (int i = 0; i < 9; ++i) {
    cv::Mat m = still.clone();
    cv::rectangle(m, cv::Rect(20 + 30 * i, 60, 40, 80), cv::Scalar(255), cv::FILLED);  // a person walking by
    pictures.push_back(From(m));
  }
  const Background b = setup::StillBackground(pictures);
  CHECK(b.pictures == 9);
  CHECK(cv::norm(b.luma, still, cv::NORM_INF) == 0);
  CHECK(b.layers.size() >= 2);
}

TEST_CASE("the spread is half of the 16 to 84 per cent range") {
  std::vector<Picture> pictures;
  for (int i = 0; i < 25; ++i) pictures.push_back(From(cv::Mat(16, 16, CV_8UC1, cv::Scalar(100 + i))));
  const Background b = setup::StillBackground(pictures);
  CHECK(static_cast<int>(b.luma.at<unsigned char>(8, 8)) == 112);
  // Ranks 4 and 20 of 0..24: (120 - 104) / 2.
  CHECK(static_cast<int>(b.spread.at<unsigned char>(8, 8)) == 8);
}

TEST_CASE("pictures of a camera that moved are turned onto the first") {
  const cv::Mat wide = Texture(480, 320, 2);
  std::vector<Picture> pictures;
  // Whole-pixel shifts, so that the answer is exact but for interpolation.
  for (const cv::Point shift :
       {cv::Point(0, 0), cv::Point(7, 3), cv::Point(-9, 5), cv::Point(14, -6), cv::Point(2, 11)})
    pictures.push_back(From(wide(cv::Rect(60 + shift.x, 50 + shift.y, 360, 220)).clone()));
  const Background b = setup::StillBackground(pictures);
  CHECK(b.pictures == 5);
  const cv::Rect middle(30, 30, 300, 160);
  cv::Mat difference;
  cv::absdiff(b.luma(middle), pictures[0].luma(middle), difference);
  CHECK(cv::mean(difference)[0] < 2.0);
}
