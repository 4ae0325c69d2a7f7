// The advice: the next move, how the lane plays, and what acted shot by shot, each with its chance in words and numbers
// and a way to the shots it rests on.
#pragma once

#include <optional>
#include <span>
#include <string>

#include "viewer/advice_lines.h"
#include "viewer/shown_shot.h"
#include "viewer/style.h"

namespace hookline::viewer {

struct AdviceInputs {
  const Style* style = nullptr;
  std::span<const ShownShot> shots;
  const Advice* advice = nullptr;  // null: not made yet
  bool busy = false;               // it is being made
};

struct AdviceEvents {
  std::optional<Evidence> show;  // choose these shots, go to that place of the last, with that measure
};

class AdvicePanel {
 public:
  AdviceEvents Draw(const AdviceInputs& in);

 private:
  void DrawLine(const Style& style, const AdviceLine& line, int id, AdviceEvents* events);
  bool all_shots_ = false;  // also those in which nothing acted
  std::optional<Evidence> shown_;
};

}  // namespace hookline::viewer
