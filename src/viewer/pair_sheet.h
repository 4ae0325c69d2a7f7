// The sheet on which two shots side by side are written as a clip (pipeline/side_by_side.h, the same function and the
// same rules as `hookline side-by-side`): where it goes, how slow, whether others are blurred, and, before it leaves
// the program, whether the bowlers agreed.
#pragma once

#include <set>
#include <string>

#include "pipeline/side_by_side.h"
#include "viewer/clip_writing.h"
#include "viewer/desk.h"
#include "viewer/shot_marks.h"

namespace hookline::viewer {

// A shot of the desk with its clip. kBadUse, with a sentence, where only its numbers are here or its lane is not known.
Result<pipeline::ShotInClip> ShotInClipOf(const Desk& desk, int shot);
// Whether the clip may be written there: as CheckPlace(), and never over a clip that it is made of.
Status CheckPairPlace(const std::string& file, bool replace, const pipeline::ShotInClip& first,
                      const pipeline::ShotInClip& second);

class PairSheet final : public ClipWriting {
 public:
  explicit PairSheet(std::function<void()> on_change) : ClipWriting("Two shots as a clip", std::move(on_change)) {
    name_ = "two shots";
  }
  // In step from `mark`. `folder`: where the clip goes unless another is named. A sheet that is still writing stays.
  void Open(const std::string& folder, pipeline::ShotInClip first, pipeline::ShotInClip second, Mark mark);

 private:
  void Ask() override;
  Status Check(const std::string& file, bool replace) const override;
  std::set<std::string> Bowlers() const override;
  const char* Stage() const override { return "side by side"; }
  Work WorkInto(const std::string& file) const override;
  pipeline::ShotInClip first_, second_;
  pipeline::SideBySideOptions options_;
};

}  // namespace hookline::viewer
