#include "setup/find_lane.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <opencv2/imgproc.hpp>

#include "camera/projection.h"
#include "setup/arrow_tips.h"
#include "setup/evidence.h"
#include "setup/fit_setup.h"
#include "setup/lane_contrast.h"
#include "setup/lane_search.h"
#include "setup/pencil.h"

namespace hookline::setup {
namespace {

using Eigen::Vector3d;

// How far a lane lies from where the camera aims, in lane widths: at the foul line and half way down the lane.
double OffAim(const CoarseView& v, const CoarseLane& l, double centre_u) {
  double off = 0;
  for (const double row : {v.foul_row, std::sqrt(v.foul_row * v.rack_row)})
    off += 0.5 * std::abs(v.vanishing_point.x() + l.centre_slope * row - centre_u) / (v.lane_slope * row);
  return off;
}

// The camera that sees the coarse view, with the chosen lane as the frame. No roll, no distortion: the fit adds them.
LaneSetup TrialFrom(const CoarseView& v, const cv::Size& size, double centre_slope) {
  LaneSetup s;
  CameraModel& c = s.camera;
  c.width = size.width;
  c.height = size.height;
  c.focal_px = v.focal_px;
  c.centre_u = 0.5 * (size.width - 1);
  c.centre_v = 0.5 * (size.height - 1);
  // All in the turned picture first, where the camera has no roll; the principal point turned about the vanishing point
  // with it.
  const double ct = std::cos(v.turned), st = std::sin(v.turned);
  const Eigen::Vector2d off(c.centre_u - v.vanishing_point.x(), c.centre_v - v.vanishing_point.y());
  const double centre_u = v.vanishing_point.x() + ct * off.x() + st * off.y();
  const double centre_v = v.vanishing_point.y() - st * off.x() + ct * off.y();
  // The lane's direction seen by the camera is the ray through the vanishing point; x is level.
  const Vector3d y =
      Vector3d((v.vanishing_point.x() - centre_u) / c.focal_px, (v.vanishing_point.y() - centre_v) / c.focal_px, 1)
          .normalized();
  const Vector3d x = Vector3d(1, 0, -y.x() / y.z()).normalized();
  const Vector3d z = x.cross(y);
  Eigen::Matrix3d r;
  r.col(0) = x;
  r.col(1) = y;
  r.col(2) = z;
  Eigen::Matrix3d turn;  // from the turned picture's camera to the real one
  turn << ct, -st, 0, st, ct, 0, 0, 0, 1;
  const Eigen::AngleAxisd aa(Eigen::Matrix3d(turn * r));
  c.rotation = aa.angle() * aa.axis();
  // Stripe width gives the height; the foul line's row under the lane gives the rest.
  const double pitch = std::atan((centre_v - v.vanishing_point.y()) / c.focal_px);
  const double h = lane::kNominalWidth * std::cos(pitch) / v.lane_slope;
  const double row = v.foul_row / (1 - v.foul_tilt * centre_slope);
  const Vector3d ray = r.transpose() * Vector3d((v.vanishing_point.x() + centre_slope * row - centre_u) / c.focal_px,
                                                (v.vanishing_point.y() + row - centre_v) / c.focal_px, 1);
  c.position_in_lane = -ray * (h / -ray.z());
  return s;
}

// Between which places the lane has room among its neighbours, m.
struct Room {
  double from = -std::numeric_limits<double>::infinity(), to = std::numeric_limits<double>::infinity();
};

Room RoomOf(const std::vector<LaneInView>& lanes, std::size_t i) {
  Room room;
  for (const LaneInView& l : lanes) {
    if (l.index < lanes[i].index) room.from = std::max(room.from, l.centre_x + kLeastSpacing);
    if (l.index > lanes[i].index) room.to = std::min(room.to, l.centre_x - kLeastSpacing);
  }
  return room;
}

// A lane of which the coarse view saw hardly anything may be far off in its gap. Once the others have placed the
// camera, it is put where most of both its edges show at one time or another.
void PlaceInGap(const std::vector<cv::Mat>& pictures, EvidenceOptions look, std::size_t i, LaneSetup* trial,
                std::vector<LaneInView>* lanes) {
  constexpr double kStep = 0.02;  // m; half of what the window takes in where the lane is smallest
  constexpr double kReach = 0.8;  // m, where the row of lanes has no other end
  Room room = RoomOf(*lanes, i);
  int most = 0;
  double best = (*lanes)[i].centre_x;
  if (!std::isfinite(room.from)) room.from = best - kReach;
  if (!std::isfinite(room.to)) room.to = best + kReach;
  for (double x = room.from; x <= room.to; x += kStep) {
    const Evidence evidence = MeasureEvidence(pictures, *trial, {{(*lanes)[i].index, x}}, look);
    int left = 0, right = 0;
    for (const EdgePoint& e : evidence.edges) (e.side < 0 ? left : right) += 1;
    // One edge alone may be somebody's side.
    if (const int seen = left + right + 2 * std::min(left, right); seen > most) most = seen, best = x;
  }
  if (i > 0) {
    (*lanes)[i].centre_x = best;
    return;
  }
  // The own lane is the frame: all else moves.
  trial->camera.position_in_lane.x() -= best;
  for (std::size_t k = 1; k < lanes->size(); ++k) (*lanes)[k].centre_x -= best;
}

// The place of a lane that the camera aims straight at, where the lanes seen leave room for one and the nearest of them
// lies well beside the aim.
std::optional<double> SlopeAtAim(const CoarseView& view, double centre_u) {
  constexpr double kBeside = 0.8;
  std::optional<double> slope;
  double least = 0.5;
  for (const CoarseLane& l : view.lanes)
    if (OffAim(view, l, centre_u) < kBeside) return std::nullopt;
  for (double s = -4 * view.lane_slope; s < 4 * view.lane_slope; s += 0.02 * view.lane_slope) {
    CoarseLane lane;
    lane.centre_slope = s;
    const bool free = std::none_of(view.lanes.begin(), view.lanes.end(), [&](const CoarseLane& l) {
      return std::abs(l.centre_slope - s) < kLeastSpacing / lane::kNominalWidth * view.lane_slope;
    });
    if (const double off = OffAim(view, lane, centre_u); free && off < least) least = off, slope = s;
  }
  return slope;
}

// Fits one coarse view and tells how much of what it expects is seen, 0..1. in_colour: edges are looked for where lane
// and gutters differ most in luma and chroma together.
struct Fitted {
  SetupFit fit;
  std::vector<LaneInView> lanes;
  Evidence evidence;  // the last round's
  FitSetupOptions fit_options;
  double score = 0;
};

Result<Fitted> FitView(CoarseView view, const Background& background, double edge_level, const FindLaneOptions& options,
                       bool in_colour, std::optional<double> slope_at_aim = std::nullopt) {
  const double centre_u = 0.5 * (background.luma.cols - 1);
  const auto nearest = [&](const std::vector<CoarseLane>& lanes) {
    return std::min_element(lanes.begin(), lanes.end(), [&](const CoarseLane& a, const CoarseLane& b) {
      return OffAim(view, a, centre_u) < OffAim(view, b, centre_u);
    });
  };
  // A camera aims at a lane. When the nearest seen lies well beside the aim, the bowler hides most of the lane aimed
  // at: one of its edges must do until the fit finds more.
  if (const auto half = nearest(view.half_seen); half != view.half_seen.end() && OffAim(view, *half, centre_u) < 0.5 &&
                                                 OffAim(view, *nearest(view.lanes), centre_u) > 0.8) {
    CoarseLane lane = *half;
    const bool free = std::none_of(view.lanes.begin(), view.lanes.end(), [&](const CoarseLane& l) {
      return std::abs(l.centre_slope - lane.centre_slope) < 1.3 * view.lane_slope;
    });
    if (free) {
      lane.filled = true;
      view.lanes.insert(std::find_if(view.lanes.begin(), view.lanes.end(),
                                     [&](const CoarseLane& l) { return l.centre_slope > lane.centre_slope; }),
                        lane);
    }
  }
  if (slope_at_aim) {
    CoarseLane lane;
    lane.centre_slope = *slope_at_aim;
    lane.filled = true;
    view.lanes.insert(std::find_if(view.lanes.begin(), view.lanes.end(),
                                   [&](const CoarseLane& l) { return l.centre_slope > *slope_at_aim; }),
                      lane);
  }
  const auto aim = static_cast<std::size_t>(nearest(view.lanes) - view.lanes.begin());
  const auto chosen = static_cast<std::ptrdiff_t>(aim) + options.lane_offset;
  if (chosen < 0 || chosen >= static_cast<std::ptrdiff_t>(view.lanes.size()))
    return Status(StatusCode::kLaneNotFound,
                  "there is no lane " + std::to_string(options.lane_offset) + " beside the one the camera aims at");
  const auto own = static_cast<std::size_t>(chosen);

  LaneSetup trial = TrialFrom(view, background.luma.size(), view.lanes[own].centre_slope);
  std::vector<LaneInView> lanes = {{0, 0.0}};
  std::vector<std::size_t> filled;
  if (view.lanes[own].filled) filled.push_back(0);
  for (std::size_t i = 0; i < view.lanes.size(); ++i) {
    if (i == own) continue;
    if (view.lanes[i].filled) filled.push_back(lanes.size());
    const double x =
        (view.lanes[i].centre_slope - view.lanes[own].centre_slope) / view.lane_slope * lane::kNominalWidth;
    lanes.push_back({static_cast<int>(i) - static_cast<int>(own), x});
  }
  FitSetupOptions fit_options;
  if (options.lane_width) fit_options.width_prior_m = 1e-5;
  EvidenceOptions look;
  look.lane_sign = view.lane_sign;
  look.edge_level = edge_level;
  // First the median alone, to come near; then every layer, for what the bowler hides most of the time.
  std::vector<cv::Mat> pictures = {background.luma}, contrast;
  const auto add_layers = [&] {
    for (const Picture& layer : background.layers) pictures.push_back(layer.luma);
  };
  SetupFit fit;
  Evidence expected;
  const double pixel = std::max(1.0, background.luma.rows / 1080.0);
  constexpr std::array<double, 5> kWindows = {10.0, 6.0, 4.0, 3.0, 2.5};
  for (std::size_t round = 0; round < kWindows.size(); ++round) {
    if (round == kWindows.size() - 2 && filled.empty()) add_layers();
    // In colour from the third round on the trial lies on the lane, near enough to tell its colour from the gutters'.
    if (round == 2 && in_colour) {
      contrast = ContrastPictures(background, trial);
      if (!contrast.empty()) look.edge_picture_level = GradientOf(contrast[0]).edge_level;
    }
    if (!contrast.empty()) {
      look.lane_sign = 1;
      look.edge_pictures.assign(
          contrast.begin(), contrast.begin() + static_cast<std::ptrdiff_t>(std::min(contrast.size(), pictures.size())));
      // The first look in colour starts wide again: brightness may have led astray.
      if (round == 2) look.window_px = kWindows[1] * pixel;
    }
    if (round != 2 || contrast.empty()) look.window_px = kWindows[round] * pixel;
    Evidence evidence = MeasureEvidence(pictures, trial, lanes, look);
    fit_options.with_covariance = round + 1 == kWindows.size();
    fit = FitSetup(trial, lanes, evidence, {}, fit_options);
    expected = evidence;
    if (!fit.usable) return Status(StatusCode::kLaneNotFound, "edges, foul line and pins seen do not fit one lane");
    trial = fit.setup;
    lanes = fit.lanes;
    if (round == 1 && !filled.empty()) {
      add_layers();
      EvidenceOptions near = look;
      near.window_px = kWindows.back() * pixel;
      for (const std::size_t i : filled) PlaceInGap(pictures, near, i, &trial, &lanes);
    }
  }
  if (const Room room = RoomOf(lanes, 0); room.from > 0 || room.to < 0)
    return Status(StatusCode::kLaneNotFound, "the lane aimed at was placed where its neighbours leave no room");
  if (slope_at_aim) {
    // Nothing but the aim spoke for this lane so far: both its edges have to.
    constexpr double kShareOfEdges = 0.45;
    const int of_one = MeasureEvidence({pictures[0]}, trial, {{0, 0.0}}, look).edges_expected / 2;
    for (const double side : {-1.0, 1.0}) {
      const auto seen = std::count_if(expected.edges.begin(), expected.edges.end(),
                                      [&](const EdgePoint& e) { return e.lane == 0 && !e.mark && e.side * side > 0; });
      if (static_cast<double>(seen) < kShareOfEdges * of_one)
        return Status(StatusCode::kLaneNotFound, "no edges of a lane were seen where the camera aims");
    }
  }
  Fitted out;
  out.fit = fit;
  out.lanes = lanes;
  out.evidence = expected;
  out.fit_options = fit_options;
  const double edges = std::min(1.0, static_cast<double>(fit.edges_used) / std::max(1, expected.edges_expected));
  const double racks =
      std::min(1.0, static_cast<double>(fit.racks_used) / std::max(1, std::min(3, expected.racks_expected)));
  out.score = 0.6 * edges + 0.4 * racks;
  if (fit.racks_used < 1)
    return Status(StatusCode::kLaneNotFound,
                  "no rack of pins stands where the lanes' edges and the foul line would have one");
  // Points that only texture made lie anywhere in the window and scatter by 0.6 px; an edge's own by 0.2 to 0.4, more
  // in dark and noisy pictures. Where all racks that were seen stand in their places, the own one among them, texture
  // cannot have placed the lane, and scattered edges only make it less sure. A lane alone in the picture has one rack,
  // whose place and size each way nothing but the right lane foretells to a fraction of a pixel; its edges must then be
  // seen along all of it, which texture, of whose points half lie out of reach, does not do.
  const int racks_seen = static_cast<int>(expected.racks.size()) / 3;
  const bool own_rack_seen =
      std::any_of(expected.racks.begin(), expected.racks.end(), [](const RackPoint& p) { return p.lane == 0; });
  const bool alone = expected.racks_expected == 1 && fit.own_rack_used && edges > 0.9;
  const bool racks_agree =
      alone || (fit.racks_used >= 2 && fit.racks_used == racks_seen && (fit.own_rack_used || !own_rack_seen));
  if (2 * fit.racks_used < racks_seen)
    return Status(StatusCode::kLaneNotFound,
                  "the racks of pins do not stand where the lanes' edges and the foul line say");
  if (fit.edge_rms_px > (racks_agree ? 0.65 : 0.48))
    return Status(StatusCode::kLaneNotFound, "the lane's edges were not seen clearly enough to place the lane");
  if (out.score < 0.55)
    return Status(StatusCode::kLaneNotFound,
                  "too little of the lanes' edges and pins was seen to place the lane surely");
  if (edges < 0.25)
    return Status(StatusCode::kLaneNotFound, "too little of the lanes' edges was seen to place the lane");
  return out;
}

}  // namespace

double OffAim(const LaneSetup& setup, double centre_x) {
  double off = 0;
  for (const double y : {0.0, lane::kHeadPinY / 3}) {
    const auto left = camera::ImageFromLane(setup.camera, {centre_x - 0.5 * setup.lane.width, y, 0});
    const auto right = camera::ImageFromLane(setup.camera, {centre_x + 0.5 * setup.lane.width, y, 0});
    if (!left || !right) return std::numeric_limits<double>::infinity();
    off += 0.5 * std::abs(0.5 * (left->x() + right->x()) - 0.5 * (setup.camera.width - 1)) /
           std::max(1.0, std::abs(right->x() - left->x()));
  }
  return off;
}

Status FindLaneOptions::Check() const {
  if (lane_width && (*lane_width < lane::kMinWidth - 1e-9 || *lane_width > lane::kMaxWidth + 1e-9))
    return {StatusCode::kBadUse, "lane width must be 41 to 42 inches"};
  if (std::abs(lane_offset) > 6)
    return {StatusCode::kBadUse, "lane must be -6 to 6, counted from the one the camera aims at"};
  return Status::Ok();
}

Result<LaneSetup> FindLane(const Background& background, const FindLaneOptions& options) {
  if (Status s = options.Check(); !s.ok()) return s;
  // The coarse search needs no more than about 1200 lines; the fit then uses every pixel.
  std::vector<cv::Mat> small = {background.luma};
  for (std::size_t i = 0; i < background.layers.size(); i += 2) small.push_back(background.layers[i].luma);
  double scale = 1;
  if (std::max(background.luma.rows, background.luma.cols) > 2000) {
    scale = 1920.0 / std::max(background.luma.rows, background.luma.cols);
    for (cv::Mat& picture : small) {
      cv::Mat reduced;
      cv::resize(picture, reduced, cv::Size(), scale, scale, cv::INTER_AREA);
      picture = reduced;
    }
  }
  std::optional<Fitted> best;
  Status why = Status::Ok();
  // Of two that show about the same share of what they expect, the one that expects more lanes and sees sharper edges.
  const auto worth = [](const Fitted& f) {
    return f.score + 0.02 * std::min(f.fit.racks_used, 8) - std::max(0.0, f.fit.edge_rms_px - 0.4);
  };
  const auto keep = [&](Result<Fitted> fitted) {
    if (!fitted.ok()) {
      if (why.ok()) why = fitted.status();
    } else if (!best || worth(*fitted) > worth(*best)) {
      best = *fitted;
    }
  };
  const double edge_level = GradientOf(background.luma).edge_level;
  // From edges first: it is quicker and mostly enough.
  for (const SearchBy by : {SearchBy::kEdges, SearchBy::kRacks}) {
    const auto coarse = SearchLanes(small, by);
    if (!coarse.ok()) {
      if (why.ok()) why = coarse.status();
      continue;
    }
    for (CoarseView view : *coarse) {
      // Pixel centres: u_small + 1/2 = scale (u + 1/2).
      view.vanishing_point = ((view.vanishing_point.array() + 0.5) / scale - 0.5).matrix();
      view.rack_row /= scale;
      view.foul_row /= scale;
      view.focal_px /= scale;
      auto fitted = FitView(view, background, edge_level, options, false);
      // A lane aimed at whose pins are down and whose edges are faint beside the others' is easily left out.
      if (const auto slope = SlopeAtAim(view, 0.5 * (background.luma.cols - 1)); slope && options.lane_offset == 0)
        if (auto aimed = FitView(view, background, edge_level, options, false, slope); aimed.ok())
          fitted = std::move(aimed);
      // Brightness first: it is sharper. Colour where brightness hardly shows the edges.
      if (!fitted.ok() || worth(*fitted) < 0.85) {
        if (auto coloured = FitView(view, background, edge_level, options, true); coloured.ok())
          keep(std::move(coloured));
      }
      keep(std::move(fitted));
      if (best && worth(*best) > 0.85) break;  // nothing else could be seen so well
    }
    if (best && worth(*best) > 0.85) break;
  }
  if (!best) return why;
  SetupFit fit = best->fit;
  std::vector<LaneInView> lanes = best->lanes;
  std::vector<cv::Mat> pictures = {background.luma};
  for (const Picture& layer : background.layers) pictures.push_back(layer.luma);
  const auto tips_of = [&](LaneSetup* setup) {
    setup->neighbours.clear();
    for (const LaneInView& l : lanes)
      if (l.index != 0) setup->neighbours.push_back({l.index, l.centre_x});
    if (const auto tips = MeasureArrowTips(pictures, *setup)) {
      setup->lane.arrow_tip_y = *tips;
      setup->lane.arrows_measured = true;
    }
    return setup->lane.arrows_measured;
  };
  // The arrows say where the lane lies across, too.
  LaneSetup setup = fit.setup;
  if (tips_of(&setup)) {
    for (int round = 0; round < 2; ++round) {
      Evidence evidence = best->evidence;
      const auto marks = MeasureArrowBoards(pictures, setup, lanes);
      if (marks.size() < 3) break;
      evidence.edges.insert(evidence.edges.end(), marks.begin(), marks.end());
      const SetupFit with_marks = FitSetup(setup, lanes, evidence, {}, best->fit_options);
      if (!with_marks.usable) break;
      fit = with_marks;
      lanes = fit.lanes;
      setup = fit.setup;
      tips_of(&setup);
    }
  } else {
    setup.notes.push_back("the arrows were not seen, their usual places are used");
  }
  setup.source = SetupSource::kAutomatic;
  setup.score = best->score;
  return setup;
}

}  // namespace hookline::setup
