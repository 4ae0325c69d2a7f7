// What the sheets have in common on which a clip is written: where it goes, whether others are blurred, and, before it
// leaves the program, whether the bowlers agreed.
#pragma once

#include <functional>
#include <set>
#include <string>

#include "core/status.h"
#include "viewer/consent_ask.h"
#include "viewer/sheet.h"
#include "viewer/side_job.h"

namespace hookline::viewer {

class ClipWriting : public Sheet {
 public:
  const SideJob& work() const { return job_; }
  void Draw(const Style& style);

 protected:
  using Work = SideJob::Work;
  ClipWriting(const char* title, std::function<void()> on_change) : Sheet(title, 38), job_(std::move(on_change)) {}
  ~ClipWriting() = default;
  // Opens the sheet. False: it is still writing and stays as it is. `folder`: where the clip goes unless another is
  // named.
  bool OpenIn(const std::string& folder);
  std::string name_;
  bool blur_others_ = false;

 private:
  // What the sheet says and asks beyond what all of them do.
  virtual void Ask() = 0;
  // Whether the clip may be written there.
  virtual Status Check(const std::string& file, bool replace) const = 0;
  virtual std::set<std::string> Bowlers() const = 0;
  virtual const char* Stage() const = 0;
  virtual Work WorkInto(const std::string& file) const = 0;
  void Wish();
  bool replace_ = false;
  std::string folder_, trouble_, written_;
  ConsentAsk consent_;
  SideJob job_;
};

}  // namespace hookline::viewer
