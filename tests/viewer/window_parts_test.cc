// What stands around the picture: keys, settings, the chooser's list.
#include <doctest/doctest.h>
#include <stdlib.h>

#include <filesystem>
#include <set>
#include <tuple>

#include "scratch_folder.h"
#include "viewer/actions.h"
#include "viewer/file_chooser.h"
#include "viewer/settings.h"
#include "viewer/timeline_panel.h"

using namespace hookline::viewer;
using hookline::test::ScratchFolder;
using hookline::test::WriteContent;

TEST_CASE("no key does two things, and every action has a key and a word") {
  std::set<std::tuple<int, bool, bool>> keys;
  std::set<Action> told;
  for (const KeyOf& k : KeyTable()) {
    CHECK(keys.insert({k.key, k.ctrl, k.shift}).second);
    CHECK(ActionOf(k.key, k.ctrl, k.shift) == k.action);
    if (*k.about) told.insert(k.action);
  }
  for (int a = 0; a <= static_cast<int>(Action::kQuit); ++a) {
    CAPTURE(a);
    CHECK(told.count(static_cast<Action>(a)) == 1);
    CHECK_FALSE(KeysOf(static_cast<Action>(a)).empty());
  }
}

TEST_CASE("settings come back as they were, and rubbish is none") {
  const ScratchFolder folder;
  Settings s;
  s.theme = Theme::kLight;
  s.font_scale = 1.25f;
  s.width = 1366;
  s.height = 768;
  s.folder = "/clips";
  s.side_share = 0.5;
  const std::string file = folder / "deep/er/viewer.json";
  WriteSettings(file, s);
  const Settings back = ReadSettings(file);
  CHECK(back.theme == Theme::kLight);
  CHECK(back.font_scale == 1.25f);
  CHECK(back.width == 1366);
  CHECK(back.folder == "/clips");
  CHECK(back.side_share == 0.5);
  for (const char* rubbish : {"", "[1, 2", "[]", R"({"width": "wide", "font_scale": 99, "theme": 7})"}) {
    WriteContent(folder / "bad.json", rubbish);
    const Settings usual = ReadSettings(folder / "bad.json");
    CHECK(usual.width == Settings().width);
    CHECK(usual.font_scale <= 2.5f);
    CHECK(usual.theme == Theme::kDark);
  }
  CHECK(ReadSettings(folder / "none.json").width == Settings().width);
}

TEST_CASE("settings lie in the XDG place") {
  setenv("XDG_CONFIG_HOME", "/somewhere", 1);
  CHECK(SettingsFile() == "/somewhere/hookline/viewer.json");
  unsetenv("XDG_CONFIG_HOME");
  setenv("HOME", "/home/coach", 1);
  CHECK(SettingsFile() == "/home/coach/.config/hookline/viewer.json");
}

TEST_CASE("the chooser lists folders, clips and result files, and nothing else") {
  const ScratchFolder folder;
  std::filesystem::create_directory(folder / "b folder");
  std::filesystem::create_directory(folder / ".hidden");
  for (const char* name : {"z.MP4", "a.mov", "notes.txt", "r.json", "r.truth.json", ".x.mp4"})
    WriteContent(folder / name, "x");
  std::string trouble;
  const auto entries = EntriesOf(folder / ".", &trouble);
  CHECK(trouble.empty());
  REQUIRE(entries.size() == 4);
  CHECK(entries[0].folder);
  CHECK(entries[1].name == "a.mov");
  CHECK(entries[2].name == "r.json");
  CHECK(entries[3].name == "z.MP4");
  EntriesOf(folder / "none", &trouble);
  CHECK_FALSE(trouble.empty());
}

TEST_CASE("times are written for people") {
  CHECK(TimeText(0) == "0:00.00");
  CHECK(TimeText(3.519) == "0:03.52");
  CHECK(TimeText(59.999) == "1:00.00");
  CHECK(TimeText(754.3) == "12:34.30");
}
