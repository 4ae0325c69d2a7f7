#include "track/disc_fit.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/core/utility.hpp>
#include <vector>

#include "lane/units.h"
#include "track/colour_mix.h"

namespace hookline::track {
namespace {

constexpr int kBins = 24;  // of the rim, for seen_share
// What is not the background, or the ball: more than noise, codecs and soft shade make, grey levels.
constexpr double kOther = 16;       // of a pixel
constexpr double kOtherMean = 10;   // of a patch of them, in luma and chroma ...
constexpr double kOtherStep = 0.5;  // ... where that is this share of the step from background to ball, too
constexpr double kReach = 3.2;      // blur widths beyond which the edge's profile is flat
constexpr std::size_t kRimSamples = 520,
                      kOtherSamples = 300;  // of one channel; more of them cost time and bring nothing
constexpr std::size_t kRoughThinning = 3;   // of both, for a rough fit
constexpr double kStrideRadius = 10;        // px, of a disc per step from pixel to pixel in a rough fit
constexpr double kColoured = 40;  // of chroma between ball and background, from which mixing is a matter of colour

// Phi, its derivative and its integral, tabulated.
struct Profile {
  static constexpr int kSteps = 512;
  struct Entry {
    float area, density, integral, unused;
  };
  std::array<Entry, kSteps + 2> table{};
  Profile() {
    for (std::size_t i = 0; i < table.size(); ++i) {
      const double x = (2.0 * static_cast<double>(i) / kSteps - 1) * kReach;
      const double phi = 0.5 * std::erfc(-x / std::sqrt(2.0)), d = std::exp(-0.5 * x * x) / std::sqrt(2 * lane::kPi);
      table[i] = {static_cast<float>(phi), static_cast<float>(d), static_cast<float>(x * phi + d), 0};
    }
  }
  struct At {
    double area, density, integral;
  };
  At operator()(double x) const {
    if (x <= -kReach) return {0, 0, 0};
    if (x >= kReach) return {1, 0, x};
    const double t = (x / kReach + 1) * (0.5 * kSteps);
    const int i = static_cast<int>(t);
    const double f = t - i;
    const Entry &a = table[static_cast<std::size_t>(i)], &b = table[static_cast<std::size_t>(i) + 1];
    return {a.area + f * (b.area - a.area), a.density + f * (b.density - a.density),
            a.integral + f * (b.integral - a.integral)};
  }
};

const Profile& EdgeProfile() {
  static const Profile profile;
  return profile;
}

// Coverage of a pixel by the disc and its derivatives by centre and radius.
struct Cover {
  double a = 0, du = 0, dv = 0, dr = 0;
  bool outside = false;  // altogether
};

// The way across the rim during the exposure is a box along the rim's normal, convolved with the blur; the way along
// the rim only matters to second order (a tenth of a pixel for 7 px of it at a radius of 20).
class Rim {
 public:
  // A blurred disc's half-way contour lies inside its rim by blur^2 / (2 radius).
  Rim(double radius, double blur, const Eigen::Vector2d& motion)
      : profile_(EdgeProfile()),
        contour_(radius - 0.5 * blur * blur / radius),
        inverse_(1 / blur),
        motion_(0.5 * motion) {
    const double band = kReach * blur + motion_.norm(), near = std::max(0.0, contour_ - band), far = contour_ + band;
    near2_ = near * near, far2_ = far * far;
  }

  // At an offset from the centre.
  Cover operator()(double u, double v) const {
    Cover c;
    const double rho2 = u * u + v * v;
    if (rho2 >= far2_) {
      c.outside = true;
      return c;
    }
    if (rho2 <= near2_ || rho2 < 1e-12) {
      c.a = 1;
      return c;
    }
    const double rho = std::sqrt(rho2), x = (contour_ - rho) * inverse_;  // in blurs
    const double nu = u / rho, nv = v / rho, half = std::abs(nu * motion_.x() + nv * motion_.y()) * inverse_;
    if (std::abs(x) > kReach + half) {
      c.a = x > 0 ? 1 : 0;
      c.outside = x <= 0;
      return c;
    }
    if (half < 0.15) {
      const Profile::At at = profile_(x);
      c.a = at.area;
      c.dr = at.density * inverse_;
    } else {
      const Profile::At hi = profile_(x + half), lo = profile_(x - half);
      const double f = 0.5 / half;
      c.a = f * (hi.integral - lo.integral);
      c.dr = f * inverse_ * (hi.area - lo.area);
    }
    c.du = c.dr * nu, c.dv = c.dr * nv;
    return c;
  }

 private:
  const Profile& profile_;
  double contour_, inverse_;
  Eigen::Vector2d motion_;
  double near2_ = 0, far2_ = 0;
};

// Complete polynomials over the disc: their span does not depend on where the disc's centre is.
void Basis(double x, double y, int terms, double* b) {
  b[0] = 1;
  b[1] = x, b[2] = y;
  if (terms < 6) return;
  b[3] = x * x - y * y, b[4] = 2 * x * y, b[5] = x * x + y * y - 0.7;
  if (terms < 10) return;
  b[6] = x * (x * x - 3 * y * y), b[7] = y * (3 * x * x - y * y), b[8] = x * (x * x + y * y - 0.8),
  b[9] = y * (x * x + y * y - 0.8);
}

// Median of numbers that are counted in cells: asked for in each round of each fit, so not sorted.
template <std::size_t kCells>
class CountedMedian {
 public:
  void Add(std::size_t cell) { ++count_[cell], ++total_; }
  int total() const { return total_; }
  // In cells from the first one's lower end, numbers spread evenly over theirs; 0 of none.
  double Value() const {
    const int half = total_ / 2;
    int below = 0;
    for (std::size_t i = 0; i < kCells; ++i) {
      if (below + count_[i] > half) return static_cast<double>(i) + (half - below + 0.5) / count_[i];
      below += count_[i];
    }
    return 0;
  }

 private:
  std::array<int, kCells> count_{};
  int total_ = 0;
};

// 1.48 times the median of sizes, grey levels, to an eighth of one.
class RobustWidth {
 public:
  void Add(double size) { sizes_.Add(static_cast<std::size_t>(std::min(size, kMost) * kPerLevel)); }
  double Value() const { return sizes_.total() < 8 ? 1 : 1.4826 * sizes_.Value() / kPerLevel; }

 private:
  static constexpr double kMost = 63.9, kPerLevel = 8;
  CountedMedian<512> sizes_;
};

using RowMatrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

struct Channel {
  const ToneCurve* curve = nullptr;  // null: composed as it stands in the file
  std::vector<double> level;         // as seen, in the file
  int terms = 0;
  double blur = 0.75;
  double scale = 2;                // robust width of the residuals, grey levels
  std::vector<double> u, v;        // px, reference frame
  std::vector<double> seen, back;  // linear light where the model asks for it
  std::vector<double> whiten;      // grey levels per unit of that, at what is seen: keeps the colours a linear problem
  RowMatrix phi;                   // samples x terms
  Eigen::VectorXd f;               // terms and o
  std::size_t rim = 0;             // samples near the rim, the first ones
  std::vector<std::uint8_t> bin;   // of rim samples; empty where colours do not count
  std::array<MixExcess, kBins> excess{};
  // Of the latest round:
  std::vector<Cover> covers;
  RowMatrix design;  // samples x (terms + 1 + 3), whitened, and a column of zeros where that makes them even
  Eigen::VectorXd residual, weight;
  std::size_t size() const { return u.size(); }
};

class Fitter {
 public:
  Fitter(const Patch& patch, const DiscModel& model, const Eigen::Vector2d& start)
      : model_(model),
        round_motion_(model.round * model.motion),
        origin_(start),
        stride_(model.rough ? std::clamp(static_cast<int>(model.radius / kStrideRadius), 1, 4) : 1) {
    MaskOccluded(patch);
    const double r = model.radius;
    luma_.blur = model.blur;
    luma_.terms = r < 4.5 || model.rough ? 6 : 10;
    Collect(patch.luma, patch.back_luma, patch.gain, 0, patch.box, 1, luma_);
    if (patch.cb.empty() || patch.back_cb.empty() || !model.colour) return;
    // A chroma sample covers two luma pixels each way: its box adds (2^2 - 1) / 12 px^2.
    cb_.blur = cr_.blur = std::sqrt(model.blur * model.blur + 0.25);
    cb_.terms = cr_.terms = r < 10 ? 3 : 6;
    Collect(patch.cb, patch.back_cb, 1, patch.cb_shift, patch.box, 2, cb_);
    Collect(patch.cr, patch.back_cr, 1, patch.cr_shift, patch.box, 2, cr_);
    if (model.linear_light) CollectBehind(patch);
  }

  DiscFit Run(const Eigen::Vector2d& start) {
    DiscFit fit;
    if (luma_.size() < 30) return fit;
    Eigen::Vector3d p(start.x(), start.y(), model_.radius);
    const bool free_radius = model_.radius_sd > 0;
    Eigen::Matrix3d normal = Eigen::Matrix3d::Identity();
    Eigen::Vector2d with_radius = Eigen::Vector2d::Zero();
    double step_size = 1e9;
    const double limit = std::clamp(0.35 * model_.radius, 0.8, 4.0);
    for (Channel* ch : {&luma_, &cb_, &cr_}) Begin(*ch, p);
    MixColours();
    // Wide at first: the start may be a pixel or two off.
    const int narrower = model_.near ? 0 : model_.rough ? 1 : 2, narrow = model_.near ? 1 : 2 * narrower;
    const int least = model_.near ? 2 : model_.rough ? 3 : 5, most = model_.rough ? 8 : 14;
    const double enough = model_.rough ? 0.1 : 0.015;
    for (int round = 0; round < most; ++round) {
      Eigen::Vector3d rhs = Eigen::Vector3d::Zero();
      normal.setZero();
      const double cut = round < narrower ? 1e9 : round < narrow ? 8 : 4.5;
      Solution parts[3];
      Channel* channels[3] = {&luma_, &cb_, &cr_};
      if (round == narrower || round == least) MixColours();
      for (int k = 0; k < 3; ++k) Add(*channels[k], p, cut, parts[k], normal, rhs);
      if (free_radius) {
        const double w = 1 / (model_.radius_sd * model_.radius_sd);
        normal(2, 2) += w;
        rhs(2) += w * (model_.radius - p(2));
      } else {
        with_radius = normal.col(2).head<2>();
        normal.row(2).setZero(), normal.col(2).setZero();
        normal(2, 2) = 1, rhs(2) = 0;
      }
      if (!(normal(0, 0) > 1e-9) || !(normal(1, 1) > 1e-9)) return fit;
      Eigen::Matrix3d damped = normal;
      damped.diagonal().head<2>() *= 1.01;
      Eigen::Vector3d step = damped.ldlt().solve(rhs);
      if (!step.allFinite()) return fit;
      const double n = step.head<2>().norm();
      if (n > limit) step *= limit / n;
      for (int k = 0; k < 3; ++k)
        if (parts[k].used) channels[k]->f += parts[k].own - parts[k].side * step;
      p += step;
      fit.iterations = round + 1;
      step_size = step.norm();
      if ((p.head<2>() - start).norm() > 1.2 * model_.radius + 3) return fit;
      if (p(2) < 0.5 * model_.radius || p(2) > 1.6 * model_.radius) return fit;
      if (round >= least && step_size < enough) break;
    }
    const Eigen::Matrix3d covariance = normal.inverse();
    if (!covariance.allFinite() || covariance(0, 0) <= 0 || covariance(1, 1) <= 0) return fit;
    fit.p = p.head<2>();
    fit.covariance = covariance.topLeftCorner<2, 2>();
    fit.by_radius_u = -fit.covariance.row(0).dot(with_radius);
    fit.radius = p(2);
    fit.radius_sd = free_radius ? std::sqrt(covariance(2, 2)) : 0;
    fit.rms = luma_.scale;
    Judge(p, fit);
    fit.ok = step_size < 0.2;
    return fit;
  }

 private:
  static constexpr int kMostOwn = 11;  // unknowns of one channel
  struct Solution {
    bool used = false;
    Eigen::Matrix<double, Eigen::Dynamic, 1, 0, kMostOwn, 1> own;   // change of f with the centre held
    Eigen::Matrix<double, Eigen::Dynamic, 3, 0, kMostOwn, 3> side;  // ... and by how much less for a step of the centre
  };

  static std::size_t Bin(const Eigen::Vector2d& d) {
    const float degrees = cv::fastAtan2(static_cast<float>(d.y()), static_cast<float>(d.x()));
    return static_cast<std::size_t>((static_cast<double>(degrees) / 360 + 0.5) * kBins) % kBins;
  }

  // Directions in which not the background stands beside the ball (a leg in front, another ball, a strong shadow):
  // neither side of the rim can be told there. Looked at some pixels beyond the rim, as the start may be a pixel or two
  // off. How far off the background the surroundings may be goes with what the ball itself is off it: a dark leg over a
  // dim lane is 10 levels off, and draws a dark ball's rim to itself by a pixel.
  void MaskOccluded(const Patch& patch) {
    const double r = model_.radius, from = r + 2.5 + 0.06 * r + 0.5 * model_.motion.norm(),
                 to = from + std::max(2.5, 0.12 * r), in = 0.6 * r;
    struct Beside {
      int asked = 0, other = 0;
      Eigen::Vector3d off = Eigen::Vector3d::Zero(), back = Eigen::Vector3d::Zero();  // sums of y, cb, cr
    };
    std::array<Beside, kBins> beside{};
    std::array<CountedMedian<256>, 3> ball;
    const bool colour = !patch.cb.empty() && !patch.back_cb.empty() && model_.colour;
    const auto at = [](const cv::Mat& m, int row, int col) { return m.at<std::uint8_t>(row, col); };
    for (int row = 0; row < patch.luma.rows; row += stride_)
      for (int col = 0; col < patch.luma.cols; col += stride_) {
        const Eigen::Vector2d d(patch.box.x + col - origin_.x(), patch.box.y + row - origin_.y());
        const double rho2 = d.squaredNorm();
        const int row2 = row / 2, col2 = col / 2;  // of chroma
        if (rho2 < in * in) {
          if ((row | col) & 1) continue;  // one in four is enough
          ball[0].Add(at(patch.luma, row, col));
          if (colour) ball[1].Add(at(patch.cb, row2, col2)), ball[2].Add(at(patch.cr, row2, col2));
          continue;
        }
        if (rho2 < from * from || rho2 > to * to) continue;
        Beside& b = beside[Bin(d)];
        Eigen::Vector3d seen(at(patch.luma, row, col), 0, 0),
            back(static_cast<double>(patch.gain) * at(patch.back_luma, row, col), 0, 0);
        if (colour) {
          seen.tail<2>() << at(patch.cb, row2, col2), at(patch.cr, row2, col2);
          back.tail<2>() << at(patch.back_cb, row2, col2) + static_cast<double>(patch.cb_shift),
              at(patch.back_cr, row2, col2) + static_cast<double>(patch.cr_shift);
        }
        ++b.asked;
        b.other += std::abs(seen[0] - back[0]) > kOther;
        b.off += seen - back, b.back += back;
      }
    // A level's cell reaches half a level to both sides of it.
    const Eigen::Vector3d of_ball = Eigen::Vector3d(ball[0].Value(), ball[1].Value(), ball[2].Value()).array() - 0.5;
    for (std::size_t i = 0; i < kBins; ++i) {
      const Beside& b = beside[i];
      if (b.asked == 0) continue;
      const double step = (of_ball - b.back / b.asked).head(colour ? 3 : 1).norm();
      masked_[i] = b.other > 0.5 * b.asked || b.off.norm() > std::max(kOtherMean, kOtherStep * step) * b.asked;
      any_masked_ = any_masked_ || masked_[i];
    }
  }

  void Collect(const cv::Mat& seen, const cv::Mat& back, float gain, float shift, const cv::Rect& box, int cell,
               Channel& ch) const {
    const double middle = (cell - 1) / 2.0, r = model_.radius, moved = 0.5 * model_.motion.norm();
    const double out = r + std::max(3.0, 0.22 * r) + moved;
    const double in =
        r < 9 ? -1 : 0.5 * r;  // the inside of a large ball says nothing of its rim, only its texture disturbs
    const double band = 1.5 + 1.5 * ch.blur + moved;
    struct Place {
      int row, col;
    };
    std::vector<Place> rim, other;
    const int stride = std::max(1, stride_ / cell);
    for (int row = 0; row < seen.rows; row += stride)
      for (int col = 0; col < seen.cols; col += stride) {
        const Eigen::Vector2d d(box.x + cell * col + middle - origin_.x(), box.y + cell * row + middle - origin_.y());
        const double rho2 = (model_.round * d).squaredNorm();
        if (rho2 > out * out || (in > 0 && rho2 < in * in)) continue;
        const double rho = std::sqrt(rho2);
        // 55 degrees to either side of the contact point, from a little inside the rim outwards.
        if (rho > r - 2 * ch.blur - moved - 1 && d.dot(model_.down) > 0.574 * rho) continue;
        if (any_masked_ && rho > 0.5 * r && masked_[Bin(d)]) continue;
        (std::abs(rho - r) < band ? rim : other).push_back({row, col});
      }
    // Thinned by even steps through the rows, which keeps them spread around the disc.
    const auto thin = [](std::vector<Place>& places, std::size_t most) {
      if (places.size() <= most) return;
      const double step = static_cast<double>(places.size()) / static_cast<double>(most);
      for (std::size_t i = 0; i < most; ++i)
        places[i] = places[static_cast<std::size_t>(static_cast<double>(i) * step)];
      places.resize(most);
    };
    const std::size_t share = (cell == 1 ? 1 : 2) * (model_.rough ? kRoughThinning : 1);
    thin(rim, kRimSamples / share);
    thin(other, kOtherSamples / share);
    ch.rim = rim.size();
    rim.insert(rim.end(), other.begin(), other.end());
    const std::size_t n = rim.size();
    ch.u.resize(n), ch.v.resize(n), ch.seen.resize(n), ch.back.resize(n), ch.whiten.assign(n, 1.0);
    ch.phi.resize(static_cast<Eigen::Index>(n), ch.terms);
    ch.curve = cell == 1 && model_.linear_light ? &UsualCurve() : nullptr;
    ch.level.resize(n);
    for (std::size_t i = 0; i < n; ++i) {
      const Place& at = rim[i];
      ch.u[i] = box.x + cell * at.col + middle + (cell == 2 ? model_.chroma_at.x() : 0);
      ch.v[i] = box.y + cell * at.row + middle + (cell == 2 ? model_.chroma_at.y() : 0);
      double s = seen.at<std::uint8_t>(at.row, at.col),
             b = gain * static_cast<float>(back.at<std::uint8_t>(at.row, at.col)) + shift;
      ch.level[i] = s;
      if (ch.curve) {
        ch.whiten[i] = ch.curve->Slope(ch.curve->Linear(s));
        s = ch.curve->Linear(s);
        b = ch.curve->Linear(b);
      }
      ch.seen[i] = s, ch.back[i] = b;
      double basis[10];
      Basis((ch.u[i] - origin_.x()) / r, (ch.v[i] - origin_.y()) / r, ch.terms, basis);
      for (int k = 0; k < ch.terms; ++k) ch.phi(static_cast<Eigen::Index>(i), k) = basis[k];
    }
    ch.covers.resize(n);
    ch.design.setZero(static_cast<Eigen::Index>(n), (ch.terms + 5) / 2 * 2);
    ch.residual.resize(static_cast<Eigen::Index>(n));
    ch.weight = Eigen::VectorXd::Ones(static_cast<Eigen::Index>(n));
    ch.f = Eigen::VectorXd::Zero(ch.terms + 1);
  }

  // A chroma sample is the mean of four pixels, covered differently: what colour adds to the mix goes with a (1 - a),
  // whose mean over them is smaller by the spread of a.
  double Evenness(const Channel& ch, const Cover& c) const {
    if (&ch == &luma_) return 1;
    const double whole = c.a * (1 - c.a);
    return whole > 1e-3 ? std::max(0.0, 1 - 0.25 * c.dr * c.dr / whole) : 0;
  }

  // Background's mean colour beside each bin of the rim. Samples of cb and cr are the same pixels.
  void CollectBehind(const Patch& patch) {
    if (luma_.rim < 12 || cb_.rim < 12 || cr_.rim != cb_.rim) return;
    std::array<double, kBins> count{};
    Colour all{0, 0, 0};
    behind_.fill({0, 0, 0});
    for (std::size_t i = 0; i < cb_.rim; ++i) {
      const int row = static_cast<int>(std::floor(cb_.v[i] - model_.chroma_at.y())) - patch.box.y,
                col = static_cast<int>(std::floor(cb_.u[i] - model_.chroma_at.x())) - patch.box.x;
      const cv::Mat& y = patch.back_luma;
      const double sum = y.at<std::uint8_t>(row, col) + y.at<std::uint8_t>(row, col + 1) +
                         y.at<std::uint8_t>(row + 1, col) + y.at<std::uint8_t>(row + 1, col + 1);
      const std::size_t bin = Bin({cb_.u[i] - origin_.x(), cb_.v[i] - origin_.y()});
      for (Colour* c : {&behind_[bin], &all}) c->y += patch.gain * sum / 4, c->cb += cb_.back[i], c->cr += cr_.back[i];
      count[bin] += 1;
    }
    const auto mean = [](const Colour& c, double n) { return Colour{c.y / n, c.cb / n, c.cr / n}; };
    all_behind_ = mean(all, static_cast<double>(cb_.rim));
    for (std::size_t k = 0; k < kBins; ++k) behind_[k] = count[k] > 0 ? mean(behind_[k], count[k]) : all_behind_;
    colours_ = true;
  }

  // What colour adds to the mix at the rim, by the colours found so far.
  void MixColours() {
    if (!colours_ || !luma_.f.allFinite() || !cb_.f.allFinite() || !cr_.f.allFinite()) return;
    // Of a ball that is not coloured luma alone tells nearly the same, and with less noise.
    if (luma_.bin.empty() && std::hypot(all_behind_.cb - cb_.f[0], all_behind_.cr - cr_.f[0]) < kColoured) {
      colours_ = false;
      return;
    }
    if (luma_.bin.empty())
      for (Channel* ch : {&luma_, &cb_, &cr_}) {
        ch->bin.resize(ch->rim);
        for (std::size_t i = 0; i < ch->rim; ++i)
          ch->bin[i] = static_cast<std::uint8_t>(Bin({ch->u[i] - origin_.x(), ch->v[i] - origin_.y()}));
      }
    const ToneCurve& curve = UsualCurve();
    for (std::size_t k = 0; k < kBins; ++k) {
      const double angle = ((static_cast<double>(k) + 0.5) / kBins - 0.5) * 2 * lane::kPi;
      double basis[10];
      Basis(0.95 * std::cos(angle), 0.95 * std::sin(angle), luma_.terms, basis);
      const auto at_rim = [&](const Channel& ch) {
        return Eigen::Map<const Eigen::VectorXd>(basis, ch.terms).dot(ch.f.head(ch.terms));
      };
      const Colour& b = behind_[k];
      const ColourExcess e = ExcessOf(
          {curve.Level(curve.Linear(b.y) + luma_.f[luma_.terms]), b.cb + cb_.f[cb_.terms], b.cr + cr_.f[cr_.terms]},
          {curve.Level(at_rim(luma_)), at_rim(cb_), at_rim(cr_)});
      luma_.excess[k] = e.y, cb_.excess[k] = e.cb, cr_.excess[k] = e.cr;
    }
  }

  // Coverage, design and residuals at p with the present f, for a fixed number of terms.
  template <int Terms>
  void EvaluateTerms(Channel& ch, const Eigen::Vector3d& p) const {
    using Row = Eigen::Matrix<double, Terms, 1>;
    const Row colours = ch.f.head<Terms>();
    const double offset = ch.f[Terms];
    const Rim rim(p(2), ch.blur, round_motion_);
    for (std::size_t i = 0; i < ch.size(); ++i) {
      const Eigen::Index row = static_cast<Eigen::Index>(i);
      const Eigen::Vector2d at = model_.round * Eigen::Vector2d(ch.u[i] - p(0), ch.v[i] - p(1));
      const Cover c = ch.covers[i] = rim(at.x(), at.y());
      const Eigen::Vector2d slope = model_.round * Eigen::Vector2d(c.du, c.dv);
      const Eigen::Map<const Row> phi(&ch.phi(row, 0));
      const double inside = phi.dot(colours);
      const double outside = ch.back[i] + offset, w = ch.whiten[i];
      double step = inside - outside, more = 0;
      if (i < ch.bin.size() && c.dr > 0) {
        const MixExcess& excess = ch.excess[ch.bin[i]];
        const double even = Evenness(ch, c);
        more = even * excess.At(c.a), step += even * excess.Slope(c.a);
      }
      step *= w;
      ch.residual[row] = w * (ch.seen[i] - c.a * inside - (1 - c.a) * outside - more);
      double* design = &ch.design(row, 0);
      Eigen::Map<Row> colour_part(design);
      colour_part = (w * c.a) * phi;
      design[Terms] = w * (1 - c.a);
      design[Terms + 1] = step * slope.x();
      design[Terms + 2] = step * slope.y();
      design[Terms + 3] = step * c.dr;
    }
  }

  void Evaluate(Channel& ch, const Eigen::Vector3d& p) const {
    switch (ch.terms) {
      case 3:
        return EvaluateTerms<3>(ch, p);
      case 6:
        return EvaluateTerms<6>(ch, p);
      default:
        return EvaluateTerms<10>(ch, p);
    }
  }

  static void Reweigh(Channel& ch, double cut) {
    RobustWidth width;
    for (const double r : ch.residual) width.Add(std::abs(r));
    ch.scale = std::max(1.0, width.Value());
    if (cut > 1e8) {
      const double knee = 1.5 * ch.scale;
      for (Eigen::Index i = 0; i < ch.residual.size(); ++i) {
        const double r = std::abs(ch.residual[i]);
        ch.weight[i] = r > knee ? knee / r : 1;  // Huber
      }
    } else {
      const double inverse = 1 / (cut * ch.scale);
      for (Eigen::Index i = 0; i < ch.residual.size(); ++i) {
        const double x = ch.residual[i] * inverse, rest = std::max(0.0, 1 - x * x);
        ch.weight[i] = rest * rest;  // Tukey
      }
    }
  }

  // The linear part alone, three rounds, so that the first step of the centre meets sensible colours.
  template <int Terms>
  void BeginTerms(Channel& ch, const Eigen::Vector3d& p) const {
    constexpr int kOwn = Terms + 1, kColumns = (kOwn + 1) / 2 * 2;
    ch.f[0] = 100;
    EvaluateTerms<Terms>(ch, p);
    for (int round = 0; round < (model_.rough ? 2 : 3); ++round) {
      if (round > 0) Reweigh(ch, 1e9);
      Eigen::Matrix<double, kColumns, kColumns> a;
      Eigen::Matrix<double, kColumns, 1> b;
      Gather<kColumns>(ch, a, b);
      AddPriors<Terms>(ch, a, b);
      const Eigen::Matrix<double, kOwn, 1> own =
          a.template topLeftCorner<kOwn, kOwn>().ldlt().solve(b.template head<kOwn>());
      ch.f += own;
      // The centre stays, and what colour adds at the rim is not known yet: the rest is linear.
      for (Eigen::Index i = 0; i < ch.residual.size(); ++i)
        ch.residual[i] -= Eigen::Map<const Eigen::Matrix<double, kOwn, 1>>(&ch.design(i, 0)).dot(own);
    }
  }

  void Begin(Channel& ch, const Eigen::Vector3d& p) const {
    if (ch.size() < 12) return;
    switch (ch.terms) {
      case 3:
        return BeginTerms<3>(ch, p);
      case 6:
        return BeginTerms<6>(ch, p);
      default:
        return BeginTerms<10>(ch, p);
    }
  }

  void Add(Channel& ch, const Eigen::Vector3d& p, double cut, Solution& s, Eigen::Matrix3d& normal,
           Eigen::Vector3d& rhs) {
    if (ch.size() < 12) return;
    Evaluate(ch, p);
    Reweigh(ch, cut);
    Reduce(ch, s, normal, rhs);
  }

  // The lower half of w d d', two columns at a time.
  template <int Column, typename Sum, typename Row, typename Weighted>
  static void AddLower(Sum& sum, const Row& row, const Weighted& weighted) {
    constexpr int kRows = Sum::RowsAtCompileTime - Column;
    if constexpr (kRows > 0) {
      const auto tail = row.template tail<kRows>();
      sum.col(Column).template tail<kRows>() += weighted[Column] * tail;
      sum.col(Column + 1).template tail<kRows>() += weighted[Column + 1] * tail;
      AddLower<Column + 2>(sum, row, weighted);
    }
  }

  // Weighted sums d d' and d r over the rows of an even, fixed number of columns: the dearest loop of the tracker.
  template <int Columns>
  static void Gather(const Channel& ch, Eigen::Matrix<double, Columns, Columns>& a,
                     Eigen::Matrix<double, Columns, 1>& b) {
    Eigen::Matrix<double, Columns, Columns> sum = Eigen::Matrix<double, Columns, Columns>::Zero();
    Eigen::Matrix<double, Columns, 1> right = Eigen::Matrix<double, Columns, 1>::Zero();
    double offset = 0, offset_right = 0;
    for (Eigen::Index i = 0; i < ch.design.rows(); ++i) {
      const double w = ch.weight[i];
      if (w <= 0) continue;
      const double* from = &ch.design(i, 0);
      // Outside the disc only the offset is asked for.
      if (ch.covers[static_cast<std::size_t>(i)].outside) {
        const double weighted = w * from[ch.terms];
        offset += weighted * from[ch.terms], offset_right += weighted * ch.residual[i];
        continue;
      }
      const Eigen::Map<const Eigen::Matrix<double, Columns, 1>> row(from);
      const Eigen::Matrix<double, Columns, 1> weighted = w * row;
      AddLower<0>(sum, row, weighted);
      right += ch.residual[i] * weighted;
    }
    sum(ch.terms, ch.terms) += offset;
    right[ch.terms] += offset_right;
    a = sum.template selfadjointView<Eigen::Lower>();
    b = right;
  }

  // Weak priors keep the linear part determined where an arc is missing: 3 grey levels for o, 80 to 15 for the rising
  // terms.
  template <int Terms, typename Matrix, typename Vector>
  static void AddPriors(const Channel& ch, Matrix& a, Vector& b) {
    const double variance = ch.scale * ch.scale;
    for (int i = 0; i <= Terms; ++i) {
      const double sd = i == Terms ? 3 : i == 0 ? 1000 : i < 3 ? 80 : i < 6 ? 40 : 15;
      a(i, i) += variance / (sd * sd);
      b[i] -= variance / (sd * sd) * ch.f[i];
    }
  }

  // Whitened normal equations of one channel; its own unknowns are eliminated (Schur complement).
  template <int Terms>
  static void ReduceTerms(const Channel& ch, Solution& s, Eigen::Matrix3d& normal, Eigen::Vector3d& rhs) {
    constexpr int kOwn = Terms + 1, kColumns = (Terms + 5) / 2 * 2;
    Eigen::Matrix<double, kColumns, kColumns> a;
    Eigen::Matrix<double, kColumns, 1> b;
    Gather<kColumns>(ch, a, b);
    AddPriors<Terms>(ch, a, b);
    const Eigen::LDLT<Eigen::Matrix<double, kOwn, kOwn>> solver(a.template topLeftCorner<kOwn, kOwn>());
    const Eigen::Matrix<double, kOwn, 3> cross = a.template block<kOwn, 3>(0, kOwn);
    s.used = true;
    s.own = solver.solve(b.template head<kOwn>());
    s.side = solver.solve(cross);
    const double white = 1 / (ch.scale * ch.scale);
    normal += white * (a.template block<3, 3>(kOwn, kOwn) - cross.transpose() * s.side);
    rhs += white * (b.template segment<3>(kOwn) - cross.transpose() * s.own);
  }

  static void Reduce(const Channel& ch, Solution& s, Eigen::Matrix3d& normal, Eigen::Vector3d& rhs) {
    switch (ch.terms) {
      case 3:
        return ReduceTerms<3>(ch, s, normal, rhs);
      case 6:
        return ReduceTerms<6>(ch, s, normal, rhs);
      default:
        return ReduceTerms<10>(ch, s, normal, rhs);
    }
  }

  void Judge(const Eigen::Vector3d& p, DiscFit& fit) {
    // Per bin of the rim: does the step there stand out, and does the picture follow it.
    std::array<double, kBins> asked{}, agreed{}, signal{};
    double cost_count = 0;
    for (Channel* ch : {&luma_, &cb_, &cr_}) {
      if (ch->size() < 12) continue;
      Evaluate(*ch, p);
      for (std::size_t i = 0; i < ch->size(); ++i) {
        const Eigen::Vector2d d(ch->u[i] - p(0), ch->v[i] - p(1));
        const Eigen::Index row = static_cast<Eigen::Index>(i);
        if (std::abs((model_.round * d).norm() - p(2)) > 1.5 + 0.12 * p(2)) continue;
        const double inside = ch->phi.row(row).dot(ch->f.head(ch->terms)), outside = ch->back[i] + ch->f[ch->terms];
        const double sigma = std::max(ch->scale, 1.5);
        const double step =
            (ch->curve ? ch->curve->Level(inside) - ch->curve->Level(outside) : inside - outside) / sigma;
        const double r = ch->residual[row] / sigma;
        // In grey levels of the file whatever the tone curve, so that the two ways of composing can be compared.
        const double a = ch->covers[i].a,
                     model = a * inside + (1 - a) * outside +
                             (i < ch->bin.size() ? Evenness(*ch, ch->covers[i]) * ch->excess[ch->bin[i]].At(a) : 0);
        const double off = ch->level[i] - (ch->curve ? ch->curve->Level(model) : model);
        fit.cost += std::min(off * off, 900.0), cost_count += 1;
        const std::size_t bin = Bin(d);
        asked[bin] += 1;
        signal[bin] += step * step;
        // A residual as large as a third of the step itself means something else is there.
        if (std::abs(r) < std::max(2.5, 0.35 * std::abs(step))) agreed[bin] += 1;
      }
    }
    double bins = static_cast<double>(std::count(masked_.begin(), masked_.end(), true)), seen = 0, power = 0, count = 0;
    for (std::size_t i = 0; i < kBins; ++i) {
      if (asked[i] < 1) continue;
      bins += 1;
      power += signal[i], count += asked[i];
      if (agreed[i] > 0.7 * asked[i] && signal[i] > 2.0 * asked[i]) seen += 1;
    }
    fit.cost = cost_count > 0 ? fit.cost / cost_count + 1 : 1e3;
    fit.seen_share = bins > 0 ? seen / bins : 0;
    fit.contrast = count > 0 ? std::sqrt(power / count) : 0;
  }

  DiscModel model_;
  Eigen::Vector2d round_motion_;
  Eigen::Vector2d origin_;
  int stride_ = 1;  // px, rows and columns looked at
  Channel luma_, cb_, cr_;
  std::array<bool, kBins> masked_{};
  bool colours_ = false;
  std::array<Colour, kBins> behind_{};
  Colour all_behind_;
  bool any_masked_ = false;
};

}  // namespace

DiscFit FitDisc(const Patch& patch, const Eigen::Vector2d& start, const DiscModel& model) {
  if (model.radius < 1.5) return {};
  Fitter fitter(patch, model, start);
  return fitter.Run(start);
}

}  // namespace hookline::track
