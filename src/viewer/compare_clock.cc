#include "viewer/compare_clock.h"

#include <algorithm>
#include <cmath>

#include "report/number_text.h"

namespace hookline::viewer {
namespace {

constexpr double kBefore = 2.0, kAfter = 1.0;  // s

}  // namespace

std::vector<Mark> CompareClock::SharedMarks(const ShownShot& first, const ShownShot& second) {
  std::vector<Mark> marks;
  for (const Mark m : kMarks)
    if (TimeOfMark(*first.shot, LaneOf(first), m) && TimeOfMark(*second.shot, LaneOf(second), m)) marks.push_back(m);
  return marks;
}

std::optional<CompareClock> CompareClock::Make(const ShownShot& first, const ShownShot& second, Mark mark) {
  CompareClock clock;
  clock.mark_ = mark;
  double from = 0, to = 0;
  const std::array<const ShownShot*, 2> both = {&first, &second};
  for (std::size_t k = 0; k < 2; ++k) {
    const Shot& shot = *both[k]->shot;
    const auto at = TimeOfMark(shot, LaneOf(*both[k]), mark);
    if (!at) return std::nullopt;
    clock.mark_time_[k] = *at;
    const double begin = shot.start_s ? *shot.start_s : shot.release_s.value_or(*at) - kBefore;
    double end = *at;
    if (shot.release_s) end = std::max(end, *shot.release_s);
    if (!shot.path.empty()) end = std::max(end, shot.path.back().time_s);
    if (shot.pin_contact_s) end = std::max(end, *shot.pin_contact_s);
    from = std::min(from, begin - *at);
    to = std::max(to, end + kAfter - *at);
  }
  clock.first_position_ = from;
  clock.last_position_ = to;
  return clock;
}

std::string LagText(const ShownShot& first, const ShownShot& second, const CompareClock& clock, Mark at) {
  const auto a = TimeOfMark(*first.shot, LaneOf(first), at), b = TimeOfMark(*second.shot, LaneOf(second), at);
  if (!a || !b) return {};
  const double lag = clock.PositionOf(1, *b) - clock.PositionOf(0, *a);
  const std::string size = report::FixedText(std::abs(lag), 2);
  if (size == "0.00") return "at the same time";
  return size + (lag > 0 ? " s later" : " s earlier");
}

}  // namespace hookline::viewer
