// The sheet on which a measured clip is written with its drawings (pipeline/annotate_clip.h, the same function as
// `hookline measure --overlay`): where it goes, whether others are blurred, and, before it leaves the program, whether
// the bowlers agreed.
#pragma once

#include <memory>
#include <set>
#include <string>

#include "pipeline/annotate_clip.h"
#include "viewer/clip_writing.h"
#include "viewer/desk.h"

namespace hookline::viewer {

class ClipSheet final : public ClipWriting {
 public:
  explicit ClipSheet(std::function<void()> on_change) : ClipWriting("Clip with its drawings", std::move(on_change)) {}
  // Measured here, and its lane is known.
  static bool CanWrite(const DeskClip& clip) { return clip.run && clip.run->result.lane_setup; }
  // `folder`: where it goes unless another is named. A sheet that is still writing stays.
  void Open(const std::string& folder, const DeskClip& clip);

 private:
  void Ask() override;
  Status Check(const std::string& file, bool replace) const override;
  std::set<std::string> Bowlers() const override { return bowlers_; }
  const char* Stage() const override { return "drawing"; }
  Work WorkInto(const std::string& file) const override;
  std::string clip_;  // the file
  std::shared_ptr<const pipeline::ClipRun> run_;
  std::set<std::string> bowlers_;
};

}  // namespace hookline::viewer
