#include "setup/arrow_tips.h"

#include <algorithm>
#include <cmath>

#include "camera/projection.h"
#include "setup/sampling.h"

namespace hookline::setup {
namespace {

constexpr int kArrows = 7;

struct Tip {
  int arrow = 0;        // 0: board 5 .. 6: board 35
  double y = 0;         // m
  double strength = 0;  // mean difference from the lane over its noise; negative: darker than the lane
  bool own = false;     // on the setup's own lane
};

double Arm(int arrow) { return std::abs(arrow - 3.0); }

// The mark along one board, when there is one. Boards run along the lane, so along a board everything but a mark is
// nearly constant.
std::optional<Tip> TipOn(const cv::Mat& luma, const LaneSetup& setup, double lane_x, int arrow) {
  // A foot more than the rule's window on each side lets a mark's whole length be seen.
  const double lo = lane::MetresFromFeet(10.8), hi = lane::MetresFromFeet(17.2), step = 0.01;
  const int n = static_cast<int>((hi - lo) / step), margin = static_cast<int>(0.2 / step);
  std::vector<double> line(static_cast<std::size_t>(n), 0.0);
  for (int i = 0; i < n; ++i)
    for (int k = -2; k <= 2; ++k) {
      const double x = lane_x + setup.lane.ArrowX(arrow) + k * lane::MetresFromInches(0.1);
      const auto p = camera::ImageFromLane(setup.camera, {x, lo + i * step, 0});
      if (!p || p->x() < 1 || p->y() < 1 || p->x() > luma.cols - 2 || p->y() > luma.rows - 2) return std::nullopt;
      line[static_cast<std::size_t>(i)] += Bilinear(luma, p->x(), p->y()) / 5;
    }
  std::vector<double> sorted = line;
  std::sort(sorted.begin(), sorted.end());
  const double middle = sorted[sorted.size() / 2];
  for (double& v : line) v -= middle;
  for (double& v : sorted) v = std::abs(v - middle);
  std::sort(sorted.begin(), sorted.end());
  const double noise = std::max(1.0, sorted[sorted.size() / 2]);
  // The strongest stretch of five inches, either sign.
  const int length = static_cast<int>(lane::MetresFromInches(5) / step);
  double best = 0;
  int at = -1;
  for (int i = margin; i + length + margin < n; ++i) {
    double sum = 0;
    for (int k = 0; k < length; ++k) sum += line[static_cast<std::size_t>(i + k)];
    if (std::abs(sum) > std::abs(best)) {
      best = sum;
      at = i;
    }
  }
  const double mean = best / length;
  if (at < 0 || std::abs(mean) < 2.5 * noise || std::abs(mean) < 4) return std::nullopt;
  const double sign = mean > 0 ? 1 : -1;
  double peak = 0;
  for (int k = 0; k < length; ++k) peak = std::max(peak, sign * line[static_cast<std::size_t>(at + k)]);
  // The far end, where the mark is narrowest: the last place a quarter as strong as its strongest.
  int end = at + length / 2;
  while (end + 1 < n && sign * line[static_cast<std::size_t>(end + 1)] > 0.25 * peak) ++end;
  // A mark is at most six inches long; a person's leg, a shadow or a lamp's image goes on.
  int begin = at + length / 2;
  while (begin > 0 && sign * line[static_cast<std::size_t>(begin - 1)] > 0.25 * peak) --begin;
  if ((end - begin) * step > 0.45) return std::nullopt;
  return Tip{arrow, lo + end * step, mean / noise, lane_x == 0};
}

}  // namespace

std::optional<std::array<double, 7>> MeasureArrowTips(const std::vector<cv::Mat>& pictures, const LaneSetup& setup) {
  std::vector<Tip> tips;
  std::vector<double> lanes = {0.0};
  for (const NeighbourLane& n : setup.neighbours)
    if (std::abs(n.index) <= 1) lanes.push_back(n.centre_x);
  // Paint stays where it is: a mark counts when two pictures show it in one place. A ball or a shoe passing over the
  // board does not.
  const std::size_t least = pictures.size() >= 3 ? 2 : 1;
  for (const double x : lanes)
    for (int arrow = 0; arrow < kArrows; ++arrow) {
      std::vector<Tip> seen;
      for (const cv::Mat& picture : pictures)
        if (const auto t = TipOn(picture, setup, x, arrow)) seen.push_back(*t);
      std::sort(seen.begin(), seen.end(), [](const Tip& a, const Tip& b) { return a.y < b.y; });
      for (std::size_t i = 0; i < seen.size();) {
        std::size_t j = i;
        while (j < seen.size() && seen[j].y - seen[i].y < 0.08) ++j;
        if (j - i >= least) tips.push_back(seen[(i + j) / 2]);
        i = j;
      }
    }
  // The V that most tips agree with: every pair of different arms proposes one. Own marks count double.
  constexpr double kAgree = 0.10;  // m
  double best_a = 0, best_b = 0, best_vote = 0, best_sign = 0;
  for (const Tip& i : tips)
    for (const Tip& j : tips) {
      if (Arm(i.arrow) >= Arm(j.arrow) || i.strength * j.strength < 0) continue;
      const double b = (i.y - j.y) / (Arm(j.arrow) - Arm(i.arrow)), a = i.y + b * Arm(i.arrow);
      if (b < -0.02 || b > lane::MetresFromFeet(1.6)) continue;
      double vote = 0;
      for (const Tip& k : tips) {
        if (k.strength * i.strength < 0) continue;
        const double e = std::abs(k.y - (a - b * Arm(k.arrow)));
        if (e < kAgree) vote += (k.own ? 2 : 1) * (1 - e / kAgree * 0.5);
      }
      if (vote > best_vote) {
        best_vote = vote;
        best_a = a;
        best_b = b;
        best_sign = i.strength > 0 ? 1 : -1;
      }
    }
  if (best_vote <= 0) return std::nullopt;
  // Each board's own place where it was seen near the V (sets that are not quite a V exist), the median over pictures
  // and lanes.
  std::array<double, 7> out{};
  int seen = 0;
  for (int arrow = 0; arrow < kArrows; ++arrow) {
    const double expected = best_a - best_b * Arm(arrow);
    std::vector<double> own, other;
    for (const Tip& t : tips)
      if (t.arrow == arrow && t.strength * best_sign > 0 && std::abs(t.y - expected) < kAgree)
        (t.own ? own : other).push_back(t.y);
    std::vector<double>& use = own.empty() ? other : own;
    if (use.empty()) {
      out[static_cast<std::size_t>(arrow)] = expected;
      continue;
    }
    ++seen;
    std::nth_element(use.begin(), use.begin() + static_cast<std::ptrdiff_t>(use.size() / 2), use.end());
    out[static_cast<std::size_t>(arrow)] = use[use.size() / 2];
  }
  if (seen < 4) return std::nullopt;
  return out;
}

namespace {

// Middle of the mark across the lane, m from where the setup has the board's middle; nullopt when none stands out.
std::optional<double> MarkMiddle(const cv::Mat& luma, const LaneSetup& setup, double lane_x, int arrow) {
  const double tip = setup.lane.arrow_tip_y[static_cast<std::size_t>(arrow)];
  const double x0 = lane_x + setup.lane.ArrowX(arrow), step = lane::MetresFromInches(0.1);
  constexpr int kHalf = 26;  // steps to each side: two and a half boards, half way to the next arrow
  std::vector<double> across(2 * kHalf + 1, 0.0);
  for (int i = -kHalf; i <= kHalf; ++i)
    for (double back = 0.02; back < 0.125; back += 0.01) {
      const auto p = camera::ImageFromLane(setup.camera, {x0 + i * step, tip - back, 0});
      if (!p || p->x() < 1 || p->y() < 1 || p->x() > luma.cols - 2 || p->y() > luma.rows - 2) return std::nullopt;
      across[static_cast<std::size_t>(i + kHalf)] += Bilinear(luma, p->x(), p->y()) / 11;
    }
  std::vector<double> sorted = across;
  std::sort(sorted.begin(), sorted.end());
  const double middle = sorted[sorted.size() / 2];
  double peak = 0;
  for (double& v : across) {
    v -= middle;
    if (std::abs(v) > std::abs(peak)) peak = v;
  }
  for (double& v : sorted) v = std::abs(v - middle);
  std::sort(sorted.begin(), sorted.end());
  if (std::abs(peak) < 5 || std::abs(peak) < 5 * sorted[sorted.size() / 2]) return std::nullopt;
  // Middle of what is at least four tenths as strong as the strongest; what is that strong elsewhere is another thing.
  double weight = 0, sum = 0, lo = kHalf, hi = -kHalf;
  for (int i = -kHalf; i <= kHalf; ++i) {
    const double v = across[static_cast<std::size_t>(i + kHalf)] / peak - 0.4;
    if (v <= 0) continue;
    weight += v;
    sum += v * i;
    lo = std::min<double>(lo, i);
    hi = std::max<double>(hi, i);
  }
  if ((hi - lo) * step > lane::MetresFromInches(2.2))
    return std::nullopt;  // a mark is 1 1/4 in wide, blurred some more
  return sum / weight * step;
}

}  // namespace

std::vector<EdgePoint> MeasureArrowBoards(const std::vector<cv::Mat>& pictures, const LaneSetup& setup,
                                          const std::vector<LaneInView>& lanes) {
  std::vector<EdgePoint> out;
  for (std::size_t l = 0; l < lanes.size(); ++l) {
    if (std::abs(lanes[l].index) > 1) continue;
    for (int arrow = 0; arrow < kArrows; ++arrow) {
      std::vector<double> seen;
      for (const cv::Mat& picture : pictures)
        if (const auto m = MarkMiddle(picture, setup, lanes[l].centre_x, arrow)) seen.push_back(*m);
      if (seen.empty()) continue;
      std::nth_element(seen.begin(), seen.begin() + static_cast<std::ptrdiff_t>(seen.size() / 2), seen.end());
      const double off = seen[seen.size() / 2];
      // Paint stays where it is; a person's shoe or a ball passing does not.
      const auto agree = std::count_if(seen.begin(), seen.end(), [&](double m) { return std::abs(m - off) < 0.006; });
      if (agree < static_cast<std::ptrdiff_t>(pictures.size() >= 3 ? 2 : 1)) continue;
      const double y = setup.lane.arrow_tip_y[static_cast<std::size_t>(arrow)] - 0.07;
      const double x = setup.lane.ArrowX(arrow);
      const auto p = camera::ImageFromLane(setup.camera, {lanes[l].centre_x + x + off, y, 0});
      if (p) out.push_back({l, x / (0.5 * setup.lane.width), true, y, *p});
    }
  }
  return out;
}

}  // namespace hookline::setup
