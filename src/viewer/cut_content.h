// What does not fit where it stands, as ImGui laid it out in the frame just drawn: a window's content that reaches past
// its edge without a bar to scroll it there, a cell or a head wider than its column, a column out of sight, a tab
// narrower than its name, a window past the screen. Text that is only drawn (plots, pictures) is not known here. For
// tests, which read it in the window's state.
#pragma once

#include <string>
#include <vector>

namespace hookline::viewer {

struct CutContent {
  std::string where;  // window, table and column, or tab
  float px = 0;       // how much is out of sight
};

// After a frame was rendered and before the next one begins.
std::vector<CutContent> FindCutContent();

}  // namespace hookline::viewer
