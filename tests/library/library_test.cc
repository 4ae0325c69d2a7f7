#include "library/library.h"

#include <doctest/doctest.h>
#include <sqlite3.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <csignal>
#include <random>
#include <thread>

#include "library/clip_fingerprint.h"
#include "library/old_versions.h"
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

std::string Integrity(const std::string& file) {
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
  return answer;
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

TEST_CASE("a file of any older version is brought up to date with all that is in it") {
  const ScratchFolder folder;
  for (const int version : {1, 2}) {
    CAPTURE(version);
    const std::string file = folder / ("v" + std::to_string(version) + ".db");
    Sql(file, version == 1 ? test::kVersion1 : test::kVersion2);
    Sql(file, test::kOldContent);
    if (version == 2) Sql(file, "UPDATE ball SET rg_in = 2.48");
    for (int again = 0; again < 2; ++again) {
      const auto library = Opened(file);
      const auto shots = library->Shots({});
      REQUIRE(shots.ok());
      REQUIRE(shots->size() == 3);
      const StoredShot& first = shots->front();
      CHECK(first.id == 11);
      CHECK(first.clip == "evening/a.mp4");
      CHECK(first.clip_fingerprint.empty());
      CHECK(first.release_s == 1.5);
      CHECK(first.ball == "blue");
      CHECK(first.plan == "narrow");
      CHECK(first.target.arrows_board == 12);
      CHECK(first.target.target_board == 13);
      CHECK(first.result == "strike");
      CHECK(first.notes == "good");
      CHECK(first.entry_board == 17.25);
      // What people say stands in the columns alone.
      CHECK(first.measured == R"({"number":1,"release_s":1.5,"measures":{"entry_board":{"value":17.25,"sd":0.1}}})");
      CHECK((*shots)[1].measured == "no json at all");
      CHECK((*shots)[2].clip == "evening/b.mp4");
      CHECK(library->Sessions()->front().shots == 3);
      CHECK(library->Bowlers()->front().hand == lane::Hand::kLeft);
      const auto balls = library->Balls();
      REQUIRE(balls->size() == 1);
      CHECK(balls->front().weight_lb == 15);
      CHECK(balls->front().rg_in == (version == 2 ? std::optional<double>(2.48) : std::nullopt));
      const auto setups = library->Setups("Maple Hall", "7");
      REQUIRE(setups->size() == 1);
      CHECK(setups->front().name == "usual");
      CHECK(setups->front().document == "{\"format\":\"hookline-lane-setup\"}");
    }
    // An old clip's content is known once it was measured again, by whatever name it is measured next.
    const auto library = Opened(file);
    StoredShot again = ShotOfClip("evening/a.mp4", 1, 18);
    again.release_s = 1.6;
    again.clip_fingerprint = "f00d";
    CHECK(*library->PutShots(1, {again}) == 0);
    again.clip = "elsewhere/renamed.mp4";
    CHECK(*library->PutShots(1, {again}) == 0);
    CHECK(library->Shots({})->front().id == 11);
    CHECK(library->Shots({})->front().clip == "elsewhere/renamed.mp4");
  }
}

TEST_CASE("newer and foreign files are left alone") {
  const ScratchFolder folder;
  const std::string file = folder / "new.db";
  Opened(file);
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

TEST_CASE("a clip is known by its content: moved it is the same, another film under its name is another") {
  const ScratchFolder folder;
  const auto print = [&](const char* name, const std::string& content) {
    test::WriteContent(folder / name, content);
    const auto p = FingerprintOf(folder / name);
    REQUIRE(p.ok());
    CHECK(p->size == static_cast<std::int64_t>(content.size()));
    return p->text;
  };
  std::string film(5 << 20, 'a');
  for (std::size_t i = 0; i < film.size(); ++i) film[i] = static_cast<char>(i * 2654435761u >> 24);
  const std::string a = print("a.mp4", film), copy = print("copy.mp4", film);
  CHECK(a == copy);
  CHECK(a.size() == 32);
  std::string other = film;
  other[100] ^= 1;
  CHECK(print("other.mp4", other) != a);
  other = film;
  other[film.size() - 100] ^= 1;
  CHECK(print("end.mp4", other) != a);
  CHECK(print("longer.mp4", film + "x") != a);
  CHECK(print("empty.mp4", "") != print("one.mp4", "x"));
  CHECK_FALSE(FingerprintOf(folder / "none.mp4").ok());

  const auto library = Opened(folder / "shots.db");
  const std::int64_t session = SomeSession(*library);
  StoredShot shot = ShotOfClip("a.mp4", 1);
  shot.clip_fingerprint = a;
  CHECK(*library->PutShots(session, {shot}) == 1);
  shot.clip = "moved/b.mp4";
  CHECK(*library->PutShots(session, {shot}) == 0);
  CHECK(library->Shots({})->front().clip == "moved/b.mp4");
  StoredShot film2 = ShotOfClip("moved/b.mp4", 1);
  film2.clip_fingerprint = "another film";
  CHECK(*library->PutShots(session, {film2}) == 1);
  // Without its content the name must do: the film that bears it now.
  CHECK(*library->PutShots(session, {ShotOfClip("moved/b.mp4", 1)}) == 0);
  CHECK(library->Shots({})->size() == 2);
}

// Measured again, one shot more was found before the two that were known: numbers moved on, what was said must not.
TEST_CASE("a shot is known again by the time of its release") {
  const ScratchFolder folder;
  const auto library = Opened(folder / "shots.db");
  const std::int64_t session = SomeSession(*library);
  const auto at = [](int n, double release, double entry) {
    StoredShot s = ShotOfClip("a.mp4", n, entry);
    s.release_s = release;
    return s;
  };
  CHECK(*library->PutShots(session, {at(1, 20, 17), at(2, 50, 18)}) == 2);
  ShotChange said;
  said.notes = "the second";
  REQUIRE(library->ChangeShot(2, said).ok());
  const auto kept = library->Keep(session, {at(1, 5, 16), at(2, 20.1, 17.1), at(3, 50.1, 18.1)});
  REQUIRE(kept.ok());
  CHECK(kept->added == 1);
  CHECK(kept->updated == 2);
  CHECK(kept->not_found.empty());
  const auto all = library->Shots({});
  for (const StoredShot& s : *all) {
    CAPTURE(s.id);
    CHECK((s.notes == "the second") == (s.entry_board == 18.1));
  }
  // And one less: it stays, and is named.
  const auto less = library->Keep(session, {at(1, 5, 16), at(2, 50, 18)});
  REQUIRE(less.ok());
  CHECK(less->added == 0);
  REQUIRE(less->not_found.size() == 1);
  CHECK(less->not_found.front() == 1);
  CHECK(library->Shots({})->size() == 3);
  // In another session they stay where they are.
  const auto other = library->PutSession({0, "Kim", "Oak Hall", "2", "2026-11-26", 0});
  const auto moved = library->Keep(*other, {at(1, 5, 16)});
  CHECK(moved->elsewhere == 1);
  CHECK(moved->added == 0);
}

TEST_CASE("lane setups are kept by place, lane and name") {
  const ScratchFolder folder;
  const auto library = Opened(folder / "shots.db");
  REQUIRE(library->PutSetup({0, "Maple Hall", "7", "usual", "{1}"}).ok());
  REQUIRE(library->PutSetup({0, "Maple Hall", "7", "from the side", "{2}"}).ok());
  REQUIRE(library->PutSetup({0, "Maple Hall", "8", "usual", "{3}"}).ok());
  REQUIRE(library->PutSetup({0, "Maple Hall", "8", "usual", "{4}"}).ok());
  CHECK_FALSE(library->PutSetup({0, "Maple Hall", "8", "usual", ""}).ok());
  CHECK(library->Setups()->size() == 3);
  CHECK(library->Setups("Maple Hall", "7")->size() == 2);
  const auto eight = library->Setups("Maple Hall", "8");
  REQUIRE(eight->size() == 1);
  CHECK(eight->front().document == "{4}");
  CHECK(library->Setups("Oak Hall")->empty());
  REQUIRE(library->RemoveSetup(eight->front().id).ok());
  CHECK(library->RemoveSetup(eight->front().id).code() == StatusCode::kBadUse);
}

TEST_CASE("what is done together is done whole or not at all") {
  const ScratchFolder folder;
  const auto library = Opened(folder / "shots.db");
  const std::int64_t session = SomeSession(*library);
  const Status s = library->Together([&]() -> Status {
    if (const auto put = library->PutShots(session, {ShotOfClip("a.mp4", 1)}); !put.ok()) return put.status();
    const auto none = library->PutShots(99, {ShotOfClip("b.mp4", 1)});
    return none.status();
  });
  CHECK(s.code() == StatusCode::kBadUse);
  CHECK(library->Shots({})->empty());
}

// The disk is full: the file may grow to so many bytes and no further (RLIMIT_FSIZE, in a process of its own).
TEST_CASE("on a full disk the failure is one sentence, what was saved stands and the file is whole") {
  const ScratchFolder folder;
  const std::string file = folder / "shots.db";
  std::int64_t session = 0;
  {
    const auto library = Opened(file);
    session = SomeSession(*library);
    REQUIRE(library->PutShots(session, {ShotOfClip("kept.mp4", 1)}).ok());
  }
  int ends[2];
  REQUIRE(pipe(ends) == 0);
  const pid_t child = fork();
  REQUIRE(child >= 0);
  if (child == 0) {
    close(ends[0]);
    signal(SIGXFSZ, SIG_IGN);
    const rlimit full{300000, 300000};
    setrlimit(RLIMIT_FSIZE, &full);
    std::string said;
    auto library = Library::Open(file);
    int put = 0;
    for (int i = 1; library.ok() && i < 200 && said.empty(); ++i) {
      StoredShot shot = ShotOfClip("big.mp4", i);
      shot.measured = std::string(20000, 'x');
      const auto done = (*library)->PutShots(session, {shot});
      if (done.ok())
        ++put;
      else
        said = done.status().sentence();
    }
    said = std::to_string(put) + " " + said;
    if (write(ends[1], said.data(), said.size()) < 0) _exit(1);
    _exit(0);
  }
  close(ends[1]);
  std::string said(4000, '\0');
  const auto got = read(ends[0], said.data(), said.size());
  close(ends[0]);
  int status = 0;
  waitpid(child, &status, 0);
  REQUIRE(got > 0);
  said.resize(static_cast<std::size_t>(got));
  CAPTURE(said);
  const int put = std::stoi(said);
  CHECK(put >= 1);
  CHECK(put < 199);
  CHECK(said.find("could not be written") != std::string::npos);
  CHECK(said.find("what was saved before still stands") != std::string::npos);
  const auto library = Opened(file);
  const auto shots = library->Shots({});
  REQUIRE(shots.ok());
  CHECK(shots->size() == static_cast<std::size_t>(put) + 1);
  CHECK(Integrity(file) == "ok");
  CHECK(library->PutShots(session, {ShotOfClip("after.mp4", 1)}).ok());
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
  CHECK(Integrity(file) == "ok");
}
