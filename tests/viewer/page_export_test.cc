#include "viewer/page_export.h"

#include <doctest/doctest.h>

#include <filesystem>

#include "clips.h"
#include "desk_of.h"
#include "scratch_folder.h"

using namespace hookline;
using namespace hookline::viewer;
using hookline::test::ScratchFolder;
using viewer::test::DeskOf;

TEST_CASE("the page tells of what lies on the desk, with what was said of it") {
  Desk desk = DeskOf("/nowhere/a.mp4", 3);
  Apply(desk, {{desk.shots[1].id}, TagField::kBall, "blue one", {}});
  const auto all = SessionFilesOf(desk, {});
  REQUIRE(all.size() == 1);
  CHECK(all[0].result.shots.size() == 3);
  CHECK(all[0].result.shots[1].ball == "blue one");
  const auto one = SessionFilesOf(desk, {desk.shots[2].id});
  REQUIRE(one.size() == 1);
  REQUIRE(one[0].result.shots.size() == 1);
  CHECK(one[0].result.shots[0].number == 3);
}

TEST_CASE("a page is written whole, an existing file only when that was said") {
  const ScratchFolder folder;
  const Desk desk = DeskOf("/nowhere/a.mp4", 2);
  PageWish wish;
  CHECK(CheckWish(wish).code() == StatusCode::kBadUse);
  wish.html = folder / "none/page.html";
  CHECK(CheckWish(wish).code() == StatusCode::kBadUse);
  wish.html = folder / "page.html";
  wish.pictures = false;
  PageExport work([] {});
  work.Begin(SessionFilesOf(desk, {}), wish);
  REQUIRE(viewer::test::WaitFor([&] { return work.Look().done; }));
  CHECK(work.Look().status.ok());
  CHECK(hookline::test::Content(wish.html).find("17.2") != std::string::npos);
  work.Begin(SessionFilesOf(desk, {}), wish);
  REQUIRE(viewer::test::WaitFor([&] { return work.Look().done && !work.Look().busy; }));
  CHECK(work.Look().status.code() == StatusCode::kBadUse);
  wish.replace = true;
  CHECK(CheckWish(wish).ok());
}
