// The window's program: hookline-viewer [FILE...].

#include <CLI/CLI.hpp>
#include <cstdio>
#include <string>
#include <vector>

#include "viewer/window.h"

int main(int argc, char** argv) {
  CLI::App app("Hookline's window: see shots, correct them, hand them on.", "hookline-viewer");
  std::vector<std::string> files;
  app.add_option("FILE", files, "Clips or result files to open");
  app.set_version_flag("--version", "hookline-viewer " HOOKLINE_VERSION);
  CLI11_PARSE(app, argc, argv);
  auto window = hookline::viewer::Window::Open({});
  if (!window.ok()) {
    std::fprintf(stderr, "hookline-viewer: %s\n", window.status().sentence().c_str());
    return 1;
  }
  while ((*window)->Wait(-1)) {
    (*window)->BeginFrame();
    (*window)->EndFrame();
  }
  return 0;
}
