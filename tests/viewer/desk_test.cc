#include "viewer/desk.h"

#include <doctest/doctest.h>

#include "desk_of.h"
#include "scratch_folder.h"

using namespace hookline;
using namespace hookline::viewer;
using viewer::test::RunOf;

TEST_CASE("shots are numbered through the session in the order of their clips, whichever is measured first") {
  Desk desk;
  const int a = AddClip(desk, "/c/a.mp4"), b = AddClip(desk, "/c/b.mp4");
  CHECK(AddClip(desk, "/c/../c/a.mp4") == a);  // the same file
  CHECK(desk.clip_on_show == a);
  PutRun(desk, b, RunOf(2), RunOf(2));
  REQUIRE(desk.shots.size() == 2);
  const int first_of_b = desk.shots[0].id;
  CHECK(desk.shots[0].shot.number == 1);
  PutRun(desk, a, RunOf(1), RunOf(1));
  REQUIRE(desk.shots.size() == 3);
  CHECK(desk.shots[0].clip == a);
  CHECK(FindShot(desk, first_of_b)->shot.number == 2);
  CHECK(desk.shot_on_show == desk.shots[0].id);  // of the clip on show
  const std::vector<ShownShot> shown = ShownShots(desk);
  CHECK(shown[0].chosen);
  CHECK(shown[0].name == "1");
  CHECK_FALSE(shown[1].chosen);
  CHECK(SessionOf(desk)[2].number == 3);
}

TEST_CASE("what a person said stays when a clip is measured again, and is kept as text") {
  Desk desk;
  const int a = AddClip(desk, "/c/a.mp4");
  PutRun(desk, a, RunOf(2), RunOf(2));
  const int id = desk.shots[1].id;
  Apply(desk, {{id}, TagField::kBall, "blue one", {}});
  Apply(desk, {{id}, TagField::kStance, "", 22.0});
  Apply(desk, {{id}, TagField::kResult, "strike", {}});
  const long before = desk.version;
  PutRun(desk, a, RunOf(3), RunOf(3, 18));
  CHECK(desk.version > before);
  const DeskShot* shot = FindShot(desk, id);
  REQUIRE(shot);
  CHECK(shot->shot.ball == "blue one");
  CHECK(shot->shot.target.stance_board == 22.0);
  CHECK(shot->result == "strike");
  CHECK(*shot->shot.measures[MeasureId::kEntryBoard].value == 19);  // the numbers are the new ones

  // Put back on another desk before its clip is measured.
  Desk later;
  const int again = AddClip(later, "/c/a.mp4");
  PutWords(later, again, WordsOf(desk, a));
  CHECK(WordsOf(later, again) == WordsOf(desk, a));
  PutRun(later, again, RunOf(2), RunOf(2));
  CHECK(later.shots[1].shot.ball == "blue one");
  CHECK(later.shots[1].result == "strike");
  PutWords(later, again, "no words at all");  // passed over
  CHECK(later.shots[1].shot.ball == "blue one");
}

TEST_CASE("putting a clip away takes its shots along and leaves the rest") {
  Desk desk;
  const int a = AddClip(desk, "/c/a.mp4"), b = AddClip(desk, "/c/b.mp4");
  PutRun(desk, a, RunOf(2), RunOf(2));
  PutRun(desk, b, RunOf(1), RunOf(1));
  ChooseOnly(desk, {desk.shots[0].id, desk.shots[2].id});
  const int of_b = desk.shots[2].id;
  RemoveClip(desk, a);
  REQUIRE(desk.shots.size() == 1);
  CHECK(desk.shots[0].id == of_b);
  CHECK(desk.shots[0].shot.number == 1);
  CHECK(desk.chosen == std::vector<int>{of_b});
  CHECK(desk.clip_on_show == b);
  PutRun(desk, a, RunOf(2), RunOf(2));  // came late: names nothing any more
  CHECK(desk.shots.size() == 1);
  RemoveClip(desk, b);
  CHECK_FALSE(desk.clip_on_show.has_value());
  CHECK_FALSE(desk.shot_on_show.has_value());
}

TEST_CASE("a clip without a shot says why") {
  Desk desk;
  const int a = AddClip(desk, "/c/a.mp4");
  PutRun(desk, a, RunOf(0), RunOf(0));
  CHECK(FindClip(desk, a)->state == ClipState::kMeasured);
  CHECK_FALSE(FindClip(desk, a)->note.empty());
}

TEST_CASE("a result file that is none is refused with its sentence") {
  const hookline::test::ScratchFolder folder;
  hookline::test::WriteContent(folder / "a.json", "{}");
  Desk desk;
  const auto added = AddResultFile(desk, folder / "a.json");
  REQUIRE_FALSE(added.ok());
  CHECK(added.status().sentence().find("a.json") != std::string::npos);
  CHECK(desk.clips.empty());
}
