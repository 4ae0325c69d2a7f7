#include "setup/clear_view.h"

#include <algorithm>
#include <array>
#include <bit>
#include <cassert>
#include <cmath>
#include <opencv2/core/utility.hpp>
#include <opencv2/imgproc.hpp>
#include <optional>
#include <queue>
#include <utility>

#include "camera/projection.h"
#include "lane/lane_spec.h"
#include "lane/units.h"
#include "setup/lane_looks.h"
#include "setup/order_statistics.h"

namespace hookline::setup {
namespace {

constexpr std::size_t kMostValues = 8;                  // of one place
constexpr double kSmall = 0.15;                         // of the picture's width: what is no larger may be pins
constexpr float kContrast = 40;                         // grey levels over all planes; an edge of more is no surer
constexpr int kChromaReach = 5;                         // grey levels
constexpr double kContestedShare = 0.15;                // of the pictures that differ from the median
constexpr double kFromEdge = 3 * lane::kMetresPerInch;  // within which a lane need not look as farther in
constexpr std::size_t kLikeness = 7;                    // looks of a lane of which one must be so near
constexpr float kLaneLead = 2.5F, kLaneAhead = 20;  // how much farther off what was taken for it is: times, grey levels
constexpr double kShares = 0.7, kSharesNot = 0.35;  // of the pictures, with what is shown beside: the scene, a person

struct Value {
  Pixel colour{};
  std::uint64_t pictures = 0;
};

struct Place {
  std::array<Value, kMostValues> values;
  std::size_t count = 0;
  int chosen = -1;
  unsigned version = 0;  // of its newest entry in the queue
};

// Means of whole cells. Rows are summed first, which the compiler turns into vector instructions.
cv::Mat CellMeans(const cv::Mat& plane, int cell, const cv::Size& grid) {
  cv::Mat out(grid, CV_8UC1);
  const auto width = static_cast<std::size_t>(grid.width * cell);
  std::vector<std::uint16_t> sum(width);
  const unsigned area = static_cast<unsigned>(cell * cell);
  for (int row = 0; row < grid.height; ++row) {
    std::fill(sum.begin(), sum.end(), std::uint16_t{0});
    for (int y = row * cell; y < (row + 1) * cell; ++y) {
      const std::uint8_t* from = plane.ptr(y);
      for (std::size_t x = 0; x < width; ++x) sum[x] = static_cast<std::uint16_t>(sum[x] + from[x]);
    }
    std::uint8_t* to = out.ptr(row);
    const std::uint16_t* from = sum.data();
    for (int column = 0; column < grid.width; ++column, from += cell) {
      unsigned total = area / 2;
      for (int x = 0; x < cell; ++x) total += from[x];
      to[column] = static_cast<std::uint8_t>(total / area);
    }
  }
  return out;
}

class Scene {
 public:
  explicit Scene(const std::vector<Picture>& pictures);
  void Contest();
  void Know(const LaneSetup& lanes);
  void Grow();
  void KeepSmall();
  void Judge();
  ClearView Answer() const;
  bool empty() const { return columns_ < 4 || rows_ < 4; }

 private:
  bool Alike(const Pixel& a, const Pixel& b) const {
    return std::abs(a[0] - b[0]) <= luma_reach_ && std::abs(a[1] - b[1]) <= kChromaReach &&
           std::abs(a[2] - b[2]) <= kChromaReach;
  }
  Pixel MedianAt(std::size_t cell) const {
    return {median_[0].data[cell], median_[1].data[cell], median_[2].data[cell]};
  }
  Value ValueAt(std::size_t cell) const;
  std::array<float, kMostValues> Costs(std::size_t cell, const Place& place) const;
  void Queue(std::size_t cell);
  template <typename Do>
  void Neighbours(std::size_t cell, Do&& act) const {
    const std::size_t c = cell % static_cast<std::size_t>(columns_), w = static_cast<std::size_t>(columns_);
    if (c > 0) act(cell - 1);
    if (c + 1 < w) act(cell + 1);
    if (cell >= w) act(cell - w);
    if (cell + w < size_) act(cell + w);
  }

  std::size_t n_;
  std::uint64_t all_;
  int cell_ = 0, columns_ = 0, rows_ = 0;
  std::size_t size_ = 0;
  int luma_reach_ = 6;
  std::array<std::vector<cv::Mat>, 3> planes_;  // luma, cb, cr of every picture, a px a cell
  std::array<cv::Mat, 3> median_;
  std::vector<int> place_of_;  // per cell: into places_, -1 where there is nothing to decide
  std::vector<Place> places_;
  struct Entry {
    float decisive;
    std::size_t cell;
    unsigned version;
    int best;  // value
    bool operator<(const Entry& o) const { return decisive != o.decisive ? decisive < o.decisive : cell > o.cell; }
  };
  std::priority_queue<Entry> queue_;
};

Scene::Scene(const std::vector<Picture>& pictures) : n_(pictures.size()) {
  assert(n_ >= 1 && n_ <= 64);
  all_ = n_ == 64 ? ~std::uint64_t{0} : (std::uint64_t{1} << n_) - 1;
  const cv::Size size = pictures[0].luma.size();
  cell_ = 2 * std::max(1, (std::min(size.width, size.height) + 180) / 360);
  columns_ = size.width / cell_, rows_ = size.height / cell_;
  if (empty()) return;
  size_ = static_cast<std::size_t>(columns_) * static_cast<std::size_t>(rows_);
  const cv::Size grid(columns_, rows_);
  const bool colour =
      std::all_of(pictures.begin(), pictures.end(), [](const Picture& p) { return !p.cb.empty() && !p.cr.empty(); });
  for (auto& plane : planes_) plane.resize(n_);
  cv::parallel_for_(cv::Range(0, static_cast<int>(n_)), [&](const cv::Range& range) {
    for (auto k = static_cast<std::size_t>(range.start); k < static_cast<std::size_t>(range.end); ++k) {
      const Picture& p = pictures[k];
      planes_[0][k] = CellMeans(p.luma, cell_, grid);
      if (!colour) continue;
      planes_[1][k] = CellMeans(p.cb, cell_ / 2, grid);
      planes_[2][k] = CellMeans(p.cr, cell_ / 2, grid);
    }
  });
  cv::Mat spread;
  OrderStatistics(planes_[0], &median_[0], &spread);
  if (colour) {
    OrderStatistics(planes_[1], &median_[1], nullptr);
    OrderStatistics(planes_[2], &median_[2], nullptr);
  } else {
    for (std::size_t i : {1U, 2U}) {
      median_[i] = cv::Mat(grid, CV_8UC1, cv::Scalar(128));
      std::fill(planes_[i].begin(), planes_[i].end(), median_[i]);
    }
  }
  // The usual unrest of a place: lamps that flicker, a codec's noise.
  const auto mid = spread.begin<std::uint8_t>() + static_cast<std::ptrdiff_t>(size_ / 2);
  std::nth_element(spread.begin<std::uint8_t>(), mid, spread.end<std::uint8_t>());
  luma_reach_ = std::max(luma_reach_, 4 * *mid);
}

// Splits the pictures of every place where they differ into values.
void Scene::Contest() {
  place_of_.assign(size_, -1);
  const int enough = std::max(2, static_cast<int>(std::ceil(kContestedShare * static_cast<double>(n_))));
  std::vector<std::size_t> contested;
  std::vector<std::uint8_t> differ(static_cast<std::size_t>(columns_));
  for (int row = 0; row < rows_; ++row) {
    std::fill(differ.begin(), differ.end(), std::uint8_t{0});
    const std::uint8_t *y0 = median_[0].ptr(row), *b0 = median_[1].ptr(row), *r0 = median_[2].ptr(row);
    for (std::size_t k = 0; k < n_; ++k) {
      const std::uint8_t *y = planes_[0][k].ptr(row), *b = planes_[1][k].ptr(row), *r = planes_[2][k].ptr(row);
      for (std::size_t i = 0; i < differ.size(); ++i) {
        const bool far = (std::abs(y[i] - y0[i]) > luma_reach_) | (std::abs(b[i] - b0[i]) > kChromaReach) |
                         (std::abs(r[i] - r0[i]) > kChromaReach);
        differ[i] = static_cast<std::uint8_t>(differ[i] + far);
      }
    }
    for (std::size_t i = 0; i < differ.size(); ++i) {
      if (differ[i] < enough) continue;
      const std::size_t cell = static_cast<std::size_t>(row * columns_) + i;
      place_of_[cell] = static_cast<int>(contested.size());
      contested.push_back(cell);
    }
  }
  places_.resize(contested.size());
  cv::parallel_for_(cv::Range(0, static_cast<int>(contested.size())), [&](const cv::Range& range) {
    for (int i = range.start; i < range.end; ++i) {
      const std::size_t cell = contested[static_cast<std::size_t>(i)];
      Place& place = places_[static_cast<std::size_t>(i)];
      std::array<std::uint64_t, 64> alike{};
      std::array<Pixel, 64> seen;
      for (std::size_t k = 0; k < n_; ++k)
        seen[k] = {planes_[0][k].data[cell], planes_[1][k].data[cell], planes_[2][k].data[cell]};
      for (std::size_t a = 0; a < n_; ++a) {
        alike[a] |= std::uint64_t{1} << a;
        for (std::size_t b = a + 1; b < n_; ++b)
          if (Alike(seen[a], seen[b])) alike[a] |= std::uint64_t{1} << b, alike[b] |= std::uint64_t{1} << a;
      }
      std::uint64_t left = all_;
      while (left != 0 && place.count < kMostValues) {
        std::size_t best = 0;
        int most = 0;
        for (std::size_t k = 0; k < n_; ++k)
          if (const int found = std::popcount(alike[k] & left); (left >> k & 1) != 0 && found > most)
            most = found, best = k;
        // One picture alone may be anything that passes.
        if (most < 2) break;
        place.values[place.count++] = {seen[best], alike[best] & left};
        left &= ~alike[best];
      }
    }
  });
}

Value Scene::ValueAt(std::size_t cell) const {
  if (place_of_[cell] < 0) return {MedianAt(cell), all_};
  const Place& p = places_[static_cast<std::size_t>(place_of_[cell])];
  return p.values[static_cast<std::size_t>(p.chosen)];
}

std::array<float, kMostValues> Scene::Costs(std::size_t cell, const Place& place) const {
  std::array<float, kMostValues> cost{};
  Neighbours(cell, [&](std::size_t other) {
    if (const int at = place_of_[other]; at >= 0 && places_[static_cast<std::size_t>(at)].chosen < 0) return;
    const Value there = ValueAt(other);
    for (std::size_t j = 0; j < place.count; ++j) {
      const Value& here = place.values[j];
      const int fewer = std::min(std::popcount(here.pictures), std::popcount(there.pictures));
      cost[j] += std::min(Difference(here.colour, there.colour), kContrast) / kContrast + 1 -
                 static_cast<float>(std::popcount(here.pictures & there.pictures)) / static_cast<float>(fewer);
    }
  });
  return cost;
}

void Scene::Queue(std::size_t cell) {
  if (place_of_[cell] < 0) return;
  Place& place = places_[static_cast<std::size_t>(place_of_[cell])];
  if (place.chosen >= 0 || place.count == 0) return;
  const auto cost = Costs(cell, place);
  const auto end = cost.begin() + static_cast<std::ptrdiff_t>(place.count), best = std::min_element(cost.begin(), end);
  float decisive = 1e3f;  // nothing else was ever seen there
  for (auto c = cost.begin(); c != end; ++c)
    if (c != best) decisive = std::min(decisive, *c - *best);
  queue_.push({decisive, cell, ++place.version, static_cast<int>(best - cost.begin())});
}

void Scene::Grow() {
  for (std::size_t cell = 0; cell < size_; ++cell) {
    if (place_of_[cell] < 0) continue;
    bool beside = false;
    Neighbours(cell, [&](std::size_t other) { beside = beside || place_of_[other] < 0; });
    if (beside) Queue(cell);
  }
  while (!queue_.empty()) {
    const Entry entry = queue_.top();
    queue_.pop();
    Place& place = places_[static_cast<std::size_t>(place_of_[entry.cell])];
    if (place.chosen >= 0 || entry.version != place.version) continue;
    place.chosen = entry.best;
    Neighbours(entry.cell, [&](std::size_t other) { Queue(other); });
  }
}

void Scene::KeepSmall() {
  const int limit = static_cast<int>(kSmall * columns_);
  std::vector<std::uint64_t> covered(size_, 0);  // by something large, bit by picture
  cv::Mat other(rows_, columns_, CV_8UC1), labels, stats, centres;
  for (std::size_t k = 0; k < n_; ++k) {
    other.setTo(0);
    for (std::size_t cell = 0; cell < size_; ++cell)
      if (place_of_[cell] >= 0 && places_[static_cast<std::size_t>(place_of_[cell])].chosen >= 0)
        other.data[cell] = (ValueAt(cell).pictures >> k & 1) == 0;
    cv::connectedComponentsWithStats(other, labels, stats, centres, 8, CV_32S);
    for (std::size_t cell = 0; cell < size_; ++cell) {
      const int label = labels.ptr<int>()[cell];
      if (label > 0 &&
          std::max(stats.at<int>(label, cv::CC_STAT_WIDTH), stats.at<int>(label, cv::CC_STAT_HEIGHT)) > limit)
        covered[cell] |= std::uint64_t{1} << k;
    }
  }
  for (std::size_t cell = 0; cell < size_; ++cell) {
    if (place_of_[cell] < 0) continue;
    Place& place = places_[static_cast<std::size_t>(place_of_[cell])];
    if (place.chosen < 0) continue;
    const auto seen = [&](int j) {
      return std::popcount(place.values[static_cast<std::size_t>(j)].pictures & ~covered[cell]);
    };
    for (int j = 0; j < static_cast<int>(place.count); ++j)
      if (seen(j) > seen(place.chosen)) place.chosen = j;
  }
}

void Scene::Judge() {
  cv::Mat other(rows_, columns_, CV_8UC1, cv::Scalar(0)), labels;
  for (std::size_t cell = 0; cell < size_; ++cell) {
    if (place_of_[cell] < 0) continue;
    const Place& place = places_[static_cast<std::size_t>(place_of_[cell])];
    other.data[cell] = place.chosen >= 0 && !Alike(ValueAt(cell).colour, MedianAt(cell));
  }
  const int count = cv::connectedComponents(other, labels, 8, CV_32S);
  std::vector<float> outline_ours(static_cast<std::size_t>(count), 0), outline_median(outline_ours);
  const auto label_of = [&](std::size_t cell) { return static_cast<std::size_t>(labels.ptr<int>()[cell]); };
  for (std::size_t cell = 0; cell < size_; ++cell) {
    if (other.data[cell] == 0) continue;
    Neighbours(cell, [&](std::size_t beside) {
      if (other.data[beside] != 0) return;
      const Pixel there = MedianAt(beside);
      outline_ours[label_of(cell)] += std::min(Difference(ValueAt(cell).colour, there), kContrast);
      outline_median[label_of(cell)] += std::min(Difference(MedianAt(cell), there), kContrast);
    });
  }
  for (std::size_t cell = 0; cell < size_; ++cell)
    if (other.data[cell] != 0 && outline_ours[label_of(cell)] >= outline_median[label_of(cell)])
      places_[static_cast<std::size_t>(place_of_[cell])].chosen = -1;
}

void Scene::Know(const LaneSetup& lanes) {
  struct OnLane {
    std::size_t cell;
    int step;
  };
  std::vector<OnLane> all;
  LaneLooks looks;  // of the uncontested places of all lanes
  for (std::size_t cell = 0; cell < size_; ++cell) {
    const auto column = cell % static_cast<std::size_t>(columns_), row = cell / static_cast<std::size_t>(columns_);
    const auto p = camera::ContactFromImage(
        lanes.camera,
        {(static_cast<double>(column) + 0.5) * cell_ - 0.5, (static_cast<double>(row) + 0.5) * cell_ - 0.5}, 0);
    if (!p || p->y() < lane::MetresFromFeet(0.5) || p->y() > lane::kHeadPinY) continue;
    const double from_camera = p->y() - lanes.camera.position_in_lane.y();
    if (from_camera <= 0) continue;
    const auto on = [&](double centre_x) {
      if (std::abs(p->x() - centre_x) > lanes.lane.width / 2 - kFromEdge) return;
      const OnLane at{cell, LaneLooks::StepAt(from_camera)};
      if (place_of_[cell] < 0) looks.Add(at.step, MedianAt(cell));
      all.push_back(at);
    };
    on(0);
    for (const NeighbourLane& n : lanes.neighbours) on(n.centre_x);
  }
  std::queue<std::size_t> known;
  std::vector<char> on_lane(size_, 0), is_known(size_, 0);
  for (const OnLane& at : all) {
    on_lane[at.cell] = 1;
    if (place_of_[at.cell] < 0) continue;
    Place& place = places_[static_cast<std::size_t>(place_of_[at.cell])];
    const std::optional<float> now =
        looks.Off(at.step, place.chosen < 0 ? MedianAt(at.cell) : ValueAt(at.cell).colour, kLikeness);
    if (!now) continue;
    float best = 1e9F;
    int chosen = -1;
    for (std::size_t j = 0; j < place.count; ++j)
      if (const auto off = looks.Off(at.step, place.values[j].colour, kLikeness); off && *off < best)
        best = *off, chosen = static_cast<int>(j);
    if (best > LaneLooks::kReach || *now < kLaneLead * best + kLaneAhead) continue;
    place.chosen = chosen;
    known.push(at.cell);
    is_known[at.cell] = 1;
  }
  // Who stands before the lane stands before what is beside and behind it in the same pictures. The lanes themselves
  // are told by their looks alone.
  const auto shared = [](std::uint64_t a, std::uint64_t b) {
    return static_cast<double>(std::popcount(a & b)) / std::max(1, std::min(std::popcount(a), std::popcount(b)));
  };
  while (!known.empty()) {
    const std::size_t from = known.front();
    known.pop();
    const std::uint64_t shows = ValueAt(from).pictures;
    Neighbours(from, [&](std::size_t to) {
      if (place_of_[to] < 0 || is_known[to] || on_lane[to]) return;
      Place& place = places_[static_cast<std::size_t>(place_of_[to])];
      double best = 0, now = 0;
      int chosen = -1;
      for (std::size_t j = 0; j < place.count; ++j) {
        const double d = shared(place.values[j].pictures, shows);
        if (d > best) best = d, chosen = static_cast<int>(j);
        const bool is_now =
            place.chosen < 0 ? Alike(place.values[j].colour, MedianAt(to)) : static_cast<int>(j) == place.chosen;
        if (is_now) now = std::max(now, d);
      }
      if (best < kShares || now > kSharesNot) return;
      place.chosen = chosen;
      is_known[to] = 1;
      known.push(to);
    });
  }
}

ClearView Scene::Answer() const {
  ClearView view{cell_, columns_, rows_, std::vector<std::uint64_t>(size_, 0),
                 cv::Mat(rows_, columns_, CV_8UC1, cv::Scalar(static_cast<double>(n_)))};
  for (std::size_t cell = 0; cell < size_; ++cell) {
    if (place_of_[cell] < 0) continue;
    const Place& place = places_[static_cast<std::size_t>(place_of_[cell])];
    if (place.chosen < 0) {
      view.shown.data[cell] = 0;  // contested, and what was seen does not tell whose it is
      continue;
    }
    const Value value = place.values[static_cast<std::size_t>(place.chosen)];
    // What the median shows anyway stays as it is.
    if (!Alike(value.colour, MedianAt(cell))) view.pictures[cell] = value.pictures;
    view.shown.data[cell] = static_cast<std::uint8_t>(std::popcount(value.pictures));
  }
  return view;
}

}  // namespace

ClearView FindClearView(const std::vector<Picture>& pictures, const LaneSetup* lanes) {
  if (pictures.size() < 5 || pictures.size() > 64) return {};
  Scene scene(pictures);
  if (scene.empty()) return {};
  scene.Contest();
  scene.Grow();
  scene.KeepSmall();
  scene.Judge();
  if (lanes != nullptr) scene.Know(*lanes);
  return scene.Answer();
}

}  // namespace hookline::setup
