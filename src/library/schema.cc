#include "library/schema.h"

#include <array>
#include <string>

namespace hookline::library {
namespace {

// Marks the file as ours (SQLite's application_id).
constexpr std::int64_t kOurs = 0x484B4C4E;

// Each step from one version to the next; never changed once released, only followed by another.
constexpr std::array<const char*, 2> kSteps = {
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
    "ALTER TABLE ball ADD COLUMN rg_in REAL;"};

std::int64_t Pragma(Database& db, const char* name) {
  Statement s(db.get(), std::string("PRAGMA ") + name);
  return s.Step() == SQLITE_ROW ? s.Int(0) : -1;
}

}  // namespace

Status Migrate(Database& db, int version) {
  return db.Transaction([&]() -> Status {
    const std::int64_t now = Pragma(db, "user_version"), ours = Pragma(db, "application_id");
    if (now < 0) return db.Failure("read");
    Statement tables(db.get(), "SELECT count(*) FROM sqlite_master");
    const bool empty = tables.Step() == SQLITE_ROW && tables.Int(0) == 0;
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
