#include "setup/evidence.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <opencv2/core/utility.hpp>
#include <opencv2/imgproc.hpp>

#include "camera/projection.h"
#include "lane/pin_profile.h"
#include "setup/pencil.h"
#include "setup/rack_align.h"
#include "setup/sampling.h"

namespace hookline::setup {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

// edge_level: grey levels per px that only edges exceed (Gradient::edge_level).
struct LevelledOptions : EvidenceOptions {
  double edge_level = 10;
};

bool Inside(const cv::Mat& luma, const Vector2d& p, double margin) {
  return p.x() >= margin && p.y() >= margin && p.x() <= luma.cols - 1 - margin && p.y() <= luma.rows - 1 - margin;
}

// Luma along p + t n for t = -half..half in steps of half a pixel.
void Profile(const cv::Mat& luma, const Vector2d& p, const Vector2d& n, int half_steps, std::vector<double>* out) {
  out->resize(static_cast<std::size_t>(2 * half_steps + 1));
  for (int i = -half_steps; i <= half_steps; ++i)
    (*out)[static_cast<std::size_t>(i + half_steps)] = Bilinear(luma, p.x() + 0.5 * i * n.x(), p.y() + 0.5 * i * n.y());
}

// Place of the strongest rise (sign +1) or fall (-1) of a profile sampled every half pixel, px from its middle; nullopt
// when no slope reaches the level. Places far from the middle have to be that much stronger.
std::optional<double> StrongestSlope(const std::vector<double>& profile, double sign, double level) {
  const int n = static_cast<int>(profile.size()), mid = n / 2;
  std::vector<double> slope(profile.size(), 0.0);
  for (int i = 2; i + 2 < n; ++i) {
    const auto at = [&](int k) { return profile[static_cast<std::size_t>(i + k)]; };
    slope[static_cast<std::size_t>(i)] = sign * (2 * (at(2) - at(-2)) + (at(1) - at(-1))) / 5.0;  // grey levels per px
  }
  int best = -1;
  double best_value = 0;
  for (int i = 3; i + 3 < n; ++i) {
    const auto k = static_cast<std::size_t>(i);
    if (slope[k] < level || slope[k] < slope[k - 1] || slope[k] < slope[k + 1]) continue;
    const double off = static_cast<double>(i - mid) / mid, value = slope[k] * (1 - 0.5 * off * off);
    if (value > best_value) {
      best_value = value;
      best = i;
    }
  }
  if (best < 0) return std::nullopt;
  const auto k = static_cast<std::size_t>(best);
  const double a = slope[k - 1], b = slope[k], c = slope[k + 1], curve = a - 2 * b + c;
  const double fine = curve < 0 ? 0.5 * (a - c) / curve : 0;
  return 0.5 * (best - mid + fine);
}

// Place near t along p + t n where the light is half way between its levels on the two sides: the edge itself, however
// the lens and the encoder smeared it, where the steepest grey slope lies towards the dark side. t when there is no
// such crossing.
double HalfLight(const cv::Mat& luma, const Vector2d& p, const Vector2d& n, double t, bool encoded) {
  static const LightTable kEncoded(2.2), kPlain(1.0);
  const LightTable& table = encoded ? kEncoded : kPlain;
  const auto light = [&](double at) { return BilinearLight(luma, table, p.x() + at * n.x(), p.y() + at * n.y()); };
  double below = 0, above = 0;
  for (const double off : {1.75, 2.25, 2.75}) {
    below += light(t - off) / 3;
    above += light(t + off) / 3;
  }
  const double half = 0.5 * (below + above), sign = above > below ? 1 : -1;
  double last = sign * (light(t - 1.25) - half);
  for (double at = t - 1.0; at <= t + 1.26; at += 0.25) {
    const double now = sign * (light(at) - half);
    if (last < 0 && now >= 0) return at - 0.25 * now / (now - last);
    last = now;
  }
  return t;
}

// Means of the groups of values within 0.8 px of each other, the two largest: one may be the lane and the other a
// person who stood there, and only the fit to everything else can tell which.
std::vector<double> Groups(std::vector<double>* values) {
  std::sort(values->begin(), values->end());
  std::vector<std::pair<int, double>> groups;
  for (std::size_t i = 0; i < values->size();) {
    std::size_t j = i;
    double sum = 0;
    while (j < values->size() && (*values)[j] - (*values)[i] <= 0.8) sum += (*values)[j++];
    groups.emplace_back(static_cast<int>(j - i), sum / static_cast<double>(j - i));
    i = j;
  }
  std::sort(groups.begin(), groups.end(), [](const auto& a, const auto& b) { return a.first > b.first; });
  std::vector<double> out;
  for (std::size_t k = 0; k < std::min<std::size_t>(2, groups.size()); ++k) out.push_back(groups[k].second);
  return out;
}

void MeasureEdges(const std::vector<cv::Mat>& planes, const LaneSetup& trial, const std::vector<LaneInView>& lanes,
                  std::size_t lane, const LevelledOptions& o, Evidence* out) {
  const cv::Mat& luma = planes[0];
  std::vector<double> profile;
  // Beyond the next but one lane gutters hide edges and a pixel spans boards.
  if (std::abs(lanes[lane].index) > 2) return;
  for (const double side : {-1.0, 1.0}) {
    const double x = lanes[lane].centre_x + side * 0.5 * trial.lane.width;
    std::optional<Vector2d> last;
    for (double y = 0.15; y < lane::kHeadPinY; y += 0.05) {
      const auto p = camera::ImageFromLane(trial.camera, {x, y, 0});
      const auto q = camera::ImageFromLane(trial.camera, {x, y + 0.05, 0});
      const auto g = camera::ImageFromLane(trial.camera, {x + side * lane::kGutterWidth, y, 0});
      if (!p || !q || !g || !Inside(luma, *p, 4)) continue;
      if (last && (*p - *last).norm() < 5) continue;
      last = *p;
      const Vector2d along = (*q - *p).normalized();
      Vector2d n(-along.y(), along.x());
      const double gutter_px = std::abs(n.dot(*g - *p));
      if (n.dot(*g - *p) > 0) n = -n;  // towards the lane
      const double window = std::min(o.window_px, 0.45 * gutter_px);
      if (window < 1.5) continue;
      ++out->edges_expected;
      std::vector<double> seen;
      for (const cv::Mat& plane : planes) {
        Profile(plane, *p, n, static_cast<int>(2 * window) + 3, &profile);
        const auto t = StrongestSlope(profile, o.lane_sign, 0.3 * o.edge_level);
        if (t && std::abs(*t) <= window) seen.push_back(HalfLight(plane, *p, n, *t, o.edge_pictures.empty()));
      }
      for (const double t : Groups(&seen)) out->edges.push_back({lane, side, false, y, *p + t * n});
    }
  }
}

// Middle of the foul line's strip along a profile sampled every half pixel, px from its middle.
std::optional<double> StripIn(const std::vector<double>& profile, int reach, double level, bool* is_strip) {
  // A strip differs from both its sides the same way, whatever the two sides are like.
  const int n = static_cast<int>(profile.size()), mid = n / 2;
  double best = 0;
  int at = -1;
  const auto strip = [&](int i) {
    const double c = profile[static_cast<std::size_t>(i)];
    const double a = profile[static_cast<std::size_t>(i - reach)] - c,
                 b = profile[static_cast<std::size_t>(i + reach)] - c;
    return a * b <= 0 ? 0.0 : std::min(std::abs(a), std::abs(b));
  };
  for (int i = reach + 1; i + reach + 1 < n; ++i)
    if (const double v = strip(i); v > best) {
      best = v;
      at = i;
    }
  *is_strip = best > 0.8 * level;
  if (*is_strip) {
    double sum = 0, weight = 0;
    for (int i = std::max(reach, at - 4); i <= std::min(n - 1 - reach, at + 4); ++i) {
      const double v = std::max(0.0, strip(i) - 0.4 * best);
      sum += v * i;
      weight += v;
    }
    return 0.5 * (sum / weight - mid);
  }
  // No strip: the step between approach and lane is the next best thing.
  const auto rise = StrongestSlope(profile, 1, 0.6 * level), fall = StrongestSlope(profile, -1, 0.6 * level);
  if (rise && fall) return std::abs(*rise) < std::abs(*fall) ? rise : fall;
  return rise ? rise : fall;
}

void MeasureFoul(const std::vector<cv::Mat>& planes, const LaneSetup& trial, const LaneInView& l,
                 const LevelledOptions& o, Evidence* out) {
  std::vector<double> profile;
  if (std::abs(l.index) > 1) return;
  for (double f = -0.98; f <= 0.981; f += 0.07) {
    const double x = l.centre_x + 0.5 * f * trial.lane.width;
    const auto p = camera::ImageFromLane(trial.camera, {x, 0, 0});
    const auto q = camera::ImageFromLane(trial.camera, {x, lane::MetresFromInches(1), 0});
    if (!p || !q || !Inside(planes[0], *p, 6)) continue;
    ++out->foul_expected;
    const double inch_px = std::abs(q->y() - p->y());
    const int reach = static_cast<int>(2 * std::max(2.0, 1.2 * inch_px)) + 1;  // half-pixel steps to clear the strip
    std::vector<double> strips, steps;
    for (const cv::Mat& plane : planes) {
      Profile(plane, *p, {0, 1}, static_cast<int>(2 * o.window_px) + reach + 2, &profile);
      bool is_strip = false;
      const auto t = StripIn(profile, reach, o.edge_level, &is_strip);
      if (t && std::abs(*t) <= o.window_px) (is_strip ? strips : steps).push_back(*t);
    }
    for (const double t : Groups(&strips)) out->foul.push_back({x, true, *p + Vector2d(0, t)});
    for (const double t : Groups(&steps)) out->foul.push_back({x, false, *p + Vector2d(0, t)});
  }
}

void MeasureRack(const std::vector<cv::Mat>& planes, const LaneSetup& trial, const std::vector<LaneInView>& lanes,
                 std::size_t lane, const LevelledOptions& o, Evidence* out) {
  const auto middle =
      camera::ImageFromLane(trial.camera, {lanes[lane].centre_x, lane::kHeadPinY, 0.5 * lane::kPinHeight});
  if (!middle || !Inside(planes[0], *middle, 10)) return;
  ++out->racks_expected;
  // One rack a lane: the time when it matches best, since pins fall and people pass.
  std::optional<RackAlignment> best;
  for (const cv::Mat& plane : planes) {
    if (best && best->match > 0.9) break;
    const auto a = AlignRack(plane, trial, lanes[lane].centre_x, o.window_px);
    if (a && (!best || a->match > best->match)) best = a;
  }
  if (!best || best->match < 0.68) return;
  for (const Vector3d& p : best->points_in_lane) {
    const auto i = camera::ImageFromLane(trial.camera, p + Vector3d(lanes[lane].centre_x, 0, 0));
    if (i) out->racks.push_back({lane, p, best->Moved(*i), best->match});
  }
}

}  // namespace

Evidence MeasureEvidence(const std::vector<cv::Mat>& pictures, const LaneSetup& trial,
                         const std::vector<LaneInView>& lanes, const EvidenceOptions& options) {
  const auto level_of = [](const std::optional<double>& known, const cv::Mat& picture) {
    return known ? *known : GradientOf(picture).edge_level;
  };
  const LevelledOptions levelled{options, level_of(options.edge_level, pictures[0])};
  const std::vector<cv::Mat>& edge_pictures = options.edge_pictures.empty() ? pictures : options.edge_pictures;
  const LevelledOptions levelled_edges{options, options.edge_pictures.empty()
                                                    ? levelled.edge_level
                                                    : level_of(options.edge_picture_level, edge_pictures[0])};
  // Each lane by itself, so that all cores help; put together in order, so that the answer does not depend on them.
  std::vector<Evidence> parts(lanes.size());
  cv::parallel_for_(cv::Range(0, static_cast<int>(lanes.size())), [&](const cv::Range& range) {
    for (int l = range.start; l < range.end; ++l) {
      Evidence* part = &parts[static_cast<std::size_t>(l)];
      MeasureEdges(edge_pictures, trial, lanes, static_cast<std::size_t>(l), levelled_edges, part);
      MeasureFoul(pictures, trial, lanes[static_cast<std::size_t>(l)], levelled, part);
      MeasureRack(pictures, trial, lanes, static_cast<std::size_t>(l), levelled, part);
    }
  });
  Evidence e;
  for (const Evidence& part : parts) {
    e.edges.insert(e.edges.end(), part.edges.begin(), part.edges.end());
    e.foul.insert(e.foul.end(), part.foul.begin(), part.foul.end());
    e.racks.insert(e.racks.end(), part.racks.begin(), part.racks.end());
    e.edges_expected += part.edges_expected;
    e.foul_expected += part.foul_expected;
    e.racks_expected += part.racks_expected;
  }
  return e;
}

}  // namespace hookline::setup
