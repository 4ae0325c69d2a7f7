// The window's program: hookline-viewer [FILE...].

#include <CLI/CLI.hpp>
#include <cstdio>
#include <exception>
#include <string>

#include "viewer/app.h"

namespace {

int Run(int argc, char** argv) {
  CLI::App app("Hookline's window: see shots, correct them, hand them on.", "hookline-viewer");
  hookline::viewer::AppOptions options;
  std::string theme, size;
  float font_scale = 0;
  app.add_option("FILE", options.files, "Clips, result files or folders of clips to open");
  app.add_option("--theme", theme, "dark or light, instead of the remembered one")
      ->check(CLI::IsMember({"dark", "light"}));
  app.add_option("--size", size, "Size of the window, such as 1366x768, instead of the remembered one");
  app.add_option("--font-scale", font_scale, "Size of the letters, 0.75 to 2.5")->check(CLI::Range(0.75, 2.5));
  app.add_option("--state", options.state_file, "For tests: write what the window shows to this file as it changes");
  app.set_version_flag("--version", "hookline-viewer " HOOKLINE_VERSION);
  app.footer("F1 in the window shows every key.");
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    return app.exit(e) == 0 ? 0 : 2;
  }
  if (!theme.empty())
    options.theme = theme == "light" ? hookline::viewer::Theme::kLight : hookline::viewer::Theme::kDark;
  if (font_scale > 0) options.font_scale = font_scale;
  if (!size.empty()) {
    int width = 0, height = 0;
    char rest = 0;
    if (std::sscanf(size.c_str(), "%dx%d%c", &width, &height, &rest) != 2) {
      std::fprintf(stderr, "hookline-viewer: --size takes width x height, such as 1366x768.\n");
      return 2;
    }
    options.width = width;
    options.height = height;
  }
  auto window = hookline::viewer::App::Start(options);
  if (!window.ok()) {
    std::fprintf(stderr, "hookline-viewer: %s\n", window.status().sentence().c_str());
    return window.status().code() == hookline::StatusCode::kBadUse ? 2 : 1;
  }
  (*window)->Run();
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  try {
    return Run(argc, argv);
  } catch (const std::exception& e) {
    std::fprintf(stderr, "hookline-viewer: This should not have happened: %s\n", e.what());
    return 1;
  }
}
