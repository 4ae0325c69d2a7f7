#include "viewer/picture_map.h"

#include <algorithm>
#include <cmath>

#include "camera/projection.h"

namespace hookline::viewer {
namespace {

PictureZoom Bounded(PictureZoom z) {
  z.zoom = std::clamp(z.zoom, 1.0, 16.0);
  // Nothing beyond the picture's edge is brought in.
  const double half = 0.5 / z.zoom;
  z.middle_x = std::clamp(z.middle_x, half, 1 - half);
  z.middle_y = std::clamp(z.middle_y, half, 1 - half);
  return z;
}

}  // namespace

PictureMap::PictureMap(double left, double top, double width, double height, int picture_width, int picture_height,
                       const PictureZoom& wanted, std::optional<CameraModel> lens)
    : width_(picture_width), height_(picture_height), lens_(std::move(lens)) {
  const PictureZoom zoom = Bounded(wanted);
  scale_ = std::min(width / width_, height / height_) * zoom.zoom;
  left_ = left + width / 2 - scale_ * width_ * zoom.middle_x;
  top_ = top + height / 2 - scale_ * height_ * zoom.middle_y;
  // Where the zoomed picture overhangs the area on one side only, it is pushed back in.
  const auto fit = [](double& corner, double from, double room, double size) {
    if (size <= room) {
      corner = from + (room - size) / 2;
    } else {
      corner = std::clamp(corner, from + room - size, from);
    }
  };
  fit(left_, left, width, scale_ * width_);
  fit(top_, top, height, scale_ * height_);
  // The whole picture begins at a pixel of the window's, so that it can be copied there as it is.
  if (zoom.zoom == 1) left_ = std::round(left_), top_ = std::round(top_);
  window_rect_ = {std::max(left, left_), std::max(top, top_), std::min(left + width, left_ + scale_ * width_),
                  std::min(top + height, top_ + scale_ * height_)};
}

Eigen::Vector2d PictureMap::WindowFromPicture(const Eigen::Vector2d& p) const {
  Eigen::Vector2d straight = p;
  if (lens_) {
    const Eigen::Vector2d n = camera::NormalisedFromImage(*lens_, p);
    straight = n * lens_->focal_px + Eigen::Vector2d(lens_->centre_u, lens_->centre_v);
  }
  return Eigen::Vector2d(left_, top_) + scale_ * (straight + Eigen::Vector2d(0.5, 0.5));
}

Eigen::Vector2d PictureMap::PictureFromWindow(const Eigen::Vector2d& w) const {
  const Eigen::Vector2d straight = (w - Eigen::Vector2d(left_, top_)) / scale_ - Eigen::Vector2d(0.5, 0.5);
  if (!lens_) return straight;
  return camera::ImageFromNormalised(*lens_,
                                     (straight - Eigen::Vector2d(lens_->centre_u, lens_->centre_v)) / lens_->focal_px);
}

Eigen::Vector4d PictureMap::picture_rect() const {
  return {(window_rect_[0] - left_) / scale_, (window_rect_[1] - top_) / scale_, (window_rect_[2] - left_) / scale_,
          (window_rect_[3] - top_) / scale_};
}

PictureZoom PictureMap::Zoomed(const PictureMap& map, const PictureZoom& zoom, double factor,
                               const Eigen::Vector2d& at_window) {
  const double wanted = std::clamp(zoom.zoom * factor, 1.0, 16.0), real = wanted / zoom.zoom;
  const Eigen::Vector2d middle((map.window_rect_[0] + map.window_rect_[2]) / 2,
                               (map.window_rect_[1] + map.window_rect_[3]) / 2);
  // In parts of the picture: the pointer's place and how far the middle lies from it, which shrinks.
  const Eigen::Vector2d at((at_window.x() - map.left_) / (map.scale_ * map.width_),
                           (at_window.y() - map.top_) / (map.scale_ * map.height_));
  const Eigen::Vector2d centre((middle.x() - map.left_) / (map.scale_ * map.width_),
                               (middle.y() - map.top_) / (map.scale_ * map.height_));
  const Eigen::Vector2d next = at + (centre - at) / real;
  return Bounded({wanted, next.x(), next.y()});
}

PictureZoom PictureMap::Moved(const PictureMap& map, const PictureZoom& zoom, const Eigen::Vector2d& by_window) {
  return Bounded({zoom.zoom, zoom.middle_x - by_window.x() / (map.scale_ * map.width_),
                  zoom.middle_y - by_window.y() / (map.scale_ * map.height_)});
}

}  // namespace hookline::viewer
