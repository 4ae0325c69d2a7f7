#include "pipeline/blur_people.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <opencv2/objdetect.hpp>

#include "camera/projection.h"
#include "media/clip_reader.h"
#include "report/overlay.h"
#include "setup/background.h"

namespace hookline::pipeline {
namespace {

constexpr int kPictures = 18;          // as many as the lane is looked for in
constexpr double kLookWidth = 640;     // px, of the picture that is looked at
constexpr double kBesideLane = 0.5;    // m, from the lane's edge: still the bowler's own approach
constexpr double kFarthestFoot = 1.5;  // m past the foul line: nobody walks on the lanes
constexpr double kLeastHeight = 0.45;  // m: taller than a ball, less than a child bent over
constexpr double kTallest = 1.95;      // m
constexpr double kUsualPlace = -2.0;   // m: where people stand whose feet are not in the picture
constexpr int kLeastChange = 16;       // grey levels
constexpr int kPicturesHeld = 8;       // a region stays blurred that long: a person does not vanish
// A mosaic tile: two thirds of a head, so that a face is a tile or two.
constexpr double kTile = 0.15;  // m

struct Foot {
  double x = 0, y = 0;      // m
  double px_per_metre = 0;  // upright, at that place
};

}  // namespace

Status BlurOptions::Check() const {
  for (const cv::Rect2d& b : boxes)
    if (!(b.width > 0 && b.height > 0))
      return {StatusCode::kBadUse, "A box to blur must be wider and taller than 0 px; give X,Y,WIDTH,HEIGHT."};
  if (pictures_between_looks < 1)
    return {StatusCode::kBadUse, "pictures_between_looks is below 1; every picture is the most that can be looked at."};
  return Status::Ok();
}

struct PeopleBlur::State {
  LaneSetup setup;
  BlurOptions options;
  cv::Mat background, limit;  // 8 bit grey of the size looked at: the still picture, and the change that counts
  double scale = 1;           // px looked at over px of the picture
  cv::HOGDescriptor people;
  std::vector<cv::Rect> upright;  // found last, px of the picture
  int since_look = 0;
  cv::Mat held;  // CV_8UC1, of the size looked at: for how many pictures more a place stays blurred
  cv::Mat mask;

  std::optional<Foot> FootAt(const cv::Point2d& p_in_frame, const FrameMotion& motion) const {
    Eigen::Vector2d p(p_in_frame.x, p_in_frame.y);
    if (motion.known) p = camera::ReferenceFromFrame(setup.camera, motion, p);
    const auto place = camera::LaneFromImage(setup.camera, p, 0);
    if (!place) return std::nullopt;
    const auto low = camera::ImageFromLane(setup.camera, *place),
               high = camera::ImageFromLane(setup.camera, *place + Eigen::Vector3d(0, 0, 1));
    if (!low || !high) return std::nullopt;
    return Foot{place->x(), place->y(), (*low - *high).norm()};
  }
  double OwnHalf() const { return setup.lane.width / 2 + kBesideLane; }
  double PxPerMetre(double y) const {
    const auto low = camera::ImageFromLane(setup.camera, {0, y, 0}),
               high = camera::ImageFromLane(setup.camera, {0, y, 1});
    return low && high ? (*low - *high).norm() : setup.camera.height / 3.0;
  }
  void FindMoving(const cv::Mat& grey, const FrameMotion& motion);
  void FindUpright(const cv::Mat& bgr, const FrameMotion& motion);
};

void PeopleBlur::State::FindMoving(const cv::Mat& grey, const FrameMotion& motion) {
  cv::Mat still, bound;  // of their own: a copy that shares its pixels would be moved with the original
  if (!motion.known) {
    still = background;
    bound = limit;
  } else {
    const Eigen::Vector2d middle(setup.camera.centre_u, setup.camera.centre_v);
    const Eigen::Vector2d shift = (camera::FrameFromReference(setup.camera, motion, middle) - middle) * scale;
    const cv::Matx23d move(1, 0, shift.x(), 0, 1, shift.y());
    cv::warpAffine(background, still, move, background.size(), cv::INTER_LINEAR, cv::BORDER_REPLICATE);
    cv::warpAffine(limit, bound, move, limit.size(), cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  }
  cv::Mat change, moved;
  cv::absdiff(grey, still, change);
  cv::compare(change, bound, moved, cv::CMP_GT);
  cv::medianBlur(moved, moved, 3);
  // What is left of edges is thin; a body is not.
  const double thin = 0.06 * PxPerMetre(kUsualPlace) * scale;
  cv::morphologyEx(moved, moved, cv::MORPH_OPEN,
                   cv::getStructuringElement(cv::MORPH_ELLIPSE, cv::Size(std::max(3, static_cast<int>(thin)) | 1,
                                                                         std::max(3, static_cast<int>(thin)) | 1)));
  // A body in clothes of the wall's brightness falls to pieces; pieces above each other belong together.
  const double metre = PxPerMetre(kUsualPlace) * scale;
  const cv::Size reach(std::max(3, static_cast<int>(0.12 * metre)), std::max(3, static_cast<int>(0.45 * metre)));
  cv::morphologyEx(moved, moved, cv::MORPH_CLOSE, cv::getStructuringElement(cv::MORPH_RECT, reach));
  cv::Mat labels, stats, centres;
  const int n = cv::connectedComponentsWithStats(moved, labels, stats, centres, 8);
  for (int i = 1; i < n; ++i) {
    const cv::Rect box(stats.at<int>(i, cv::CC_STAT_LEFT), stats.at<int>(i, cv::CC_STAT_TOP),
                       stats.at<int>(i, cv::CC_STAT_WIDTH), stats.at<int>(i, cv::CC_STAT_HEIGHT));
    const double u = (box.x + box.width / 2.0) / scale, v = (box.y + box.height) / scale;
    auto foot = FootAt({u, v}, motion);
    // A piece whose lower end is not on the floor near the foul line is a part of somebody: taken to be where people
    // usually stand.
    if (!foot || foot->y > kFarthestFoot) {
      const auto floor = camera::ImageFromLane(setup.camera, {0, kUsualPlace, 0});
      if (!floor) continue;
      foot = FootAt({u, floor->y()}, motion);
      if (!foot) continue;
    }
    if (box.height < kLeastHeight * foot->px_per_metre * scale) continue;
    if (std::abs(foot->x) > OwnHalf()) {
      // A person whole, from the foot to above a tall head: hair and sleeves of the wall's brightness did not move.
      const double metre_px = foot->px_per_metre * scale, bottom = box.y + box.height;
      const double top = std::min(box.y - 0.15 * metre_px, bottom - kTallest * metre_px);
      const cv::Rect person(cv::Point(static_cast<int>(box.x - 0.15 * metre_px), static_cast<int>(top)),
                            cv::Point(static_cast<int>(box.x + box.width + 0.15 * metre_px), static_cast<int>(bottom)));
      held(person & cv::Rect(0, 0, held.cols, held.rows)).setTo(kPicturesHeld);
      continue;
    }
    // The bowler, and perhaps somebody beside who touches the bowler in the picture: what is wider than a bowler with
    // arms out is not the bowler's.
    const double reach_px = 1.1 * foot->px_per_metre * scale,
                 middle = box.x + box.width / 2.0 - foot->x * foot->px_per_metre * scale;
    for (const cv::Rect side :
         {cv::Rect(box.x, box.y, static_cast<int>(middle - reach_px - (OwnHalf() * foot->px_per_metre * scale) - box.x),
                   box.height),
          cv::Rect(static_cast<int>(middle + reach_px + OwnHalf() * foot->px_per_metre * scale), box.y, box.width,
                   box.height)}) {
      const cv::Rect part = side & box;
      if (side.width > 0 && part.area() > 0) held(part).setTo(kPicturesHeld, labels(part) == i);
    }
  }
}

void PeopleBlur::State::FindUpright(const cv::Mat& bgr, const FrameMotion& motion) {
  // People of 1.2 m and more at the usual place must fill the detector's window, 128 px with a margin about them.
  const double tall = 1.2 * PxPerMetre(kUsualPlace), factor = std::clamp(100.0 / tall, 0.2, 1.0);
  cv::Mat small;
  cv::resize(bgr, small, {}, factor, factor, cv::INTER_AREA);
  std::vector<cv::Rect> found;
  std::vector<double> weights;
  if (small.cols >= people.winSize.width && small.rows >= people.winSize.height)
    people.detectMultiScale(small, found, weights, 0.3, cv::Size(8, 8), cv::Size(16, 16), 1.08, 2.0);
  upright.clear();
  for (const cv::Rect& f : found) {
    // The window has a sixteenth of its height as margin above and below (Dalal and Triggs 2005, 128 px for 96).
    const cv::Rect box(static_cast<int>(f.x / factor), static_cast<int>(f.y / factor),
                       static_cast<int>(f.width / factor), static_cast<int>(f.height / factor));
    const auto foot = FootAt({box.x + box.width / 2.0, box.y + 0.94 * box.height}, motion);
    if (!foot || foot->y > kFarthestFoot || std::abs(foot->x) <= OwnHalf()) continue;
    const double metres = 0.8 * box.height / foot->px_per_metre;
    if (metres > 0.9 && metres < 2.6) upright.push_back(box);
  }
}

PeopleBlur::PeopleBlur(std::unique_ptr<State> state) : state_(std::move(state)) {}
PeopleBlur::~PeopleBlur() = default;
const cv::Mat& PeopleBlur::mask() const { return state_->mask; }

Result<std::unique_ptr<PeopleBlur>> PeopleBlur::Make(const std::string& clip, const LaneSetup& setup,
                                                     const BlurOptions& options) {
  if (Status s = options.Check(); !s.ok()) return s;
  auto state = std::make_unique<State>();
  state->setup = setup;
  state->options = options;
  if (options.others) {
    const auto pictures = media::SamplePictures(clip, kPictures);
    if (!pictures.ok()) return pictures.status();
    const Background still = setup::StillBackground(*pictures);
    state->scale = std::min(1.0, kLookWidth / still.luma.cols);
    cv::resize(still.luma, state->background, {}, state->scale, state->scale, cv::INTER_AREA);
    cv::Mat spread;
    cv::resize(still.spread, spread, state->background.size(), 0, 0, cv::INTER_AREA);
    state->limit = cv::max(cv::Mat(spread * 3.0), static_cast<double>(kLeastChange));
    // Where the still picture is steep, a pixel or two by which the camera was not where it is thought to be change as
    // much as a person does.
    cv::Mat high, low;
    const cv::Mat about = cv::getStructuringElement(cv::MORPH_ELLIPSE, {5, 5});
    cv::dilate(state->background, high, about);
    cv::erode(state->background, low, about);
    state->limit += high - low;
    state->held = cv::Mat::zeros(state->background.size(), CV_8UC1);
    state->people.setSVMDetector(cv::HOGDescriptor::getDefaultPeopleDetector());
  }
  return std::unique_ptr<PeopleBlur>(new PeopleBlur(std::move(state)));
}

void PeopleBlur::Apply(cv::Mat& bgr, const FrameMotion& motion) {
  State& s = *state_;
  s.mask = cv::Mat::zeros(bgr.size(), CV_8UC1);
  const cv::Rect whole(0, 0, bgr.cols, bgr.rows);
  if (s.options.others) {
    cv::Mat grey, small;
    // The background is luma as stored, studio range; the picture's grey is full range.
    cv::cvtColor(bgr, grey, cv::COLOR_BGR2GRAY);
    cv::resize(grey, small, s.background.size(), 0, 0, cv::INTER_AREA);
    small.convertTo(small, CV_8U, 219.0 / 255, 16);
    cv::subtract(s.held, cv::Scalar(1), s.held);
    s.FindMoving(small, motion);
    if (s.since_look == 0) s.FindUpright(bgr, motion);
    s.since_look = (s.since_look + 1) % s.options.pictures_between_looks;
    cv::Mat wide;
    // A little beyond: the rim of a person is a person.
    const int rim = std::max(3, static_cast<int>(0.12 * s.PxPerMetre(kUsualPlace) * s.scale)) | 1;
    cv::dilate(s.held > 0, wide, cv::getStructuringElement(cv::MORPH_ELLIPSE, {rim, rim}));
    cv::resize(wide, s.mask, bgr.size(), 0, 0, cv::INTER_NEAREST);
    for (const cv::Rect& box : s.upright) s.mask(box & whole).setTo(255);
  }
  for (const cv::Rect2d& box : s.options.boxes) s.mask(cv::Rect(box) & whole).setTo(255);
  if (cv::countNonZero(s.mask) == 0) return;
  const double tile = std::max(8.0, kTile * s.PxPerMetre(kUsualPlace));
  cv::Mat coarse;
  cv::resize(bgr, coarse,
             {std::max(1, static_cast<int>(bgr.cols / tile)), std::max(1, static_cast<int>(bgr.rows / tile))}, 0, 0,
             cv::INTER_AREA);
  cv::resize(coarse, coarse, bgr.size(), 0, 0, cv::INTER_LINEAR);
  coarse.copyTo(bgr, s.mask);
}

}  // namespace hookline::pipeline
