#include "library/library.h"

#include <cstdlib>
#include <filesystem>

#include "library/database.h"
#include "library/schema.h"

namespace hookline::library {
namespace {

// Clips that no shot is left of, of those that are named.
std::string ForgetClips(const std::vector<std::int64_t>& clips) {
  std::string sql;
  for (const std::int64_t id : clips)
    sql += "DELETE FROM clip WHERE id = " + std::to_string(id) +
           " AND NOT EXISTS (SELECT 1 FROM shot WHERE clip_id = clip.id);";
  return sql;
}

std::vector<std::int64_t> ClipsOf(const Database& db, const char* sql, std::int64_t id) {
  Statement s(db.get(), sql);
  s.Bind(1, id);
  std::vector<std::int64_t> out;
  while (s.Step() == SQLITE_ROW) out.push_back(s.Int(0));
  return out;
}

const char* HandText(lane::Hand hand) { return hand == lane::Hand::kRight ? "right" : "left"; }

Status NoSuchShot(std::int64_t id) {
  return Status(StatusCode::kBadUse, "There is no shot with the id " + std::to_string(id) + " in the library.");
}

}  // namespace

std::string DefaultFile() {
  const char* data = std::getenv("XDG_DATA_HOME");
  if (data != nullptr && *data != '\0') return std::string(data) + "/hookline/library.db";
  const char* home = std::getenv("HOME");
  return std::string(home != nullptr ? home : ".") + "/.local/share/hookline/library.db";
}

Library::Library(std::unique_ptr<Database> db) : db_(std::move(db)) {}
Library::~Library() = default;

Result<std::unique_ptr<Library>> Library::Open(const std::string& file) {
  const std::filesystem::path folder = std::filesystem::path(file).parent_path();
  std::error_code error;
  if (!folder.empty()) std::filesystem::create_directories(folder, error);
  if (error)
    return Status(StatusCode::kBadFile,
                  "The folder " + folder.string() + " for the library could not be made: " + error.message() + ".");
  auto db = Database::Open(file);
  if (!db.ok()) return db.status();
  if (Status s = Migrate(**db, kVersion); !s.ok()) return s;
  return std::unique_ptr<Library>(new Library(std::move(*db)));
}

Result<std::int64_t> Library::IdOf(const char* table, const std::string& name) {
  Statement find(db_->get(), std::string("SELECT id FROM ") + table + " WHERE name = ?");
  find.Bind(1, name);
  if (find.Step() == SQLITE_ROW) return find.Int(0);
  Statement add(db_->get(), std::string("INSERT INTO ") + table + " (name) VALUES (?)");
  add.Bind(1, name);
  if (add.Step() != SQLITE_DONE) return db_->Failure("written");
  return db_->LastId();
}

Result<std::int64_t> Library::LaneId(const std::string& place, const std::string& lane) {
  const auto place_id = IdOf("place", place);
  if (!place_id.ok()) return place_id.status();
  Statement add(db_->get(), "INSERT INTO lane (place_id, name) VALUES (?, ?) ON CONFLICT DO NOTHING");
  add.Bind(1, *place_id).Bind(2, lane);
  if (add.Step() != SQLITE_DONE) return db_->Failure("written");
  Statement find(db_->get(), "SELECT id FROM lane WHERE place_id = ? AND name = ?");
  find.Bind(1, *place_id).Bind(2, lane);
  if (find.Step() != SQLITE_ROW) return db_->Failure("read");
  return find.Int(0);
}

Status Library::Together(const std::function<Status()>& work) { return db_->Transaction(work); }

Result<std::int64_t> Library::PutBowler(const Bowler& bowler) {
  if (bowler.name.empty()) return Status(StatusCode::kBadUse, "A bowler needs a name.");
  std::int64_t id = 0;
  const Status s = db_->Transaction([&]() -> Status {
    const auto found = IdOf("bowler", bowler.name);
    if (!found.ok()) return found.status();
    id = *found;
    Statement set(db_->get(),
                  "UPDATE bowler SET hand = ?, hands = ?, usual_speed_mph = coalesce(?, usual_speed_mph),"
                  " usual_revs_rpm = coalesce(?, usual_revs_rpm) WHERE id = ?");
    set.Bind(1, std::string(HandText(bowler.hand))).Bind(2, static_cast<std::int64_t>(bowler.hands));
    set.Bind(3, bowler.usual_speed_mph).Bind(4, bowler.usual_revs_rpm).Bind(5, id);
    return set.Step() == SQLITE_DONE ? Status::Ok() : db_->Failure("written");
  });
  if (!s.ok()) return s;
  return id;
}

Result<std::int64_t> Library::PutBall(const Ball& ball) {
  if (ball.name.empty()) return Status(StatusCode::kBadUse, "A ball needs a name.");
  std::int64_t id = 0;
  const Status s = db_->Transaction([&]() -> Status {
    const auto bowler = IdOf("bowler", ball.bowler);
    if (!bowler.ok()) return bowler.status();
    Statement put(db_->get(),
                  "INSERT INTO ball (bowler_id, name, cover, finish, symmetric, weight_lb, rg_in)"
                  " VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7) ON CONFLICT (bowler_id, name) DO UPDATE SET"
                  " cover = coalesce(?3, cover), finish = coalesce(?4, finish), symmetric = coalesce(?5, symmetric),"
                  " weight_lb = coalesce(?6, weight_lb), rg_in = coalesce(?7, rg_in)");
    put.Bind(1, *bowler).Bind(2, ball.name).BindText(3, ball.cover).BindText(4, ball.finish);
    put.Bind(5, ball.symmetric).Bind(6, ball.weight_lb).Bind(7, ball.rg_in);
    if (put.Step() != SQLITE_DONE) return db_->Failure("written");
    Statement find(db_->get(), "SELECT id FROM ball WHERE bowler_id = ? AND name = ?");
    find.Bind(1, *bowler).Bind(2, ball.name);
    if (find.Step() != SQLITE_ROW) return db_->Failure("read");
    id = find.Int(0);
    return Status::Ok();
  });
  if (!s.ok()) return s;
  return id;
}

Result<std::vector<Bowler>> Library::Bowlers() const {
  Statement s(db_->get(), "SELECT id, name, hand, hands, usual_speed_mph, usual_revs_rpm FROM bowler ORDER BY name");
  std::vector<Bowler> out;
  int code = SQLITE_DONE;
  while ((code = s.Step()) == SQLITE_ROW)
    out.push_back({s.Int(0), s.Text(1), s.Text(2) == "left" ? lane::Hand::kLeft : lane::Hand::kRight,
                   static_cast<int>(s.Int(3)), s.Number(4), s.Number(5)});
  if (code != SQLITE_DONE) return db_->Failure("read");
  return out;
}

Result<std::vector<Ball>> Library::Balls() const {
  Statement s(db_->get(),
              "SELECT ball.id, ball.name, bowler.name, cover, finish, symmetric, weight_lb, rg_in FROM ball"
              " JOIN bowler ON bowler.id = bowler_id ORDER BY bowler.name, ball.name");
  std::vector<Ball> out;
  int code = SQLITE_DONE;
  while ((code = s.Step()) == SQLITE_ROW)
    out.push_back({s.Int(0), s.Text(1), s.Text(2), s.Text(3), s.Text(4), s.MaybeInt(5), s.Number(6), s.Number(7)});
  if (code != SQLITE_DONE) return db_->Failure("read");
  return out;
}

Result<std::int64_t> Library::PutSession(const Session& session) {
  std::int64_t id = 0;
  const Status s = db_->Transaction([&]() -> Status {
    const auto bowler = IdOf("bowler", session.bowler);
    if (!bowler.ok()) return bowler.status();
    const auto lane = LaneId(session.place, session.lane);
    if (!lane.ok()) return lane.status();
    Statement put(db_->get(), "INSERT INTO session (bowler_id, lane_id, day) VALUES (?, ?, ?) ON CONFLICT DO NOTHING");
    put.Bind(1, *bowler).Bind(2, *lane).Bind(3, session.day);
    if (put.Step() != SQLITE_DONE) return db_->Failure("written");
    Statement find(db_->get(), "SELECT id FROM session WHERE bowler_id = ? AND lane_id = ? AND day = ?");
    find.Bind(1, *bowler).Bind(2, *lane).Bind(3, session.day);
    if (find.Step() != SQLITE_ROW) return db_->Failure("read");
    id = find.Int(0);
    return Status::Ok();
  });
  if (!s.ok()) return s;
  return id;
}

Result<std::vector<Session>> Library::Sessions() const {
  Statement s(db_->get(),
              "SELECT session.id, bowler.name, place.name, lane.name, day,"
              " (SELECT count(*) FROM shot WHERE session_id = session.id) FROM session"
              " JOIN bowler ON bowler.id = bowler_id JOIN lane ON lane.id = lane_id JOIN place ON place.id = place_id"
              " ORDER BY day, session.id");
  std::vector<Session> out;
  int code = SQLITE_DONE;
  while ((code = s.Step()) == SQLITE_ROW)
    out.push_back({s.Int(0), s.Text(1), s.Text(2), s.Text(3), s.Text(4), s.Int(5)});
  if (code != SQLITE_DONE) return db_->Failure("read");
  return out;
}

Status Library::ChangeShot(std::int64_t id, const ShotChange& change) {
  return db_->Transaction([&]() -> Status {
    Statement of(db_->get(), "SELECT bowler_id FROM shot JOIN session ON session.id = session_id WHERE shot.id = ?");
    of.Bind(1, id);
    if (of.Step() != SQLITE_ROW) return NoSuchShot(id);
    const std::int64_t bowler = of.Int(0);
    if (change.ball) {
      const auto ball = BallId(bowler, *change.ball);
      if (!ball.ok()) return ball.status();
      Statement set(db_->get(), "UPDATE shot SET ball_id = ? WHERE id = ?");
      set.Bind(1, *ball).Bind(2, id);
      if (set.Step() != SQLITE_DONE) return db_->Failure("written");
    }
    const auto text = [&](const char* column, const std::optional<std::string>& value) -> Status {
      if (!value) return Status::Ok();
      Statement set(db_->get(), std::string("UPDATE shot SET ") + column + " = ? WHERE id = ?");
      set.BindText(1, *value).Bind(2, id);
      return set.Step() == SQLITE_DONE ? Status::Ok() : db_->Failure("written");
    };
    const auto number = [&](const char* column, const std::optional<double>& value) -> Status {
      if (!value) return Status::Ok();
      Statement set(db_->get(), std::string("UPDATE shot SET ") + column + " = ? WHERE id = ?");
      set.Bind(1, *value).Bind(2, id);
      return set.Step() == SQLITE_DONE ? Status::Ok() : db_->Failure("written");
    };
    for (const Status& s :
         {text("plan", change.plan), text("notes", change.notes), text("result", change.result),
          number("arrows_target", change.arrows_board), number("breakpoint_target", change.breakpoint_board),
          number("stance_target", change.stance_board), number("eyes_target", change.target_board)})
      if (!s.ok()) return s;
    return Status::Ok();
  });
}

Status Library::RemoveShot(std::int64_t id) {
  return db_->Transaction([&]() -> Status {
    const auto clips = ClipsOf(*db_, "SELECT clip_id FROM shot WHERE id = ?", id);
    Statement remove(db_->get(), "DELETE FROM shot WHERE id = ?");
    remove.Bind(1, id);
    if (remove.Step() != SQLITE_DONE) return db_->Failure("written");
    if (db_->Changes() != 1) return NoSuchShot(id);
    return db_->Run(ForgetClips(clips));
  });
}

Status Library::RemoveSession(std::int64_t id) {
  return db_->Transaction([&]() -> Status {
    const auto clips = ClipsOf(*db_, "SELECT DISTINCT clip_id FROM shot WHERE session_id = ?", id);
    Statement remove(db_->get(), "DELETE FROM session WHERE id = ?");
    remove.Bind(1, id);
    if (remove.Step() != SQLITE_DONE) return db_->Failure("written");
    if (db_->Changes() != 1)
      return Status(StatusCode::kBadUse, "There is no session with the id " + std::to_string(id) + ".");
    return db_->Run(ForgetClips(clips));
  });
}

}  // namespace hookline::library
