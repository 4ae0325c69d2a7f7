#include "viewer/path_in_picture.h"

#include "camera/projection.h"
#include "viewer/shot_marks.h"

namespace hookline::viewer {
namespace {

// The lens model means little for points nearer to the camera than this in depth.
constexpr double kNearest = 0.3;  // m

}  // namespace

std::vector<std::optional<Eigen::Vector2d>> PathInPicture(const Shot& shot, double shot_lane_width,
                                                          const LaneSetup& picture_lane, const FrameMotion& motion,
                                                          double until_s, double sideways) {
  const CameraModel& camera = picture_lane.camera;
  const Eigen::Vector3d forward = camera::RotationFromAngleAxis<double>(camera.rotation).row(2);
  const double scale = picture_lane.lane.width / shot_lane_width;
  std::vector<std::optional<Eigen::Vector2d>> line;
  const auto add = [&](double x, double y, double sd_x) {
    const Eigen::Vector3d p((x + sideways * sd_x) * scale, y, 0);
    std::optional<Eigen::Vector2d> pixel;
    if (forward.dot(p - camera.position_in_lane) >= kNearest) pixel = camera::ImageFromLane(camera, p);
    if (pixel && motion.known) pixel = camera::FrameFromReference(camera, motion, *pixel);
    line.push_back(pixel);
  };
  for (const PathPoint& p : shot.path) {
    if (p.time_s > until_s) {
      if (const auto now = PlaceAtTime(shot, until_s)) add(now->x, now->y, now->sd_x);
      break;
    }
    add(p.x, p.y, p.sd_x);
  }
  return line;
}

}  // namespace hookline::viewer
