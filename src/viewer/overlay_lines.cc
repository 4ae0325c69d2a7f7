#include "viewer/overlay_lines.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "camera/frame_view.h"
#include "camera/projection.h"
#include "lane/units.h"
#include "report/number_text.h"
#include "viewer/path_in_picture.h"
#include "viewer/plot_series.h"
#include "viewer/shot_marks.h"

namespace hookline::viewer {
namespace {

using camera::FrameView;
using lane::MetresFromFeet;

constexpr double kAlways = std::numeric_limits<double>::infinity();

}  // namespace

LaneLines LinesOfLane(const LaneSetup& setup, const FrameMotion& motion, lane::Hand hand) {
  const FrameView view(setup, motion);
  const lane::LaneSpec& spec = setup.lane;
  const double half = spec.width / 2, board = lane::BoardWidth(spec.width);
  LaneLines lines;
  for (const double x : {-half, half}) lines.edges.push_back(view.Straight(x, 0, x, lane::kHeadPinY));
  lines.edges.push_back(view.Straight(-half, 0, half, 0));
  for (int i = 0; i < 7; ++i) {
    // An arrow as it is inlaid: a dart a board wide and half a foot long, its tip down the lane.
    const double x = spec.ArrowX(i), y = spec.arrow_tip_y[static_cast<std::size_t>(i)], back = y - MetresFromFeet(0.5);
    lines.arrows.push_back({view.Pixel(x - board / 2, back), view.Pixel(x, y), view.Pixel(x + board / 2, back)});
  }
  for (int i = 0; i <= 2 * lane::kBoards; ++i) {
    const double x = -half + i * board / 2;
    lines.ruler.push_back(view.Pixel(x, spec.ArrowLineY(x)));
  }
  for (int b = 1; b <= lane::kBoards; ++b) {
    const double x = lane::XFromBoard(b, spec.width, hand), y = spec.ArrowLineY(x);
    const MaybePixel at = view.Pixel(x, y), beside = view.Pixel(x + board, y);
    if (at && beside) lines.ticks.push_back({*at, b, (*beside - *at).norm()});
  }
  return lines;
}

ShotLines LinesOfShot(const Shot& shot, double shot_lane_width, const LaneSetup& setup, const FrameMotion& motion,
                      double time_s) {
  ShotLines lines;
  if (shot.path.empty()) return lines;
  const FrameView view(setup, motion);
  const double scale = setup.lane.width / shot_lane_width;
  lines.so_far = PathInPicture(shot, shot_lane_width, setup, motion, time_s);
  lines.whole = PathInPicture(shot, shot_lane_width, setup, motion, kAlways);
  lines.band_left = PathInPicture(shot, shot_lane_width, setup, motion, kAlways, -1);
  lines.band_right = PathInPicture(shot, shot_lane_width, setup, motion, kAlways, 1);

  const double radius = lane::kBallDiameter / 2;
  const auto now = PlaceAtTime(shot, time_s);
  for (const PathPoint& p : shot.path) {
    if (std::abs(p.time_s - time_s) > 1e-6) continue;
    lines.ball = BallOutline{{p.u_px, p.v_px}, camera::BallRadiusPx(setup.camera, {p.x, p.y, radius}, radius), p.seen};
  }
  // Of another clip, or between two of its frames: where the path has it.
  const bool own = scale == 1 && lines.ball && lines.ball->seen;
  if (!own && now) {
    const MaybePixel centre = view.Pixel(now->x * scale, now->y, radius);
    lines.ball.reset();
    if (centre)
      lines.ball =
          BallOutline{*centre, camera::BallRadiusPx(setup.camera, {now->x * scale, now->y, radius}, radius), false};
  }

  lane::LaneSpec own_lane = setup.lane;
  own_lane.width = shot_lane_width;
  const auto place = [&](const PathPlace& p, std::string text) -> std::optional<LabelledPlace> {
    const MaybePixel at = view.Pixel(p.x * scale, p.y);
    if (!at) return std::nullopt;
    return LabelledPlace{*at, std::move(text), p.time_s <= time_s + 1e-9};
  };
  const auto text_of = [&](MeasureId id) { return report::MeasureText(id, shot.measures[id]); };
  if (const auto at = PlaceAtArrows(shot, own_lane))
    lines.arrows = place(*at, "arrows " + text_of(MeasureId::kBoardAtArrows));
  const Measure& ft = shot.measures[MeasureId::kBreakpointFt];
  if (report::Given(ft) && report::Given(shot.measures[MeasureId::kBreakpointBoard])) {
    if (const auto at = PlaceAtY(shot, MetresFromFeet(*ft.value)))
      lines.breakpoint = place(*at, "breakpoint " + text_of(MeasureId::kBreakpointBoard));
  }
  const PlotSeries speed = SeriesOf(shot, PlotKind::kSpeed, shot_lane_width);
  for (int feet = 10; feet <= 50; feet += 10) {
    const auto at = PlaceAtY(shot, MetresFromFeet(feet));
    const std::string text = PointText(speed, PlotKind::kSpeed, feet);
    if (!at || text.empty()) continue;
    if (auto label = place(*at, text)) lines.speeds.push_back(std::move(*label));
  }
  return lines;
}

ShotLines LinesWithoutCamera(const Shot& shot, double time_s) {
  ShotLines lines;
  for (const PathPoint& p : shot.path) {
    const Eigen::Vector2d centre(p.u_px, p.v_px);
    lines.whole.push_back(centre);
    if (p.time_s <= time_s + 1e-9) lines.so_far.push_back(centre);
  }
  return lines;
}

}  // namespace hookline::viewer
