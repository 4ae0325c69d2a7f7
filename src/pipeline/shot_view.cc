#include "pipeline/shot_view.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "camera/projection.h"
#include "report/number_text.h"

namespace hookline::pipeline {
namespace {

// Before that the ball may be in the air, and its place in the picture is not that of a ball lying on the lane.
constexpr double kOnLaneFrom = 3.0;  // m
constexpr std::size_t kPoints = 9;   // their mean is sure to a third of a single sight's doubt

}  // namespace

FrameMotion TurnFromPath(const LaneSetup& setup, const Shot& shot, double time_s) {
  std::vector<const PathPoint*> near;
  for (const PathPoint& p : shot.path)
    if (p.seen && p.y > kOnLaneFrom) near.push_back(&p);
  if (near.empty())
    for (const PathPoint& p : shot.path)
      if (p.seen) near.push_back(&p);
  std::sort(near.begin(), near.end(), [&](const PathPoint* a, const PathPoint* b) {
    return std::abs(a->time_s - time_s) < std::abs(b->time_s - time_s);
  });
  if (near.size() > kPoints) near.resize(kPoints);
  FrameMotion motion;
  // The shift is a turn to first order; a second step takes out what the lens bends.
  for (int step = 0; step < 2; ++step) {
    Eigen::Vector2d shift = Eigen::Vector2d::Zero();
    int n = 0;
    for (const PathPoint* p : near) {
      const auto still = camera::ImageFromLane(setup.camera, {p->x, p->y, lane::kBallDiameter / 2});
      if (!still) continue;
      shift += Eigen::Vector2d(p->u_px, p->v_px) - camera::FrameFromReference(setup.camera, motion, *still);
      ++n;
    }
    if (n == 0) break;
    shift /= n;
    motion.rotation[0] -= shift.y() / setup.camera.focal_px;
    motion.rotation[1] += shift.x() / setup.camera.focal_px;
  }
  return motion;
}

cv::Rect LaneInPicture(const LaneSetup& setup) {
  const CameraModel& c = setup.camera;
  const cv::Rect whole(0, 0, c.width, c.height);
  const double half = setup.lane.width / 2;
  const auto left = camera::ImageFromLane(c, {-half, 0, 0}), right = camera::ImageFromLane(c, {half, 0, 0}),
             far = camera::ImageFromLane(c, {0, lane::kHeadPinY, 0});
  if (!left || !right || !far) return whole;
  const double width = std::abs(right->x() - left->x()), foul = std::max(left->y(), right->y());
  // Names of marks stand beside the lane (report/overlay.h), a good ten lines of text from its edge.
  const double names = 11 * std::min<double>(c.height, 1.3 * c.width) / 36;
  // The lane leans where the camera stands aside, so the far end counts too.
  const double u0 = std::min({left->x() - 0.55 * width, right->x() - 0.55 * width, far->x() - names}),
               u1 = std::max({left->x() + 0.55 * width, right->x() + 0.55 * width, far->x() + names});
  const double tall = foul - far->y(), v0 = far->y() - 0.55 * tall, v1 = foul + 0.45 * tall;
  // An empty or a sliver of a picture helps nobody: then the whole one.
  const cv::Rect part = cv::Rect(cv::Point(static_cast<int>(u0), static_cast<int>(v0)),
                                 cv::Point(static_cast<int>(u1), static_cast<int>(v1))) &
                        whole;
  return part.width < c.width / 6 || part.height < c.height / 6 ? whole : part;
}

std::optional<double> TimeOfMark(const Shot& shot, const lane::LaneSpec& lane, ShotMark mark) {
  // First time at which `ahead` turns from negative to positive along the path.
  const auto crossing = [&](auto ahead) -> std::optional<double> {
    for (std::size_t i = 1; i < shot.path.size(); ++i) {
      const PathPoint &a = shot.path[i - 1], &b = shot.path[i];
      const double before = ahead(a), after = ahead(b);
      if (before < 0 && after >= 0) return a.time_s + before / (before - after) * (b.time_s - a.time_s);
    }
    return std::nullopt;
  };
  switch (mark) {
    case ShotMark::kRelease:
      return shot.release_s;
    case ShotMark::kArrows:
      return crossing([&](const PathPoint& p) { return p.y - lane.ArrowLineY(p.x); });
    case ShotMark::kBreakpoint: {
      const Measure& ft = shot.measures[MeasureId::kBreakpointFt];
      if (!report::Given(ft)) return std::nullopt;
      return crossing([&](const PathPoint& p) { return p.y - lane::MetresFromFeet(*ft.value); });
    }
    case ShotMark::kPins:
      break;
  }
  if (shot.pin_contact_s) return shot.pin_contact_s;
  return crossing([](const PathPoint& p) { return p.y - lane::kEntryY; });
}

}  // namespace hookline::pipeline
