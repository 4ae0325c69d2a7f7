#include "viewer/shown_pixels.h"

#include <doctest/doctest.h>

#include <cmath>
#include <opencv2/core.hpp>

#include "viewer/colour_matrix.h"

using namespace hookline;
using namespace hookline::viewer;

namespace {

// Smooth planes, so that how they are scaled does not matter but where they lie does.
Picture Smooth(cv::Size size) {
  Picture p;
  p.luma.create(size, CV_8UC1);
  p.cb.create(size / 2, CV_8UC1);
  p.cr.create(size / 2, CV_8UC1);
  for (int y = 0; y < size.height; ++y)
    for (int x = 0; x < size.width; ++x)
      p.luma.at<uchar>(y, x) = cv::saturate_cast<uchar>(20 + 150.0 * x / size.width + 60.0 * y / size.height);
  for (int y = 0; y < size.height / 2; ++y) {
    for (int x = 0; x < size.width / 2; ++x) {
      p.cb.at<uchar>(y, x) = cv::saturate_cast<uchar>(100 + 100.0 * x / size.width);
      p.cr.at<uchar>(y, x) = cv::saturate_cast<uchar>(170 - 100.0 * y / size.height);
    }
  }
  return p;
}

double At(const cv::Mat& plane, double u, double v) {
  const double x = std::clamp(u * plane.cols - 0.5, 0.0, plane.cols - 1.001);
  const double y = std::clamp(v * plane.rows - 0.5, 0.0, plane.rows - 1.001);
  const int i = static_cast<int>(x), j = static_cast<int>(y);
  const auto value = [&](int dx, int dy) { return static_cast<double>(plane.at<uchar>(j + dy, i + dx)); };
  const double fx = x - i, fy = y - j;
  return (1 - fy) * ((1 - fx) * value(0, 0) + fx * value(1, 0)) + fy * ((1 - fx) * value(0, 1) + fx * value(1, 1));
}

// What shaders/video.frag does, in doubles.
double WorstAgainstShader(const media::ShownForm& form, const Picture& picture, cv::Size shown,
                          const Eigen::Vector4d& part, cv::Size size) {
  ShownPixels maker;
  const cv::Mat& made = maker.Make(picture, form, shown, part, size);
  REQUIRE(made.size() == size);
  REQUIRE(made.type() == CV_8UC4);
  const ColourMatrix m = ColourMatrixOf(form.matrix, form.full_range);
  double worst = 0;
  for (int y = 0; y < size.height; ++y) {
    for (int x = 0; x < size.width; ++x) {
      double u = (part[0] + (x + 0.5) / size.width * (part[2] - part[0])) / shown.width;
      double v = (part[1] + (y + 0.5) / size.height * (part[3] - part[1])) / shown.height;
      if (form.flip_x) u = 1 - u;
      if (form.flip_y) v = 1 - v;
      if (form.transpose) std::swap(u, v);
      const Eigen::Vector3d ycc = Eigen::Vector3d(At(picture.luma, u, v), At(picture.cb, u, v), At(picture.cr, u, v));
      const Eigen::Vector3d rgb = m.rgb_from_ycc * (ycc / 255 - m.ycc_zero) * 255;
      const cv::Vec4b& p = made.at<cv::Vec4b>(y, x);
      for (int c = 0; c < 3; ++c) worst = std::max(worst, std::abs(p[2 - c] - std::clamp(rgb[c], 0.0, 255.0)));
      CHECK_MESSAGE(p[3] == 255, "opaque");
    }
  }
  return worst;
}

}  // namespace

TEST_CASE("the window's pixels made on the CPU are those of the shader") {
  const Picture picture = Smooth({640, 360});
  REQUIRE(ShownPixels::Can(picture));
  media::ShownForm form;
  for (const auto matrix : {media::ColourMatrix::kBt601, media::ColourMatrix::kBt709, media::ColourMatrix::kBt2020}) {
    for (const bool full : {false, true}) {
      form.matrix = matrix;
      form.full_range = full;
      CHECK(WorstAgainstShader(form, picture, {640, 360}, {0, 0, 640, 360}, {301, 170}) < 3);
    }
  }
}

TEST_CASE("turned, mirrored and zoomed pictures lie where the shader has them") {
  const Picture picture = Smooth({640, 360});
  for (int turn = 0; turn < 8; ++turn) {
    CAPTURE(turn);
    media::ShownForm form;
    form.transpose = (turn & 1) != 0;
    form.flip_x = (turn & 2) != 0;
    form.flip_y = (turn & 4) != 0;
    const cv::Size shown = form.transpose ? cv::Size(360, 640) : cv::Size(640, 360);
    CHECK(WorstAgainstShader(form, picture, shown, {0.0, 0.0, double(shown.width), double(shown.height)},
                             {shown.width / 3, shown.height / 3}) < 3);
    // A part that begins between two stored pixels, larger than life; and one shown much smaller.
    CHECK(WorstAgainstShader(form, picture, shown, {100.3, 90.7, 180.9, 151.2}, {242, 181}) < 3);
    CHECK(WorstAgainstShader(form, picture, shown, {20, 30, 340, 350}, {64, 64}) < 4);
  }
}

TEST_CASE("planes of odd size are left to the shader") {
  Picture odd;
  odd.luma.create(361, 640, CV_8UC1);
  odd.cb.create(181, 320, CV_8UC1);
  odd.cr.create(181, 320, CV_8UC1);
  CHECK_FALSE(ShownPixels::Can(odd));
}
