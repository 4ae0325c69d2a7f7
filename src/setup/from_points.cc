#include "setup/from_points.h"

#include <Eigen/Dense>
#include <charconv>
#include <cmath>
#include <opencv2/calib3d.hpp>
#include <optional>
#include <vector>

#include "camera/projection.h"
#include "setup/arrow_tips.h"
#include "setup/evidence.h"
#include "setup/fit_setup.h"
#include "setup/pencil.h"

namespace hookline::setup {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

constexpr double kHeldLess = 3;       // sd of a corner that only stays, in those of one set by hand
constexpr double kStandsAside = 2.5;  // sd of a mark beyond which the picture is not what the person meant
constexpr double kMarksDisagree = 8;  // sd beyond which no lane lies at all marks

std::optional<int> NumberAfter(const std::string& name, const std::string& prefix, const std::string& suffix) {
  if (name.size() <= prefix.size() + suffix.size() || name.rfind(prefix, 0) != 0 || !name.ends_with(suffix))
    return std::nullopt;
  const char* first = name.data() + prefix.size();
  const char* last = name.data() + name.size() - suffix.size();
  int n = 0;
  const auto r = std::from_chars(first, last, n);
  return r.ec == std::errc() && r.ptr == last ? std::optional<int>(n) : std::nullopt;
}

std::optional<MarkPoint> MarkNamed(const std::string& name) {
  const double half = 0.5 * lane::kNominalWidth;
  MarkPoint m;
  m.scales_with_width = true;
  if (name == "foul_left" || name == "foul_right") {
    m.p_in_lane = {name == "foul_left" ? -half : half, 0, 0};
    return m;
  }
  if (name == "headpin_left" || name == "headpin_right") {
    m.p_in_lane = {name == "headpin_left" ? -half : half, lane::kHeadPinY, 0};
    return m;
  }
  if (const auto board = NumberAfter(name, "arrow_", "")) {
    if (*board < 5 || *board > 35 || *board % 5 != 0) return std::nullopt;
    const lane::LaneSpec lane;
    const int i = *board / 5 - 1;
    m.p_in_lane = {lane.ArrowX(i), lane.arrow_tip_y[static_cast<std::size_t>(i)], 0};
    // The rules leave an arrow four feet of freedom along the lane; only across it is a mark worth its pixel.
    m.sigma_along = 6;
    return m;
  }
  m.scales_with_width = false;
  const auto top = NumberAfter(name, "pin_", "_top"), base = NumberAfter(name, "pin_", "");
  const auto pin = top ? top : base;
  if (!pin || *pin < 1 || *pin > 10) return std::nullopt;
  const lane::Point2 s = lane::PinSpots()[static_cast<std::size_t>(*pin - 1)];
  m.p_in_lane = {s.x, s.y, top ? lane::kPinHeight : 0};
  return m;
}

// A camera for a given focal length that puts the marks where they are, by OpenCV's solver; with its rms error in px.
std::optional<std::pair<LaneSetup, double>> PoseFor(const std::vector<MarkPoint>& marks, int width, int height,
                                                    double focal) {
  std::vector<cv::Point3d> object;
  std::vector<cv::Point2d> image;
  for (const MarkPoint& m : marks) {
    object.emplace_back(m.p_in_lane.x(), m.p_in_lane.y(), m.p_in_lane.z());
    image.emplace_back(m.p_in_image.x(), m.p_in_image.y());
  }
  const double cu = 0.5 * (width - 1), cv_ = 0.5 * (height - 1);
  const cv::Mat k = (cv::Mat_<double>(3, 3) << focal, 0, cu, 0, focal, cv_, 0, 0, 1);
  cv::Mat rvec, tvec;
  try {
    if (!cv::solvePnP(object, image, k, cv::noArray(), rvec, tvec, false, cv::SOLVEPNP_SQPNP)) return std::nullopt;
  } catch (const cv::Exception&) {
    return std::nullopt;  // marks on one line
  }
  cv::Mat r;
  cv::Rodrigues(rvec, r);
  const cv::Mat c = -r.t() * tvec;
  LaneSetup s;
  s.camera.width = width;
  s.camera.height = height;
  s.camera.focal_px = focal;
  s.camera.centre_u = cu;
  s.camera.centre_v = cv_;
  s.camera.rotation = {rvec.at<double>(0), rvec.at<double>(1), rvec.at<double>(2)};
  s.camera.position_in_lane = {c.at<double>(0), c.at<double>(1), c.at<double>(2)};
  // Behind the lane and above it: the mirrored solution of a plane has the camera below.
  if (!(c.at<double>(2) > 0.1)) return std::nullopt;
  double sum = 0;
  for (const MarkPoint& m : marks) {
    const auto p = camera::ImageFromLane(s.camera, m.p_in_lane);
    if (!p) return std::nullopt;
    sum += (*p - m.p_in_image).squaredNorm() / (m.sigma_along * m.sigma_along);
  }
  return std::make_pair(s, std::sqrt(sum / static_cast<double>(marks.size())));
}

Result<std::vector<MarkPoint>> MarksOf(const std::map<std::string, Vector2d>& points, int width, int height) {
  std::vector<MarkPoint> marks;
  for (const auto& [name, p] : points) {
    auto m = MarkNamed(name);
    if (!m)
      return Status(StatusCode::kBadUse, "there is no mark called " + name +
                                             "; marks are foul_left, foul_right, headpin_left, headpin_right, arrow_5 "
                                             "to arrow_35, pin_1 to pin_10, pin_1_top to pin_10_top");
    if (!(p.x() > -0.5 && p.y() > -0.5 && p.x() < width - 0.5 && p.y() < height - 0.5))
      return Status(StatusCode::kBadUse, "the mark " + name + " lies outside the picture of " + std::to_string(width) +
                                             "x" + std::to_string(height));
    m->p_in_image = p;
    marks.push_back(*m);
  }
  return marks;
}

// A fit to marks, fitted again with what the picture shows near it, nearer each time. Of both polarities of the edges
// the one that sees more.
SetupFit Refined(const SetupFit& fit, const std::vector<LaneInView>& lanes, const std::vector<MarkPoint>& marks,
                 const FitSetupOptions& options, const Background& picture) {
  EvidenceOptions look;
  const double pixel = std::max(1.0, picture.luma.rows / 1080.0);
  SetupFit chosen = fit;
  chosen.lanes = lanes;
  std::size_t most = 0;
  for (const double sign : {1.0, -1.0}) {
    look.lane_sign = sign;
    SetupFit trial = fit;
    trial.lanes = lanes;
    Evidence e;
    for (const double window : {10.0, 6.0, 4.0, 3.0}) {
      look.window_px = window * pixel;
      e = MeasureEvidence({picture.luma}, trial.setup, trial.lanes, look);
      const SetupFit next = FitSetup(trial.setup, trial.lanes, e, marks, options);
      if (!next.usable) break;
      trial = next;
    }
    if (e.edges.size() > most) {
      most = e.edges.size();
      chosen = trial;
    }
  }
  return chosen;
}

double MarkSigma(int width, int height) { return 2.0 * std::max(1.0, std::max(width, height) / 1920.0); }

}  // namespace

Result<LaneSetup> LaneFromPoints(const std::map<std::string, Vector2d>& points, int width, int height,
                                 const Background* refine) {
  auto named = MarksOf(points, width, height);
  if (!named.ok()) return named.status();
  const std::vector<MarkPoint>& marks = *named;
  if (marks.size() < 4)
    return Status(StatusCode::kBadUse,
                  "at least four marks are needed to place the lane, " + std::to_string(marks.size()) + " were given");

  std::optional<std::pair<LaneSetup, double>> best;
  const double longer = std::max(width, height);
  for (double focal = 0.4 * longer; focal < 4 * longer; focal *= 1.06)
    if (auto s = PoseFor(marks, width, height, focal); s && (!best || s->second < best->second)) best = s;
  if (!best || best->second > 0.03 * longer)
    return Status(StatusCode::kLaneNotFound,
                  "the marks do not fit a lane; check that each lies on the place it is named for and that they do not "
                  "all lie on one line");

  std::vector<LaneInView> lanes = {{0, 0.0}};
  FitSetupOptions options;
  options.mark_sigma_px = MarkSigma(width, height);
  SetupFit fit = FitSetup(best->first, lanes, {}, marks, options);
  if (!fit.usable)
    return Status(StatusCode::kLaneNotFound,
                  "the marks do not fit a lane; check that each lies on the place it is named for");
  if (refine) fit = Refined(fit, lanes, marks, options, *refine);
  LaneSetup setup = fit.setup;
  setup.source = SetupSource::kPoints;
  if (refine) {
    if (const auto tips = MeasureArrowTips({refine->luma}, setup)) {
      setup.lane.arrow_tip_y = *tips;
      setup.lane.arrows_measured = true;
    }
  }
  return setup;
}

Result<LaneSetup> LaneCorrected(const LaneSetup& found, const std::map<std::string, Vector2d>& points,
                                const Background* refine) {
  const int width = found.camera.width, height = found.camera.height;
  auto named = MarksOf(points, width, height);
  if (!named.ok()) return named.status();
  const Status no_lane(StatusCode::kLaneNotFound,
                       "the marks set by hand do not fit a lane; check that each lies on the place it is named for");
  std::vector<MarkPoint> marks = *named;
  for (const char* corner : {"foul_left", "foul_right", "headpin_left", "headpin_right"}) {
    if (points.contains(corner)) continue;
    MarkPoint m = *MarkNamed(corner);
    const auto p = camera::ImageFromLane(
        found.camera, {m.p_in_lane.x() / lane::kNominalWidth * found.lane.width, m.p_in_lane.y(), 0});
    if (!p) continue;
    m.p_in_image = *p;
    m.sigma = kHeldLess;
    marks.push_back(m);
  }
  const std::vector<LaneInView> lanes = {{0, 0.0}};
  FitSetupOptions options;
  options.mark_sigma_px = MarkSigma(width, height);
  options.trust_marks = true;
  const SetupFit by_marks = FitSetup(found, lanes, {}, marks, options);
  if (!by_marks.usable) return no_lane;
  // Marks that contradict each other pull the lane to where none of them is.
  const auto off = [&](const LaneSetup& setup) {
    double largest = 0;
    for (std::size_t i = 0; i < named->size(); ++i) {
      const MarkPoint& m = (*named)[i];
      const double scale = m.scales_with_width ? setup.lane.width / lane::kNominalWidth : 1;
      const auto p = camera::ImageFromLane(setup.camera, {m.p_in_lane.x() * scale, m.p_in_lane.y(), m.p_in_lane.z()});
      if (!p) return 1e9;
      const Vector2d d = *p - m.p_in_image;
      largest = std::max(largest, std::hypot(d.x(), d.y() / m.sigma_along) / options.mark_sigma_px);
    }
    return largest;
  };
  if (off(by_marks.setup) > kMarksDisagree) return no_lane;
  LaneSetup setup = by_marks.setup;
  if (refine) {
    // What the picture shows replaces the corners that were only held; the lanes beside say as much of the camera.
    std::vector<LaneInView> all = lanes;
    for (const NeighbourLane& n : found.neighbours) all.push_back({n.index, n.centre_x});
    const SetupFit seen = Refined(by_marks, all, *named, options, *refine);
    if (seen.edges_used > 0 && off(seen.setup) <= kStandsAside) {
      setup = seen.setup;
      setup.neighbours.clear();
      for (std::size_t i = 1; i < seen.lanes.size(); ++i)
        setup.neighbours.push_back({seen.lanes[i].index, seen.lanes[i].centre_x});
      if (const auto tips = MeasureArrowTips({refine->luma}, setup)) {
        setup.lane.arrow_tip_y = *tips;
        setup.lane.arrows_measured = true;
      }
    } else {
      setup.notes.push_back(
          "The lane's edges as the picture shows them do not pass through the marks set by hand; the marks alone were "
          "used.");
    }
  }
  setup.source = SetupSource::kPoints;
  setup.marks_by_hand = points;
  return setup;
}

}  // namespace hookline::setup
