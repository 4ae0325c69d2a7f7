#include "pipeline/library_exchange.h"

#include <algorithm>
#include <filesystem>
#include <map>
#include <nlohmann/json.hpp>
#include <tuple>

#include "library/clip_fingerprint.h"
#include "pipeline/shot_table.h"
#include "report/read_result.h"

namespace hookline::pipeline {
namespace {

using library::Library;
using library::StoredShot;
using Json = nlohmann::ordered_json;

Json TextOrNull(const std::string& t) { return t.empty() ? Json(nullptr) : Json(t); }

std::string TextOf(const Json& j, const char* key) {
  const auto it = j.find(key);
  return it != j.end() && it->is_string() ? it->get<std::string>() : std::string();
}

std::optional<double> NumberOf(const Json& j, const char* key) {
  const auto it = j.find(key);
  return it != j.end() && it->is_number() ? std::optional(it->get<double>()) : std::nullopt;
}

std::optional<std::int64_t> WholeOf(const Json& j, const char* key) {
  const auto it = j.find(key);
  return it != j.end() && it->is_number_integer() ? std::optional(it->get<std::int64_t>()) : std::nullopt;
}

std::optional<double> ValueOf(const Json& shot, const char* key) {
  const auto measures = shot.find("measures");
  if (measures == shot.end() || !measures->is_object()) return std::nullopt;
  const auto m = measures->find(key);
  return m != measures->end() && m->is_object() ? NumberOf(*m, "value") : std::nullopt;
}

std::string Dumped(const Json& j) { return j.dump(-1, ' ', false, Json::error_handler_t::replace); }

Json TargetJson(const ShotTarget& t) {
  Json j = Json::object();
  const auto number = [&](const char* key, const std::optional<double>& v) {
    if (v) j[key] = *v;
  };
  number("arrows_board", t.arrows_board);
  number("breakpoint_board", t.breakpoint_board);
  number("stance_board", t.stance_board);
  number("target_board", t.target_board);
  return j;
}

ShotTarget TargetOf(const Json& shot) {
  const auto t = shot.find("target");
  if (t == shot.end() || !t->is_object()) return {};
  return {NumberOf(*t, "arrows_board"), NumberOf(*t, "breakpoint_board"), NumberOf(*t, "stance_board"),
          NumberOf(*t, "target_board")};
}

// What people said moves into the columns, and the lists' numbers with it.
StoredShot Stored(Json j) {
  StoredShot shot;
  shot.clip_shot = static_cast<int>(NumberOf(j, "number").value_or(0));
  shot.release_s = NumberOf(j, "release_s");
  shot.ball = TextOf(j, "ball");
  shot.plan = TextOf(j, "plan");
  shot.target = TargetOf(j);
  shot.result = TextOf(j, "result");
  shot.notes = TextOf(j, "notes");
  shot.arrows_board = ValueOf(j, "board_at_arrows");
  shot.entry_board = ValueOf(j, "entry_board");
  shot.entry_angle_deg = ValueOf(j, "entry_angle_deg");
  shot.speed_mph = ValueOf(j, "speed_mean_mph");
  for (const char* key : {"bowler", "ball", "plan", "target", "result", "notes"}) j.erase(key);
  shot.measured = Dumped(j);
  return shot;
}

// What of a shot is not in its measured part.
Json Said(const StoredShot& stored, const library::Session& session) {
  Json j = {{"number", stored.number},
            {"bowler", TextOrNull(session.bowler)},
            {"ball", TextOrNull(stored.ball)},
            {"plan", TextOrNull(stored.plan)},
            {"target", TargetJson(stored.target)},
            {"result", TextOrNull(stored.result)},
            {"notes", TextOrNull(stored.notes)},
            {"session", {{"place", session.place}, {"lane", session.lane}, {"day", session.day}}},
            {"clip", {{"file", stored.clip}, {"shot", stored.clip_shot}}}};
  if (!stored.clip_fingerprint.empty()) j["clip"]["fingerprint"] = stored.clip_fingerprint;
  if (stored.clip_size) j["clip"]["size_bytes"] = *stored.clip_size;
  return j;
}

Json Whole(const StoredShot& stored, const library::Session& session) {
  Json j = Json::parse(stored.measured, nullptr, false);
  if (j.is_discarded() || !j.is_object()) j = Json::object();
  const Json said = Said(stored, session);
  for (const auto& [key, value] : said.items()) j[key] = value;
  return j;
}

// Calls `each` for every shot asked for, in order, with its session; a page at a time.
Status ForShots(const Library& library, std::optional<std::int64_t> only,
                const std::function<Status(const StoredShot&, const library::Session&)>& each) {
  const auto sessions = library.Sessions();
  if (!sessions.ok()) return sessions.status();
  bool found = !only;
  for (const library::Session& session : *sessions) {
    if (only && session.id != *only) continue;
    found = true;
    library::ShotFilter filter;
    filter.session = session.id;
    filter.limit = 1000000;
    const auto shots = library.Shots(filter);
    if (!shots.ok()) return shots.status();
    for (const StoredShot& shot : *shots)
      if (Status s = each(shot, session); !s.ok()) return s;
  }
  if (!found) return Status(StatusCode::kBadUse, "There is no session with the id " + std::to_string(*only) + ".");
  return Status::Ok();
}

std::string Document(const std::string& shots, const Json& facts) {
  const Json lane_setup = {{"found", false}, {"reason", "These shots come from the library."}};
  // A row a shot: the file can be looked at, and a library of many shots is no tree in memory.
  return "{\"format\": \"hookline-shots\", \"version\": 1, \"clip\": {\"file\": \"\"},\n\"lane_setup\": " +
         Dumped(lane_setup) + ",\n\"shots\": [" + shots +
         "],\n\"no_shot_reason\": " + (shots.empty() ? "\"The library holds no shot there.\"" : "null") +
         ",\n\"library\": " + Dumped(facts) + ",\n\"warnings\": []}\n";
}

// Cut out of the text, before it is parsed. A quote within a text is escaped, so this is the key and nothing else, and
// the points hold no list.
void DropPath(std::string* measured) {
  const std::string key = "\"path\":[";
  const auto from = measured->find(key);
  if (from == std::string::npos) return;
  const auto to = measured->find(']', from);
  if (to != std::string::npos) measured->erase(from + key.size(), to - from - key.size());
}

Json BowlerJson(const library::Bowler& b) {
  return {{"name", b.name},
          {"hand", b.hand == lane::Hand::kLeft ? "left" : "right"},
          {"hands", b.hands},
          {"usual_speed_mph", b.usual_speed_mph ? Json(*b.usual_speed_mph) : Json(nullptr)},
          {"usual_revs_rpm", b.usual_revs_rpm ? Json(*b.usual_revs_rpm) : Json(nullptr)}};
}

Json BallJson(const library::Ball& b) {
  return {{"bowler", b.bowler},
          {"name", b.name},
          {"cover", TextOrNull(b.cover)},
          {"finish", TextOrNull(b.finish)},
          {"symmetric", b.symmetric ? Json(*b.symmetric) : Json(nullptr)},
          {"weight_lb", b.weight_lb ? Json(*b.weight_lb) : Json(nullptr)},
          {"rg_in", b.rg_in ? Json(*b.rg_in) : Json(nullptr)}};
}

library::Bowler BowlerOf(const Json& j) {
  library::Bowler b;
  b.name = TextOf(j, "name");
  b.hand = TextOf(j, "hand") == "left" ? lane::Hand::kLeft : lane::Hand::kRight;
  b.hands = WholeOf(j, "hands").value_or(1) == 2 ? 2 : 1;
  b.usual_speed_mph = NumberOf(j, "usual_speed_mph");
  b.usual_revs_rpm = NumberOf(j, "usual_revs_rpm");
  return b;
}

library::Ball BallOf(const Json& j) {
  library::Ball b;
  b.bowler = TextOf(j, "bowler");
  b.name = TextOf(j, "name");
  b.cover = TextOf(j, "cover");
  b.finish = TextOf(j, "finish");
  b.symmetric = WholeOf(j, "symmetric");
  b.weight_lb = NumberOf(j, "weight_lb");
  b.rg_in = NumberOf(j, "rg_in");
  return b;
}

// Shots gathered by session, in the order in which the sessions come.
class Gatherer {
 public:
  explicit Gatherer(Import& into) : into_(into) {}
  void Add(const library::Session& session, StoredShot shot) {
    const auto [found, is_new] =
        at_.try_emplace(std::tuple(session.bowler, session.place, session.lane, session.day), into_.sessions.size());
    if (is_new) into_.sessions.push_back({session, {}});
    into_.sessions[found->second].shots.push_back(std::move(shot));
  }

 private:
  Import& into_;
  std::map<std::tuple<std::string, std::string, std::string, std::string>, std::size_t> at_;
};

Status ImportJson(const std::string& text, const std::string& file, Import* into) {
  const auto bad = [&](const std::string& what) { return Status(StatusCode::kBadFile, file + ": " + what); };
  Json document = Json::parse(text, nullptr, false);
  if (document.is_discarded() || !document.is_object() || TextOf(document, "format") != "hookline-shots" ||
      !document.contains("shots") || !document["shots"].is_array())
    return bad("this is no file that `hookline library export` wrote.");
  Gatherer gather(*into);
  for (Json& j : document["shots"]) {
    const auto session = j.find("session");
    if (!j.is_object() || session == j.end() || !session->is_object())
      return bad("its shots name no session; add a result file with `hookline library add`.");
    const library::Session of{
        0, TextOf(j, "bowler"), TextOf(*session, "place"), TextOf(*session, "lane"), TextOf(*session, "day"), 0};
    const Json clip = j.value("clip", Json::object());
    const int number = static_cast<int>(NumberOf(j, "number").value_or(0));
    j["number"] = clip.is_object() ? WholeOf(clip, "shot").value_or(number) : number;
    j.erase("session");
    j.erase("clip");
    StoredShot shot = Stored(std::move(j));
    shot.number = number;
    shot.clip = clip.is_object() ? TextOf(clip, "file") : "";
    if (shot.clip.empty()) shot.clip = file;
    if (clip.is_object()) {
      shot.clip_fingerprint = TextOf(clip, "fingerprint");
      shot.clip_size = WholeOf(clip, "size_bytes");
    }
    gather.Add(of, std::move(shot));
  }
  const Json facts = document.value("library", Json::object());
  const auto list = [&](const char* key) {
    return facts.is_object() ? facts.value(key, Json::array()) : Json::array();
  };
  for (const Json& j : list("bowlers"))
    if (j.is_object() && !TextOf(j, "name").empty()) into->bowlers.push_back(BowlerOf(j));
  for (const Json& j : list("balls"))
    if (j.is_object() && !TextOf(j, "name").empty()) into->balls.push_back(BallOf(j));
  for (const Json& j : list("lane_setups"))
    if (j.is_object() && j.contains("setup"))
      into->setups.push_back({0, TextOf(j, "place"), TextOf(j, "lane"), TextOf(j, "name"), j["setup"].dump(1) + "\n"});
  return Status::Ok();
}

Status ImportCsv(const std::string& text, const std::string& file, Import* into) {
  auto rows = ReadShotTable(text, file);
  if (!rows.ok()) return rows.status();
  Gatherer gather(*into);
  for (ShotRow& row : *rows) {
    StoredShot shot = Stored(std::move(row.shot));
    shot.number = row.number;
    shot.clip = row.clip.empty() ? file : row.clip;
    shot.clip_fingerprint = row.clip_fingerprint;
    shot.clip_size = row.clip_size;
    gather.Add(row.session, std::move(shot));
  }
  return Status::Ok();
}

bool Same(const library::Bowler& a, const library::Bowler& b) { return BowlerJson(a) == BowlerJson(b); }
bool Same(const library::Ball& a, const library::Ball& b) { return BallJson(a) == BallJson(b); }

}  // namespace

std::size_t Import::shots() const {
  std::size_t n = 0;
  for (const ImportedSession& s : sessions) n += s.shots.size();
  return n;
}

Result<std::vector<StoredShot>> ShotsFromResult(const std::string& text, const std::string& file,
                                                const std::string& clip) {
  if (const auto checked = report::ParseResult(text, file); !checked.ok()) return checked.status();
  Json document = Json::parse(text, nullptr, false);
  std::string named = clip;
  if (const auto c = document.find("clip"); named.empty() && c != document.end() && c->is_object())
    named = TextOf(*c, "file");
  if (named.empty()) named = file;
  std::string print;
  std::optional<std::int64_t> size;
  std::error_code ignored;
  if (std::filesystem::is_regular_file(named, ignored)) {
    const auto found = library::FingerprintOf(named);
    if (!found.ok()) return found.status();
    print = found->text;
    size = found->size;
    const auto whole = std::filesystem::absolute(named, ignored).lexically_normal();
    if (!ignored) named = whole.string();
  }
  std::vector<StoredShot> shots;
  for (Json& j : document["shots"]) {
    StoredShot shot = Stored(std::move(j));
    shot.clip = named;
    shot.clip_fingerprint = print;
    shot.clip_size = size;
    shots.push_back(std::move(shot));
  }
  return shots;
}

Result<std::string> ExportJson(const Library& library, std::optional<std::int64_t> session) {
  const auto bowlers = library.Bowlers();
  if (!bowlers.ok()) return bowlers.status();
  const auto balls = library.Balls();
  if (!balls.ok()) return balls.status();
  const auto setups = library.Setups();
  if (!setups.ok()) return setups.status();
  std::string of_bowler, of_place, of_lane, shots;
  const Status s = ForShots(library, session, [&](const StoredShot& shot, const library::Session& of) {
    of_bowler = of.bowler;
    of_place = of.place;
    of_lane = of.lane;
    shots += (shots.empty() ? "\n" : ",\n") + Dumped(Whole(shot, of));
    return Status::Ok();
  });
  if (!s.ok()) return s;
  Json facts = {{"bowlers", Json::array()}, {"balls", Json::array()}, {"lane_setups", Json::array()}};
  for (const auto& b : *bowlers)
    if (!session || b.name == of_bowler) facts["bowlers"].push_back(BowlerJson(b));
  for (const auto& b : *balls)
    if (!session || b.bowler == of_bowler) facts["balls"].push_back(BallJson(b));
  for (const auto& setup : *setups) {
    if (session && (setup.place != of_place || setup.lane != of_lane)) continue;
    const Json document = Json::parse(setup.document, nullptr, false);
    if (document.is_discarded()) continue;
    facts["lane_setups"].push_back(
        {{"place", setup.place}, {"lane", setup.lane}, {"name", setup.name}, {"setup", document}});
  }
  return Document(shots, facts);
}

Result<SessionShots> SessionForAdvice(const Library& library, std::int64_t session) {
  std::vector<StoredShot> all;
  library::Session of;
  Status s = ForShots(library, session, [&](const StoredShot& shot, const library::Session& its) {
    all.push_back(shot);
    of = its;
    return Status::Ok();
  });
  if (!s.ok()) return s;
  SessionShots out;
  for (std::size_t i = 0; i < all.size(); ++i) {
    StoredShot& stored = all[i];
    if (i + kPathsForAdvice < all.size()) DropPath(&stored.measured);
    Shot shot = report::ParseShot(stored.measured);
    shot.number = stored.number;
    shot.bowler = of.bowler;
    shot.ball = stored.ball;
    shot.plan = stored.plan;
    shot.target = stored.target;
    out.shots.push_back(std::move(shot));
    out.results.push_back(stored.result);
  }
  return out;
}

Result<std::string> ExportCsv(const Library& library, std::optional<std::int64_t> session) {
  std::string csv = ShotTableHead();
  const Status s = ForShots(library, session, [&](const StoredShot& stored, const library::Session& of) {
    ShotRow row;
    row.session = of;
    row.number = stored.number;
    row.clip = stored.clip;
    row.clip_fingerprint = stored.clip_fingerprint;
    row.clip_size = stored.clip_size;
    row.shot = Whole(stored, of);
    row.shot["number"] = stored.clip_shot;
    for (const char* key : {"bowler", "session", "clip"}) row.shot.erase(key);
    csv += ShotTableRow(row);
    return Status::Ok();
  });
  if (!s.ok()) return s;
  return csv;
}

Result<Import> ReadImport(const std::string& text, const std::string& file) {
  Import import;
  const auto first = text.find_first_not_of(" \t\r\n");
  const bool json = first != std::string::npos && text[first] == '{';
  if (Status s = json ? ImportJson(text, file, &import) : ImportCsv(text, file, &import); !s.ok()) return s;
  for (const ImportedSession& s : import.sessions)
    if (s.session.bowler.empty())
      return Status(StatusCode::kBadFile, file + ": a shot of it names no bowler; every shot needs one.");
  return import;
}

Result<int> WouldReplace(const Library& library, const Import& import) {
  int n = 0;
  for (const ImportedSession& s : import.sessions) {
    const auto changed = library.WouldChange(s.shots);
    if (!changed.ok()) return changed.status();
    n += *changed;
  }
  const auto bowlers = library.Bowlers();
  if (!bowlers.ok()) return bowlers.status();
  for (const auto& b : import.bowlers)
    for (const auto& known : *bowlers) n += known.name == b.name && !Same(known, b) ? 1 : 0;
  const auto balls = library.Balls();
  if (!balls.ok()) return balls.status();
  for (const auto& b : import.balls)
    for (const auto& known : *balls) n += known.bowler == b.bowler && known.name == b.name && !Same(known, b) ? 1 : 0;
  for (const auto& setup : import.setups) {
    const auto known = library.Setups(setup.place, setup.lane, setup.name);
    if (!known.ok()) return known.status();
    for (const auto& k : *known)
      n +=
          k.name == setup.name && Json::parse(k.document, nullptr, false) != Json::parse(setup.document, nullptr, false)
              ? 1
              : 0;
  }
  return n;
}

Result<library::Kept> PutImport(Library& library, const Import& import) {
  library::Kept all;
  const Status s = library.Together([&]() -> Status {
    for (const auto& b : import.bowlers)
      if (const auto put = library.PutBowler(b); !put.ok()) return put.status();
    for (const auto& b : import.balls)
      if (const auto put = library.PutBall(b); !put.ok()) return put.status();
    for (const auto& setup : import.setups)
      if (const auto put = library.PutSetup(setup); !put.ok()) return put.status();
    for (const ImportedSession& of : import.sessions) {
      const auto id = library.PutSession(of.session);
      if (!id.ok()) return id.status();
      const auto kept = library.Keep(*id, of.shots);
      if (!kept.ok()) return kept.status();
      all.added += kept->added;
      all.updated += kept->updated;
      all.elsewhere += kept->elsewhere;
    }
    return Status::Ok();
  });
  if (!s.ok()) return s;
  return all;
}

std::vector<std::string> ResultsIn(const std::string& text) {
  std::vector<std::string> out;
  if (text.find("\"result\"") == std::string::npos) return out;
  const Json document = Json::parse(text, nullptr, false);
  if (!document.is_object() || !document.contains("shots") || !document["shots"].is_array()) return out;
  for (const Json& j : document["shots"]) out.push_back(TextOf(j, "result"));
  return out;
}

}  // namespace hookline::pipeline
