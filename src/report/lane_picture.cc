#include "report/lane_picture.h"

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "lane/units.h"
#include "report/canvas.h"
#include "report/number_text.h"

namespace hookline::report {
namespace {

using lane::FeetFromMetres;
using lane::MetresFromFeet;

constexpr double kFromFt = 0, kToFt = 62;
// Shades: low friction is dark blue, high is pale sand; brightness alone tells them apart.
constexpr double kLowFriction = 0.03, kHighFriction = 0.25;

cv::Vec3d Shade(double mu) {
  const double t = std::clamp(std::log(mu / kLowFriction) / std::log(kHighFriction / kLowFriction), 0.0, 1.0);
  const cv::Vec3d low(92, 58, 24), high(172, 214, 246);  // BGR
  return low + t * (high - low);
}

}  // namespace

Result<cv::Mat> DrawLane(const LanePicture& picture, int width) {
  const int height = width * 3 / 8;
  auto made = Pen::Make(width, height);
  if (!made.ok()) return made.status();
  const Pen& pen = **made;
  const double text = pen.unit() * 1.5, left = text * 4, right = width - text * 7, top = text * 2.6,
               bottom = height - text * (picture.friction ? 5.2 : 3.0);
  const double board = lane::BoardWidth(lane::kNominalWidth);
  const double out = picture.hand == lane::Hand::kRight ? 1 : -1;
  const auto at = [&](const Eigen::Vector2d& p) {
    const double b = lane::BoardFromX(p.x(), lane::kNominalWidth, picture.hand);
    return Eigen::Vector2d(left + (FeetFromMetres(p.y()) - kFromFt) / (kToFt - kFromFt) * (right - left),
                           bottom - (b - 0.5) / lane::kBoards * (bottom - top));
  };
  cv::Mat bgr(height, width, CV_8UC3, cv::Scalar(kPaper.blue, kPaper.green, kPaper.red));
  const cv::Rect area(cv::Point(static_cast<int>(left), static_cast<int>(top)),
                      cv::Point(static_cast<int>(right), static_cast<int>(bottom)));
  bgr(area) = cv::Scalar(214, 226, 234);
  if (picture.friction) {
    // One cell a board and foot; the shade fades into the ground where the doubt is large.
    const cv::Vec3d ground(214, 226, 234);
    for (int foot = 0; foot < 60; ++foot)
      for (int b = 1; b <= lane::kBoards; ++b) {
        const double x = lane::XFromBoard(b, lane::kNominalWidth, picture.hand), y = MetresFromFeet(foot + 0.5);
        const LaneCell cell = picture.friction(x, y);
        const double sure = std::clamp(1.15 - 1.5 * cell.sd / cell.value, 0.15, 1.0);
        const Eigen::Vector2d a = at({x - out * board / 2, y + MetresFromFeet(0.5)}),
                              c = at({x + out * board / 2, y - MetresFromFeet(0.5)});
        const cv::Rect box(cv::Point(static_cast<int>(std::lround(std::min(a.x(), c.x()))),
                                     static_cast<int>(std::lround(std::min(a.y(), c.y())))),
                           cv::Point(static_cast<int>(std::lround(std::max(a.x(), c.x()))),
                                     static_cast<int>(std::lround(std::max(a.y(), c.y())))));
        const cv::Vec3d colour = ground + sure * (Shade(cell.value) - ground);
        bgr(box & area) = cv::Scalar(colour[0], colour[1], colour[2]);
      }
  }
  const Colour line = {140, 150, 160};
  for (int b = 5; b < lane::kBoards; b += 5) {
    const double v = at({lane::XFromBoard(b, lane::kNominalWidth, picture.hand), 0}).y();
    pen.Line(bgr, {left, v}, {right, v}, 1, line, false);
    pen.Text(bgr, std::to_string(b), left - text * 0.5, v, text, kInk, 1, false);
  }
  pen.Text(bgr, "board", left - text * 0.5, top - text * 0.9, text, kInk, 1, false);
  for (int ft = 0; ft <= 60; ft += 10) {
    const double u = at({0, MetresFromFeet(ft)}).x();
    pen.Line(bgr, {u, top}, {u, bottom}, ft == 0 || ft == 60 ? 2 : 1, ft == 0 || ft == 60 ? kInk : line, false);
    pen.Text(bgr, std::to_string(ft) + (ft == 60 ? " ft" : ""), u, bottom + text * 0.9, text, kInk, 0, false);
  }
  const lane::LaneSpec spec;
  for (std::size_t i = 0; i < spec.arrow_tip_y.size(); ++i) {
    const double b = 5.0 * static_cast<double>(i + 1);
    const Eigen::Vector2d tip = at({lane::XFromBoard(b, lane::kNominalWidth, lane::Hand::kRight), spec.arrow_tip_y[i]});
    const double s = text * 0.35;
    pen.Line(bgr, tip + Eigen::Vector2d(-2 * s, -s), tip, 2, kInk, false);
    pen.Line(bgr, tip + Eigen::Vector2d(-2 * s, s), tip, 2, kInk, false);
  }
  for (const lane::Point2& pin : lane::PinSpots()) {
    const Eigen::Vector2d p = at({pin.x, pin.y});
    if (p.x() < right) pen.Ring(bgr, p, text * 0.3, 1.5, kInk);
  }
  std::vector<std::pair<double, std::string>> names;  // v of the path's end, name
  for (const LanePath& path : picture.paths) {
    std::vector<std::optional<Eigen::Vector2d>> points;
    for (std::size_t i = 0; i < path.points.size(); ++i)
      points.push_back(path.second && i % 6 >= 4 ? std::nullopt : std::optional<Eigen::Vector2d>(at(path.points[i])));
    const bool many = picture.paths.size() > 4;  // the shade must show between them
    pen.Curve(bgr, points, many ? 1.5 : std::max(2.0, text * 0.2), path.second ? kAmber : many ? kPaper : kSky, !many);
    if (!path.name.empty() && !path.points.empty()) names.emplace_back(at(path.points.back()).y(), path.name);
  }
  // Beside the ends of their paths, each a line of text below the one above it.
  std::sort(names.begin(), names.end());
  double lowest = top - text;
  for (const auto& [v, name] : names) {
    lowest = std::max(std::clamp(v, top, bottom), lowest + text * 1.3);
    pen.Text(bgr, name, right + text * 0.4, lowest, text, kInk, -1, false);
  }
  pen.Text(bgr, picture.title, left, text * 1.0, text * 1.2, kInk, -1, false);
  if (picture.friction) {
    const double y0 = bottom + text * 2.2, y1 = y0 + text, span = (right - left) / 3;
    for (int i = 0; i < static_cast<int>(span); ++i) {
      const double mu = kLowFriction * std::pow(kHighFriction / kLowFriction, i / span);
      const cv::Vec3d c = Shade(mu);
      bgr(cv::Rect(static_cast<int>(left) + i, static_cast<int>(y0), 1, static_cast<int>(y1 - y0))) =
          cv::Scalar(c[0], c[1], c[2]);
    }
    for (const double mu : {0.03, 0.06, 0.12, 0.25})
      pen.Text(bgr, FixedText(mu, 2),
               left + span * std::log(mu / kLowFriction) / std::log(kHighFriction / kLowFriction), y1 + text * 0.8,
               text * 0.9, kInk, 0, false);
    pen.Text(bgr, "friction; pale where it is not known", left + span + text * 1.5, (y0 + y1) / 2, text, kInk, -1,
             false);
  }
  return bgr;
}

}  // namespace hookline::report
