// The page for the student (report/page.h), made on a thread of its own from what lies on the desk: the same function,
// the same consent and the same rules of writing as `hookline page`.
#pragma once

#include <functional>
#include <memory>
#include <mutex>
#include <set>
#include <string>
#include <thread>
#include <vector>

#include "core/progress.h"
#include "core/status.h"
#include "pipeline/page_of_session.h"
#include "viewer/desk.h"

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

// What is wrong with a wish before anything is begun: no file named, a folder missing, a file there already.
Status CheckWish(const PageWish& wish);

class PageExport {
 public:
  explicit PageExport(std::function<void()> on_change);  // called from the worker's thread
  ~PageExport();
  PageExport(const PageExport&) = delete;
  PageExport& operator=(const PageExport&) = delete;

  // Nothing happens while one is being made.
  void Begin(std::vector<pipeline::SessionFile> session, const PageWish& wish);
  void Stop();

  struct News {
    bool busy = false;
    std::string stage;
    double share = -1;
    bool done = false;  // the last one ended: `status` says how
    Status status;
  };
  News Look() const;

 private:
  Status Make(const std::vector<pipeline::SessionFile>& session, const PageWish& wish);
  const std::function<void()> on_change_;
  mutable std::mutex mutex_;
  News news_;
  std::unique_ptr<StopToken> stop_;
  std::thread worker_;
};

}  // namespace hookline::viewer
