#include "report/canvas.h"

#include <algorithm>
#include <cmath>
#include <opencv2/freetype.hpp>
#include <opencv2/imgproc.hpp>

namespace hookline::report {
namespace {

// OpenCV's drawing takes fixed-point places with this many fractional bits; its (0,0) is the first pixel's centre, as
// ours.
constexpr int kShift = 4;
// Beyond this a point cannot be on any picture, and its fixed-point form could overflow.
constexpr double kFarAway = 1e5;

cv::Scalar Bgr(Colour c) { return cv::Scalar(c.blue, c.green, c.red); }

cv::Point Fixed(const Eigen::Vector2d& p) {
  return {static_cast<int>(std::lround(p.x() * (1 << kShift))), static_cast<int>(std::lround(p.y() * (1 << kShift)))};
}

bool Drawable(const Eigen::Vector2d& p) { return p.allFinite() && p.cwiseAbs().maxCoeff() < kFarAway; }

int Thickness(double width) { return std::max(1, static_cast<int>(std::lround(width))); }

}  // namespace

struct Pen::State {
  cv::Ptr<cv::freetype::FreeType2> font;
};

Pen::Pen(std::unique_ptr<State> state, double unit) : state_(std::move(state)), unit_(unit) {}
Pen::~Pen() = default;

Result<std::unique_ptr<Pen>> Pen::Make(int picture_width, int picture_height) {
  auto state = std::make_unique<State>();
  try {
    state->font = cv::freetype::createFreeType2();
    state->font->loadFontData(HOOKLINE_FONT, 0);
  } catch (const cv::Exception&) {
    return Status(StatusCode::kBadFile,
                  "The font " HOOKLINE_FONT " cannot be read; install Debian's fonts-dejavu-core.");
  }
  const double unit = std::min<double>(picture_height, 1.3 * picture_width) / 36;
  return std::unique_ptr<Pen>(new Pen(std::move(state), unit));
}

void Pen::Curve(cv::Mat& bgr, std::span<const std::optional<Eigen::Vector2d>> points, double width, Colour colour,
                bool rim) const {
  std::vector<std::vector<cv::Point>> runs(1);
  for (const auto& p : points) {
    if (p && Drawable(*p)) {
      runs.back().push_back(Fixed(*p));
    } else if (!runs.back().empty()) {
      runs.emplace_back();
    }
  }
  if (runs.back().empty()) runs.pop_back();
  const int t = Thickness(width);
  if (rim) cv::polylines(bgr, runs, false, Bgr(kInk), t + 2 * Thickness(unit_ / 20), cv::LINE_AA, kShift);
  cv::polylines(bgr, runs, false, Bgr(colour), t, cv::LINE_AA, kShift);
}

void Pen::Line(cv::Mat& bgr, const Eigen::Vector2d& from, const Eigen::Vector2d& to, double width, Colour colour,
               bool rim) const {
  const std::array<std::optional<Eigen::Vector2d>, 2> ends = {from, to};
  Curve(bgr, ends, width, colour, rim);
}

void Pen::Ring(cv::Mat& bgr, const Eigen::Vector2d& centre, double radius, double width, Colour colour) const {
  if (!Drawable(centre) || !(radius > 0) || radius > kFarAway) return;
  const int r = static_cast<int>(std::lround(radius * (1 << kShift))), t = Thickness(width);
  cv::circle(bgr, Fixed(centre), r, Bgr(kInk), t + 2 * Thickness(unit_ / 20), cv::LINE_AA, kShift);
  cv::circle(bgr, Fixed(centre), r, Bgr(colour), t, cv::LINE_AA, kShift);
}

void Pen::Disc(cv::Mat& bgr, const Eigen::Vector2d& centre, double radius, Colour colour) const {
  if (!Drawable(centre) || !(radius > 0) || radius > kFarAway) return;
  const auto r = [](double v) { return static_cast<int>(std::lround(v * (1 << kShift))); };
  cv::circle(bgr, Fixed(centre), r(radius + Thickness(unit_ / 20)), Bgr(kInk), cv::FILLED, cv::LINE_AA, kShift);
  cv::circle(bgr, Fixed(centre), r(radius), Bgr(colour), cv::FILLED, cv::LINE_AA, kShift);
}

void Pen::Shade(cv::Mat& bgr, const cv::Rect& box, double strength) const {
  const cv::Rect inside = box & cv::Rect(0, 0, bgr.cols, bgr.rows);
  if (inside.empty()) return;
  cv::Mat part = bgr(inside);
  cv::addWeighted(part, 1 - strength, cv::Mat(part.size(), part.type(), Bgr(kInk)), strength, 0, part);
}

void Pen::Text(cv::Mat& bgr, const std::string& text, double x, double y, double height, Colour colour, int align,
               bool rim) const {
  const int px = Thickness(height);
  const double left = x - (align + 1) / 2.0 * TextWidth(text, height);
  const cv::Point origin(static_cast<int>(std::lround(left)), static_cast<int>(std::lround(y - 0.62 * height)));
  // FreeType fails on text that starts outside of the picture.
  if (text.empty() || origin.x < 0 || origin.y < 0 || origin.x >= bgr.cols || origin.y + px >= bgr.rows) return;
  if (rim) {
    const int d = Thickness(height / 16);
    for (const auto& [dx, dy] : {std::pair{-d, 0}, {d, 0}, {0, -d}, {0, d}}) {
      state_->font->putText(bgr, text, origin + cv::Point(dx, dy), px, Bgr(kInk), cv::FILLED, cv::LINE_AA, false);
    }
  }
  state_->font->putText(bgr, text, origin, px, Bgr(colour), cv::FILLED, cv::LINE_AA, false);
}

double Pen::TextWidth(const std::string& text, double height) const {
  int baseline = 0;
  return state_->font->getTextSize(text, Thickness(height), cv::FILLED, &baseline).width;
}

}  // namespace hookline::report
