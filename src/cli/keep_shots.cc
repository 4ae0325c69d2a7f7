#include "cli/keep_shots.h"

#include <sys/stat.h>

#include <ctime>

#include "cli/terminal.h"
#include "pipeline/library_exchange.h"
#include "report/result_json.h"

namespace hookline::cli {
namespace {

std::string DayText(std::time_t when) {
  std::tm local{};
  localtime_r(&when, &local);
  char text[32];
  std::strftime(text, sizeof text, "%Y-%m-%d", &local);
  return text;
}

// The day on which the file was written last: of a film as the phone left it, the day of the shots.
std::string DayOf(const std::string& clip) {
  struct stat info {};
  return DayText(stat(clip.c_str(), &info) == 0 ? info.st_mtime : std::time(nullptr));
}

// What was not said: the library's only bowler, and where that bowler bowled last on that day.
Result<library::Session> SessionFor(const library::Library& library, const KeepArguments& a, const std::string& clip) {
  library::Session session{0, a.bowler, a.place, a.lane, a.day.empty() ? DayOf(clip) : a.day, 0};
  if (session.bowler.empty()) {
    const auto bowlers = library.Bowlers();
    if (!bowlers.ok()) return bowlers.status();
    session.bowler = bowlers->size() == 1 ? bowlers->front().name : "unnamed bowler";
  }
  if (session.place.empty() && session.lane.empty()) {
    const auto sessions = library.Sessions();
    if (!sessions.ok()) return sessions.status();
    for (const auto& s : *sessions)
      if (s.bowler == session.bowler && s.day == session.day) {
        session.place = s.place;
        session.lane = s.lane;
      }
  }
  if (session.place.empty()) session.place = "unnamed place";
  if (session.lane.empty()) session.lane = "unnamed lane";
  return session;
}

}  // namespace

void AddKeepOptions(CLI::App& app, KeepArguments& a) {
  app.add_flag("--keep", a.keep, "Keep the shots in the library")->group("Library");
  app.add_option("--library", a.library, "The library's file, another than the usual one; keeps the shots too")
      ->group("Library");
  app.add_option("--bowler", a.bowler, "Who bowled; the library's only bowler when not given")->group("Library");
  app.add_option("--place", a.place, "Where; as in the day's last session when not given")->group("Library");
  app.add_option("--on-lane", a.lane, "The lane's name or number in the house")->group("Library");
  app.add_option("--day", a.day, "YYYY-MM-DD; the day of the clip's file when not given")->group("Library");
  app.add_option("--ball", a.ball, "With which ball")->group("Library");
  app.add_option("--plan", a.plan, "To which plan, in your own words")->group("Library");
  app.add_option("--setup-name", a.setup_name, "Which of a lane's saved setups, where it has several")
      ->group("Library");
}

bool IsDay(const std::string& text) {
  std::tm day{};
  const char* end = strptime(text.c_str(), "%Y-%m-%d", &day);
  if (text.size() != 10 || end == nullptr || *end != '\0') return false;
  const int of_month = day.tm_mday;
  day.tm_hour = 12;
  const std::time_t when = timegm(&day);  // 31 April becomes 1 May
  std::tm back{};
  gmtime_r(&when, &back);
  return back.tm_mday == of_month;
}

Status CheckKeep(const KeepArguments& a) {
  if (!a.day.empty() && !IsDay(a.day))
    return {StatusCode::kBadUse, "--day " + a.day + ": write the day as YYYY-MM-DD, such as 2026-11-25."};
  if (!a.wanted() && !(a.bowler + a.day + a.ball + a.plan).empty())
    return {StatusCode::kBadUse, "Who bowled, when and with what is kept in the library only: say --keep too."};
  return Status::Ok();
}

Result<library::StoredSetup> SavedSetupOf(const KeepArguments& a) {
  const auto library = library::Library::Open(a.library.empty() ? library::DefaultFile() : a.library);
  if (!library.ok()) return library.status();
  const auto setups = (*library)->Setups(a.place, a.lane, a.setup_name);
  if (!setups.ok()) return setups.status();
  if (setups->size() == 1) return setups->front();
  return Status(StatusCode::kBadUse,
                setups->empty()
                    ? "The library holds no lane setup of that place and lane; `hookline library setup add` "
                      "puts one in."
                    : "The library holds " + std::to_string(setups->size()) +
                          " lane setups that fit: say --place, --on-lane or --setup-name.");
}

Result<std::unique_ptr<Keeper>> Keeper::Open(const KeepArguments& a, const std::string& hand) {
  auto library = library::Library::Open(a.library.empty() ? library::DefaultFile() : a.library);
  if (!library.ok()) return library.status();
  return std::unique_ptr<Keeper>(new Keeper(std::move(*library), a, hand));
}

Status Keeper::Put(const std::string& clip, const ClipResult& result) {
  auto shots = pipeline::ShotsFromResult(report::ResultJson(result), clip, clip);
  if (!shots.ok()) return shots.status();
  if (shots->empty()) return Status::Ok();
  for (auto& shot : *shots) {
    if (!a_.ball.empty()) shot.ball = a_.ball;
    if (!a_.plan.empty()) shot.plan = a_.plan;
  }
  const auto session = SessionFor(*library_, a_, clip);
  if (!session.ok()) return session.status();
  library::Kept kept;
  std::int64_t id = 0;
  const Status s = library_->Together([&]() -> Status {
    if (!hand_.empty()) {
      library::Bowler bowler;
      const auto bowlers = library_->Bowlers();
      if (!bowlers.ok()) return bowlers.status();
      for (const auto& known : *bowlers)
        if (known.name == session->bowler) bowler = known;
      bowler.name = session->bowler;
      bowler.hand = hand_ == "left" ? lane::Hand::kLeft : lane::Hand::kRight;
      if (const auto put = library_->PutBowler(bowler); !put.ok()) return put.status();
    }
    const auto put = library_->PutSession(*session);
    if (!put.ok()) return put.status();
    id = *put;
    const auto done = library_->Keep(id, *shots);
    if (!done.ok()) return done.status();
    kept = *done;
    return Status::Ok();
  });
  if (!s.ok()) return s;
  Say("Kept in session " + std::to_string(id) + " (" + session->bowler + ", " + session->place + ", lane " +
      session->lane + ", " + session->day + "): " + KeptText(kept) + ".");
  return Status::Ok();
}

std::string KeptText(const library::Kept& kept) {
  std::string text = std::to_string(kept.added) + " shots added, " + std::to_string(kept.updated) + " updated";
  if (kept.elsewhere > 0)
    text += "; " + std::to_string(kept.elsewhere) + " of them stand in another session, where they were kept first";
  if (!kept.not_found.empty()) {
    text += "; not found this time and left as they are: shot id";
    for (std::size_t i = 0; i < kept.not_found.size() && i < 10; ++i)
      text += (i ? ", " : " ") + std::to_string(kept.not_found[i]);
    if (kept.not_found.size() > 10) text += ", ...";
  }
  return text;
}

}  // namespace hookline::cli
