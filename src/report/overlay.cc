#include "report/overlay.h"

#include <png.h>

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "camera/frame_view.h"
#include "camera/projection.h"
#include "lane/units.h"
#include "report/canvas.h"
#include "report/number_text.h"
#include "report/result_json.h"

namespace hookline::report {
namespace {

using camera::FrameView;
using camera::MaybePixel;
using lane::MetresFromFeet;

void DrawEdges(const Pen& pen, cv::Mat& bgr, const FrameView& view) {
  const double half = view.setup().lane.width / 2, thin = pen.unit() / 16;
  for (double x : {-half, half}) pen.Curve(bgr, view.Straight(x, 0, x, lane::kHeadPinY), thin, kQuiet, false);
  pen.Curve(bgr, view.Straight(-half, 0, half, 0), thin, kQuiet, false);
}

// The V through the arrow tips with a tick and a number at every fifth board, counted from the edge of the given hand.
void DrawRuler(const Pen& pen, cv::Mat& bgr, const FrameView& view, lane::Hand hand) {
  const lane::LaneSpec& spec = view.setup().lane;
  const double half = spec.width / 2, board = lane::BoardWidth(spec.width);
  std::vector<MaybePixel> v;
  for (int i = 0; i <= 2 * lane::kBoards; ++i) {
    const double x = -half + i * board / 2;
    v.push_back(view.Pixel(x, spec.ArrowLineY(x)));
  }
  pen.Curve(bgr, v, pen.unit() / 14, kPaper, true);
  const MaybePixel centre = view.Pixel(0, spec.ArrowLineY(0)), beside = view.Pixel(board, spec.ArrowLineY(0));
  if (!centre || !beside) return;
  const double board_px = (*beside - *centre).norm();
  // Where numbers at every fifth board would touch each other, every tenth has one.
  const bool fives = 5 * board_px > 0.85 * pen.unit();
  const double height = fives ? std::clamp(2.6 * board_px, 0.6 * pen.unit(), 0.85 * pen.unit()) : 0.7 * pen.unit();
  for (int b = 1; b <= lane::kBoards; ++b) {
    const double x = lane::XFromBoard(b, spec.width, hand);
    const bool fifth = b % 5 == 0;
    const MaybePixel place = view.Pixel(x, spec.ArrowLineY(x));
    // Ticks closer than a quarter of the unit would be a grey bar.
    if (!place || (!fifth && board_px < pen.unit() / 4)) continue;
    const double length = pen.unit() * (fifth ? 0.32 : 0.14);
    pen.Line(bgr, *place, *place + Eigen::Vector2d(0, length), pen.unit() / 14, kPaper, fifth);
    if (b % (fives ? 5 : 10) == 0) {
      pen.Text(bgr, std::to_string(b), place->x(), place->y() + length + 0.6 * height, height, kPaper, 0, true);
    }
  }
}

// State of the path at a time: a fitted point, or one between two of them.
struct PathPlace {
  double x = 0, y = 0;
};

PathPlace Between(const PathPoint& a, const PathPoint& b, double t) {
  const double f = b.time_s > a.time_s ? std::clamp((t - a.time_s) / (b.time_s - a.time_s), 0.0, 1.0) : 0.0;
  return {a.x + f * (b.x - a.x), a.y + f * (b.y - a.y)};
}

// First place where `ahead` of it turns from negative to positive, as by then (time_s); nullopt when that has not
// happened.
template <typename F>
std::optional<PathPlace> Crossing(const std::vector<PathPoint>& path, double time_s, F ahead) {
  for (std::size_t i = 1; i < path.size() && path[i].time_s <= time_s; ++i) {
    const double before = ahead(path[i - 1]), after = ahead(path[i]);
    if (before < 0 && after >= 0) {
      const double f = before / (before - after);
      return PathPlace{path[i - 1].x + f * (path[i].x - path[i - 1].x),
                       path[i - 1].y + f * (path[i].y - path[i - 1].y)};
    }
  }
  return std::nullopt;
}

std::optional<PathPlace> AtArrows(const Shot& shot, const lane::LaneSpec& spec, double time_s) {
  return Crossing(shot.path, time_s, [&](const PathPoint& p) { return p.y - spec.ArrowLineY(p.x); });
}

std::optional<PathPlace> AtDistance(const Shot& shot, double y, double time_s) {
  return Crossing(shot.path, time_s, [&](const PathPoint& p) { return p.y - y; });
}

void DrawPath(const Pen& pen, cv::Mat& bgr, const FrameView& view, const Shot& shot, double time_s) {
  std::vector<MaybePixel> trace;
  for (std::size_t i = 0; i < shot.path.size(); ++i) {
    if (shot.path[i].time_s > time_s) {
      if (i > 0) {
        const PathPlace now = Between(shot.path[i - 1], shot.path[i], time_s);
        trace.push_back(view.Pixel(now.x, now.y));
      }
      break;
    }
    trace.push_back(view.Pixel(shot.path[i].x, shot.path[i].y));
  }
  pen.Curve(bgr, trace, pen.unit() / 8, kAmber, true);
}

void DrawBall(const Pen& pen, cv::Mat& bgr, const FrameView& view, const Shot& shot, double time_s) {
  for (const PathPoint& p : shot.path) {
    // The frame's own point only: both times come from the same time stamp.
    if (std::abs(p.time_s - time_s) > 1e-6 || !p.seen) continue;
    const double radius = lane::kBallDiameter / 2;
    pen.Ring(bgr, {p.u_px, p.v_px},
             camera::BallRadiusPx(view.setup().camera, {p.x, p.y, radius}, radius) + pen.unit() / 10, pen.unit() / 14,
             kPaper);
  }
}

void DrawMarks(const Pen& pen, cv::Mat& bgr, const FrameView& view, const Shot& shot, double time_s) {
  if (const auto at = AtArrows(shot, view.setup().lane, time_s)) {
    if (const MaybePixel p = view.Pixel(at->x, at->y)) pen.Disc(bgr, *p, pen.unit() / 7, kAmber);
  }
  const Measure& ft = shot.measures[MeasureId::kBreakpointFt];
  const Measure& board = shot.measures[MeasureId::kBreakpointBoard];
  if (!Given(ft) || !Given(board)) return;
  const auto at = AtDistance(shot, MetresFromFeet(*ft.value), time_s);
  if (!at) return;
  const MaybePixel p = view.Pixel(at->x, at->y);
  if (!p) return;
  // The label stands on the own hand's side, away from the path, which turns inward from here.
  const double side = shot.hand == lane::Hand::kRight ? 1 : -1;
  const Eigen::Vector2d label = *p + Eigen::Vector2d(side * 3.2 * pen.unit(), 0);
  pen.Line(bgr, *p, label - Eigen::Vector2d(side * 0.3 * pen.unit(), 0), pen.unit() / 18, kSky, true);
  pen.Disc(bgr, *p, pen.unit() / 6, kSky);
  pen.Text(bgr, "breakpoint " + ValueText(MeasureId::kBreakpointBoard, board), label.x(), label.y(), 0.7 * pen.unit(),
           kSky, side > 0 ? -1 : 1, true);
}

// Where friction changes and where the ball begins to roll: a stroke across the path with its name, once passed.
void DrawPhases(const Pen& pen, cv::Mat& bgr, const FrameView& view, const Shot& shot, double time_s) {
  const double board = lane::BoardWidth(view.setup().lane.width), side = shot.hand == lane::Hand::kRight ? -1 : 1;
  for (const auto& [id, name] : {std::pair{MeasureId::kSkidEndFt, "end of skid"}, {MeasureId::kRollStartFt, "rolls"}}) {
    const Measure& ft = shot.measures[id];
    if (!Given(ft)) continue;
    const auto at = AtDistance(shot, MetresFromFeet(*ft.value), time_s);
    if (!at) continue;
    const MaybePixel a = view.Pixel(at->x - 1.5 * board, at->y), b = view.Pixel(at->x + 1.5 * board, at->y);
    if (!a || !b) continue;
    pen.Line(bgr, *a, *b, pen.unit() / 10, kPaper, true);
    // On the other hand's side: the breakpoint's label has the own one.
    const Eigen::Vector2d end = side < 0 ? *a : *b;
    pen.Text(bgr, name, end.x() + side * 0.5 * pen.unit(), end.y(), 0.6 * pen.unit(), kPaper, side < 0 ? 1 : -1, true);
  }
}

struct PanelRow {
  std::string label;
  std::string value;
  std::string unit;
};

// Rows in the order in which they happen; a row's numbers appear once the ball has passed the place they speak of.
std::vector<PanelRow> PanelRows(const Shot& shot, const lane::LaneSpec& spec, double time_s) {
  const bool over = !shot.path.empty() && time_s >= shot.path.back().time_s;
  const auto passed = [&](double y) { return over || AtDistance(shot, y, time_s).has_value(); };
  const Measure& breakpoint_ft = shot.measures[MeasureId::kBreakpointFt];
  struct Item {
    const char* label;
    MeasureId id;
    bool known;
  };
  const std::vector<Item> items = {
      {"launch angle", MeasureId::kLaunchAngleDeg, passed(MetresFromFeet(10))},
      {"at the arrows", MeasureId::kBoardAtArrows, over || AtArrows(shot, spec, time_s).has_value()},
      {"breakpoint", MeasureId::kBreakpointBoard,
       over || (Given(breakpoint_ft) && passed(MetresFromFeet(*breakpoint_ft.value)))},
      {"  down the lane", MeasureId::kBreakpointFt,
       over || (Given(breakpoint_ft) && passed(MetresFromFeet(*breakpoint_ft.value)))},
      {"starts to roll", MeasureId::kRollStartFt, over},
      {"entry", MeasureId::kEntryBoard, over},
      {"entry angle", MeasureId::kEntryAngleDeg, over},
      {"speed, mean", MeasureId::kSpeedMeanMph, over},
      {"speed at the pins", MeasureId::kSpeedEntryMph, over},
  };
  std::vector<PanelRow> rows;
  for (const Item& item : items) {
    const std::string unit(kMeasureTable[static_cast<std::size_t>(item.id)].unit);
    rows.push_back(
        {item.label, item.known ? MeasureText(item.id, shot.measures[item.id]) : "", item.known ? unit : ""});
  }
  if (over && shot.gutter_ft) rows.push_back({"gutter", FixedText(*shot.gutter_ft, 0), "ft"});
  return rows;
}

// The upper corner that hides less of the lane. (A lower one would hide the bowler.)
bool PanelOnTheLeft(const FrameView& view, int width) {
  const MaybePixel head_pin = view.Pixel(0, lane::kHeadPinY, lane::kPinHeight);
  return !head_pin || head_pin->x() > width / 2.0;
}

void DrawPanel(const Pen& pen, cv::Mat& bgr, const FrameView& view, const Shot& shot, double time_s) {
  const std::vector<PanelRow> rows = PanelRows(shot, view.setup().lane, time_s);
  const double u = pen.unit(), text = 0.78 * u, pitch = 1.15 * u, pad = 0.6 * u;
  // Widths of fixed sample texts, so that the panel does not twitch while numbers come in.
  const double label_w = pen.TextWidth("speed at the pins", text), value_w = pen.TextWidth("17.46 ±0.04", text);
  const double unit_w = pen.TextWidth("board", text), width = label_w + value_w + unit_w + 2.4 * u + 2 * pad;
  const double height = 2 * pad + pitch * (static_cast<double>(rows.size()) + 1.2);
  const double left = PanelOnTheLeft(view, bgr.cols) ? 0.8 * u : bgr.cols - 0.8 * u - width, top = 0.8 * u;
  const cv::Rect box(static_cast<int>(left), static_cast<int>(top), static_cast<int>(width), static_cast<int>(height));
  pen.Shade(bgr, box, 0.86);
  pen.Line(bgr, {left, top}, {left, top + height}, u / 8, kAmber, false);
  double y = top + pad + 0.5 * pitch;
  const std::string hand = shot.hand_source == HandSource::kAssumed ? std::string("boards from the right")
                                                                    : std::string(HandName(shot.hand)) + "-handed";
  pen.Text(bgr, "Shot " + std::to_string(shot.number), left + pad, y, 0.9 * u, kAmber, -1, false);
  pen.Text(bgr, hand, left + width - pad, y, text, kQuiet, 1, false);
  y += 1.2 * pitch;
  for (const PanelRow& row : rows) {
    pen.Text(bgr, row.label, left + pad, y, text, kQuiet, -1, false);
    pen.Text(bgr, row.value, left + pad + label_w + 1.2 * u + value_w, y, text, kPaper, 1, false);
    pen.Text(bgr, row.unit, left + pad + label_w + 1.8 * u + value_w, y, text, kQuiet, -1, false);
    y += pitch;
  }
}

}  // namespace

cv::Mat BgrFromPicture(const Picture& picture) {
  if (picture.cb.empty() || picture.cr.empty()) {
    cv::Mat grey;
    cv::cvtColor(picture.luma, grey, cv::COLOR_GRAY2BGR);
    return grey;
  }
  // Chroma pixel (i,j) lies in the middle of its four luma pixels, which is how cv::resize places them; an odd size
  // needs the crop.
  const cv::Size twice(2 * picture.cb.cols, 2 * picture.cb.rows);
  const cv::Rect all(0, 0, picture.luma.cols, picture.luma.rows);
  cv::Mat cb, cr, ycc, bgr;
  cv::resize(picture.cb, cb, twice, 0, 0, cv::INTER_LINEAR);
  cv::resize(picture.cr, cr, twice, 0, 0, cv::INTER_LINEAR);
  cv::merge(std::vector<cv::Mat>{picture.luma, cb(all), cr(all)}, ycc);
  // ITU-R BT.709, studio range, equations of section 3: what phones write for 720 lines and more.
  constexpr double kr = 0.2126, kb = 0.0722, kg = 1 - kr - kb, y = 255.0 / 219, c = 255.0 / 112;
  const double b_cb = c * (1 - kb), r_cr = c * (1 - kr), g_cb = -c * kb * (1 - kb) / kg, g_cr = -c * kr * (1 - kr) / kg;
  const cv::Matx34d m(y, b_cb, 0, -16 * y - 128 * b_cb,              //
                      y, g_cb, g_cr, -16 * y - 128 * (g_cb + g_cr),  //
                      y, 0, r_cr, -16 * y - 128 * r_cr);
  cv::transform(ycc, bgr, m);
  return bgr;
}

struct Overlay::State {
  ClipResult result;
  std::unique_ptr<Pen> pen;
  bool panel = true;
};

Overlay::Overlay(std::unique_ptr<State> state) : state_(std::move(state)) {}
Overlay::~Overlay() = default;

Result<std::unique_ptr<Overlay>> Overlay::Make(const ClipResult& result, bool panel) {
  if (!result.lane_setup)
    return Status(StatusCode::kLaneNotFound, "Nothing can be drawn on " + result.clip.file + ": " + result.lane_reason);
  auto pen = Pen::Make(result.clip.width, result.clip.height);
  if (!pen.ok()) return pen.status();
  auto state = std::make_unique<State>();
  state->result = result;
  state->pen = std::move(*pen);
  state->panel = panel;
  return std::unique_ptr<Overlay>(new Overlay(std::move(state)));
}

void Overlay::Draw(cv::Mat& bgr, double time_s, const FrameMotion& motion) const {
  const Pen& pen = *state_->pen;
  const std::vector<Shot>& shots = state_->result.shots;
  const FrameView view(*state_->result.lane_setup, motion);
  DrawEdges(pen, bgr, view);
  // The shot on show: the last one that has begun.
  const Shot* shown = nullptr;
  for (const Shot& shot : shots) {
    if (!shot.path.empty() && shot.path.front().time_s <= time_s) shown = &shot;
  }
  // The path lies under the ruler, so that it hides none of the ruler's numbers.
  if (shown) DrawPath(pen, bgr, view, *shown, time_s);
  DrawRuler(pen, bgr, view, shown ? shown->hand : shots.empty() ? lane::Hand::kRight : shots.front().hand);
  if (!shown) return;
  DrawMarks(pen, bgr, view, *shown, time_s);
  DrawPhases(pen, bgr, view, *shown, time_s);
  DrawBall(pen, bgr, view, *shown, time_s);
  if (state_->panel) DrawPanel(pen, bgr, view, *shown, time_s);
}

Status DrawLaneSetup(cv::Mat& bgr, const LaneSetup& setup, const FrameMotion& motion) {
  auto made = Pen::Make(bgr.cols, bgr.rows);
  if (!made.ok()) return made.status();
  const Pen& pen = **made;
  const FrameView view(setup, motion);
  const double half = setup.lane.width / 2, thin = pen.unit() / 20;
  for (int ft = 10; ft < 60; ft += 10) {
    const double y = MetresFromFeet(ft);
    pen.Curve(bgr, view.Straight(-half, y, half, y), thin, kQuiet, false);
    if (const MaybePixel p = view.Pixel(half, y)) {
      pen.Text(bgr, std::to_string(ft) + " ft", p->x() + 0.4 * pen.unit(), p->y(), 0.55 * pen.unit(), kPaper, -1, true);
    }
  }
  for (const NeighbourLane& n : setup.neighbours) {
    pen.Curve(bgr, view.Straight(n.centre_x, 0, n.centre_x, lane::kHeadPinY), thin, kSky, false);
  }
  for (double x : {-half, half})
    pen.Curve(bgr, view.Straight(x, 0, x, lane::kHeadPinY), pen.unit() / 14, kAmber, false);
  for (double y : {0.0, lane::kHeadPinY})
    pen.Curve(bgr, view.Straight(-half, y, half, y), pen.unit() / 14, kAmber, false);
  const std::array<lane::Point2, 10> spots = lane::PinSpots();
  for (const lane::Point2& spot : spots) {
    pen.Curve(bgr, std::vector<MaybePixel>{view.Pixel(spot.x, spot.y), view.Pixel(spot.x, spot.y, lane::kPinHeight)},
              thin, kSky, false);
  }
  DrawRuler(pen, bgr, view, lane::Hand::kRight);
  const std::vector<std::string> lines = {
      "Lane " + std::string(setup.source == SetupSource::kAutomatic ? "found in the picture"
                            : setup.source == SetupSource::kPoints  ? "from marked points"
                                                                    : "from its file"),
      "fits to " + FixedText(setup.residual_px, 2) + " px",
      "width " + FixedText(lane::InchesFromMetres(setup.lane.width), 2) + " in",
      setup.lane.arrows_measured ? "arrows measured" : "arrows at their usual places"};
  const double u = pen.unit(), pitch = 1.1 * u;
  double width = 0;
  for (const std::string& line : lines) width = std::max(width, pen.TextWidth(line, 0.78 * u));
  const double left = PanelOnTheLeft(view, bgr.cols) ? 0.8 * u : bgr.cols - 2 * u - width;
  pen.Shade(bgr,
            cv::Rect(static_cast<int>(left), static_cast<int>(0.8 * u), static_cast<int>(width + 1.2 * u),
                     static_cast<int>(pitch * static_cast<double>(lines.size()) + u)),
            0.8);
  double y = 1.3 * u + 0.5 * pitch;
  for (const std::string& line : lines) {
    pen.Text(bgr, line, left + 0.6 * u, y, 0.78 * u, kPaper, -1, false);
    y += pitch;
  }
  return Status::Ok();
}

std::string PngFromBgr(const cv::Mat& bgr) {
  // libpng itself: OpenCV's picture files draw in a hundred libraries, whose loading takes longer than the picture.
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  image.width = static_cast<png_uint_32>(bgr.cols);
  image.height = static_cast<png_uint_32>(bgr.rows);
  image.format = PNG_FORMAT_BGR;
  const cv::Mat whole = bgr.isContinuous() ? bgr : bgr.clone();
  png_alloc_size_t size = 0;
  std::string png;
  if (png_image_write_get_memory_size(image, size, 0, whole.data, 0, nullptr)) {
    png.resize(size);
    if (!png_image_write_to_memory(&image, png.data(), &size, 0, whole.data, 0, nullptr)) size = 0;
    png.resize(size);
  }
  return png;
}

}  // namespace hookline::report
