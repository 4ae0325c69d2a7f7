#include "viewer/lane_view.h"

#include <doctest/doctest.h>

#include <cmath>

using namespace hookline;
using namespace hookline::viewer;

namespace {

constexpr double kWidth = lane::kNominalWidth;

}  // namespace

TEST_CASE("panel and lane are each other's inverse, lying and standing") {
  for (const bool standing : {false, true}) {
    const PanelRect area = standing ? PanelRect{20, 10, 240, 700} : PanelRect{20, 10, 900, 220};
    const LaneView view = LaneView::Fit(area, standing, {}, 0, kWidth);
    for (const Eigen::Vector2d& p : {Eigen::Vector2d(-0.4, 0), Eigen::Vector2d(0.1, 12.3), Eigen::Vector2d(0.5, 18)}) {
      const Eigen::Vector2d back = view.LaneFromPanel(view.PanelFromLane(p));
      CHECK(back.x() == doctest::Approx(p.x()));
      CHECK(back.y() == doctest::Approx(p.y()));
    }
  }
}

TEST_CASE("neither way of drawing mirrors the lane") {
  // Twice the signed area of foul line's middle, pins, right edge: lane x right, y ahead is counterclockwise; the
  // panel's y points down, so the sign must turn over.
  for (const bool standing : {false, true}) {
    const LaneView view = LaneView::Fit({0, 0, 500, 400}, standing, {}, 0, kWidth);
    const Eigen::Vector2d o = view.PanelFromLane({0, 0}), ahead = view.PanelFromLane({0, 18}) - o,
                          right = view.PanelFromLane({0.5, 0}) - o;
    CHECK(right.x() * ahead.y() - right.y() * ahead.x() < 0);
  }
}

TEST_CASE("across fits the panel, is true to scale when asked, and the ruler says by how much it is stretched") {
  const PanelRect area{0, 0, 1000, 200};
  const LaneView fit = LaneView::Fit(area, false, {}, 0, kWidth);
  const PanelRect rect = fit.lane_rect();
  CHECK(rect.top == doctest::Approx(0));
  CHECK(rect.bottom == doctest::Approx(200));
  CHECK(fit.stretch() > 2);
  const double expected = (200 / (2 * fit.half_width())) / (1000 / (LaneStretch::kMost - LaneStretch::kLeast));
  CHECK(fit.stretch() == doctest::Approx(expected));
  CHECK(fit.ScaleText().starts_with("Across is drawn "));
  const LaneView true_scale = LaneView::Fit(area, false, {}, 1, kWidth);
  CHECK(true_scale.across_px_per_m() == doctest::Approx(true_scale.along_px_per_m()));
  CHECK(true_scale.ScaleText() == "True to scale");
  // More than fits is cut back, so that the whole width is always there.
  CHECK(LaneView::Fit(area, false, {}, 50, kWidth).stretch() == doctest::Approx(expected));
}

TEST_CASE("going closer keeps the place under the pointer and stays on the lane") {
  const LaneStretch whole;
  CHECK(whole.whole());
  const double at = lane::MetresFromFeet(45);
  const LaneStretch closer = whole.Zoomed(2, at);
  CHECK_FALSE(closer.whole());
  CHECK((at - closer.from_y) / (closer.to_y - closer.from_y) ==
        doctest::Approx((at - whole.from_y) / (whole.to_y - whole.from_y)));
  CHECK(closer.to_y - closer.from_y == doctest::Approx((whole.to_y - whole.from_y) / 2));
  CHECK(closer.Zoomed(1e-3, at).whole());
  const LaneStretch least = whole.Zoomed(1e6, at);
  CHECK(least.to_y - least.from_y == doctest::Approx(LaneStretch::kShortest));
  CHECK(closer.Moved(100).to_y == doctest::Approx(LaneStretch::kMost));
  CHECK(closer.Moved(-100).from_y == doctest::Approx(LaneStretch::kLeast));
}

TEST_CASE("rulers take steps that leave room for their numbers") {
  const LaneView wide = LaneView::Fit({0, 0, 2000, 900}, false, {}, 0, kWidth),
                 flat = LaneView::Fit({0, 0, 300, 60}, false, {}, 0, kWidth);
  CHECK(wide.BoardStep(16) == 5);
  CHECK(wide.BoardStep(10) == 1);
  CHECK(flat.BoardStep(16) == 10);
  CHECK(wide.FootStep(40) == 5);
  CHECK(flat.FootStep(40) == 10);
}

TEST_CASE("distance to a line is that to its nearest piece") {
  const std::vector<Eigen::Vector2d> line = {{0, 0}, {10, 0}, {10, 10}};
  CHECK(DistanceToLine({5, 3}, line) == doctest::Approx(3));
  CHECK(DistanceToLine({14, 5}, line) == doctest::Approx(4));
  CHECK(DistanceToLine({-3, -4}, line) == doctest::Approx(5));
  CHECK(DistanceToLine({0, 0}, {}) > 1e6);
}
