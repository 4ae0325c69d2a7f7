// The keys on one sheet, and the guide that stands where the picture will be as long as nothing was opened.
#pragma once

#include "viewer/style.h"

namespace hookline::viewer {

class HelpSheet {
 public:
  void Toggle() { open_ = !open_; }
  bool open() const { return open_; }
  void Draw(const Style& style);

 private:
  bool open_ = false;
};

struct GuideEvents {
  bool open = false, try_samples = false, help = false;
};
// Fills what is left of the window. `samples`: clips to try are there.
GuideEvents DrawGuide(const Style& style, bool samples);

}  // namespace hookline::viewer
