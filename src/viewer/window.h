// A thin window: GLFW, an OpenGL 3.3 context and ImGui's two backends, a queue of functions that other threads hand to
// the main thread, and a wait that sleeps until something moves.
//
// One Window at a time; every function but Post() and Wake() belongs to the thread that made it.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include "core/status.h"
#include "viewer/style.h"

namespace hookline::viewer {

struct WindowOptions {
  std::string title = "Hookline";
  int width = 1280, height = 800;  // in the screen's own units
  Theme theme = Theme::kDark;
  float font_scale = 1;  // 0.75 to 2.5, on top of the screen's own
  Status Check() const;
};

struct KeyPress {
  int key = 0;  // GLFW's number
  bool ctrl = false, shift = false;
  bool again = false;  // held down
};

class Window {
 public:
  // kInternal with a sentence when there is no display or no OpenGL 3.3.
  static Result<std::unique_ptr<Window>> Open(const WindowOptions& options);
  virtual ~Window() = default;

  // Sleeps until an event, a Post(), or `seconds` (negative: for ever). Runs what was posted. False once the user has
  // asked to close.
  virtual bool Wait(double seconds) = 0;
  // Something was done with mouse or keys, or posted: a frame is to be drawn. Wake() alone asks for none.
  virtual bool wants_frame() const = 0;
  virtual void AskForFrames() = 0;
  // ImGui calls belong between the two.
  virtual void BeginFrame() = 0;
  virtual void EndFrame() = 0;

  virtual void Post(std::function<void()> work) = 0;  // from any thread
  virtual void Wake() = 0;                            // from any thread

  virtual void SetLook(Theme theme, float font_scale) = 0;  // from the next frame on
  virtual const Style& style() const = 0;
  virtual void SetTitle(const std::string& title) = 0;
  virtual void Close() = 0;
  // Size in the screen's own units, for the settings.
  virtual void GetSize(int* width, int* height) const = 0;
  // Keys pressed since the last call, in order. ImGui of this age looks at keys once a frame and misses what is pressed
  // and let go between two.
  virtual std::vector<KeyPress> TakeKeys() = 0;
  // Files dropped on the window since the last call.
  virtual std::vector<std::string> TakeDropped() = 0;
};

}  // namespace hookline::viewer
