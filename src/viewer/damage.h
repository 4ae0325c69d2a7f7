// Which part of the window has changed since the frame before, told from ImGui's draw data: so that only this part is
// drawn again. Without a GPU filling pixels is what a frame costs, and while a clip plays only its picture changes.
//
// Each draw list (a window or a child window) is compared with its own window's list of the frame before, by a hash of
// its corners, indices and commands. One that differs is damaged where it reaches now and where it reached; so is one
// that comes, goes, or lies in another order over the others.
// Callbacks take part by a number: the data that they are given begins with a std::uint64_t which differs whenever what
// they draw differs (Stamped).
#pragma once

#include <imgui.h>

#include <cstdint>
#include <vector>

namespace hookline::viewer {

struct Stamped {
  std::uint64_t stamp = 0;
};

class Damage {
 public:
  // Rectangles in ImGui's units (left, top, right, bottom), apart from each other; empty: nothing has changed.
  std::vector<ImVec4> Take(const ImDrawData& data);
  // The next Take() gives the whole window.
  void All() { lists_.clear(), all_ = true; }

 private:
  struct List {
    const char* owner = nullptr;  // the window's name; as a pointer it stays as long as the window
    std::uint64_t hash = 0;
    ImVec4 reach;
  };
  std::vector<List> lists_;
  bool all_ = true;
};

}  // namespace hookline::viewer
