#include <algorithm>
#include <cmath>
#include <map>

#include "library/database.h"
#include "library/library.h"

namespace hookline::library {
namespace {

struct Known {
  std::int64_t id = 0, session = 0;
  int clip_shot = 0;
  std::optional<double> release_s;
  bool taken = false;
};

Result<std::vector<Known>> ShotsOfClip(const Database& db, std::int64_t clip) {
  Statement s(db.get(), "SELECT id, session_id, clip_shot, release_s FROM shot WHERE clip_id = ? ORDER BY id");
  s.Bind(1, clip);
  std::vector<Known> out;
  int code = SQLITE_DONE;
  while ((code = s.Step()) == SQLITE_ROW)
    out.push_back({s.Int(0), s.Int(1), static_cast<int>(s.Int(2)), s.Number(3), false});
  if (code != SQLITE_DONE) return db.Failure("read");
  return out;
}

// Times are those of releases: two within a moment, as of shots made without a film, tell nothing.
template <class Shots, class Time>
bool TimesTell(const Shots& shots, const Time& time) {
  std::vector<double> times;
  for (const auto& s : shots)
    if (const std::optional<double> t = time(s)) times.push_back(*t);
  std::sort(times.begin(), times.end());
  for (std::size_t i = 1; i < times.size(); ++i)
    if (times[i] - times[i - 1] < Library::kSameReleaseS) return false;
  return !times.empty();
}

// The known shot that each of `shots` is, both of one clip: by the time of release, else by number; -1 none.
std::vector<std::ptrdiff_t> Matched(const std::vector<const StoredShot*>& shots, std::vector<Known>& known) {
  std::vector<std::ptrdiff_t> out(shots.size(), -1);
  const bool times = TimesTell(shots, [](const StoredShot* s) { return s->release_s; }) &&
                     TimesTell(known, [](const Known& k) { return k.release_s; });
  for (std::size_t i = 0; times && i < shots.size(); ++i) {
    if (!shots[i]->release_s) continue;
    double nearest = Library::kSameReleaseS;
    for (std::size_t k = 0; k < known.size(); ++k) {
      if (known[k].taken || !known[k].release_s) continue;
      const double off = std::abs(*known[k].release_s - *shots[i]->release_s);
      if (off < nearest) {
        nearest = off;
        out[i] = static_cast<std::ptrdiff_t>(k);
      }
    }
    if (out[i] >= 0) known[static_cast<std::size_t>(out[i])].taken = true;
  }
  for (std::size_t i = 0; i < shots.size(); ++i) {
    if (out[i] >= 0) continue;
    for (std::size_t k = 0; k < known.size(); ++k) {
      if (known[k].taken || known[k].clip_shot != shots[i]->clip_shot) continue;
      if (times && known[k].release_s && shots[i]->release_s) continue;  // the times said that it is another
      known[k].taken = true;
      out[i] = static_cast<std::ptrdiff_t>(k);
      break;
    }
  }
  return out;
}

// Shots by clip, in the order in which the clips come.
std::vector<std::vector<const StoredShot*>> ByClip(const std::vector<StoredShot>& shots) {
  std::map<std::pair<std::string, std::string>, std::size_t> at;
  std::vector<std::vector<const StoredShot*>> out;
  for (const StoredShot& s : shots) {
    const auto key =
        s.clip_fingerprint.empty() ? std::pair(std::string(), s.clip) : std::pair(s.clip_fingerprint, std::string());
    const auto [found, is_new] = at.try_emplace(key, out.size());
    if (is_new) out.emplace_back();
    out[found->second].push_back(&s);
  }
  return out;
}

constexpr const char* kColumns =
    "SELECT shot.id, session_id, shot.number, clip.file, coalesce(clip.fingerprint, ''), clip.size, clip_shot, "
    "release_s,"
    " coalesce(ball.name, ''), plan, shot.notes, result, arrows_target, breakpoint_target, stance_target, eyes_target,"
    " arrows_board, entry_board, entry_angle_deg, speed_mph";

StoredShot RowOf(const Statement& s) {
  StoredShot shot;
  shot.id = s.Int(0);
  shot.session = s.Int(1);
  shot.number = static_cast<int>(s.Int(2));
  shot.clip = s.Text(3);
  shot.clip_fingerprint = s.Text(4);
  shot.clip_size = s.MaybeInt(5);
  shot.clip_shot = static_cast<int>(s.Int(6));
  shot.release_s = s.Number(7);
  shot.ball = s.Text(8);
  shot.plan = s.Text(9);
  shot.notes = s.Text(10);
  shot.result = s.Text(11);
  shot.target = {s.Number(12), s.Number(13), s.Number(14), s.Number(15)};
  shot.arrows_board = s.Number(16);
  shot.entry_board = s.Number(17);
  shot.entry_angle_deg = s.Number(18);
  shot.speed_mph = s.Number(19);
  return shot;
}

// What Keep would make of `now` with `put` is other than `now`.
bool Changes(const StoredShot& now, const StoredShot& put) {
  const auto text = [](const std::string& a, const std::string& b) { return !b.empty() && a != b; };
  const auto number = [](const std::optional<double>& a, const std::optional<double>& b) { return b && a != b; };
  return now.measured != put.measured || text(now.ball, put.ball) || text(now.plan, put.plan) ||
         text(now.notes, put.notes) || text(now.result, put.result) ||
         number(now.target.arrows_board, put.target.arrows_board) ||
         number(now.target.breakpoint_board, put.target.breakpoint_board) ||
         number(now.target.stance_board, put.target.stance_board) ||
         number(now.target.target_board, put.target.target_board);
}

}  // namespace

Result<std::optional<std::int64_t>> Library::ClipId(const StoredShot& shot) const {
  const auto found = [&](const char* sql, const std::string& text) -> std::optional<std::int64_t> {
    Statement s(db_->get(), sql);
    s.Bind(1, text);
    return s.Step() == SQLITE_ROW ? std::optional(s.Int(0)) : std::nullopt;
  };
  std::optional<std::int64_t> id;
  if (shot.clip_fingerprint.empty()) {
    id = found("SELECT id FROM clip WHERE file = ? ORDER BY id DESC LIMIT 1", shot.clip);
  } else {
    id = found("SELECT id FROM clip WHERE fingerprint = ?", shot.clip_fingerprint);
    // A clip kept before its content was looked at.
    if (!id) id = found("SELECT id FROM clip WHERE file = ? AND fingerprint IS NULL ORDER BY id LIMIT 1", shot.clip);
  }
  if (sqlite3_errcode(db_->get()) != SQLITE_ROW && sqlite3_errcode(db_->get()) != SQLITE_DONE &&
      sqlite3_errcode(db_->get()) != SQLITE_OK)
    return db_->Failure("read");
  return id;
}

Result<std::optional<std::int64_t>> Library::BallId(std::int64_t bowler, const std::string& name) {
  if (name.empty()) return std::optional<std::int64_t>();
  Statement add(db_->get(), "INSERT INTO ball (bowler_id, name) VALUES (?, ?) ON CONFLICT DO NOTHING");
  add.Bind(1, bowler).Bind(2, name);
  if (add.Step() != SQLITE_DONE) return db_->Failure("written");
  Statement find(db_->get(), "SELECT id FROM ball WHERE bowler_id = ? AND name = ?");
  find.Bind(1, bowler).Bind(2, name);
  if (find.Step() != SQLITE_ROW) return db_->Failure("read");
  return std::optional<std::int64_t>(find.Int(0));
}

Result<Kept> Library::Keep(std::int64_t session, const std::vector<StoredShot>& shots) {
  Kept kept;
  const Status s = db_->Transaction([&]() -> Status {
    kept = {};
    Statement of(db_->get(), "SELECT bowler_id FROM session WHERE id = ?");
    of.Bind(1, session);
    if (of.Step() != SQLITE_ROW)
      return Status(StatusCode::kBadUse, "There is no session with the id " + std::to_string(session) + ".");
    const std::int64_t bowler = of.Int(0);
    for (const auto& group : ByClip(shots)) {
      const StoredShot& first = *group.front();
      const auto known_clip = ClipId(first);
      if (!known_clip.ok()) return known_clip.status();
      std::int64_t clip = known_clip->value_or(0);
      if (!*known_clip) {
        Statement add(db_->get(), "INSERT INTO clip (file, size, fingerprint) VALUES (?, ?, ?)");
        add.Bind(1, first.clip).Bind(2, first.clip_size).BindText(3, first.clip_fingerprint);
        if (add.Step() != SQLITE_DONE) return db_->Failure("written");
        clip = db_->LastId();
      } else {
        // Where it lies now.
        Statement moved(db_->get(),
                        "UPDATE clip SET file = ?1, size = coalesce(?2, size),"
                        " fingerprint = coalesce(?3, fingerprint) WHERE id = ?4");
        moved.Bind(1, first.clip).Bind(2, first.clip_size).BindText(3, first.clip_fingerprint).Bind(4, clip);
        if (moved.Step() != SQLITE_DONE) return db_->Failure("written");
      }
      auto known = ShotsOfClip(*db_, clip);
      if (!known.ok()) return known.status();
      const auto matched = Matched(group, *known);
      for (std::size_t i = 0; i < group.size(); ++i) {
        const StoredShot& shot = *group[i];
        const Known* is = matched[i] >= 0 ? &(*known)[static_cast<std::size_t>(matched[i])] : nullptr;
        std::int64_t owner = bowler;
        if (is && is->session != session) {
          ++kept.elsewhere;
          Statement whose(db_->get(), "SELECT bowler_id FROM session WHERE id = ?");
          whose.Bind(1, is->session);
          if (whose.Step() == SQLITE_ROW) owner = whose.Int(0);
        }
        const auto ball = BallId(owner, shot.ball);
        if (!ball.ok()) return ball.status();
        // A shot measured again keeps its place and what people said of it, unless it is said anew.
        Statement put(
            db_->get(),
            is ? "UPDATE shot SET clip_shot = ?1, release_s = coalesce(?2, release_s), ball_id = coalesce(?3, ball_id),"
                 " plan = coalesce(?4, plan), arrows_target = coalesce(?5, arrows_target),"
                 " breakpoint_target = coalesce(?6, breakpoint_target), stance_target = coalesce(?7, stance_target),"
                 " eyes_target = coalesce(?8, eyes_target), result = coalesce(?9, result), notes = coalesce(?10, "
                 "notes),"
                 " arrows_board = ?11, entry_board = ?12, entry_angle_deg = ?13, speed_mph = ?14 WHERE id = ?15"
               : "INSERT INTO shot (clip_shot, release_s, ball_id, plan, arrows_target, breakpoint_target, "
                 "stance_target,"
                 " eyes_target, result, notes, arrows_board, entry_board, entry_angle_deg, speed_mph, session_id, "
                 "clip_id,"
                 " number) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16,"
                 " CASE WHEN ?17 > 0 AND NOT EXISTS (SELECT 1 FROM shot WHERE session_id = ?15 AND number = ?17)"
                 " THEN ?17 ELSE (SELECT coalesce(max(number), 0) + 1 FROM shot WHERE session_id = ?15) END)");
        put.Bind(1, static_cast<std::int64_t>(shot.clip_shot)).Bind(2, shot.release_s).Bind(3, *ball);
        put.BindText(4, shot.plan).Bind(5, shot.target.arrows_board).Bind(6, shot.target.breakpoint_board);
        put.Bind(7, shot.target.stance_board).Bind(8, shot.target.target_board).BindText(9, shot.result);
        put.BindText(10, shot.notes).Bind(11, shot.arrows_board).Bind(12, shot.entry_board);
        put.Bind(13, shot.entry_angle_deg).Bind(14, shot.speed_mph).Bind(15, is ? is->id : session);
        if (!is) put.Bind(16, clip).Bind(17, static_cast<std::int64_t>(shot.number));
        if (put.Step() != SQLITE_DONE) return db_->Failure("written");
        ++(is ? kept.updated : kept.added);
        Statement text(db_->get(), "INSERT OR REPLACE INTO measured (shot_id, document) VALUES (?, ?)");
        text.Bind(1, is ? is->id : db_->LastId()).Bind(2, shot.measured);
        if (text.Step() != SQLITE_DONE) return db_->Failure("written");
      }
      for (const Known& k : *known)
        if (!k.taken) kept.not_found.push_back(k.id);
    }
    return Status::Ok();
  });
  if (!s.ok()) return s;
  return kept;
}

Result<int> Library::PutShots(std::int64_t session, const std::vector<StoredShot>& shots) {
  const auto kept = Keep(session, shots);
  if (!kept.ok()) return kept.status();
  return kept->added;
}

Result<int> Library::WouldChange(const std::vector<StoredShot>& shots) const {
  int changed = 0;
  for (const auto& group : ByClip(shots)) {
    const auto clip = ClipId(*group.front());
    if (!clip.ok()) return clip.status();
    if (!*clip) continue;
    auto known = ShotsOfClip(*db_, **clip);
    if (!known.ok()) return known.status();
    const auto matched = Matched(group, *known);
    for (std::size_t i = 0; i < group.size(); ++i) {
      if (matched[i] < 0) continue;
      Statement s(db_->get(), std::string(kColumns) +
                                  ", document FROM shot JOIN clip ON clip.id = clip_id LEFT JOIN ball ON ball.id ="
                                  " ball_id JOIN measured ON shot_id = shot.id WHERE shot.id = ?");
      s.Bind(1, (*known)[static_cast<std::size_t>(matched[i])].id);
      if (s.Step() != SQLITE_ROW) return db_->Failure("read");
      StoredShot now = RowOf(s);
      now.measured = s.Text(20);
      changed += Changes(now, *group[i]) ? 1 : 0;
    }
  }
  return changed;
}

Result<std::vector<StoredShot>> Library::Shots(const ShotFilter& filter) const {
  std::string sql = std::string(kColumns) + (filter.measured ? ", document" : "") +
                    " FROM shot JOIN clip ON clip.id = clip_id LEFT JOIN ball ON ball.id = ball_id";
  if (filter.measured) sql += " JOIN measured ON shot_id = shot.id";
  if (!filter.bowler.empty())
    sql += " JOIN session ON session.id = session_id JOIN bowler ON bowler.id = session.bowler_id";
  sql += " WHERE 1";
  if (filter.session) sql += " AND session_id = :session";
  if (!filter.bowler.empty()) sql += " AND bowler.name = :bowler";
  if (!filter.ball.empty()) sql += " AND ball.name = :ball";
  if (filter.after > 0) sql += " AND shot.id > :after";
  sql += filter.after > 0 ? " ORDER BY shot.id" : " ORDER BY session_id, shot.number, shot.id";
  sql += " LIMIT :limit";
  Statement s(db_->get(), sql);
  if (!s.ok()) return db_->Failure("read");
  // Numbered in the order they first stand in the text.
  int at = 1;
  if (filter.session) s.Bind(at++, *filter.session);
  if (!filter.bowler.empty()) s.Bind(at++, filter.bowler);
  if (!filter.ball.empty()) s.Bind(at++, filter.ball);
  if (filter.after > 0) s.Bind(at++, filter.after);
  s.Bind(at, filter.limit);
  std::vector<StoredShot> out;
  int code = SQLITE_DONE;
  while ((code = s.Step()) == SQLITE_ROW) {
    out.push_back(RowOf(s));
    if (filter.measured) out.back().measured = s.Text(20);
  }
  if (code != SQLITE_DONE) return db_->Failure("read");
  return out;
}

}  // namespace hookline::library
