// From a clip's picture to the window and back: fitted, zoomed, moved, and, when wished, without the lens's distortion.
//
// Picture coordinates are those of the displayed frame, (0,0) the CENTRE of the first pixel; window coordinates are
// ImGui's, (0,0) the window's outer corner. Without distortion a place p shows at f n + c, with n its undistorted
// normalised coordinates: the middle stays where it is.
#pragma once

#include <Eigen/Core>
#include <optional>

#include "model/camera_model.h"

namespace hookline::viewer {

// Part of the picture on show: zoom 1 fits all of it; the middle in parts of the picture's width and height.
struct PictureZoom {
  double zoom = 1;  // 1 to 16
  double middle_x = 0.5, middle_y = 0.5;
};

class PictureMap {
 public:
  // The area in the window and the displayed picture's size. `lens`: take its distortion out; empty: as filmed.
  PictureMap(double left, double top, double width, double height, int picture_width, int picture_height,
             const PictureZoom& zoom, std::optional<CameraModel> lens);

  Eigen::Vector2d WindowFromPicture(const Eigen::Vector2d& p_in_picture) const;
  Eigen::Vector2d PictureFromWindow(const Eigen::Vector2d& p_in_window) const;
  double scale() const { return scale_; }  // window px a picture px, near the middle
  // The visible rectangle in the window, and what of the (straightened) picture it shows, px from its outer corner.
  Eigen::Vector4d window_rect() const { return window_rect_; }  // left, top, right, bottom
  Eigen::Vector4d picture_rect() const;
  const std::optional<CameraModel>& lens() const { return lens_; }

  // Closer by a factor with the place under the pointer staying where it is.
  static PictureZoom Zoomed(const PictureMap& map, const PictureZoom& zoom, double factor,
                            const Eigen::Vector2d& at_window);
  // Moved by so many window px.
  static PictureZoom Moved(const PictureMap& map, const PictureZoom& zoom, const Eigen::Vector2d& by_window);

 private:
  double width_, height_;                  // of the picture, px
  double scale_ = 1, left_ = 0, top_ = 0;  // of the whole picture's outer corner in the window
  Eigen::Vector4d window_rect_;
  std::optional<CameraModel> lens_;
};

}  // namespace hookline::viewer
