// Libraries as older versions of the program made them, as SQL. Never changed: this is what lies on people's disks.
#pragma once

namespace hookline::test {

inline constexpr const char* kVersion1 =
    "PRAGMA application_id=1212894286; PRAGMA user_version=1;"
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
    "CREATE INDEX shot_by_ball ON shot (ball_id);";

inline constexpr const char* kVersion2 =
    "PRAGMA application_id=1212894286; PRAGMA user_version=2;"
    "CREATE TABLE bowler (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, hand TEXT NOT NULL DEFAULT 'right'"
    " CHECK (hand IN ('right', 'left')), hands INTEGER NOT NULL DEFAULT 1 CHECK (hands IN (1, 2)),"
    " usual_speed_mph REAL, usual_revs_rpm REAL);"
    "CREATE TABLE ball (id INTEGER PRIMARY KEY, bowler_id INTEGER NOT NULL REFERENCES bowler(id) ON DELETE CASCADE,"
    " name TEXT NOT NULL, cover TEXT, finish TEXT, symmetric INTEGER, weight_lb REAL, rg_in REAL,"
    " UNIQUE (bowler_id, name));"
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
    "CREATE INDEX shot_by_ball ON shot (ball_id);";

// Fits both.
inline constexpr const char* kOldContent =
    "INSERT INTO bowler (id, name, hand) VALUES (1, 'Robin', 'left');"
    "INSERT INTO ball (id, bowler_id, name, weight_lb) VALUES (1, 1, 'blue', 15);"
    "INSERT INTO place (id, name) VALUES (1, 'Maple Hall');"
    "INSERT INTO lane (id, place_id, name, setup) VALUES (1, 1, '7', '{\"format\":\"hookline-lane-setup\"}'),"
    " (2, 1, '8', NULL);"
    "INSERT INTO session (id, bowler_id, lane_id, day) VALUES (1, 1, 1, '2026-11-20');"
    "INSERT INTO shot (id, session_id, number, clip, clip_shot, ball_id, plan, arrows_target, eyes_target, result,"
    " notes, measured, entry_board) VALUES"
    " (11, 1, 1, 'evening/a.mp4', 1, 1, 'narrow', 12, 13, 'strike', 'good',"
    " '{\"number\":1,\"bowler\":null,\"ball\":null,\"plan\":null,\"target\":{},\"release_s\":1.5,"
    "\"measures\":{\"entry_board\":{\"value\":17.25,\"sd\":0.1}}}', 17.25),"
    " (12, 1, 2, 'evening/a.mp4', 2, NULL, NULL, NULL, NULL, NULL, NULL, 'no json at all', NULL),"
    " (13, 1, 3, 'evening/b.mp4', 1, NULL, NULL, NULL, NULL, NULL, NULL, '{\"number\":1}', 17);";

}  // namespace hookline::test
