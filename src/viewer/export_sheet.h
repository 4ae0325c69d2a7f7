// The sheet on which a page for the student is ordered: what is on it, where it goes, and, before the first picture of
// a person leaves the program, whether that person agreed.
#pragma once

#include <string>
#include <vector>

#include "viewer/consent_ask.h"
#include "viewer/page_export.h"
#include "viewer/style.h"

namespace hookline::viewer {

class ExportSheet {
 public:
  explicit ExportSheet(std::function<void()> on_change) : work_(std::move(on_change)) {}
  // `folder`: where files go unless another is named.
  void Open(const std::string& folder);
  bool open() const { return open_; }
  const PageExport& work() const { return work_; }
  void Draw(const Style& style, const Desk& desk);
  // Where the sheet's buttons are, for tests that use a mouse.
  struct Spot {
    const char* name;
    float left, top, right, bottom;
  };
  const std::vector<Spot>& spots() const { return spots_; }

 private:
  void Wish(const Desk& desk);
  bool Button(const char* name);
  bool open_ = false, just_opened_ = false;
  bool html_ = true, pdf_ = false, only_chosen_ = false;
  std::string folder_, name_ = "shots", trouble_;
  PageWish wish_;
  ConsentAsk consent_;
  PageExport work_;
  std::vector<Spot> spots_;
};

}  // namespace hookline::viewer
