// The advice as a panel shows it: what to say in which order, and what each piece rests on. No drawing.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "viewer/shot_marks.h"
#include "viewer/shown_shot.h"

namespace hookline::viewer {

// "Released slower" for "slower": a finding's cause as a heading.
std::string CauseTitle(std::string_view cause);

// "likely" for 0.8; and "likely, 80 %", the percentage as the sentences beside it have it.
std::string_view ChanceWord(double probability);
std::string ChanceText(double probability);

// What a finding, a move or a comparison rests on: the window shows these shots, at this place, with this measure.
struct Evidence {
  std::vector<int> shots;  // ids, the shot in question last
  std::string measure;     // key of the measure; empty: none
  Mark at = Mark::kRelease;
  bool operator==(const Evidence&) const = default;
};

// Where on the way a measure is read; for "friction", "stance_board" and "target_board" too.
Mark PlaceOfMeasure(std::string_view key);

struct AdviceLine {
  std::string title;   // short
  std::string chance;  // "likely, 80 %"; empty: not a matter of chance
  double probability = 0;
  std::string text;     // a sentence or two
  std::string measure;  // "speed at release: -1.2 ±0.3 mph"; empty: none
  Evidence evidence;    // no shots: nothing to show
};

struct AdviceBlock {
  std::string title;              // "Next move", "The lane", "Shot 7"
  int shot = 0;                   // id of the shot it is about; 0: of the session
  std::vector<AdviceLine> lines;  // empty: `nothing` says so
  std::string nothing;            // "as usual"
};

// The next move first, then the lane, comparisons, and the shots from the last to the first. `shots` are those the
// advice was made of (their numbers are the advice's).
std::vector<AdviceBlock> BlocksOf(const Advice& advice, std::span<const ShownShot> shots);

// What is missing before advice can be given; empty: nothing.
std::string AdviceWaitsFor(std::span<const ShownShot> shots);

}  // namespace hookline::viewer
