// The shot library: bowlers, their balls, places and lanes, sessions and shots, in one SQLite file.
//
// A shot belongs to a session (one bowler, one lane, one day) and is known by its clip and its place in that clip:
// measuring the clip again updates the shot and keeps what people said about it (ball, plan, target, result, notes).
//   Clip: known by its content (clip_fingerprint.h), so a file that was moved or renamed is the same clip, and another
//   film under an old name is another clip. Where the content is not known the name must do.
//   Place in the clip: the time of release within kSameReleaseS, so that a shot more or less that was found does not
//   mix up what was said; the number where no time is known.
// The measured part is kept as the text of the result file's shot (docs/result-file.md); few of its numbers are columns
// too, for lists. Every change is a transaction: a kill, a full disk or a second program leaves either all of it or
// nothing. The schema has a version; opening an older file brings it up to date in one transaction, a newer one is
// refused.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/status.h"
#include "lane/lane_spec.h"
#include "model/shot.h"

namespace hookline::library {

class Database;

struct Bowler {
  std::int64_t id = 0;
  std::string name;
  lane::Hand hand = lane::Hand::kRight;
  int hands = 1;  // 1 or 2 on the ball at release
  std::optional<double> usual_speed_mph, usual_revs_rpm;
};

struct Ball {
  std::int64_t id = 0;
  std::string name, bowler;
  std::string cover, finish;               // the cover's grip and its finish, in the user's words
  std::optional<std::int64_t> symmetric;   // core: 1 symmetric, 0 not
  std::optional<double> weight_lb, rg_in;  // as the maker prints them
};

struct Session {
  std::int64_t id = 0;
  std::string bowler, place, lane, day;  // day: YYYY-MM-DD
  std::int64_t shots = 0;
};

struct StoredShot {
  std::int64_t id = 0, session = 0;
  int number = 0;                         // in the session, 1 first
  std::string clip;                       // file
  std::string clip_fingerprint;           // of its content; empty: not known
  std::optional<std::int64_t> clip_size;  // bytes
  int clip_shot = 0;                      // number in the clip
  std::optional<double> release_s;        // in the clip
  std::string ball, plan, notes;
  std::string result;  // in the user's words: "strike", "7-10 split", "9"
  ShotTarget target;
  std::string measured;  // the shot in the result file's form, JSON
  std::optional<double> arrows_board, entry_board, entry_angle_deg, speed_mph;  // for lists
};

struct ShotFilter {
  std::optional<std::int64_t> session;
  std::string bowler, ball;  // empty: any
  std::int64_t limit = 1000;
  bool measured = true;    // the long text too; lists do without
  std::int64_t after = 0;  // only shots with a higher id, in the order of their ids: a page of many
};

// What became of shots that were put in.
struct Kept {
  int added = 0, updated = 0;
  int elsewhere = 0;                    // updated in another session, where they stay
  std::vector<std::int64_t> not_found;  // ids of shots of these clips that were not among them; they stay too
};

// Where the camera stood on a lane: a lane setup's text (docs/lane-setup-file.md) by place, lane and a name of its own.
struct StoredSetup {
  std::int64_t id = 0;
  std::string place, lane, name, document;
};

// What a person says of a shot; empty optionals stay as they are.
struct ShotChange {
  std::optional<std::string> ball, plan, notes, result;
  std::optional<double> arrows_board, breakpoint_board, stance_board, target_board;
};

// $XDG_DATA_HOME/hookline/library.db, or ~/.local/share/hookline/library.db.
std::string DefaultFile();

class Library {
 public:
  static constexpr int kVersion = 3;
  static constexpr double kSameReleaseS = 2;  // a bowler does not release twice in that time

  // Creates the file and its folder's missing last part when there is none. kBadFile with a sentence.
  static Result<std::unique_ptr<Library>> Open(const std::string& file);
  ~Library();

  // Found by name, or added. A bowler's or ball's given fields replace what was stored.
  Result<std::int64_t> PutBowler(const Bowler& bowler);
  Result<std::int64_t> PutBall(const Ball& ball);
  Result<std::vector<Bowler>> Bowlers() const;
  Result<std::vector<Ball>> Balls() const;

  // The session of that bowler, place, lane and day, made when there is none.
  Result<std::int64_t> PutSession(const Session& session);
  Result<std::vector<Session>> Sessions() const;

  // Adds shots to a session, or updates those that are known (see above); all or none. A number of the session that is
  // given and free is taken, else the next.
  Result<Kept> Keep(std::int64_t session, const std::vector<StoredShot>& shots);
  // The same; returns how many were new.
  Result<int> PutShots(std::int64_t session, const std::vector<StoredShot>& shots);
  // How many of these shots are known and would come out of Keep other than they are.
  Result<int> WouldChange(const std::vector<StoredShot>& shots) const;
  // Several of the calls above as one: all of it or nothing.
  Status Together(const std::function<Status()>& work);
  Result<std::vector<StoredShot>> Shots(const ShotFilter& filter) const;
  // kBadUse when there is no such shot.
  Status ChangeShot(std::int64_t id, const ShotChange& change);
  Status RemoveShot(std::int64_t id);
  // The caller has asked; the session's shots go with it.
  Status RemoveSession(std::int64_t id);

  // Replaces the setup of that place, lane and name; the caller has asked where there was one.
  Result<std::int64_t> PutSetup(const StoredSetup& setup);
  // All of them, or those of a place, a lane, a name; empty: any. By place, lane and name.
  Result<std::vector<StoredSetup>> Setups(const std::string& place = "", const std::string& lane = "",
                                          const std::string& name = "") const;
  Status RemoveSetup(std::int64_t id);

 private:
  explicit Library(std::unique_ptr<Database> db);
  Result<std::int64_t> IdOf(const char* table, const std::string& name);
  Result<std::int64_t> LaneId(const std::string& place, const std::string& lane);
  Result<std::optional<std::int64_t>> ClipId(const StoredShot& shot) const;
  Result<std::optional<std::int64_t>> BallId(std::int64_t bowler, const std::string& name);
  std::unique_ptr<Database> db_;
};

}  // namespace hookline::library
