#include "setup/lane_search.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/core/utility.hpp>
#include <opencv2/imgproc.hpp>

#include "lane/lane_spec.h"
#include "setup/rack_search.h"
#include "setup/rack_template.h"
#include "setup/sampling.h"

namespace hookline::setup {
namespace {

using lane::InchesFromMetres;

double PxPerInch(double lane_slope, double row) { return lane_slope * row / InchesFromMetres(lane::kNominalWidth); }

double RackMatchOn(const cv::Mat& luma, const Eigen::Vector2d& vp, double s, double w, double row) {
  const double q = PxPerInch(w, row);
  const double rise = RackRise(row, q);
  const RackTemplate& t = RackFor(rise);
  const double u0 = vp.x() + s * row, v0 = vp.y() + row;
  if (u0 - 20 * q < 0 || u0 + 20 * q > luma.cols - 1 || v0 > luma.rows - 1 || v0 - 16 * q < 0) return -2;
  // Bilinear values on the grid; columns share their places in every row. Beyond the border its nearest pixel counts.
  std::array<int, RackTemplate::kNx> column;
  std::array<float, RackTemplate::kNx> share;
  for (int i = 0; i < RackTemplate::kNx; ++i) {
    const double u = std::clamp(u0 + q * (-RackTemplate::kHalfWidth + i * RackTemplate::kStepX), 0.0,
                                static_cast<double>(luma.cols - 1));
    const int x = std::min(static_cast<int>(u), luma.cols - 2);
    column[static_cast<std::size_t>(i)] = x;
    share[static_cast<std::size_t>(i)] = static_cast<float>(u - x);
  }
  double dot = 0, sum = 0, sum2 = 0;
  constexpr std::size_t k = RackTemplate::kNx * RackTemplate::kNz;
  const float* value = t.value.data();
  for (int j = 0; j < RackTemplate::kNz; ++j) {
    const double v = std::clamp(v0 - q * (RackTemplate::kBottom + j * RackTemplate::kStepZ), 0.0,
                                static_cast<double>(luma.rows - 1));
    const int y = std::min(static_cast<int>(v), luma.rows - 2);
    const auto below = static_cast<float>(v - y);
    const unsigned char *upper = luma.ptr(y), *lower = luma.ptr(y + 1);
    float row_dot = 0, row_sum = 0, row_sum2 = 0;
    for (std::size_t i = 0; i < column.size(); ++i, ++value) {
      const int x = column[i];
      const float f = share[i];
      const float top = static_cast<float>(upper[x]) + f * static_cast<float>(upper[x + 1] - upper[x]);
      const float foot = static_cast<float>(lower[x]) + f * static_cast<float>(lower[x + 1] - lower[x]);
      const float g = top + below * (foot - top);
      row_dot += g * *value;
      row_sum += g;
      row_sum2 += g * g;
    }
    dot += static_cast<double>(row_dot);
    sum += static_cast<double>(row_sum);
    sum2 += static_cast<double>(row_sum2);
  }
  const double var = sum2 - sum * sum / static_cast<double>(k);
  // A flat patch has no pins, however well its noise may happen to correlate: two grey levels rms at least.
  if (var < 4.0 * static_cast<double>(k)) return 0;
  return dot / std::sqrt(var);
}

// ---- lanes of a view ----

// Signed support of the pencil's profile near a slope: the strongest found edge of that sign within the tolerance.
double EdgeNear(const std::vector<PencilEdge>& edges, double slope, double tolerance, double sign) {
  double best = 0;
  for (const PencilEdge& e : edges) {
    const double off = std::abs(e.slope - slope) / tolerance;
    if (off < 1 && e.support * sign > 0) best = std::max(best, std::abs(e.support) * (1 - off * off));
  }
  return best;
}

struct Match {
  double row = 0, value = -1;
};

Match BestRow(const cv::Mat& luma, const Eigen::Vector2d& vp, double s, double w, double lo, double hi, double step) {
  Match m;
  for (double row = lo; row <= hi; row *= 1 + step) {
    const double v = RackMatchOn(luma, vp, s, w, row);
    if (v > m.value) m = {row, v};
  }
  return m;
}

std::vector<CoarseLane> LanesOf(const std::vector<cv::Mat>& pictures, const std::vector<PencilEdge>& edges,
                                const Eigen::Vector2d& vp, double w, double row, double sign,
                                std::vector<CoarseLane>* half_seen) {
  std::vector<CoarseLane> found;
  const double smax = (std::max(vp.x(), pictures[0].cols - vp.x())) / row;
  const double limit = std::min(smax, 12.0 * w);
  for (double s = -limit; s <= limit; s += 0.025 * w) {
    CoarseLane l;
    l.centre_slope = s;
    const double tolerance = 0.04 * w * (1 + 0.1 * std::abs(s) / w);
    l.left_support = EdgeNear(edges, s - 0.5 * w, tolerance, sign);
    l.right_support = EdgeNear(edges, s + 0.5 * w, tolerance, -sign);
    if (l.left_support + l.right_support < 0.12 && std::abs(s) > 2 * w) continue;
    const double step = 0.6 * w / InchesFromMetres(lane::kNominalWidth);
    Match m;
    for (const cv::Mat& picture : pictures) {
      if (const Match now = BestRow(picture, vp, s, w, 0.93 * row, 1.075 * row, step); now.value > m.value) m = now;
      if (m.value > 0.5) break;  // plain enough; the others are for racks that somebody hides
    }
    l.rack_match = std::max(0.0, m.value);
    l.rack_row = m.row;
    found.push_back(l);
  }
  const auto score = [](const CoarseLane& l) { return l.left_support + l.right_support + 1.5 * l.rack_match; };
  std::sort(found.begin(), found.end(), [&](const CoarseLane& a, const CoarseLane& b) { return score(a) > score(b); });
  std::vector<CoarseLane> kept;
  for (const CoarseLane& l : found) {
    // A lane shows pins, or both its edges; and lanes do not overlap: two gutters lie between them.
    const bool enough = l.rack_match > 0.5 || (l.left_support > 0.2 && l.right_support > 0.2);
    if (!enough || score(l) < 0.75) {
      if (std::max(l.left_support, l.right_support) > 0.3) half_seen->push_back(l);
      continue;
    }
    if (std::none_of(kept.begin(), kept.end(),
                     [&](const CoarseLane& k) { return std::abs(k.centre_slope - l.centre_slope) < 1.3 * w; }))
      kept.push_back(l);
  }
  std::sort(kept.begin(), kept.end(),
            [](const CoarseLane& a, const CoarseLane& b) { return a.centre_slope < b.centre_slope; });
  return kept;
}

// A lane whose rack and edges somebody hides nearly all the time still leaves a gap in the row of lanes. It is filled
// where the gap is as wide as two of the row's own steps between lanes, at the place that what little is seen of edges
// speaks for.
void FillGaps(const std::vector<PencilEdge>& edges, CoarseView* view) {
  const double w = view->lane_slope;
  if (view->lanes.size() < 2) return;
  double step = 1e9;
  for (std::size_t i = 1; i < view->lanes.size(); ++i)
    step = std::min(step, view->lanes[i].centre_slope - view->lanes[i - 1].centre_slope);
  // With ball return and divider two lanes are rarely over 80 in apart.
  constexpr double kLeast = kLeastSpacing / lane::kNominalWidth, kMost = 84.0 / 41.5;
  std::vector<CoarseLane> all;
  for (std::size_t i = 0; i < view->lanes.size(); ++i) {
    if (i > 0) {
      const double lo = view->lanes[i - 1].centre_slope + kLeast * w, hi = view->lanes[i].centre_slope - kLeast * w;
      const double gap = view->lanes[i].centre_slope - view->lanes[i - 1].centre_slope;
      const bool room = hi >= lo && gap < 2 * kMost * w && (step > kMost * w || gap < 2.35 * step);
      double best = -1;
      CoarseLane hidden;
      for (double s = lo; room && s <= hi; s += 0.02 * w) {
        CoarseLane l;
        l.centre_slope = s;
        const double tolerance = 0.05 * w;
        l.left_support = EdgeNear(edges, s - 0.5 * w, tolerance, view->lane_sign);
        l.right_support = EdgeNear(edges, s + 0.5 * w, tolerance, -view->lane_sign);
        const double off = std::abs(s - 0.5 * (lo + hi)) / w;
        if (const double value = l.left_support + l.right_support + 0.2 - 0.2 * off; value > best) {
          best = value;
          hidden = l;
          hidden.filled = true;
        }
      }
      if (best > 0) all.push_back(hidden);
    }
    all.push_back(view->lanes[i]);
  }
  view->lanes = std::move(all);
}

// ---- foul line ----

struct EdgeEnd {
  double slope = 0;
  std::vector<double> gain;  // log-likelihood-like gain when the edge ends at depth[i]
};

// least_ends: of how many edges the ends must be seen; 0 where racks have told the lanes and the line alone will do.
bool FindFoulLine(const Gradient& g, const std::vector<PencilEdge>& edges, std::size_t least_ends, CoarseView* view) {
  const Eigen::Vector2d vp = view->vanishing_point;
  const double foot = g.du.rows - 1 - vp.y();
  std::vector<double> depth;
  // Not nearer the racks than a camera 60 ft behind the line would see it.
  for (double r = 2.0 * view->rack_row; r < foot; r *= 1.01) depth.push_back(r);
  if (depth.size() < 10) return false;
  std::vector<EdgeEnd> ends;
  for (const PencilEdge& e : edges) {
    if (std::abs(e.support) < 0.2) continue;
    // Only what belongs to the lanes seen: their span with the gutters outside.
    const double lo = view->lanes.front().centre_slope - 0.9 * view->lane_slope,
                 hi = view->lanes.back().centre_slope + 0.9 * view->lane_slope;
    if (e.slope < lo || e.slope > hi) continue;
    EdgeEnd end;
    end.slope = e.slope;
    const double sign = e.support > 0 ? 1 : -1, norm = sign / std::sqrt(1 + e.slope * e.slope);
    double sum = 0;
    for (const double r : depth) {
      const double u = vp.x() + e.slope * r, v = vp.y() + r;
      if (u >= 1 && u <= g.du.cols - 2) {
        // The edge may be a pixel off the ray: the better of three.
        double d = -1;
        for (int k = -1; k <= 1; ++k)
          d = std::max(
              d, (Bilinear(g.du, u + 1.5 * k, v) - e.slope * Bilinear(g.dv, u + 1.5 * k, v)) * norm / g.edge_level);
        sum += std::clamp(d, 0.0, 1.0) - 0.4;
      }
      end.gain.push_back(sum);
    }
    ends.push_back(std::move(end));
  }
  if (ends.size() < least_ends) return false;
  // The vertical derivative's strongest sign is not known (dark line, light line, darker approach): its size within two
  // rows counts.
  const double u_lo = std::max(2.0, vp.x() - 0.45 * g.du.cols),
               u_hi = std::min(g.du.cols - 3.0, vp.x() + 0.45 * g.du.cols);
  struct Line {
    double score = -1e9, row = 0, tilt = 0;
  };
  const auto log_ratio = std::log(1.01);
  const auto best_in = [&](double r) {
    Line best;
    for (double tilt = -0.07; tilt <= 0.0701; tilt += 0.005) {
      double gain = 0;
      for (const EdgeEnd& e : ends) {
        const double at = r / (1 - tilt * e.slope);
        const double f = std::log(std::max(at, depth.front()) / depth.front()) / log_ratio;
        gain += e.gain[std::min(e.gain.size() - 1, static_cast<std::size_t>(std::max(0.0, f)))];
      }
      double line = 0;
      int n = 0;
      for (double u = u_lo; u <= u_hi; u += 9) {
        const double v = vp.y() + r + tilt * (u - vp.x());
        if (v < 3 || v > g.dv.rows - 4) continue;
        const int x = static_cast<int>(u), y = static_cast<int>(v + 0.5);
        double d = 0;
        for (int k = -1; k <= 1; ++k) d = std::max(d, std::abs(static_cast<double>(g.dv.at<float>(y + k, x))));
        line += std::min(1.0, d / g.edge_level);
        ++n;
      }
      if (n < 10) continue;
      // Both speak in their own way: edges that end say where, the painted line says exactly where.
      const double score = gain / std::max(1.0, static_cast<double>(ends.size())) + 30 * line / n;
      if (score > best.score) best = {score, r, tilt};
    }
    return best;
  };
  std::vector<Line> lines;
  for (double r = depth.front() + 1; r < foot - 2; r += 1.0) lines.push_back({-1e9, r, 0});
  cv::parallel_for_(cv::Range(0, static_cast<int>(lines.size())), [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i)
      lines[static_cast<std::size_t>(i)] = best_in(lines[static_cast<std::size_t>(i)].row);
  });
  const auto best =
      std::max_element(lines.begin(), lines.end(), [](const Line& a, const Line& b) { return a.score < b.score; });
  if (best == lines.end() || best->score <= -1e9) return false;
  view->foul_row = best->row;
  view->foul_tilt = best->tilt;
  return true;
}

bool SetFocal(const cv::Size& size, double centre_v, CoarseView* view) {
  const double ratio = view->foul_row / view->rack_row;
  if (ratio < 2.0 || ratio > 25) return false;
  const double d = lane::kHeadPinY / (ratio - 1), f_cap = view->foul_row * d;
  // focal = F w cos(pitch) / W with tan(pitch) = (cv - v0) / focal; two rounds are enough for the weak dependence.
  double focal = f_cap * view->lane_slope / lane::kNominalWidth;
  for (int i = 0; i < 4; ++i) {
    const double pitch = std::atan((centre_v - view->vanishing_point.y()) / focal);
    focal = f_cap * view->lane_slope * std::cos(pitch) / lane::kNominalWidth;
  }
  view->focal_px = focal;
  const double longer = std::max(size.width, size.height);
  return focal > 0.3 * longer && focal < 5 * longer;
}

// Roll of the camera from the level lines across the lanes (foul line, masks, lamps): with yaw their slope changes with
// the row, at the horizon it is the roll itself. Least absolute deviations by reweighting.
double RollFrom(const std::vector<Segment>& segments, const Eigen::Vector2d& vp) {
  double roll = 0, turn = 0, scale = 0.05;
  for (int round = 0; round < 25; ++round) {
    double w1 = 0, wx = 0, wxx = 0, wy = 0, wxy = 0;
    for (const Segment& s : segments) {
      const Eigen::Vector2d d = s.b - s.a, m = 0.5 * (s.a + s.b) - vp;
      if (std::abs(d.x()) < 4 * std::abs(d.y())) continue;
      // What runs towards the vanishing point lies along the lanes, not across.
      if (std::abs(d.x() * m.y() - d.y() * m.x()) < 0.06 * d.norm() * m.norm()) continue;
      const double x = m.y() / 1000, y = d.y() / d.x();
      const double w = s.length / (std::abs(y - roll - turn * x) + scale);
      w1 += w;
      wx += w * x;
      wxx += w * x * x;
      wy += w * y;
      wxy += w * x * y;
    }
    if (w1 <= 0) return 0;
    wxx += 1e-3 * w1;  // holds the slope's change when all lines lie in one row
    const double det = w1 * wxx - wx * wx;
    roll = (wy * wxx - wx * wxy) / det;
    turn = (w1 * wxy - wx * wy) / det;
    scale = std::max(0.002, 0.7 * scale);
  }
  return std::atan(roll);
}

// Lanes that end in a row of racks: their places are the racks', their width follows from the racks' size, and edges
// only say how well it all agrees. A lane whose rack somebody hides is filled in where the gap has room for it.
std::vector<CoarseLane> LanesOfRow(const RackRow& row, const std::vector<PencilEdge>& edges, const Eigen::Vector2d& vp,
                                   double w, double sign) {
  std::vector<CoarseLane> lanes;
  const auto add = [&](double slope, double match, double rack_row) {
    CoarseLane l;
    l.centre_slope = slope;
    const double tolerance = 0.05 * w * (1 + 0.1 * std::abs(slope) / w);
    l.left_support = EdgeNear(edges, slope - 0.5 * w, tolerance, sign);
    l.right_support = EdgeNear(edges, slope + 0.5 * w, tolerance, -sign);
    l.rack_match = match;
    l.rack_row = rack_row;
    lanes.push_back(l);
  };
  for (const RackSighting& r : row.racks) add((r.u - vp.x()) / (r.v - vp.y()), r.match, r.v - vp.y());
  return lanes;
}

std::vector<CoarseView> ViewsFromRacks(const std::vector<cv::Mat>& pictures, const std::vector<PencilEdge>& edges,
                                       const std::vector<PencilEdge>& all_edges, const Gradient& gradient,
                                       const Eigen::Vector2d& vp, const Eigen::Vector2d& centre) {
  std::vector<CoarseView> views;
  for (const RackRow& row : FindRackRows(pictures)) {
    double weight = 0, rack_row = 0;
    for (const RackSighting& r : row.racks) {
      weight += r.match;
      rack_row += r.match * (r.v - vp.y());
    }
    rack_row /= weight;
    if (rack_row < 3) continue;  // racks stand below the horizon
    for (const double sign : {1.0, -1.0}) {
      CoarseView view;
      view.vanishing_point = vp;
      view.rack_row = rack_row;
      view.lane_sign = sign;
      // The racks' size is known to a few percent; the lanes' edges choose within that.
      double best = -1;
      for (double f = 0.93; f <= 1.0701; f += 0.01) {
        const double w = f * row.px_per_inch * InchesFromMetres(lane::kNominalWidth) / rack_row;
        double sum = 0.2 - std::abs(f - 1);
        for (const CoarseLane& l : LanesOfRow(row, all_edges, vp, w, sign))
          sum += l.rack_match * (l.left_support + l.right_support);
        if (sum > best) {
          best = sum;
          view.lane_slope = w;
        }
      }
      view.lanes = LanesOfRow(row, all_edges, vp, view.lane_slope, sign);
      FillGaps(all_edges, &view);
      if (!FindFoulLine(gradient, edges, 0, &view) || !SetFocal(pictures[0].size(), centre.y(), &view)) continue;
      view.score = row.score + best;
      views.push_back(view);
    }
  }
  std::sort(views.begin(), views.end(), [](const CoarseView& a, const CoarseView& b) { return a.score > b.score; });
  if (views.size() > 4) views.resize(4);
  return views;
}

// The search in a picture whose camera has no roll. centre: the principal point.
Result<std::vector<CoarseView>> SearchLevelLanes(const std::vector<cv::Mat>& pictures, const Eigen::Vector2d& vp,
                                                 const Eigen::Vector2d& centre, SearchBy by) {
  const cv::Mat& luma = pictures[0];
  Gradient gradient;
  std::vector<std::vector<PencilEdge>> edges_in(pictures.size());
  cv::parallel_for_(
      cv::Range(0, static_cast<int>(pictures.size())),
      [&](const cv::Range& range) {
        for (int i = range.start; i < range.end; ++i) {
          const auto k = static_cast<std::size_t>(i);
          const Gradient of = GradientOf(pictures[k]);
          edges_in[k] = FindPencilEdges(of, vp);
          if (i == 0) gradient = of;
        }
      },
      static_cast<double>(pictures.size()));
  const std::vector<PencilEdge>& edges = edges_in[0];
  if (by == SearchBy::kEdges && edges.size() < 2)
    return Status(StatusCode::kLaneNotFound, "no long edges of lanes and gutters were seen");

  // What a person hides at one time another time shows.
  std::vector<PencilEdge> all_edges = edges;
  for (std::size_t i = 1; i < pictures.size(); ++i)
    all_edges.insert(all_edges.end(), edges_in[i].begin(), edges_in[i].end());

  if (by == SearchBy::kRacks) {
    auto views = ViewsFromRacks(pictures, edges, all_edges, gradient, vp, centre);
    if (views.empty())
      return Status(StatusCode::kLaneNotFound, "no row of pin racks with a foul line before it was seen");
    return views;
  }

  struct Guess {
    double s, w, row, sign, value;
  };
  std::vector<Guess> guesses;
  for (std::size_t i = 0; i < edges.size(); ++i)
    for (std::size_t j = i + 1; j < edges.size(); ++j) {
      const double w = edges[j].slope - edges[i].slope;
      if (w < 0.15 || w > 3.5 || edges[i].support * edges[j].support > 0) continue;
      guesses.push_back({0.5 * (edges[i].slope + edges[j].slope), w, 0, edges[i].support > 0 ? 1.0 : -1.0,
                         std::min(std::abs(edges[i].support), std::abs(edges[j].support))});
    }
  if (guesses.empty()) return Status(StatusCode::kLaneNotFound, "no pair of edges could be the two sides of a lane");
  const double foot = luma.rows - 1 - vp.y();
  cv::parallel_for_(cv::Range(0, static_cast<int>(guesses.size())), [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i) {
      Guess& g = guesses[static_cast<std::size_t>(i)];
      const double per_row = PxPerInch(g.w, 1.0);
      const double lo = std::max(3.0, 0.3 / per_row), hi = std::min(0.75 * foot, 7.0 / per_row);
      const Match m = BestRow(luma, vp, g.s, g.w, lo, hi, std::max(0.006, g.w / InchesFromMetres(lane::kNominalWidth)));
      g.row = m.row;
      g.value = m.value * (0.4 + g.value);
    }
  });
  std::sort(guesses.begin(), guesses.end(), [](const Guess& a, const Guess& b) { return a.value > b.value; });

  // The likeliest pairs, each as a whole view: which other lanes and racks agree with it.
  guesses.resize(std::min<std::size_t>(guesses.size(), 10));
  std::vector<CoarseView> views(guesses.size());
  cv::parallel_for_(cv::Range(0, static_cast<int>(guesses.size())), [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i) {
      const Guess& g = guesses[static_cast<std::size_t>(i)];
      CoarseView& view = views[static_cast<std::size_t>(i)];
      view.vanishing_point = vp;
      view.lane_slope = g.w;
      view.rack_row = g.row;
      view.lane_sign = g.sign;
      view.lanes = LanesOf(pictures, all_edges, vp, g.w, g.row, g.sign, &view.half_seen);
      double rack = 0;
      for (const CoarseLane& l : view.lanes) {
        view.score += l.rack_match * l.rack_match + 0.5 * std::min(l.left_support, l.right_support) +
                      0.25 * (l.left_support + l.right_support);
        rack = std::max(rack, l.rack_match);
      }
      if (view.lanes.empty() || rack < 0.5) view.score = -1;
    }
  });
  std::erase_if(views, [](const CoarseView& v) { return v.score < 0; });
  if (views.empty()) return Status(StatusCode::kLaneNotFound, "no rack of pins was seen at the end of a lane");
  std::stable_sort(views.begin(), views.end(),
                   [](const CoarseView& a, const CoarseView& b) { return a.score > b.score; });
  std::vector<CoarseView> different;
  for (CoarseView& v : views) {
    const bool same = std::any_of(different.begin(), different.end(), [&](const CoarseView& d) {
      return std::abs(std::log(d.lane_slope / v.lane_slope)) < 0.05 &&
             std::abs(std::log(d.rack_row / v.rack_row)) < 0.05 && d.lane_sign == v.lane_sign;
    });
    if (same) continue;
    FillGaps(all_edges, &v);
    if (!FindFoulLine(gradient, edges, 2, &v) || !SetFocal(luma.size(), centre.y(), &v)) continue;
    different.push_back(v);
    if (different.size() == 3) break;
  }
  if (different.empty()) return Status(StatusCode::kLaneNotFound, "the foul line was not seen");
  return different;
}

}  // namespace

Result<std::vector<CoarseView>> SearchLanes(const std::vector<cv::Mat>& pictures, SearchBy by) {
  const cv::Mat& luma = pictures[0];
  const auto segments = FindSegments(luma, 0.03 * std::min(luma.rows, luma.cols));
  const auto vp = LaneVanishingPoint(segments, luma.size());
  if (!vp) return Status(StatusCode::kLaneNotFound, "no bundle of straight lines runs together down the lanes");
  const Eigen::Vector2d centre(0.5 * (luma.cols - 1), 0.5 * (luma.rows - 1));
  const double roll = RollFrom(segments, *vp);
  if (std::abs(roll) < 0.004 || std::abs(roll) > 0.3) return SearchLevelLanes(pictures, *vp, centre, by);
  // Turned about the vanishing point, which stays where it is; the principal point turns along.
  const double c = std::cos(roll), s = std::sin(roll);
  const cv::Mat luma_from_level =
      (cv::Mat_<double>(2, 3) << c, -s, vp->x() - c * vp->x() + s * vp->y(), s, c, vp->y() - s * vp->x() - c * vp->y());
  std::vector<cv::Mat> level(pictures.size());
  for (std::size_t i = 0; i < pictures.size(); ++i)
    cv::warpAffine(pictures[i], level[i], luma_from_level, luma.size(), cv::INTER_LINEAR | cv::WARP_INVERSE_MAP,
                   cv::BORDER_REPLICATE);
  const Eigen::Vector2d r = centre - *vp;
  auto views = SearchLevelLanes(level, *vp, *vp + Eigen::Vector2d(c * r.x() + s * r.y(), -s * r.x() + c * r.y()), by);
  if (views.ok())
    for (CoarseView& v : *views) v.turned = roll;
  return views;
}

}  // namespace hookline::setup
