// What the window remembers from one start to the next, in $XDG_CONFIG_HOME/hookline/viewer.json (~/.config without
// it). A file that cannot be read counts as none; one that cannot be written is not worth a word.
#pragma once

#include <string>

#include "viewer/style.h"

namespace hookline::viewer {

struct Settings {
  Theme theme = Theme::kDark;
  float font_scale = 1;
  int width = 1280, height = 800;  // of the window
  std::string folder;              // where the chooser was last
  double side_share = 0.4;         // of the window's width, for the panels at the side
  bool guide_seen = false;
};

std::string SettingsFile();
Settings ReadSettings(const std::string& file);
void WriteSettings(const std::string& file, const Settings& settings);

// The folder of the clips to try that came with the program: beside the program, in the source tree it was built from,
// or where it is installed. Empty: not there.
std::string SampleFolder();

}  // namespace hookline::viewer
