// The sheet on which a measured clip is written with its drawings (pipeline/annotate_clip.h, the same function as
// `hookline measure --overlay`): where it goes, whether others are blurred, and, before it leaves the program, whether
// the bowlers agreed.
#pragma once

#include <memory>
#include <set>
#include <string>

#include "pipeline/annotate_clip.h"
#include "viewer/consent_ask.h"
#include "viewer/desk.h"
#include "viewer/sheet.h"
#include "viewer/side_job.h"

namespace hookline::viewer {

class ClipSheet : public Sheet {
 public:
  explicit ClipSheet(std::function<void()> on_change)
      : Sheet("Clip with its drawings", 38), job_(std::move(on_change)) {}
  // Measured here, and its lane is known.
  static bool CanWrite(const DeskClip& clip) { return clip.run && clip.run->result.lane_setup; }
  // `folder`: where it goes unless another is named. A sheet that is still writing stays.
  void Open(const std::string& folder, const DeskClip& clip);
  const SideJob& work() const { return job_; }
  void Draw(const Style& style);

 private:
  void Wish();
  bool replace_ = false;
  std::string folder_, name_, trouble_, written_;
  std::string clip_;  // the file
  std::shared_ptr<const pipeline::ClipRun> run_;
  std::set<std::string> bowlers_;
  pipeline::BlurOptions blur_;
  ConsentAsk consent_;
  SideJob job_;
};

}  // namespace hookline::viewer
