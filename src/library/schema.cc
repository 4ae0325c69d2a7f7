#include "library/schema.h"

#include <array>
#include <string>

namespace hookline::library {
namespace {

// Marks the file as ours (SQLite's application_id).
constexpr std::int64_t kOurs = 0x484B4C4E;

// Each step from one version to the next; never changed once released, only followed by another.
constexpr std::array<const char*, 3> kSteps = {
    // 1
    "CREATE TABLE bowler (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, hand TEXT NOT NULL DEFAULT 'right'"
    " CHECK (hand IN ('right', 'left')), hands INTEGER NOT NULL DEFAULT 1 CHECK (hands IN (1, 2)),"
    " usual_speed_mph REAL, usual_revs_rpm REAL);"
    "CREATE TABLE ball (id INTEGER PRIMARY KEY, bowler_id INTEGER NOT NULL REFERENCES bowler(id) ON DELETE CASCADE,"
    " name TEXT NOT NULL, cover TEXT, finish TEXT, symmetric INTEGER, weight_lb REAL, UNIQUE (bowler_id, name));"
    "CREATE TABLE place (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE);"
    "CREATE TABLE lane (id INTEGER PRIMARY KEY, place_id INTEGER NOT NULL REFERENCES place(id) ON DELETE CASCADE,"
    " name TEXT NOT NULL, setup TEXT, UNIQUE (place_id, name));"
    "CREATE TABLE session (id INTEGER PRIMARY KEY, bowler_id INTEGER NOT NULL REFERENCES bowler(id),"
    " lane_id INTEGER NOT NULL REFERENCES lane(id), day TEXT NOT NULL, UNIQUE (bowler_id, lane_id, day));"
    "CREATE TABLE shot (id INTEGER PRIMARY KEY, session_id INTEGER NOT NULL REFERENCES session(id) ON DELETE CASCADE,"
    " number INTEGER NOT NULL, clip TEXT NOT NULL, clip_shot INTEGER NOT NULL, ball_id INTEGER REFERENCES ball(id),"
    " plan TEXT, arrows_target REAL, breakpoint_target REAL, stance_target REAL, eyes_target REAL, result TEXT,"
    " notes TEXT, measured TEXT NOT NULL, arrows_board REAL, entry_board REAL, entry_angle_deg REAL, speed_mph REAL,"
    " UNIQUE (clip, clip_shot));"
    "CREATE INDEX shot_by_session ON shot (session_id, number);"
    "CREATE INDEX shot_by_ball ON shot (ball_id);",
    // 2: the ball's radius of gyration, which the spin told from the path rests on
    "ALTER TABLE ball ADD COLUMN rg_in REAL;",
    // 3: a clip is known by its content, so that a moved file is found again; the long measured text stands apart, so
    // that lists do not read through it; a lane has several setups, one a place of the camera
    "CREATE TABLE clip (id INTEGER PRIMARY KEY, file TEXT NOT NULL, size INTEGER, fingerprint TEXT UNIQUE);"
    "CREATE INDEX clip_by_file ON clip (file);"
    "INSERT INTO clip (file) SELECT DISTINCT clip FROM shot ORDER BY clip;"
    "CREATE TABLE shot_3 (id INTEGER PRIMARY KEY,"
    " session_id INTEGER NOT NULL REFERENCES session(id) ON DELETE CASCADE, number INTEGER NOT NULL,"
    " clip_id INTEGER NOT NULL REFERENCES clip(id), clip_shot INTEGER NOT NULL, release_s REAL,"
    " ball_id INTEGER REFERENCES ball(id), plan TEXT, arrows_target REAL, breakpoint_target REAL, stance_target REAL,"
    " eyes_target REAL, result TEXT, notes TEXT, arrows_board REAL, entry_board REAL, entry_angle_deg REAL,"
    " speed_mph REAL);"
    "INSERT INTO shot_3 SELECT shot.id, session_id, number, clip.id, clip_shot,"
    " CASE WHEN json_valid(measured) THEN json_extract(measured, '$.release_s') END, ball_id, plan, arrows_target,"
    " breakpoint_target, stance_target, eyes_target, result, notes, arrows_board, entry_board, entry_angle_deg,"
    " speed_mph FROM shot JOIN clip ON clip.file = shot.clip;"
    "CREATE TABLE measured (shot_id INTEGER PRIMARY KEY REFERENCES shot_3(id) ON DELETE CASCADE,"
    " document TEXT NOT NULL);"
    // What people say stands in the columns alone.
    "INSERT INTO measured SELECT id, CASE WHEN json_valid(measured) THEN"
    " json_remove(measured, '$.bowler', '$.ball', '$.plan', '$.target') ELSE measured END FROM shot;"
    "DROP TABLE shot;"
    "ALTER TABLE shot_3 RENAME TO shot;"
    "CREATE INDEX shot_by_session ON shot (session_id, number);"
    "CREATE INDEX shot_by_ball ON shot (ball_id, session_id, number);"
    "CREATE INDEX shot_by_clip ON shot (clip_id, clip_shot);"
    "CREATE TABLE lane_setup (id INTEGER PRIMARY KEY, lane_id INTEGER NOT NULL REFERENCES lane(id) ON DELETE CASCADE,"
    " name TEXT NOT NULL, document TEXT NOT NULL, UNIQUE (lane_id, name));"
    "INSERT INTO lane_setup (lane_id, name, document) SELECT id, 'usual', setup FROM lane WHERE setup IS NOT NULL;"
    "ALTER TABLE lane DROP COLUMN setup;"
    "CREATE INDEX session_by_lane ON session (lane_id);"};

std::int64_t Pragma(Database& db, const char* name) {
  Statement s(db.get(), std::string("PRAGMA ") + name);
  return s.Step() == SQLITE_ROW ? s.Int(0) : -1;
}

// A statement still open would lock the tables that a step drops.
bool IsEmpty(Database& db) {
  Statement tables(db.get(), "SELECT count(*) FROM sqlite_master");
  return tables.Step() == SQLITE_ROW && tables.Int(0) == 0;
}

}  // namespace

Status Migrate(Database& db, int version) {
  return db.Transaction([&]() -> Status {
    const std::int64_t now = Pragma(db, "user_version"), ours = Pragma(db, "application_id");
    if (now < 0) return db.Failure("read");
    const bool empty = IsEmpty(db);
    if (!empty && ours != kOurs)
      return Status(StatusCode::kBadFile, "This file is a database, but no library of shots; give another name.");
    if (now > version)
      return Status(StatusCode::kBadFile,
                    "This library was written by a newer version of the program (its version is " +
                        std::to_string(now) + ", this program knows " + std::to_string(version) +
                        "); nothing was changed.");
    if (now == version) return Status::Ok();
    for (std::int64_t step = now; step < version; ++step)
      if (Status s = db.Run(kSteps[static_cast<std::size_t>(step)]); !s.ok()) return s;
    if (Status s = db.Run("PRAGMA application_id=" + std::to_string(kOurs)); !s.ok()) return s;
    return db.Run("PRAGMA user_version=" + std::to_string(version));
  });
}

}  // namespace hookline::library
