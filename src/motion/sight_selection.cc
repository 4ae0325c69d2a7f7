#include "motion/sight_selection.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <string>

#include "camera/projection.h"
#include "lane/lane_spec.h"

namespace hookline::motion {
namespace {

// A ball that has touched the head pin lies within this of its spot: its own radius and the pin's at about the ball's
// centre height.
constexpr double kTouch = (lane::kBallDiameter + lane::kPinMaxDiameter) / 2;

// Before the sights the ball goes faster by what the oil takes off it (facts: 0.04 on oil).
constexpr double kOilSlows = 0.04 * lane::kStandardGravity;

double Polynomial(const Eigen::Vector4d& c, double t) { return c[0] + t * (c[1] + t * (c[2] + t * c[3])); }
double Slope(const Eigen::Vector4d& c, double t) { return c[1] + t * (2 * c[2] + t * 3 * c[3]); }

double Median(std::vector<double> v) {
  const auto middle = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
  std::nth_element(v.begin(), middle, v.end());
  return *middle;
}

// Least absolute residuals by reweighting, then a cut-off loss; `sd` are those of the values. Up to `order` + 1
// coefficients.
Eigen::Vector4d FitRobust(const std::vector<double>& t, const std::vector<double>& value, const std::vector<double>& sd,
                          int order) {
  const auto n = static_cast<Eigen::Index>(t.size());
  std::vector<double> weight(t.size(), 1.0);
  Eigen::Vector4d c = Eigen::Vector4d::Zero();
  for (int round = 0; round < 30; ++round) {
    Eigen::MatrixXd a(n, order + 1);
    Eigen::VectorXd b(n);
    for (Eigen::Index i = 0; i < n; ++i) {
      const auto k = static_cast<std::size_t>(i);
      const double w = std::sqrt(weight[k]) / sd[k];
      double power = w;
      for (int j = 0; j <= order; ++j, power *= t[k]) a(i, j) = power;
      b[i] = w * value[k];
    }
    c.head(order + 1) = a.colPivHouseholderQr().solve(b);
    std::vector<double> residual(t.size());
    for (std::size_t k = 0; k < t.size(); ++k) residual[k] = std::abs(value[k] - Polynomial(c, t[k])) / sd[k];
    const double spread = std::max(1.4826 * Median(residual), 1e-6);
    for (std::size_t k = 0; k < t.size(); ++k) {
      const double r = residual[k] / spread;
      weight[k] = round < 15 ? 1 / std::max(r, 0.1) : 1 / ((1 + r * r / 9) * (1 + r * r / 9));
    }
  }
  return c;
}

// sd of the contact point by the sight's covariance, by a difference of one tenth of a pixel.
std::optional<Eigen::Vector2d> ContactSd(const CameraModel& camera, const LaneSight& sight, double ball_radius) {
  Eigen::Matrix2d by_pixel;
  for (int k = 0; k < 2; ++k) {
    Eigen::Vector2d moved = sight.p_in_image;
    // Towards the bottom of the picture: away from the horizon, where the ray might miss the lane.
    moved[k] += 0.1;
    const auto c = camera::ContactFromImage(camera, moved, ball_radius);
    if (!c) return std::nullopt;
    by_pixel.col(k) = (*c - sight.contact) / 0.1;
  }
  const Eigen::Matrix2d covariance = by_pixel * sight.covariance * by_pixel.transpose();
  return Eigen::Vector2d(covariance.diagonal().cwiseMax(1e-12).cwiseSqrt());
}

}  // namespace

Eigen::Vector2d RoughPath::At(double time_s) const {
  return {Polynomial(x, time_s - middle_s), Polynomial(y, time_s - middle_s)};
}

Eigen::Vector2d RoughPath::VelocityAt(double time_s) const {
  return {Slope(x, time_s - middle_s), Slope(y, time_s - middle_s)};
}

Result<SelectedSights> SelectSights(const Track& track, const LaneSetup& setup, double ball_radius, int least,
                                    const Readout& readout) {
  const auto too_few = [&](std::size_t n) {
    return Status(StatusCode::kNotDetermined, "The ball was seen on the lane in only " + std::to_string(n) +
                                                  " pictures; " + std::to_string(least) + " are needed for a path.");
  };
  SelectedSights out;
  std::vector<LaneSight> all;
  for (std::size_t i = 0; i < track.sights.size(); ++i) {
    const BallSight& s = track.sights[i];
    if (track.release_s && s.time_s < *track.release_s) continue;
    if (track.pin_contact_s && s.time_s >= *track.pin_contact_s) continue;
    if (track.gutter_s && s.time_s >= *track.gutter_s) continue;
    if (!s.p_in_image.allFinite() || !s.covariance.allFinite() || s.covariance.determinant() <= 0) continue;
    LaneSight q;
    q.index = i;
    q.time_s = s.time_s + readout.LagAt(s.p_in_image, setup.camera.width, setup.camera.height);
    q.p_in_image = s.p_in_image;
    q.covariance = s.covariance;
    q.lasting_sd = s.lasting_sd;
    q.by_radius_u = s.by_radius_u;
    q.radius_px = s.radius_px;
    q.in_air = s.in_air;
    const auto contact = camera::ContactFromImage(setup.camera, s.p_in_image, ball_radius);
    if (!contact || contact->y() < -3 || contact->y() > lane::kPitY || std::abs(contact->x()) > 2 * setup.lane.width)
      continue;
    q.contact = *contact;
    const auto sd = ContactSd(setup.camera, q, ball_radius);
    if (!sd) continue;
    q.contact_sd = *sd;
    all.push_back(q);
  }
  std::stable_sort(all.begin(), all.end(), [](const LaneSight& a, const LaneSight& b) { return a.time_s < b.time_s; });
  const auto need = static_cast<std::size_t>(least);
  if (all.size() < need) return too_few(all.size());

  // Off the lane for good: this sight and most of the following ones lie beyond the same edge.
  const double edge = setup.lane.width / 2;
  for (std::size_t i = 0; i < all.size(); ++i) {
    const double side = all[i].contact.x() > 0 ? 1 : -1;
    if (all[i].contact.x() * side <= edge) continue;
    std::size_t beyond = 0, looked = 0;
    for (std::size_t j = i; j < all.size() && looked < 8; ++j, ++looked)
      beyond += all[j].contact.x() * side > edge ? 1 : 0;
    if (looked < 3 || beyond * 4 < looked * 3) continue;
    out.left_lane_s = all[i].time_s;
    out.left_on_right = side > 0;
    all.resize(i);
    break;
  }
  if (track.gutter_s && !out.left_lane_s) {
    out.left_lane_s = track.gutter_s;
    out.left_on_right = track.end == TrackEnd::kGutterRight ||
                        (track.end != TrackEnd::kGutterLeft && !all.empty() && all.back().contact.x() > 0);
  }
  std::erase_if(all, [](const LaneSight& s) {
    const double dy = lane::kHeadPinY - s.contact.y();
    return dy < lane::MetresFromFeet(0.45) || std::hypot(s.contact.x(), dy) < kTouch;
  });
  if (all.size() < need) return too_few(all.size());

  out.rough.middle_s = (all.front().time_s + all.back().time_s) / 2;
  std::vector<double> t, x, y, sx, sy;
  // Taken as rolling, a ball in the air seems to lie farther down the lane: it would bend the rough path.
  const auto on_lane = std::count_if(all.begin(), all.end(), [](const LaneSight& s) { return !s.in_air; });
  if (on_lane < least) return too_few(static_cast<std::size_t>(on_lane));
  for (const LaneSight& s : all) {
    if (s.in_air) continue;
    t.push_back(s.time_s - out.rough.middle_s);
    x.push_back(s.contact.x());
    y.push_back(s.contact.y());
    // A few millimetres are what the polynomial itself lacks; without them near sights would bend it.
    sx.push_back(std::hypot(s.contact_sd.x(), 0.005));
    sy.push_back(std::hypot(s.contact_sd.y(), 0.02));
  }
  const int order = t.size() < 14 ? 2 : 3;
  out.rough.x = FitRobust(t, x, sx, order);
  out.rough.y = FitRobust(t, y, sy, order);
  std::size_t near = 0;
  for (std::size_t i = 0; i < all.size(); ++i) {
    const Eigen::Vector2d off = all[i].contact - out.rough.At(all[i].time_s);
    const double sd_x = std::hypot(all[i].contact_sd.x(), 0.005), sd_y = std::hypot(all[i].contact_sd.y(), 0.02);
    all[i].near_rough_path =
        !all[i].in_air && std::abs(off.x()) < std::max(8 * sd_x, 0.06) && std::abs(off.y()) < std::max(8 * sd_y, 0.25);
    near += all[i].near_rough_path ? 1 : 0;
  }
  if (near < need) return too_few(near);
  const Eigen::Vector2d v = out.rough.VelocityAt(out.rough.middle_s);
  const double gone = out.rough.At(all.back().time_s).y() - out.rough.At(all.front().time_s).y();
  if (v.y() < 1 || gone < 1)
    return Status(StatusCode::kNotDetermined,
                  "What was followed does not move down the lane like a ball, so no path was fitted.");
  out.sights = std::move(all);
  return out;
}

double RoughTimeAt(const SelectedSights& selected, double y) {
  const double first = selected.sights.front().time_s, last = selected.sights.back().time_s;
  const RoughPath& rough = selected.rough;
  const double y0 = rough.At(first).y(), y1 = rough.At(last).y();
  // A slope at the very end of a cubic is poor; the mean over a quarter of the sights is not.
  const double quarter = (last - first) / 4;
  if (y <= y0) {
    const double speed = std::max((rough.At(first + quarter).y() - y0) / quarter, 2.0) + kOilSlows * quarter / 2;
    return first - (std::sqrt(speed * speed + 2 * kOilSlows * (y0 - y)) - speed) / kOilSlows;
  }
  if (y >= y1) return last + (y - y1) / std::max((y1 - rough.At(last - quarter).y()) / quarter, 2.0);
  double lo = first, hi = last;
  for (int i = 0; i < 50; ++i) {
    const double mid = (lo + hi) / 2;
    (rough.At(mid).y() < y ? lo : hi) = mid;
  }
  return (lo + hi) / 2;
}

RoughSpeeds RoughSpeedsOf(const SelectedSights& selected) {
  const double first = selected.sights.front().time_s, last = selected.sights.back().time_s, third = (last - first) / 3;
  const auto speed = [&](double from_s) {
    return std::max((selected.rough.At(from_s + third).y() - selected.rough.At(from_s).y()) / third, 2.0);
  };
  return {speed(first), speed(last - third)};
}

}  // namespace hookline::motion
