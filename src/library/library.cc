#include "library/library.h"

#include <filesystem>

#include "library/database.h"
#include "library/schema.h"

namespace hookline::library {
namespace {

const char* HandText(lane::Hand hand) { return hand == lane::Hand::kRight ? "right" : "left"; }

Status NoSuchShot(std::int64_t id) {
  return Status(StatusCode::kBadUse, "There is no shot with the id " + std::to_string(id) + " in the library.");
}

}  // namespace

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
    const auto place = IdOf("place", session.place);
    if (!place.ok()) return place.status();
    Statement lane(db_->get(), "INSERT INTO lane (place_id, name) VALUES (?, ?) ON CONFLICT DO NOTHING");
    lane.Bind(1, *place).Bind(2, session.lane);
    if (lane.Step() != SQLITE_DONE) return db_->Failure("written");
    Statement find_lane(db_->get(), "SELECT id FROM lane WHERE place_id = ? AND name = ?");
    find_lane.Bind(1, *place).Bind(2, session.lane);
    if (find_lane.Step() != SQLITE_ROW) return db_->Failure("read");
    const std::int64_t lane_id = find_lane.Int(0);
    Statement put(db_->get(), "INSERT INTO session (bowler_id, lane_id, day) VALUES (?, ?, ?) ON CONFLICT DO NOTHING");
    put.Bind(1, *bowler).Bind(2, lane_id).Bind(3, session.day);
    if (put.Step() != SQLITE_DONE) return db_->Failure("written");
    Statement find(db_->get(), "SELECT id FROM session WHERE bowler_id = ? AND lane_id = ? AND day = ?");
    find.Bind(1, *bowler).Bind(2, lane_id).Bind(3, session.day);
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

Result<int> Library::PutShots(std::int64_t session, const std::vector<StoredShot>& shots) {
  int added = 0;
  const Status s = db_->Transaction([&]() -> Status {
    Statement of(db_->get(), "SELECT bowler_id FROM session WHERE id = ?");
    of.Bind(1, session);
    if (of.Step() != SQLITE_ROW)
      return Status(StatusCode::kBadUse, "There is no session with the id " + std::to_string(session) + ".");
    const std::int64_t bowler = of.Int(0);
    for (const StoredShot& shot : shots) {
      std::optional<std::int64_t> ball;
      if (!shot.ball.empty()) {
        Statement add(db_->get(), "INSERT INTO ball (bowler_id, name) VALUES (?, ?) ON CONFLICT DO NOTHING");
        add.Bind(1, bowler).Bind(2, shot.ball);
        if (add.Step() != SQLITE_DONE) return db_->Failure("written");
        Statement find(db_->get(), "SELECT id FROM ball WHERE bowler_id = ? AND name = ?");
        find.Bind(1, bowler).Bind(2, shot.ball);
        if (find.Step() == SQLITE_ROW) ball = find.Int(0);
      }
      Statement known(db_->get(), "SELECT id FROM shot WHERE clip = ? AND clip_shot = ?");
      known.Bind(1, shot.clip).Bind(2, static_cast<std::int64_t>(shot.clip_shot));
      const bool is_new = known.Step() != SQLITE_ROW;
      // A shot measured again keeps its place and what people said of it, unless it is said anew.
      Statement put(
          db_->get(),
          "INSERT INTO shot (session_id, number, clip, clip_shot, ball_id, plan, arrows_target, breakpoint_target,"
          " stance_target, eyes_target, result, notes, measured, arrows_board, entry_board, entry_angle_deg, speed_mph)"
          " VALUES (?1, (SELECT coalesce(max(number), 0) + 1 FROM shot WHERE session_id = ?1),"
          " ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16)"
          " ON CONFLICT (clip, clip_shot) DO UPDATE SET measured = ?12, arrows_board = ?13, entry_board = ?14,"
          " entry_angle_deg = ?15, speed_mph = ?16, ball_id = coalesce(?4, ball_id), plan = coalesce(?5, plan),"
          " arrows_target = coalesce(?6, arrows_target), breakpoint_target = coalesce(?7, breakpoint_target),"
          " stance_target = coalesce(?8, stance_target), eyes_target = coalesce(?9, eyes_target),"
          " result = coalesce(?10, result), notes = coalesce(?11, notes)");
      put.Bind(1, session).Bind(2, shot.clip).Bind(3, static_cast<std::int64_t>(shot.clip_shot)).Bind(4, ball);
      put.BindText(5, shot.plan).Bind(6, shot.target.arrows_board).Bind(7, shot.target.breakpoint_board);
      put.Bind(8, shot.target.stance_board).Bind(9, shot.target.target_board).BindText(10, shot.result);
      put.BindText(11, shot.notes).Bind(12, shot.measured).Bind(13, shot.arrows_board).Bind(14, shot.entry_board);
      put.Bind(15, shot.entry_angle_deg).Bind(16, shot.speed_mph);
      if (put.Step() != SQLITE_DONE) return db_->Failure("written");
      added += is_new ? 1 : 0;
    }
    return Status::Ok();
  });
  if (!s.ok()) return s;
  return added;
}

Result<std::vector<StoredShot>> Library::Shots(const ShotFilter& filter) const {
  std::string sql =
      "SELECT shot.id, session_id, shot.number, clip, clip_shot, coalesce(ball.name, ''), plan, shot.notes, result,"
      " arrows_target, breakpoint_target, stance_target, eyes_target, measured, arrows_board, entry_board,"
      " entry_angle_deg, speed_mph FROM shot JOIN session ON session.id = session_id"
      " JOIN bowler ON bowler.id = session.bowler_id LEFT JOIN ball ON ball.id = ball_id WHERE 1";
  if (filter.session) sql += " AND session_id = :session";
  if (!filter.bowler.empty()) sql += " AND bowler.name = :bowler";
  if (!filter.ball.empty()) sql += " AND ball.name = :ball";
  sql += " ORDER BY session_id, shot.number LIMIT :limit";
  Statement s(db_->get(), sql);
  if (!s.ok()) return db_->Failure("read");
  // Numbered in the order they first stand in the text.
  int at = 1;
  if (filter.session) s.Bind(at++, *filter.session);
  if (!filter.bowler.empty()) s.Bind(at++, filter.bowler);
  if (!filter.ball.empty()) s.Bind(at++, filter.ball);
  s.Bind(at, filter.limit);
  std::vector<StoredShot> out;
  int code = SQLITE_DONE;
  while ((code = s.Step()) == SQLITE_ROW) {
    StoredShot shot;
    shot.id = s.Int(0);
    shot.session = s.Int(1);
    shot.number = static_cast<int>(s.Int(2));
    shot.clip = s.Text(3);
    shot.clip_shot = static_cast<int>(s.Int(4));
    shot.ball = s.Text(5);
    shot.plan = s.Text(6);
    shot.notes = s.Text(7);
    shot.result = s.Text(8);
    shot.target = {s.Number(9), s.Number(10), s.Number(11), s.Number(12)};
    shot.measured = s.Text(13);
    shot.arrows_board = s.Number(14);
    shot.entry_board = s.Number(15);
    shot.entry_angle_deg = s.Number(16);
    shot.speed_mph = s.Number(17);
    out.push_back(std::move(shot));
  }
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
      Statement add(db_->get(), "INSERT INTO ball (bowler_id, name) VALUES (?, ?) ON CONFLICT DO NOTHING");
      add.Bind(1, bowler).Bind(2, *change.ball);
      if (!change.ball->empty() && add.Step() != SQLITE_DONE) return db_->Failure("written");
      Statement set(db_->get(),
                    "UPDATE shot SET ball_id = (SELECT id FROM ball WHERE bowler_id = ? AND name = ?) WHERE id = ?");
      set.Bind(1, bowler).Bind(2, *change.ball).Bind(3, id);
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
    Statement remove(db_->get(), "DELETE FROM shot WHERE id = ?");
    remove.Bind(1, id);
    if (remove.Step() != SQLITE_DONE) return db_->Failure("written");
    return db_->Changes() == 1 ? Status::Ok() : NoSuchShot(id);
  });
}

Status Library::RemoveSession(std::int64_t id) {
  return db_->Transaction([&]() -> Status {
    Statement remove(db_->get(), "DELETE FROM session WHERE id = ?");
    remove.Bind(1, id);
    if (remove.Step() != SQLITE_DONE) return db_->Failure("written");
    return db_->Changes() == 1
               ? Status::Ok()
               : Status(StatusCode::kBadUse, "There is no session with the id " + std::to_string(id) + ".");
  });
}

}  // namespace hookline::library
