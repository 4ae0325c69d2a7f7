#include "viewer/settings.h"

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "core/whole_file.h"

namespace hookline::viewer {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

template <typename T>
void Take(const Json& j, const char* key, T& to) {
  try {
    if (j.contains(key)) to = j.at(key).get<T>();
  } catch (const Json::exception&) {
    // A value of another kind: the usual one stands.
  }
}

}  // namespace

std::string SettingsFile() {
  const char* config = std::getenv("XDG_CONFIG_HOME");
  const char* home = std::getenv("HOME");
  const fs::path base = config && *config ? fs::path(config) : fs::path(home ? home : ".") / ".config";
  return (base / "hookline" / "viewer.json").string();
}

Settings ReadSettings(const std::string& file) {
  Settings s;
  const auto text = ReadWholeFile(file);
  if (!text.ok()) return s;
  const Json j = Json::parse(*text, nullptr, false);
  if (!j.is_object()) return s;
  std::string theme;
  Take(j, "theme", theme);
  if (theme == "light") s.theme = Theme::kLight;
  Take(j, "font_scale", s.font_scale);
  Take(j, "width", s.width);
  Take(j, "height", s.height);
  Take(j, "folder", s.folder);
  Take(j, "side_share", s.side_share);
  Take(j, "guide_seen", s.guide_seen);
  // Written by hand or by a screen that is gone.
  s.font_scale = std::clamp(s.font_scale, 0.75f, 2.5f);
  s.width = std::clamp(s.width, 640, 16000);
  s.height = std::clamp(s.height, 480, 16000);
  s.side_share = std::clamp(s.side_share, 0.2, 0.7);
  return s;
}

void WriteSettings(const std::string& file, const Settings& s) {
  std::error_code ignored;
  fs::create_directories(fs::path(file).parent_path(), ignored);
  const Json j = {{"theme", s.theme == Theme::kLight ? "light" : "dark"},
                  {"font_scale", s.font_scale},
                  {"width", s.width},
                  {"height", s.height},
                  {"folder", s.folder},
                  {"side_share", s.side_share},
                  {"guide_seen", s.guide_seen}};
  static_cast<void>(WriteWholeFile(file, j.dump(2) + "\n"));
}

std::string SampleFolder() {
  std::error_code ignored;
  const fs::path program = fs::read_symlink("/proc/self/exe", ignored);
  const fs::path here = program.parent_path();
  for (const fs::path& folder :
       {here / "sample-clips-synthetic", here.parent_path() / "share" / "hookline" / "sample-clips-synthetic",
        fs::path(HOOKLINE_SOURCE_SAMPLES)}) {
    if (fs::is_directory(folder, ignored)) return folder.string();
  }
  return "";
}

}  // namespace hookline::viewer
