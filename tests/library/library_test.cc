#include "library/library.h"

#include <doctest/doctest.h>
#include <sqlite3.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <csignal>
#include <random>
#include <thread>

#include "scratch_folder.h"

using namespace hookline;
using namespace hookline::library;
using hookline::test::ScratchFolder;

namespace {

std::unique_ptr<Library> Opened(const std::string& file) {
  auto library = Library::Open(file);
  REQUIRE_MESSAGE(library.ok(), library.status().sentence());
  return std::move(*library);
}

std::int64_t SomeSession(Library& library) {
  const auto id = library.PutSession({0, "Robin", "Maple Hall", "7", "2026-11-25", 0});
  REQUIRE(id.ok());
  return *id;
}

StoredShot ShotOfClip(const std::string& clip, int n, double entry = 17.2) {
  StoredShot s;
  s.clip = clip;
  s.clip_shot = n;
  s.measured = R"({"number":1})";
  s.entry_board = entry;
  return s;
}

void Sql(const std::string& file, const std::string& sql) {
  sqlite3* db = nullptr;
  REQUIRE(sqlite3_open(file.c_str(), &db) == SQLITE_OK);
  REQUIRE(sqlite3_exec(db, sql.c_str(), nullptr, nullptr, nullptr) == SQLITE_OK);
  sqlite3_close(db);
}

}  // namespace

TEST_CASE("what is put in comes out again, also after closing") {
  const ScratchFolder folder;
  const std::string file = folder / "deep/er/shots.db";
  {
    const auto library = Opened(file);
    Bowler robin;
    robin.name = "Robin";
    robin.hand = lane::Hand::kLeft;
    robin.usual_speed_mph = 17.5;
    REQUIRE(library->PutBowler(robin).ok());
    Ball blue;
    blue.name = "blue";
    blue.bowler = "Robin";
    blue.rg_in = 2.5;
    REQUIRE(library->PutBall(blue).ok());
    StoredShot shot = ShotOfClip("a.mp4", 1);
    shot.ball = "blue";
    shot.plan = "narrow";
    shot.target.arrows_board = 12;
    const auto added = library->PutShots(SomeSession(*library), {shot, ShotOfClip("a.mp4", 2)});
    REQUIRE(added.ok());
    CHECK(*added == 2);
  }
  const auto library = Opened(file);
  const auto shots = library->Shots({});
  REQUIRE(shots.ok());
  REQUIRE(shots->size() == 2);
  CHECK((*shots)[0].ball == "blue");
  CHECK((*shots)[0].plan == "narrow");
  CHECK((*shots)[0].target.arrows_board == 12);
  CHECK((*shots)[1].number == 2);
  CHECK((*shots)[1].ball.empty());
  const auto bowlers = library->Bowlers();
  REQUIRE(bowlers.ok());
  REQUIRE(bowlers->size() == 1);
  CHECK(bowlers->front().hand == lane::Hand::kLeft);
  CHECK(bowlers->front().usual_speed_mph == 17.5);
  const auto balls = library->Balls();
  REQUIRE(balls.ok());
  CHECK(balls->front().rg_in == 2.5);
  const auto sessions = library->Sessions();
  REQUIRE(sessions.ok());
  REQUIRE(sessions->size() == 1);
  CHECK(sessions->front().shots == 2);
}

TEST_CASE("measuring a clip again updates its shots, doubles none, and keeps what people said") {
  const ScratchFolder folder;
  const auto library = Opened(folder / "shots.db");
  const std::int64_t session = SomeSession(*library);
  CHECK(*library->PutShots(session, {ShotOfClip("a.mp4", 1, 17)}) == 1);
  const std::int64_t id = library->Shots({})->front().id;
  ShotChange said;
  said.ball = "blue";
  said.result = "strike";
  said.notes = "good feeling";
  said.stance_board = 25;
  REQUIRE(library->ChangeShot(id, said).ok());
  CHECK(*library->PutShots(session, {ShotOfClip("a.mp4", 1, 18), ShotOfClip("b.mp4", 1)}) == 1);
  const auto shots = library->Shots({});
  REQUIRE(shots->size() == 2);
  CHECK((*shots)[0].id == id);
  CHECK((*shots)[0].entry_board == 18);
  CHECK((*shots)[0].ball == "blue");
  CHECK((*shots)[0].result == "strike");
  CHECK((*shots)[0].target.stance_board == 25);
  ShotFilter blue;
  blue.ball = "blue";
  CHECK(library->Shots(blue)->size() == 1);
  // The same day, lane and bowler is the same session.
  CHECK(SomeSession(*library) == session);
}

TEST_CASE("what is not there is said; removing takes what belongs to it") {
  const ScratchFolder folder;
  const auto library = Opened(folder / "shots.db");
  CHECK_FALSE(library->ChangeShot(5, {}).ok());
  CHECK(library->RemoveShot(5).code() == StatusCode::kBadUse);
  CHECK(library->RemoveSession(5).code() == StatusCode::kBadUse);
  CHECK_FALSE(library->PutShots(9, {ShotOfClip("a.mp4", 1)}).ok());
  CHECK_FALSE(library->PutBowler({}).ok());
  const std::int64_t session = SomeSession(*library);
  REQUIRE(library->PutShots(session, {ShotOfClip("a.mp4", 1), ShotOfClip("a.mp4", 2)}).ok());
  REQUIRE(library->RemoveShot(library->Shots({})->front().id).ok());
  CHECK(library->Shots({})->size() == 1);
  REQUIRE(library->RemoveSession(session).ok());
  CHECK(library->Shots({})->empty());
}

TEST_CASE("a file of version 1 is brought up to date with its shots; newer and foreign files are left alone") {
  const ScratchFolder folder;
  const std::string file = folder / "old.db";
  {
    const auto library = Opened(file);
    REQUIRE(library->PutShots(SomeSession(*library), {ShotOfClip("a.mp4", 1)}).ok());
  }
  Sql(file, "ALTER TABLE ball DROP COLUMN rg_in; PRAGMA user_version=1;");
  {
    const auto library = Opened(file);
    CHECK(library->Shots({})->size() == 1);
    Ball ball;
    ball.name = "blue";
    ball.bowler = "Robin";
    ball.rg_in = 2.48;
    REQUIRE(library->PutBall(ball).ok());
    CHECK(library->Balls()->front().rg_in == 2.48);
  }
  Sql(file, "PRAGMA user_version=99;");
  const auto newer = Library::Open(file);
  REQUIRE_FALSE(newer.ok());
  CHECK(newer.status().sentence().find("newer") != std::string::npos);
  const std::string foreign = folder / "foreign.db";
  Sql(foreign, "CREATE TABLE t (x);");
  CHECK_FALSE(Library::Open(foreign).ok());
  test::WriteContent(folder / "text.db", std::string(2000, 'x'));
  CHECK_FALSE(Library::Open(folder / "text.db").ok());
  CHECK_FALSE(Library::Open(folder / ".").ok());
}

TEST_CASE("two programs write at once and lose nothing") {
  const ScratchFolder folder;
  const std::string file = folder / "shots.db";
  const std::int64_t session = SomeSession(*Opened(file));
  const auto write = [&](const std::string& clip) {
    const auto library = Library::Open(file);
    for (int i = 1; i <= 30; ++i)
      if (!library.ok() || !(*library)->PutShots(session, {ShotOfClip(clip, i)}).ok()) return;
  };
  std::thread other(write, "a.mp4");
  write("b.mp4");
  other.join();
  const auto shots = Opened(file)->Shots({});
  REQUIRE(shots->size() == 60);
  for (std::size_t i = 0; i < shots->size(); ++i) CHECK((*shots)[i].number == static_cast<int>(i) + 1);
}

// A writer that says over a pipe what it has committed is killed at random moments.
TEST_CASE("killed at any moment, what was saved is there and the file is whole") {
  const ScratchFolder folder;
  const std::string file = folder / "shots.db";
  const std::int64_t session = SomeSession(*Opened(file));
  std::mt19937 random(4);
  std::uniform_int_distribution<int> wait_us(0, 12000);
  int committed_total = 0;
  constexpr int kKills = 200;
  for (int kill_number = 0; kill_number < kKills; ++kill_number) {
    int ends[2];
    REQUIRE(pipe(ends) == 0);
    const std::string clip = "clip" + std::to_string(kill_number) + ".mp4";
    const pid_t child = fork();
    REQUIRE(child >= 0);
    if (child == 0) {
      close(ends[0]);
      auto library = Library::Open(file);
      for (int i = 1; library.ok() && (*library)->PutShots(session, {ShotOfClip(clip, i)}).ok(); ++i) {
        const char done = 'x';
        if (write(ends[1], &done, 1) != 1) break;
      }
      _exit(0);
    }
    close(ends[1]);
    std::this_thread::sleep_for(std::chrono::microseconds(wait_us(random)));
    kill(child, SIGKILL);
    int status = 0;
    waitpid(child, &status, 0);
    int committed = 0;
    char c = 0;
    while (read(ends[0], &c, 1) == 1) ++committed;
    close(ends[0]);
    const auto library = Opened(file);
    int there = 0;
    const auto shots = library->Shots({std::nullopt, "", "", 100000});
    REQUIRE(shots.ok());
    for (const StoredShot& s : *shots) there += s.clip == clip ? 1 : 0;
    CHECK(there >= committed);
    CHECK(there <= committed + 1);
    committed_total += committed;
  }
  CHECK(committed_total > 0);
  sqlite3* db = nullptr;
  REQUIRE(sqlite3_open(file.c_str(), &db) == SQLITE_OK);
  std::string answer;
  sqlite3_exec(
      db, "PRAGMA integrity_check",
      [](void* out, int, char** text, char**) {
        *static_cast<std::string*>(out) = text[0];
        return 0;
      },
      &answer, nullptr);
  sqlite3_close(db);
  CHECK(answer == "ok");
}
