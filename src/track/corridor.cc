#include "track/corridor.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "camera/projection.h"

namespace hookline::track {
namespace {

constexpr double kRim = 1.75;  // surroundings looked at, in ball radii

// The rectangle grown to multiples of 4 and cut to the picture (whose last odd rows and columns are given up).
cv::Rect Aligned(double left, double top, double right, double bottom, int width, int height) {
  const int l = std::clamp(static_cast<int>(std::floor(left)), 0, width) & ~3;
  const int t = std::clamp(static_cast<int>(std::floor(top)), 0, height) & ~3;
  const int r = std::min((std::clamp(static_cast<int>(std::ceil(right)) + 1, 0, width) + 3) & ~3, width & ~3);
  const int b = std::min((std::clamp(static_cast<int>(std::ceil(bottom)) + 1, 0, height) + 3) & ~3, height & ~3);
  return {l, t, std::max(0, r - l), std::max(0, b - t)};
}

}  // namespace

Corridor::Corridor(const LaneSetup& setup) : camera_(setup.camera), half_width_(setup.lane.width / 2) {
  struct Row {
    double y, radius;
    std::vector<std::pair<double, Eigen::Vector2d>> places;  // x and disc centre
  };
  std::vector<Row> lines;
  const double x_max = half_width_ + 0.85 * lane::kGutterWidth;
  double left = 1e9, top = 1e9, right = -1e9, bottom = -1e9, far_radius = 0;
  // Steps of a quarter of the radius down the picture: neighbouring discs then overlap by more than four fifths.
  for (double y = kFirstY; y < kLastY;) {
    Row row{y, RadiusPx({0, y}), {}};
    const auto here = Disc({0, y}), next = Disc({0, y + 0.01});
    if (!here || !next || row.radius < 1) {
      y += 0.1;
      continue;
    }
    const double slope = (*next - *here).norm() / 0.01;  // px per m down the lane
    if (std::abs(y - lane::kHeadPinY) < 0.5 || far_radius == 0) far_radius = row.radius;
    const auto side = Disc({0.1, y});
    const double across = side ? (*side - *here).norm() / 0.1 : 0;
    if (across <= 0 || slope <= 0) {
      y += 0.1;
      continue;
    }
    const double dx = std::max(row.radius / 3, 1.0) / across;
    const int n = static_cast<int>(std::ceil(x_max / dx));
    for (int i = -n; i <= n; ++i) {
      const double x = i * dx;
      const auto p = Disc({x, y});
      if (!p) continue;
      if (p->x() < 0 || p->y() < 0 || p->x() > camera_.width - 1 || p->y() > camera_.height - 1) continue;
      row.places.emplace_back(x, *p);
      left = std::min(left, p->x() - kRim * row.radius - 4);
      right = std::max(right, p->x() + kRim * row.radius + 4);
      top = std::min(top, p->y() - kRim * row.radius - 4);
      bottom = std::max(bottom, p->y() + kRim * row.radius + 4);
    }
    if (!row.places.empty()) lines.push_back(std::move(row));
    y += std::clamp(std::max(row.radius / 4, 1.0) / slope, 0.01, 1.5);
  }
  if (lines.empty()) return;

  // Standing pins: the deck's box up to a pin's height, for telling when the first one moves.
  double pl = 1e9, pt = 1e9, pr = -1e9, pb = -1e9;
  for (const double x : {-half_width_, half_width_})
    for (const double y : {lane::kHeadPinY - 0.06, lane::kHeadPinY + 0.85})
      for (const double z : {0.02, lane::kPinHeight}) {
        const auto p = camera::ImageFromLane(camera_, {x, y, z});
        if (!p) continue;
        pl = std::min(pl, p->x()), pr = std::max(pr, p->x());
        pt = std::min(pt, p->y()), pb = std::max(pb, p->y());
      }
  pins_ = Aligned(pl, pt, pr, pb, camera_.width, camera_.height);
  if (pins_.area() > 0) {
    left = std::min<double>(left, pins_.x), right = std::max<double>(right, pins_.x + pins_.width - 1);
    top = std::min<double>(top, pins_.y), bottom = std::max<double>(bottom, pins_.y + pins_.height - 1);
  }
  roi_ = Aligned(left, top, right, bottom, camera_.width, camera_.height);
  if (roi_.width < 16 || roi_.height < 16) {
    roi_ = {};
    return;
  }
  pins_ &= roi_;

  scale_ = far_radius >= 11 ? 4 : far_radius >= 3.2 ? 2 : 1;
  columns_ = roi_.width / scale_;
  rows_ = roi_.height / scale_;
  begin_.assign(static_cast<std::size_t>(rows_), columns_);
  end_.assign(static_cast<std::size_t>(rows_), 0);
  const double half_cell = (scale_ - 1) / 2.0;
  for (const Row& line : lines)
    for (const auto& [x, p] : line.places) {
      GridSpot s;
      s.u = static_cast<float>((p.x() - roi_.x - half_cell) / scale_);
      s.v = static_cast<float>((p.y() - roi_.y - half_cell) / scale_);
      s.radius = static_cast<float>(line.radius / scale_);
      s.x = static_cast<float>(x);
      s.y = static_cast<float>(line.y);
      const double reach = kRim * s.radius + 2;
      const int r0 = std::max(0, static_cast<int>(s.v - reach)),
                r1 = std::min(rows_ - 1, static_cast<int>(s.v + reach));
      const int c0 = std::max(0, static_cast<int>(s.u - reach)),
                c1 = std::min(columns_, static_cast<int>(s.u + reach) + 1);
      for (int r = r0; r <= r1; ++r) {
        auto& b = begin_[static_cast<std::size_t>(r)];
        auto& e = end_[static_cast<std::size_t>(r)];
        b = std::min(b, c0), e = std::max(e, c1);
      }
      spots_.push_back(s);
    }
  for (std::size_t r = 0; r < begin_.size(); ++r)
    if (begin_[r] > end_[r]) begin_[r] = end_[r] = 0;
}

std::optional<Eigen::Vector2d> Corridor::Disc(const Eigen::Vector2d& contact, double z) const {
  return camera::ImageFromLane(camera_, {contact.x(), contact.y(), z});
}

std::optional<Outline> Corridor::OutlineAt(const Eigen::Vector2d& contact) const {
  const Eigen::Vector3d p = camera::RotationFromAngleAxis<double>(camera_.rotation) *
                            (Eigen::Vector3d(contact.x(), contact.y(), kBallRadius) - camera_.position_in_lane);
  const double distance = p.norm();
  if (distance < 2 * kBallRadius || p.z() <= 0) return std::nullopt;
  const double half = std::asin(kBallRadius / distance), level = std::hypot(p.x(), p.y()),
               off = std::atan2(level, p.z());
  if (off + half > 1.3) return std::nullopt;
  const Eigen::Vector2d out = level > 1e-9 ? Eigen::Vector2d(p.head<2>() / level) : Eigen::Vector2d(1, 0);
  const double far = std::tan(off + half), near = std::tan(off - half), middle = (far + near) / 2;
  // (n . q)^2 = cos^2 a |q|^2 at q = (middle, y, 1), n = (sin t, 0, cos t).
  const double c = std::cos(half), along = std::sin(off) * middle + std::cos(off);
  const double across = std::sqrt(std::max(along * along / (c * c) - middle * middle - 1, 1e-12));
  const Eigen::Vector2d centre = middle * out;
  Eigen::Matrix2d px_from_plane, axes;
  constexpr double kStep = 1e-4;
  for (int k = 0; k < 2; ++k) {
    const Eigen::Vector2d d = kStep * Eigen::Vector2d::Unit(k);
    px_from_plane.col(k) =
        (camera::ImageFromNormalised(camera_, centre + d) - camera::ImageFromNormalised(camera_, centre - d)) /
        (2 * kStep);
  }
  axes.col(0) = (far - near) / 2 * out;
  axes.col(1) = across * Eigen::Vector2d(-out.y(), out.x());
  const Eigen::Matrix2d shape = px_from_plane * axes;
  const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> eigen(shape * shape.transpose());
  const Eigen::Vector2d reach = eigen.eigenvalues().cwiseSqrt();
  Outline o;
  o.radius = std::sqrt(reach.prod());
  o.round = eigen.eigenvectors() * (o.radius * reach.cwiseInverse()).asDiagonal() * eigen.eigenvectors().transpose();
  o.shift = camera::ImageFromNormalised(camera_, centre) - camera::ImageFromNormalised(camera_, p.head<2>() / p.z());
  return o;
}

double Corridor::RadiusPx(const Eigen::Vector2d& contact, double z) const {
  return camera::BallRadiusPx(camera_, {contact.x(), contact.y(), z}, kBallRadius);
}

std::optional<Eigen::Vector2d> Corridor::Contact(const Eigen::Vector2d& p_in_image) const {
  return camera::ContactFromImage(camera_, p_in_image, kBallRadius);
}

std::optional<Eigen::Matrix2d> Corridor::ContactJacobian(const Eigen::Vector2d& p) const {
  const Eigen::Vector2d du(0.5, 0), dv(0, 0.5);
  const auto u1 = Contact(p + du), u0 = Contact(p - du), v1 = Contact(p + dv), v0 = Contact(p - dv);
  if (!u1 || !u0 || !v1 || !v0) return std::nullopt;
  Eigen::Matrix2d j;
  j << *u1 - *u0, *v1 - *v0;
  return j;
}

Eigen::Vector2d Corridor::Down(const Eigen::Vector2d& contact) const {
  const auto a = Disc(contact), b = Disc(contact, 0);
  if (!a || !b || (*b - *a).norm() < 1e-9) return {0, 1};
  return (*b - *a).normalized();
}

}  // namespace hookline::track
