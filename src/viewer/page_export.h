// The page for the student (report/page.h), made on a thread of its own from what lies on the desk: the same function,
// the same consent and the same rules of writing as `hookline page`.
#pragma once

#include <functional>
#include <string>
#include <utility>
#include <vector>

#include "core/status.h"
#include "pipeline/page_of_session.h"
#include "viewer/desk.h"
#include "viewer/side_job.h"

namespace hookline::viewer {

struct PageWish {
  std::string html, pdf;  // files; empty: not wanted
  std::string title;
  bool pictures = true, blur_others = false;
  bool replace = false;  // files that are there already
};

// The desk's clips with what people said of their shots; clips without a shot are left out. Only these shots when
// `only` is not empty (ids).
std::vector<pipeline::SessionFile> SessionFilesOf(const Desk& desk, const std::vector<int>& only);

// Where a file cannot go: its folder is not there, it is a folder, or it is there already and is not to be replaced.
Status CheckPlace(const std::string& file, bool replace);
// The same for a clip that is made of others: never over one of them.
Status CheckClipPlace(const std::string& file, bool replace, const std::vector<std::string>& made_of);
// What is wrong with a wish before anything is begun: no file named, a folder missing, a file there already.
Status CheckWish(const PageWish& wish);

class PageExport {
 public:
  explicit PageExport(std::function<void()> on_change) : job_(std::move(on_change)) {}

  // Nothing happens while one is being made.
  void Begin(std::vector<pipeline::SessionFile> session, const PageWish& wish);
  void Stop() { job_.Stop(); }
  using News = SideJob::News;
  News Look() const { return job_.Look(); }

 private:
  SideJob job_;
};

}  // namespace hookline::viewer
