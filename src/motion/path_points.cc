#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "camera/projection.h"
#include "lane/lane_spec.h"
#include "motion/path_fit.h"

namespace hookline::motion {
namespace {

PathPoint PointAt(const Path& path, double time_s) {
  const PathState state = path.At(time_s);
  PathPoint point;
  point.time_s = time_s;
  point.x = state.x;
  point.y = state.y;
  const Eigen::Index n = path.parameters.size();
  // x, y, speed, angle. A ball that does not move has no direction.
  const auto speed_of = [](const PathState& s) { return std::hypot(s.vx, s.vy); };
  const auto angle_of = [](const PathState& s) { return std::atan2(s.vx, s.vy); };
  Eigen::MatrixXd by(4, n);
  Eigen::VectorXd p = path.parameters;
  for (Eigen::Index i = 0; i < n; ++i) {
    const double step = 0.1 * std::sqrt(std::max(path.covariance(i, i), 1e-20));
    p[i] = path.parameters[i] + step;
    const PathState up = path.evaluate(p, time_s);
    p[i] = path.parameters[i] - step;
    const PathState down = path.evaluate(p, time_s);
    p[i] = path.parameters[i];
    by(0, i) = (up.x - down.x) / (2 * step);
    by(1, i) = (up.y - down.y) / (2 * step);
    by(2, i) = (speed_of(up) - speed_of(down)) / (2 * step);
    by(3, i) = (angle_of(up) - angle_of(down)) / (2 * step);
  }
  const Eigen::Matrix4d c = by * path.covariance * by.transpose();
  point.sd_x = std::sqrt(std::max(c(0, 0), 0.0));
  point.sd_y = std::sqrt(std::max(c(1, 1), 0.0));
  if (speed_of(state) > 0) {
    point.speed = speed_of(state);
    point.angle = angle_of(state);
    point.sd_speed = std::sqrt(std::max(c(2, 2), 0.0));
    point.sd_angle = std::sqrt(std::max(c(3, 3), 0.0));
  }
  return point;
}

}  // namespace

std::vector<PathPoint> SamplePath(const Path& path, const Track& track, const LaneSetup& setup,
                                  const std::vector<double>& between) {
  constexpr double kSame = 1e-6;
  std::vector<PathPoint> points;
  for (const BallSight& sight : track.sights) {
    if (sight.time_s < path.start_s - kSame || sight.time_s > path.end_s + kSame) continue;
    PathPoint point = PointAt(path, sight.time_s);
    point.seen = true;
    point.u_px = sight.p_in_frame.x();
    point.v_px = sight.p_in_frame.y();
    points.push_back(point);
  }
  for (const double t : between) {
    if (t < path.start_s - kSame || t > path.end_s + kSame) continue;
    const bool have =
        std::any_of(points.begin(), points.end(), [&](const PathPoint& p) { return std::abs(p.time_s - t) < kSame; });
    if (have) continue;
    PathPoint point = PointAt(path, t);
    const PathState state = path.At(t);
    const auto uv = camera::ImageFromLane(setup.camera, {state.x, state.y, lane::kBallDiameter / 2 + state.height});
    if (!uv) continue;
    point.u_px = uv->x();
    point.v_px = uv->y();
    points.push_back(point);
  }
  std::sort(points.begin(), points.end(), [](const PathPoint& a, const PathPoint& b) { return a.time_s < b.time_s; });
  return points;
}

}  // namespace hookline::motion
