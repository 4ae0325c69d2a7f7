#include "viewer/keep_in_library.h"

#include <doctest/doctest.h>

#include "desk_of.h"
#include "scratch_folder.h"

using namespace hookline;
using namespace hookline::viewer;
using hookline::test::ScratchFolder;
using hookline::test::WriteContent;
using viewer::test::DeskOf;

TEST_CASE("the desk's shots are kept with what was said of them, and kept again they are the same shots") {
  const ScratchFolder folder;
  WriteContent(folder / "evening.mp4", "some film");
  Desk desk = DeskOf(folder / "evening.mp4", 2);
  Apply(desk, {{desk.shots[1].id}, TagField::kBall, "blue one", {}});
  Apply(desk, {{desk.shots[1].id}, TagField::kResult, "9 /", {}});
  auto library = library::Library::Open(folder / "library.db");
  REQUIRE(library.ok());
  KeepWish wish{"Robin", "Maple Hall", "7", "2026-11-25"};
  auto kept = KeepDesk(**library, desk, wish);
  REQUIRE(kept.ok());
  CHECK(kept->added == 2);
  kept = KeepDesk(**library, desk, wish);
  REQUIRE(kept.ok());
  CHECK(kept->added == 0);
  const auto sessions = (*library)->Sessions();
  REQUIRE(sessions.ok());
  REQUIRE(sessions->size() == 1);
  CHECK(sessions->front().shots == 2);
  library::ShotFilter filter;
  filter.session = sessions->front().id;
  const auto shots = (*library)->Shots(filter);
  REQUIRE(shots.ok());
  REQUIRE(shots->size() == 2);
  CHECK((*shots)[1].ball == "blue one");
  CHECK((*shots)[1].result == "9 /");
  CHECK(*(*shots)[1].entry_board == doctest::Approx(18.2));
  // The next evening begins with the same names.
  const auto usual = UsualWish(**library, desk);
  REQUIRE(usual.ok());
  CHECK(usual->bowler == "Robin");
  CHECK(usual->lane == "7");
  CHECK(usual->Check().ok());
}

TEST_CASE("what is missing is told before anything is kept") {
  const ScratchFolder folder;
  auto library = library::Library::Open(folder / "library.db");
  REQUIRE(library.ok());
  const Desk desk = DeskOf("/nowhere/a.mp4", 1);
  CHECK(KeepDesk(**library, desk, {"", "Maple Hall", "7", "2026-11-25"}).status().code() == StatusCode::kBadUse);
  for (const char* day : {"", "2026-02-30", "25.11.2026", "2026-11-25x", "2026-1-1"}) {
    CAPTURE(day);
    CHECK(KeepDesk(**library, desk, {"Robin", "Maple Hall", "7", day}).status().code() == StatusCode::kBadUse);
  }
  CHECK(KeepDesk(**library, Desk(), {"Robin", "Maple Hall", "7", "2026-11-25"}).status().code() == StatusCode::kBadUse);
  CHECK((*library)->Sessions()->empty());
}
