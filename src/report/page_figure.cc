#include "report/page_figure.h"

#include <cmath>

#include "lane/units.h"

namespace hookline::report {
namespace {

std::vector<Eigen::Vector2d> Polygon(const Eigen::Vector2d& centre, double radius, int corners, double first_rad) {
  std::vector<Eigen::Vector2d> out;
  for (int i = 0; i < corners; ++i) {
    const double a = first_rad + 2 * lane::kPi * i / corners;
    out.push_back(centre + radius * Eigen::Vector2d(std::cos(a), std::sin(a)));
  }
  return out;
}

}  // namespace

std::vector<Eigen::Vector2d> MarkerOutline(int shot_ink, const Eigen::Vector2d& centre, double size) {
  const double r = size / 2, up = -lane::kPi / 2;
  switch (shot_ink % kShotInks) {
    case 0:
      return Polygon(centre, r, 16, up);
    case 1:
      return Polygon(centre, 1.15 * r, 4, up + lane::kPi / 4);
    case 2:
      return Polygon(centre, 1.2 * r, 3, up);
    case 3:
      return Polygon(centre, 1.15 * r, 4, up);
    case 4:
      return Polygon(centre, 1.2 * r, 3, -up);
    default:
      break;
  }
  return Polygon(centre, 1.1 * r, 6, up);
}

std::vector<double> DashOf(int shot_ink) {
  static const std::vector<std::vector<double>> dashes = {{},           {9, 4}, {2, 3},
                                                          {9, 3, 2, 3}, {5, 3}, {12, 3, 2, 3, 2, 3}};
  return dashes[static_cast<std::size_t>(shot_ink % kShotInks)];
}

}  // namespace hookline::report
