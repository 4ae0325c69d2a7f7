#include "viewer/pair_sheet.h"

#include <doctest/doctest.h>

#include "desk_of.h"
#include "scratch_folder.h"

using namespace hookline;
using namespace hookline::viewer;
using hookline::test::ScratchFolder;
using hookline::test::WriteContent;
using viewer::test::DeskOf;

TEST_CASE("a shot goes into the two-shots clip with its clip and what was said of it, or a sentence says why not") {
  Desk desk = DeskOf("/nowhere/a.mp4", 2, true);
  Apply(desk, {{desk.shots[1].id}, TagField::kBall, "blue one", {}});
  const auto shot = ShotInClipOf(desk, desk.shots[1].id);
  REQUIRE(shot.ok());
  CHECK(shot->clip == "/nowhere/a.mp4");
  CHECK(shot->shot == 1);
  CHECK(shot->name == "Shot 2");
  CHECK(shot->result.shots[1].ball == "blue one");
  CHECK(ShotInClipOf(desk, 99).status().code() == StatusCode::kBadUse);
  const Desk no_lane = DeskOf("/nowhere/a.mp4", 2);
  CHECK(ShotInClipOf(no_lane, no_lane.shots[0].id).status().sentence().find("lane") != std::string::npos);
  desk.clips[0].state = ClipState::kOnlyNumbers;
  CHECK(ShotInClipOf(desk, desk.shots[0].id).status().sentence().find("numbers") != std::string::npos);
}

TEST_CASE("a two-shots clip replaces only what may be replaced, and never a clip that it is made of") {
  const ScratchFolder folder;
  pipeline::ShotInClip first, second;
  first.clip = folder / "first.mp4";
  second.clip = folder / "second.mp4";
  for (const char* name : {"first.mp4", "second.mp4", "old.mp4"}) WriteContent(folder / name, "film");
  CHECK(CheckPairPlace(folder / "new.mp4", false, first, second).ok());
  CHECK(CheckPairPlace(folder / "none/new.mp4", false, first, second).code() == StatusCode::kBadUse);
  CHECK(CheckPairPlace(folder / "old.mp4", false, first, second).code() == StatusCode::kBadUse);
  CHECK(CheckPairPlace(folder / "old.mp4", true, first, second).ok());
  CHECK(CheckPairPlace(folder / "first.mp4", true, first, second).code() == StatusCode::kBadUse);
  CHECK(CheckPairPlace(folder / "./second.mp4", true, first, second).code() == StatusCode::kBadUse);
}
