// hookline library ... : keeps shots, with who bowled them, with which ball and to which plan.

#include <unistd.h>

#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>
#include <string>

#include "cli/command.h"
#include "cli/exit_code.h"
#include "cli/outputs.h"
#include "cli/terminal.h"
#include "core/whole_file.h"
#include "library/library.h"
#include "report/number_text.h"
#include "report/read_result.h"

namespace hookline::cli {
namespace {

using library::Library;
using report::FixedText;
using report::PadLeft;
using report::PadRight;
using Json = nlohmann::ordered_json;

constexpr const char* kHelp =
    "The library is one file on this computer, and nothing in it is sent anywhere. It is\n"
    "  $XDG_DATA_HOME/hookline/library.db, or ~/.local/share/hookline/library.db\n"
    "unless --library names another. Adding a clip's result file again updates its shots and keeps what was said of\n"
    "them.\n"
    "\n"
    "Examples:\n"
    "  hookline measure evening/*.mp4 --json results/\n"
    "  hookline library add results/*.json --bowler Robin --place \"Maple Hall\" --lane 7 --ball blue\n"
    "  hookline library list shots --session 1\n"
    "  hookline library change 12 --result \"strike\" --plan narrow --arrows 12\n"
    "  hookline library export --session 1 --json evening.json\n"
    "\n";

struct LibraryArguments {
  std::string file;
  // add
  std::vector<std::string> results;
  library::Session session;
  std::string ball, plan, hand;
  std::optional<double> arrows, breakpoint, stance, eyes;
  // list, export
  std::string what;
  std::optional<std::int64_t> session_id;
  std::string json, csv;
  bool force = false;
  // change, remove
  std::int64_t shot = 0;
  std::optional<std::string> new_ball, new_plan, notes, result;
  bool remove_session = false, yes = false;
  // ball, bowler
  library::Ball ball_facts;
  library::Bowler bowler;
};

std::string DefaultFile() {
  const char* data = std::getenv("XDG_DATA_HOME");
  if (data != nullptr && *data != '\0') return std::string(data) + "/hookline/library.db";
  const char* home = std::getenv("HOME");
  return std::string(home != nullptr ? home : ".") + "/.local/share/hookline/library.db";
}

Result<std::unique_ptr<Library>> Open(const LibraryArguments& a) {
  return Library::Open(a.file.empty() ? DefaultFile() : a.file);
}

std::string Today() {
  const std::time_t now = std::time(nullptr);
  std::tm local{};
  localtime_r(&now, &local);
  char text[16];
  std::strftime(text, sizeof text, "%Y-%m-%d", &local);
  return text;
}

std::optional<double> ValueOf(const Json& measures, const char* key) {
  if (!measures.contains(key) || !measures[key].is_object() || !measures[key]["value"].is_number()) return std::nullopt;
  return measures[key]["value"].get<double>();
}

int Add(const LibraryArguments& a) {
  // Everything is read before anything is written.
  std::vector<library::StoredShot> shots;
  for (const std::string& file : a.results) {
    const auto checked = report::ReadResult(file);
    if (!checked.ok()) return Report(checked.status());
    const auto text = ReadWholeFile(file);
    if (!text.ok()) return Report(text.status());
    const Json document = Json::parse(*text, nullptr, false);
    std::string clip = document.contains("clip") && document["clip"].is_object() && document["clip"].contains("file") &&
                               document["clip"]["file"].is_string()
                           ? document["clip"]["file"].get<std::string>()
                           : file;
    for (std::size_t i = 0; i < checked->shots.size(); ++i) {
      const Shot& read = checked->shots[i];
      const Json& j = document["shots"][i];
      library::StoredShot shot;
      shot.clip = clip;
      shot.clip_shot = read.number;
      shot.ball = a.ball.empty() ? read.ball : a.ball;
      shot.plan = a.plan.empty() ? read.plan : a.plan;
      shot.target = read.target;
      if (a.arrows) shot.target.arrows_board = a.arrows;
      if (a.breakpoint) shot.target.breakpoint_board = a.breakpoint;
      if (a.stance) shot.target.stance_board = a.stance;
      if (a.eyes) shot.target.target_board = a.eyes;
      shot.measured = j.dump(-1, ' ', false, Json::error_handler_t::replace);
      const Json measures = j.value("measures", Json::object());
      shot.arrows_board = ValueOf(measures, "board_at_arrows");
      shot.entry_board = ValueOf(measures, "entry_board");
      shot.entry_angle_deg = ValueOf(measures, "entry_angle_deg");
      shot.speed_mph = ValueOf(measures, "speed_mean_mph");
      shots.push_back(std::move(shot));
    }
  }
  auto library = Open(a);
  if (!library.ok()) return Report(library.status());
  library::Session session = a.session;
  if (session.day.empty()) session.day = Today();
  if (!a.hand.empty()) {
    library::Bowler bowler;
    bowler.name = session.bowler;
    bowler.hand = a.hand == "left" ? lane::Hand::kLeft : lane::Hand::kRight;
    if (const auto put = (*library)->PutBowler(bowler); !put.ok()) return Report(put.status());
  }
  const auto id = (*library)->PutSession(session);
  if (!id.ok()) return Report(id.status());
  const auto added = (*library)->PutShots(*id, shots);
  if (!added.ok()) return Report(added.status());
  const int updated = static_cast<int>(shots.size()) - *added;
  std::printf("Session %lld: %d shots added, %d updated.\n", static_cast<long long>(*id), *added, updated);
  return 0;
}

std::string Board(const std::optional<double>& v, int decimals = 1) { return v ? FixedText(*v, decimals) : "–"; }

int List(const LibraryArguments& a) {
  const auto library = Open(a);
  if (!library.ok()) return Report(library.status());
  std::string out;
  if (a.what == "bowlers") {
    const auto bowlers = (*library)->Bowlers();
    if (!bowlers.ok()) return Report(bowlers.status());
    for (const auto& b : *bowlers)
      out += PadRight(b.name, 24) + (b.hand == lane::Hand::kRight ? "right" : "left") +
             (b.hands == 2 ? ", two-handed" : "") + "\n";
  } else if (a.what == "balls") {
    const auto balls = (*library)->Balls();
    if (!balls.ok()) return Report(balls.status());
    for (const auto& b : *balls)
      out += PadRight(b.bowler, 20) + PadRight(b.name, 20) + PadRight(b.cover, 14) + PadRight(b.finish, 14) +
             (b.weight_lb ? FixedText(*b.weight_lb, 0) + " lb  " : "") +
             (b.rg_in ? "radius of gyration " + FixedText(*b.rg_in, 2) + " in" : "") + "\n";
  } else if (a.what == "sessions") {
    const auto sessions = (*library)->Sessions();
    if (!sessions.ok()) return Report(sessions.status());
    out += PadLeft("id", 5) + "  " + PadRight("day", 12) + PadRight("bowler", 20) + PadRight("place", 20) +
           PadRight("lane", 8) + "shots\n";
    for (const auto& s : *sessions)
      out += PadLeft(std::to_string(s.id), 5) + "  " + PadRight(s.day, 12) + PadRight(s.bowler, 20) +
             PadRight(s.place, 20) + PadRight(s.lane, 8) + std::to_string(s.shots) + "\n";
  } else {
    library::ShotFilter filter;
    filter.session = a.session_id;
    const auto shots = (*library)->Shots(filter);
    if (!shots.ok()) return Report(shots.status());
    out += PadLeft("id", 6) + PadLeft("shot", 6) + PadLeft("arrows", 9) + PadLeft("entry", 9) + PadLeft("deg in", 9) +
           PadLeft("mph", 8) + "  " + PadRight("ball", 14) + PadRight("plan", 14) + "result\n";
    for (const auto& s : *shots)
      out += PadLeft(std::to_string(s.id), 6) + PadLeft(std::to_string(s.number), 6) +
             PadLeft(Board(s.arrows_board), 9) + PadLeft(Board(s.entry_board), 9) +
             PadLeft(Board(s.entry_angle_deg, 2), 9) + PadLeft(Board(s.speed_mph, 2), 8) + "  " + PadRight(s.ball, 14) +
             PadRight(s.plan, 14) + s.result + "\n";
  }
  if (Status s = WriteOutput("-", out.empty() ? "The library holds none yet.\n" : out); !s.ok()) return Report(s);
  return 0;
}

int Change(const LibraryArguments& a) {
  const auto library = Open(a);
  if (!library.ok()) return Report(library.status());
  library::ShotChange change;
  change.ball = a.new_ball;
  change.plan = a.new_plan;
  change.notes = a.notes;
  change.result = a.result;
  change.arrows_board = a.arrows;
  change.breakpoint_board = a.breakpoint;
  change.stance_board = a.stance;
  change.target_board = a.eyes;
  if (Status s = (*library)->ChangeShot(a.shot, change); !s.ok()) return Report(s);
  return 0;
}

// The session as one result file, each shot with what was said of it.
int Export(const LibraryArguments& a) {
  const auto json = PlanOutput({"--json", a.json, ".json", {}, true}, {}, a.force);
  if (!json.ok()) return Report(json.status());
  const auto library = Open(a);
  if (!library.ok()) return Report(library.status());
  library::ShotFilter filter;
  filter.session = a.session_id;
  filter.limit = 1000000;
  const auto shots = (*library)->Shots(filter);
  if (!shots.ok()) return Report(shots.status());
  const auto sessions = (*library)->Sessions();
  if (!sessions.ok()) return Report(sessions.status());
  Json document = {{"format", "hookline-shots"}, {"version", 1}};
  document["clip"] = {{"file", ""}};
  document["lane_setup"] = {{"found", false}, {"reason", "These shots come from the library."}};
  document["shots"] = Json::array();
  for (const auto& stored : *shots) {
    Json j = Json::parse(stored.measured, nullptr, false);
    if (j.is_discarded() || !j.is_object()) continue;
    j["number"] = stored.number;
    for (const auto& s : *sessions)
      if (s.id == stored.session) j["bowler"] = s.bowler;
    const auto text = [](const std::string& t) { return t.empty() ? Json(nullptr) : Json(t); };
    j["ball"] = text(stored.ball);
    j["plan"] = text(stored.plan);
    j["result"] = text(stored.result);
    j["notes"] = text(stored.notes);
    j["clip_file"] = stored.clip;
    Json target = Json::object();
    const auto number = [&](const char* key, const std::optional<double>& v) {
      if (v) target[key] = *v;
    };
    number("arrows_board", stored.target.arrows_board);
    number("breakpoint_board", stored.target.breakpoint_board);
    number("stance_board", stored.target.stance_board);
    number("target_board", stored.target.target_board);
    j["target"] = std::move(target);
    document["shots"].push_back(std::move(j));
  }
  document["no_shot_reason"] = nullptr;
  document["warnings"] = Json::array();
  const std::string text = document.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
  if (Status s = WriteOutput(json->empty() ? "-" : *json, text); !s.ok()) return Report(s);
  return 0;
}

int Remove(const LibraryArguments& a) {
  if (!a.yes) {
    if (isatty(STDIN_FILENO) == 0)
      return Report(Status(StatusCode::kBadUse, "Nothing was removed: say --yes to remove it for good."));
    std::printf("Remove %s %lld for good? Type yes: ", a.remove_session ? "session" : "shot",
                static_cast<long long>(a.shot));
    std::fflush(stdout);
    std::string answer;
    std::getline(std::cin, answer);
    if (answer != "yes") {
      Say("Nothing was removed.");
      return kExitBadUse;
    }
  }
  const auto library = Open(a);
  if (!library.ok()) return Report(library.status());
  const Status s = a.remove_session ? (*library)->RemoveSession(a.shot) : (*library)->RemoveShot(a.shot);
  return s.ok() ? 0 : Report(s);
}

int SetBall(const LibraryArguments& a) {
  const auto library = Open(a);
  if (!library.ok()) return Report(library.status());
  const auto put = (*library)->PutBall(a.ball_facts);
  return put.ok() ? 0 : Report(put.status());
}

int SetBowler(const LibraryArguments& a) {
  const auto library = Open(a);
  if (!library.ok()) return Report(library.status());
  library::Bowler bowler = a.bowler;
  bowler.hand = a.hand == "left" ? lane::Hand::kLeft : lane::Hand::kRight;
  const auto put = (*library)->PutBowler(bowler);
  return put.ok() ? 0 : Report(put.status());
}

void AddTargets(CLI::App& app, LibraryArguments& a) {
  const auto board = CLI::Range(-20.0, 60.0);
  app.add_option("--arrows", a.arrows, "Board meant at the arrows")->check(board);
  app.add_option("--breakpoint", a.breakpoint, "Board meant at the breakpoint")->check(board);
  app.add_option("--stance", a.stance, "Board of the slide shoe's inner edge at the start")->check(board);
  app.add_option("--eyes", a.eyes, "Board looked at")->check(board);
}

}  // namespace

std::function<int()> InstallLibrary(CLI::App& app) {
  const auto a = std::make_shared<LibraryArguments>();
  const auto run = std::make_shared<std::function<int()>>();
  app.require_subcommand(1);
  app.add_option("--library", a->file, "The library's file");
  app.footer(std::string(kHelp) + std::string(kExitCodeHelp));
  const auto command = [&](const char* name, const char* about, int (*function)(const LibraryArguments&)) {
    CLI::App* sub = app.add_subcommand(name, about);
    sub->callback([a, run, function] { *run = [a, function] { return function(*a); }; });
    return sub;
  };
  CLI::App* add = command("add", "Add the shots of result files, or update those that are there", Add);
  add->add_option("FILE", a->results, "Result files that `hookline measure --json` wrote")->required();
  add->add_option("--bowler", a->session.bowler, "Who bowled")->required();
  add->add_option("--hand", a->hand, "The bowler's hand")->check(CLI::IsMember({"right", "left"}));
  add->add_option("--place", a->session.place, "Where")->default_val("unnamed place");
  add->add_option("--lane", a->session.lane, "On which lane")->default_val("unnamed lane");
  add->add_option("--day", a->session.day, "YYYY-MM-DD; today when not given");
  add->add_option("--ball", a->ball, "With which ball");
  add->add_option("--plan", a->plan, "To which plan, in your own words");
  AddTargets(*add, *a);
  CLI::App* list = command("list", "List what is there", List);
  list->add_option("WHAT", a->what, "bowlers, balls, sessions or shots")
      ->required()
      ->check(CLI::IsMember({"bowlers", "balls", "sessions", "shots"}));
  list->add_option("--session", a->session_id, "Only this session's shots");
  CLI::App* change = command("change", "Say something of a shot: ball, plan, target, result, notes", Change);
  change->add_option("SHOT", a->shot, "The shot's id in `list shots`")->required();
  change->add_option("--ball", a->new_ball, "The ball");
  change->add_option("--plan", a->new_plan, "The plan");
  change->add_option("--result", a->result, "What fell, in your own words");
  change->add_option("--notes", a->notes, "Anything else");
  AddTargets(*change, *a);
  CLI::App* export_ = command("export", "Write shots as one result file, for advise, friction and what-if", Export);
  export_->add_option("--session", a->session_id, "Only this session's shots");
  export_->add_option("--json", a->json, "The file to write; standard output when not given");
  export_->add_flag("--force", a->force, "Replace a file that is there already");
  CLI::App* remove = command("remove", "Remove a shot, or a session with its shots", Remove);
  remove->add_option("ID", a->shot, "The id")->required();
  remove->add_flag("--session", a->remove_session, "It is a session's id");
  remove->add_flag("--yes", a->yes, "Do not ask");
  CLI::App* ball = command("ball", "Add a ball, or facts about it", SetBall);
  ball->add_option("NAME", a->ball_facts.name, "Its name")->required();
  ball->add_option("--bowler", a->ball_facts.bowler, "Whose ball")->required();
  ball->add_option("--cover", a->ball_facts.cover, "The cover's grip");
  ball->add_option("--finish", a->ball_facts.finish, "The cover's finish");
  ball->add_option("--symmetric", a->ball_facts.symmetric, "Core: 1 symmetric, 0 not")->check(CLI::Range(0, 1));
  ball->add_option("--weight", a->ball_facts.weight_lb, "lb")->check(CLI::Range(6.0, 16.0));
  ball->add_option("--rg", a->ball_facts.rg_in, "Radius of gyration, in")->check(CLI::Range(2.2, 3.0));
  CLI::App* bowler = command("bowler", "Add a bowler, or facts about one", SetBowler);
  bowler->add_option("NAME", a->bowler.name, "The name")->required();
  bowler->add_option("--hand", a->hand, "right or left")->check(CLI::IsMember({"right", "left"}));
  bowler->add_option("--hands", a->bowler.hands, "1 or 2 on the ball at release")->check(CLI::Range(1, 2));
  bowler->add_option("--speed", a->bowler.usual_speed_mph, "Usual speed, mph");
  bowler->add_option("--revs", a->bowler.usual_revs_rpm, "Usual rev rate, rpm");
  return [run] { return (*run)(); };
}

}  // namespace hookline::cli
