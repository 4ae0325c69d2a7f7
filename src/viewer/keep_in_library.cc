#include "viewer/keep_in_library.h"

#include <sys/stat.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <cstdio>
#include <ctime>
#include <iterator>
#include <utility>
#include <vector>

#include "pipeline/library_exchange.h"
#include "report/result_json.h"

namespace hookline::viewer {
namespace {

// The day on which the file was written last: of a film as the phone left it, the day of the shots.
std::string DayOf(const std::string& file) {
  struct stat info {};
  const std::time_t when = stat(file.c_str(), &info) == 0 ? info.st_mtime : std::time(nullptr);
  std::tm local{};
  localtime_r(&when, &local);
  std::array<char, 32> text{};
  std::strftime(text.data(), text.size(), "%Y-%m-%d", &local);
  return text.data();
}

bool IsDay(const std::string& text) {
  int year = 0;
  unsigned month = 0, day = 0;
  int end = 0;
  if (text.size() != 10 || std::sscanf(text.c_str(), "%4d-%2u-%2u%n", &year, &month, &day, &end) != 3 || end != 10)
    return false;
  return std::chrono::year_month_day(std::chrono::year(year), std::chrono::month(month), std::chrono::day(day)).ok();
}

Result<std::vector<library::StoredShot>> ShotsOf(const Desk& desk, const DeskClip& clip) {
  ClipResult result = *clip.result;
  result.shots.clear();
  std::vector<const DeskShot*> said;
  for (const DeskShot& s : desk.shots) {
    if (s.clip != clip.id) continue;
    Shot shot = s.shot;
    shot.number = s.in_clip + 1;  // the session's own number is the library's to give
    result.shots.push_back(std::move(shot));
    said.push_back(&s);
  }
  auto shots = pipeline::ShotsFromResult(report::ResultJson(result), clip.file,
                                         clip.state == ClipState::kOnlyNumbers ? "" : clip.file);
  if (!shots.ok()) return shots;
  for (std::size_t i = 0; i < std::min(shots->size(), said.size()); ++i) {
    (*shots)[i].result = said[i]->result;
    (*shots)[i].notes = said[i]->notes;
  }
  return shots;
}

}  // namespace

Status KeepWish::Check() const {
  for (const auto& [text, what] :
       {std::pair{&bowler, "who bowled"}, std::pair{&place, "where"}, std::pair{&lane, "on which lane"}}) {
    if (text->empty()) return {StatusCode::kBadUse, std::string("Say ") + what + "."};
  }
  if (!IsDay(day)) return {StatusCode::kBadUse, "Write the day as YYYY-MM-DD, such as 2026-11-25."};
  return Status::Ok();
}

Result<KeepWish> UsualWish(const library::Library& library, const Desk& desk) {
  const auto sessions = library.Sessions();
  if (!sessions.ok()) return sessions.status();
  KeepWish wish;
  const library::Session* newest = nullptr;
  for (const library::Session& s : *sessions) {
    if (!newest || std::pair(s.day, s.id) > std::pair(newest->day, newest->id)) newest = &s;
  }
  if (newest) {
    wish.bowler = newest->bowler;
    wish.place = newest->place;
    wish.lane = newest->lane;
  }
  wish.day = DayOf(desk.clips.empty() ? std::string() : desk.clips.front().file);
  return wish;
}

Result<library::Kept> KeepDesk(library::Library& library, const Desk& desk, const KeepWish& wish) {
  if (Status s = wish.Check(); !s.ok()) return s;
  std::vector<library::StoredShot> shots;
  for (const DeskClip& clip : desk.clips) {
    if (!clip.result || clip.result->shots.empty()) continue;
    auto own = ShotsOf(desk, clip);
    if (!own.ok()) return own.status();
    std::move(own->begin(), own->end(), std::back_inserter(shots));
  }
  if (shots.empty()) return Status(StatusCode::kBadUse, "There is no measured shot on the desk to keep.");
  library::Kept kept;
  const Status done = library.Together([&]() -> Status {
    const auto session = library.PutSession({0, wish.bowler, wish.place, wish.lane, wish.day, 0});
    if (!session.ok()) return session.status();
    auto put = library.Keep(*session, shots);
    if (!put.ok()) return put.status();
    kept = std::move(*put);
    return Status::Ok();
  });
  if (!done.ok()) return done;
  return kept;
}

}  // namespace hookline::viewer
