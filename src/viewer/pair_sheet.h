// The sheet on which two shots side by side are written as a clip (pipeline/side_by_side.h, the same function and the
// same rules as `hookline side-by-side`): where it goes, how slow, whether others are blurred, and, before it leaves
// the program, whether the bowlers agreed.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "pipeline/side_by_side.h"
#include "viewer/consent_ask.h"
#include "viewer/desk.h"
#include "viewer/sheet.h"
#include "viewer/shot_marks.h"
#include "viewer/side_job.h"

namespace hookline::viewer {

// A shot of the desk with its clip. kBadUse, with a sentence, where only its numbers are here or its lane is not known.
Result<pipeline::ShotInClip> ShotInClipOf(const Desk& desk, int shot);
// Whether the clip may be written there: as CheckPlace(), and never over a clip that it is made of.
Status CheckPairPlace(const std::string& file, bool replace, const pipeline::ShotInClip& first,
                      const pipeline::ShotInClip& second);

class PairSheet : public Sheet {
 public:
  explicit PairSheet(std::function<void()> on_change) : Sheet("Two shots as a clip", 38), job_(std::move(on_change)) {}
  // In step from `mark`. `folder`: where the clip goes unless another is named. A sheet that is still writing stays.
  void Open(const std::string& folder, pipeline::ShotInClip first, pipeline::ShotInClip second, Mark mark);
  const SideJob& work() const { return job_; }
  void Draw(const Style& style);

 private:
  void Wish();
  bool blur_others_ = false, replace_ = false;
  std::string folder_, name_ = "two shots", trouble_, written_;
  pipeline::ShotInClip first_, second_;
  pipeline::SideBySideOptions options_;
  ConsentAsk consent_;
  SideJob job_;
};

}  // namespace hookline::viewer
