#include "viewer/picture_map.h"

#include <doctest/doctest.h>

#include "viewer/colour_matrix.h"

using namespace hookline;
using namespace hookline::viewer;

TEST_CASE("a picture is fitted into its room with pixel centres where they belong") {
  const PictureMap map(100, 50, 960, 700, 1920, 1080, {}, std::nullopt);
  CHECK(map.scale() == doctest::Approx(0.5));
  CHECK(map.window_rect()[0] == doctest::Approx(100));
  CHECK(map.window_rect()[1] == doctest::Approx(50 + (700 - 540) / 2));
  // The first pixel's centre lies half a pixel inside.
  const Eigen::Vector2d first = map.WindowFromPicture({0, 0});
  CHECK(first.x() == doctest::Approx(100.25));
  CHECK(first.y() == doctest::Approx(130.25));
  CHECK((map.PictureFromWindow(first) - Eigen::Vector2d(0, 0)).norm() < 1e-9);
}

TEST_CASE("zooming keeps the place under the pointer and never shows beyond the picture") {
  PictureZoom zoom;
  PictureMap map(0, 0, 960, 540, 1920, 1080, zoom, std::nullopt);
  const Eigen::Vector2d pointer(700, 300), place = map.PictureFromWindow(pointer);
  for (int i = 0; i < 5; ++i) {
    zoom = PictureMap::Zoomed(map, zoom, 1.4, pointer);
    map = PictureMap(0, 0, 960, 540, 1920, 1080, zoom, std::nullopt);
    CHECK((map.PictureFromWindow(pointer) - place).norm() < 1e-6);
  }
  zoom = PictureMap::Moved(map, zoom, {5000, 5000});
  map = PictureMap(0, 0, 960, 540, 1920, 1080, zoom, std::nullopt);
  CHECK(map.PictureFromWindow({0, 0}).x() >= -0.51);
  CHECK(map.PictureFromWindow({0, 0}).y() >= -0.51);
  for (int i = 0; i < 40; ++i) zoom = PictureMap::Zoomed(map, zoom, 0.5, pointer);
  CHECK(zoom.zoom == 1);
}

TEST_CASE("with the lens's bend taken out places go there and back, and the middle stays") {
  CameraModel camera;
  camera.width = 1920;
  camera.height = 1080;
  camera.focal_px = 1500;
  camera.centre_u = 955;
  camera.centre_v = 545;
  camera.k1 = -0.12;
  camera.k2 = 0.02;
  const PictureMap bent(0, 0, 1920, 1080, 1920, 1080, {}, std::nullopt),
      straight(0, 0, 1920, 1080, 1920, 1080, {}, camera);
  const Eigen::Vector2d middle(955, 545), corner(100, 80);
  CHECK((straight.WindowFromPicture(middle) - bent.WindowFromPicture(middle)).norm() < 1e-9);
  CHECK((straight.PictureFromWindow(straight.WindowFromPicture(corner)) - corner).norm() < 1e-6);
  // A barrel's corner moves outward when it is straightened.
  CHECK(straight.WindowFromPicture(corner).x() < bent.WindowFromPicture(corner).x() - 20);
}

TEST_CASE("the colours of each standard come out as it defines them") {
  // Stored values of pure colours: ITU-R BT.709-6 and BT.601-7 by their equations, 8 bit limited range, as published in
  // tables of colour bars at 100 %: 709 red 63 102 240, 601 red 81 90 240; white 235 128 128.
  const auto rgb = [](media::ColourMatrix m, bool full, double y, double cb, double cr) {
    const ColourMatrix c = ColourMatrixOf(m, full);
    return Eigen::Vector3d(c.rgb_from_ycc * (Eigen::Vector3d(y, cb, cr) / 255 - c.ycc_zero));
  };
  CHECK((rgb(media::ColourMatrix::kBt709, false, 63, 102, 240) - Eigen::Vector3d(1, 0, 0)).norm() < 0.01);
  CHECK((rgb(media::ColourMatrix::kBt601, false, 81, 90, 240) - Eigen::Vector3d(1, 0, 0)).norm() < 0.01);
  CHECK((rgb(media::ColourMatrix::kBt709, false, 235, 128, 128) - Eigen::Vector3d(1, 1, 1)).norm() < 0.01);
  CHECK((rgb(media::ColourMatrix::kBt2020, true, 255, 128, 128) - Eigen::Vector3d(1, 1, 1)).norm() < 0.01);
  // JFIF 1.02: red is 76 85 255 in full range.
  CHECK((rgb(media::ColourMatrix::kBt601, true, 76, 85, 255) - Eigen::Vector3d(1, 0, 0)).norm() < 0.02);
}
