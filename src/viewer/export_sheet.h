// The sheet on which a page for the student is ordered: what is on it, where it goes, and, before the first picture of
// a person leaves the program, whether that person agreed.
#pragma once

#include <string>
#include <vector>

#include "viewer/consent_ask.h"
#include "viewer/page_export.h"
#include "viewer/sheet.h"

namespace hookline::viewer {

class ExportSheet : public Sheet {
 public:
  explicit ExportSheet(std::function<void()> on_change)
      : Sheet("Page for the student", 38), work_(std::move(on_change)) {}
  // `folder`: where files go unless another is named.
  void Open(const std::string& folder);
  const PageExport& work() const { return work_; }
  void Draw(const Style& style, const Desk& desk);

 private:
  void Wish(const Desk& desk);
  bool html_ = true, pdf_ = false, only_chosen_ = false;
  std::string folder_, name_ = "shots", trouble_;
  PageWish wish_;
  ConsentAsk consent_;
  PageExport work_;
};

}  // namespace hookline::viewer
