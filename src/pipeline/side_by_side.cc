#include "pipeline/side_by_side.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <memory>
#include <opencv2/imgproc.hpp>

#include "lane/units.h"
#include "media/clip_reader.h"
#include "media/clip_writer.h"
#include "report/canvas.h"
#include "report/number_text.h"
#include "report/overlay.h"

namespace hookline::pipeline {
namespace {

const char* MarkName(ShotMark mark) {
  switch (mark) {
    case ShotMark::kRelease:
      return "release";
    case ShotMark::kArrows:
      return "crossing of the arrows";
    case ShotMark::kBreakpoint:
      return "breakpoint";
    case ShotMark::kPins:
      break;
  }
  return "arrival at the pins";
}

// One of the two: reads on as time goes, keeps the picture on show.
class Side {
 public:
  static Result<std::unique_ptr<Side>> Make(const ShotInClip& shot, const SideBySideOptions& options,
                                            const BlurOptions& blur) {
    auto side = std::make_unique<Side>();
    side->shot_ = shot;
    if (!shot.result.lane_setup)
      return Status(StatusCode::kBadFile, shot.clip +
                                              ": its result does not say where the camera stood; measure it again "
                                              "with `hookline measure --json`.");
    const LaneSetup& setup = *shot.result.lane_setup;
    const Shot& s = side->shot();
    if (s.path.empty()) return Status(StatusCode::kBadUse, shot.name + " has no path to be shown.");
    const auto mark = TimeOfMark(s, setup.lane, options.mark);
    if (!mark)
      return Status(StatusCode::kBadUse, shot.name + " (" + shot.clip + ") has no " + MarkName(options.mark) +
                                             "; choose another mark with --from.");
    side->mark_s_ = *mark;
    auto reader = media::ClipReader::Open(shot.clip);
    if (!reader.ok()) return reader.status();
    side->reader_ = std::move(*reader);
    const ClipInfo& info = side->reader_->info();
    if (info.width != setup.camera.width || info.height != setup.camera.height)
      return Status(StatusCode::kBadFile, shot.clip + ": this is not the clip that was measured (its size differs).");
    auto overlay = report::Overlay::Make(shot.result, false);
    if (!overlay.ok()) return overlay.status();
    side->overlay_ = std::move(*overlay);
    if (blur.any()) {
      auto made = PeopleBlur::Make(shot.clip, setup, blur);
      if (!made.ok()) return made.status();
      side->blur_ = std::move(*made);
    }
    side->part_ = LaneInPicture(setup);
    side->draw_ = options.path;
    side->next_ = side->reader_->Next();
    if (!side->next_) return Status(StatusCode::kBadFile, shot.clip + ": it holds no picture.");
    return side;
  }

  const Shot& shot() const { return shot_.result.shots[shot_.shot]; }
  const std::string& name() const { return shot_.name; }
  // Times against the mark.
  double From(double before_s) const {
    return std::max(0.0, shot().release_s.value_or(shot().path.front().time_s) - before_s) - mark_s_;
  }
  double Until(double after_s) const { return shot().path.back().time_s + after_s - mark_s_; }
  cv::Size SizeAt(int height) const {
    return {static_cast<int>(std::lround(static_cast<double>(part_.width) * height / part_.height)), height};
  }

  // The picture nearest to a time against the mark, cut to the lane, of that size.
  const cv::Mat& At(double time, const cv::Size& size) {
    const double t = time + mark_s_;
    bool fresh = shown_.empty();
    while (next_ && (!now_ || next_->time_s - t < t - now_->time_s)) {
      now_ = std::move(next_);
      next_ = reader_->Next();
      fresh = true;
    }
    if (!fresh) return shown_;
    cv::Mat bgr = report::BgrFromPicture(*now_);
    const FrameMotion motion = TurnFromPath(*shot_.result.lane_setup, shot(), now_->time_s);
    if (blur_) blur_->Apply(bgr, motion);
    if (draw_) overlay_->Draw(bgr, now_->time_s, motion);
    cv::resize(bgr(part_ & cv::Rect(0, 0, bgr.cols, bgr.rows)), shown_, size, 0, 0,
               size.width < part_.width ? cv::INTER_AREA : cv::INTER_LINEAR);
    return shown_;
  }

 private:
  ShotInClip shot_;
  double mark_s_ = 0;
  std::unique_ptr<media::ClipReader> reader_;
  std::unique_ptr<report::Overlay> overlay_;
  std::unique_ptr<PeopleBlur> blur_;
  cv::Rect part_;
  bool draw_ = true;
  std::optional<Picture> now_, next_;
  cv::Mat shown_;
};

// Name above, numbers below; the same rows on both sides, so that the eye compares along a line.
void DrawWords(const report::Pen& pen, cv::Mat& canvas, const Side& side, int x, int width, int head, int picture) {
  static constexpr std::array<std::pair<const char*, MeasureId>, 5> kRows = {
      {{"at the arrows", MeasureId::kBoardAtArrows},
       {"breakpoint", MeasureId::kBreakpointBoard},
       {"at the pins", MeasureId::kEntryBoard},
       {"entry angle", MeasureId::kEntryAngleDeg},
       {"speed, mean", MeasureId::kSpeedMeanMph}}};
  const double text = 0.52 * head, left = x + 0.5 * text, right = x + width - 0.5 * text;
  std::string name = side.name();
  for (const std::string& more : {side.shot().bowler, side.shot().ball})
    if (!more.empty()) name += ", " + more;
  while (name.size() > 3 && pen.TextWidth(name, text) > right - left) name.pop_back();
  pen.Text(canvas, name, left, 0.5 * head, text, report::kAmber, -1, false);
  double y = head + picture + 0.8 * text;
  for (const auto& [label, id] : kRows) {
    const std::string unit(kMeasureTable[static_cast<std::size_t>(id)].unit);
    const double size = std::min(0.8 * text, width / 22.0);
    pen.Text(canvas, label, left, y, size, report::kQuiet, -1, false);
    const std::string value = report::MeasureText(id, side.shot().measures[id]);
    pen.Text(canvas, value + (value == "–" ? "" : " " + unit), right, y, size, report::kPaper, 1, false);
    y += 1.15 * text;
  }
}

}  // namespace

Status SideBySideOptions::Check() const {
  const auto within = [](double v, double low, double high) { return v >= low && v <= high; };
  if (!within(before_s, 0, 10) || !within(after_s, 0, 10))
    return {StatusCode::kBadUse, "What is shown before the release and after the end must be 0 to 10 s."};
  if (!within(slower, 1, 16)) return {StatusCode::kBadUse, "--slower must be 1 to 16."};
  if (!within(rate, 10, 120)) return {StatusCode::kBadUse, "The rate must be 10 to 120 pictures a second."};
  if (!within(height, 240, 2160)) return {StatusCode::kBadUse, "The pictures' height must be 240 to 2160 px."};
  if (Status s = blur_first.Check(); !s.ok()) return s;
  return blur_second.Check();
}

Status SideBySide(const ShotInClip& first, const ShotInClip& second, const SideBySideOptions& options,
                  const std::string& out, const ProgressFn& progress, const StopToken& stop) {
  if (Status s = options.Check(); !s.ok()) return s;
  std::array<std::unique_ptr<Side>, 2> sides;
  for (std::size_t i = 0; i < 2; ++i) {
    auto side = Side::Make(i == 0 ? first : second, options, i == 0 ? options.blur_first : options.blur_second);
    if (!side.ok()) return side.status();
    sides[i] = std::move(*side);
  }
  const int height = options.height & ~1, head = std::max(24, height / 18), foot = 7 * head / 2,
            gap = std::max(4, height / 120);
  // Both as wide as the wider one would be at most half a broad screen: a narrow lane leaves room, a wide one is cut
  // less.
  std::array<cv::Size, 2> size = {sides[0]->SizeAt(height), sides[1]->SizeAt(height)};
  const int width = (size[0].width + gap + size[1].width + 1) & ~1;
  auto pen = report::Pen::Make(width, height);
  if (!pen.ok()) return pen.status();
  cv::Mat canvas(head + height + foot, width, CV_8UC3,
                 cv::Scalar(report::kInk.blue, report::kInk.green, report::kInk.red));
  const std::array<int, 2> x = {0, size[0].width + gap};
  for (std::size_t i = 0; i < 2; ++i) DrawWords(**pen, canvas, *sides[i], x[i], size[i].width, head, height);
  media::ClipWriterOptions how;
  how.width = canvas.cols;
  how.height = canvas.rows;
  how.nominal_rate = options.rate;
  if (out.ends_with(".webm")) how.codec = "vp9";  // WebM holds no H.264
  auto writer = media::ClipWriter::Open(out, how);
  if (!writer.ok()) return writer.status();
  const double from = std::min(sides[0]->From(options.before_s), sides[1]->From(options.before_s)),
               until = std::max(sides[0]->Until(options.after_s), sides[1]->Until(options.after_s));
  const auto count = static_cast<std::int64_t>(std::ceil((until - from) * options.slower * options.rate)) + 1;
  for (std::int64_t k = 0; k < count; ++k) {
    if (stop.stop_requested()) return {StatusCode::kStopped, "Stopped."};
    // The clip's own clock; the two shots' pictures are found by their time stamps.
    const double shown_s = static_cast<double>(k) / options.rate;
    for (std::size_t i = 0; i < 2; ++i)
      sides[i]->At(from + shown_s / options.slower, size[i]).copyTo(canvas(cv::Rect(cv::Point(x[i], head), size[i])));
    if (Status s = (*writer)->Add(canvas, shown_s); !s.ok()) return s;
    progress("side by side", static_cast<double>(k + 1) / static_cast<double>(count));
  }
  return (*writer)->Finish();
}

}  // namespace hookline::pipeline
