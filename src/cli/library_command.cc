// hookline library ... : keeps shots, with who bowled them, with which ball and to which plan.

#include <unistd.h>

#include <cstdio>
#include <ctime>
#include <iostream>
#include <memory>
#include <string>

#include "cli/command.h"
#include "cli/exit_code.h"
#include "cli/keep_shots.h"
#include "cli/outputs.h"
#include "cli/terminal.h"
#include "core/whole_file.h"
#include "library/library.h"
#include "pipeline/library_exchange.h"
#include "report/number_text.h"
#include "setup/setup_file.h"

namespace hookline::cli {
namespace {

using library::Library;
using report::FixedText;
using report::PadLeft;
using report::PadRight;

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
    "  hookline library import evening.json\n"
    "  hookline library setup add lane-7.json --place \"Maple Hall\" --lane 7\n"
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
  bool remove_session = false, remove_setup = false, yes = false;
  // setup
  std::string setup_file, setup_name = "usual";
  std::int64_t limit = 1000;
  // ball, bowler
  library::Ball ball_facts;
  library::Bowler bowler;
};

Result<std::unique_ptr<Library>> Open(const LibraryArguments& a) {
  return Library::Open(a.file.empty() ? library::DefaultFile() : a.file);
}

std::string Today() {
  const std::time_t now = std::time(nullptr);
  std::tm local{};
  localtime_r(&now, &local);
  char text[16];
  std::strftime(text, sizeof text, "%Y-%m-%d", &local);
  return text;
}

int Add(const LibraryArguments& a) {
  if (!a.session.day.empty() && !IsDay(a.session.day))
    return Report(Status(StatusCode::kBadUse, "--day " + a.session.day + ": write the day as YYYY-MM-DD."));
  // Everything is read before anything is written.
  std::vector<library::StoredShot> shots;
  for (const std::string& file : a.results) {
    const auto text = ReadWholeFile(file);
    if (!text.ok()) return Report(text.status());
    auto read = pipeline::ShotsFromResult(*text, file);
    if (!read.ok()) return Report(read.status());
    for (library::StoredShot& shot : *read) {
      if (!a.ball.empty()) shot.ball = a.ball;
      if (!a.plan.empty()) shot.plan = a.plan;
      if (a.arrows) shot.target.arrows_board = a.arrows;
      if (a.breakpoint) shot.target.breakpoint_board = a.breakpoint;
      if (a.stance) shot.target.stance_board = a.stance;
      if (a.eyes) shot.target.target_board = a.eyes;
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
  const auto kept = (*library)->Keep(*id, shots);
  if (!kept.ok()) return Report(kept.status());
  std::printf("Session %lld: %s.\n", static_cast<long long>(*id), KeptText(*kept).c_str());
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
  } else if (a.what == "setups") {
    const auto setups = (*library)->Setups();
    if (!setups.ok()) return Report(setups.status());
    if (!setups->empty()) out += PadLeft("id", 5) + "  " + PadRight("place", 20) + PadRight("lane", 8) + "setup\n";
    for (const auto& s : *setups)
      out += PadLeft(std::to_string(s.id), 5) + "  " + PadRight(s.place, 20) + PadRight(s.lane, 8) + s.name + "\n";
  } else {
    library::ShotFilter filter;
    filter.session = a.session_id;
    filter.bowler = a.session.bowler;
    filter.ball = a.ball;
    filter.measured = false;
    filter.limit = a.limit;
    const auto shots = (*library)->Shots(filter);
    if (!shots.ok()) return Report(shots.status());
    out += PadLeft("id", 6) + PadLeft("shot", 6) + PadLeft("arrows", 9) + PadLeft("entry", 9) + PadLeft("deg in", 9) +
           PadLeft("mph", 8) + "  " + PadRight("ball", 14) + PadRight("plan", 14) + "result\n";
    for (const auto& s : *shots)
      out += PadLeft(std::to_string(s.id), 6) + PadLeft(std::to_string(s.number), 6) +
             PadLeft(Board(s.arrows_board), 9) + PadLeft(Board(s.entry_board), 9) +
             PadLeft(Board(s.entry_angle_deg, 2), 9) + PadLeft(Board(s.speed_mph, 2), 8) + "  " + PadRight(s.ball, 14) +
             PadRight(s.plan, 14) + s.result + "\n";
    if (static_cast<std::int64_t>(shots->size()) == a.limit)
      out +=
          "These are the first " + std::to_string(a.limit) + "; --session, --bowler, --ball or --limit show others.\n";
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

// Shots as one result file, each with what was said of it, or as a table.
int Export(const LibraryArguments& a) {
  if (!a.json.empty() && !a.csv.empty() && a.json == a.csv)
    return Report(Status(StatusCode::kBadUse, "--json and --csv need a place each."));
  const auto json = PlanOutput({"--json", a.json, ".json", {}, true}, {}, a.force);
  if (!json.ok()) return Report(json.status());
  const auto csv = PlanOutput({"--csv", a.csv, ".csv", {}, true}, {}, a.force);
  if (!csv.ok()) return Report(csv.status());
  const auto library = Open(a);
  if (!library.ok()) return Report(library.status());
  if (!csv->empty()) {
    const auto text = pipeline::ExportCsv(**library, a.session_id);
    if (!text.ok()) return Report(text.status());
    if (Status s = WriteOutput(*csv, *text); !s.ok()) return Report(s);
  }
  if (!json->empty() || csv->empty()) {
    const auto text = pipeline::ExportJson(**library, a.session_id);
    if (!text.ok()) return Report(text.status());
    if (Status s = WriteOutput(json->empty() ? "-" : *json, *text); !s.ok()) return Report(s);
  }
  return 0;
}

// Asked before something is lost. Ok: go on.
Status Agreed(bool yes, const std::string& question, const std::string& otherwise) {
  if (yes) return Status::Ok();
  if (isatty(STDIN_FILENO) == 0) return {StatusCode::kBadUse, otherwise + ": say --yes to do it without being asked."};
  std::printf("%s Type yes: ", question.c_str());
  std::fflush(stdout);
  std::string answer;
  std::getline(std::cin, answer);
  return answer == "yes" ? Status::Ok() : Status(StatusCode::kBadUse, otherwise + ".");
}

int ImportFiles(const LibraryArguments& a) {
  std::vector<pipeline::Import> imports;
  for (const std::string& file : a.results) {
    const auto text = ReadWholeFile(file);
    if (!text.ok()) return Report(text.status());
    auto read = pipeline::ReadImport(*text, file);
    if (!read.ok()) return Report(read.status());
    imports.push_back(std::move(*read));
  }
  const auto library = Open(a);
  if (!library.ok()) return Report(library.status());
  int replaced = 0;
  for (const auto& import : imports) {
    const auto n = pipeline::WouldReplace(**library, import);
    if (!n.ok()) return Report(n.status());
    replaced += *n;
  }
  if (replaced > 0) {
    const std::string what = std::to_string(replaced) + (replaced == 1 ? " entry" : " entries");
    if (Status s = Agreed(a.yes, what + " of the library would be replaced by what the files say. Replace?",
                          "Nothing was imported, because " + what + " of the library would be replaced");
        !s.ok())
      return Report(s);
  }
  library::Kept all;
  const Status s = (*library)->Together([&]() -> Status {
    for (const auto& import : imports) {
      const auto kept = pipeline::PutImport(**library, import);
      if (!kept.ok()) return kept.status();
      all.added += kept->added;
      all.updated += kept->updated;
      all.elsewhere += kept->elsewhere;
    }
    return Status::Ok();
  });
  if (!s.ok()) return Report(s);
  std::printf("%s.\n", KeptText(all).c_str());
  return 0;
}

int Remove(const LibraryArguments& a) {
  const std::string what = a.remove_setup ? "lane setup" : a.remove_session ? "session" : "shot";
  if (Status s = Agreed(a.yes, "Remove " + what + " " + std::to_string(a.shot) + " for good?", "Nothing was removed");
      !s.ok())
    return Report(s);
  const auto library = Open(a);
  if (!library.ok()) return Report(library.status());
  const Status s = a.remove_setup     ? (*library)->RemoveSetup(a.shot)
                   : a.remove_session ? (*library)->RemoveSession(a.shot)
                                      : (*library)->RemoveShot(a.shot);
  return s.ok() ? 0 : Report(s);
}

int AddSetup(const LibraryArguments& a) {
  const auto text = ReadWholeFile(a.setup_file);
  if (!text.ok()) return Report(text.status());
  if (const auto read = setup::SetupFromText(*text, a.setup_file); !read.ok()) return Report(read.status());
  const auto library = Open(a);
  if (!library.ok()) return Report(library.status());
  const auto known = (*library)->Setups(a.session.place, a.session.lane, a.setup_name);
  if (!known.ok()) return Report(known.status());
  if (!known->empty() && known->front().document != *text) {
    const std::string what =
        "the setup \"" + a.setup_name + "\" of " + a.session.place + ", lane " + a.session.lane + " is there already";
    if (Status s = Agreed(a.yes, what + ". Replace it?", "Nothing was replaced: " + what); !s.ok()) return Report(s);
  }
  const auto put = (*library)->PutSetup({0, a.session.place, a.session.lane, a.setup_name, *text});
  return put.ok() ? 0 : Report(put.status());
}

int ExportSetup(const LibraryArguments& a) {
  const auto out = PlanOutput({"FILE", a.setup_file, ".json", {}, true}, {}, a.force);
  if (!out.ok()) return Report(out.status());
  const auto library = Open(a);
  if (!library.ok()) return Report(library.status());
  const auto known = (*library)->Setups(a.session.place, a.session.lane, a.setup_name);
  if (!known.ok()) return Report(known.status());
  if (known->empty())
    return Report(Status(StatusCode::kBadUse, "The library holds no setup \"" + a.setup_name + "\" of " +
                                                  a.session.place + ", lane " + a.session.lane + "."));
  return Report(WriteOutput(out->empty() ? "-" : *out, known->front().document));
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
  list->add_option("WHAT", a->what, "bowlers, balls, sessions, setups or shots")
      ->required()
      ->check(CLI::IsMember({"bowlers", "balls", "sessions", "setups", "shots"}));
  list->add_option("--session", a->session_id, "Only this session's shots");
  list->add_option("--bowler", a->session.bowler, "Only this bowler's shots");
  list->add_option("--ball", a->ball, "Only shots with this ball");
  list->add_option("--limit", a->limit, "At most so many shots")->check(CLI::Range(1, 1000000));
  CLI::App* change = command("change", "Say something of a shot: ball, plan, target, result, notes", Change);
  change->add_option("SHOT", a->shot, "The shot's id in `list shots`")->required();
  change->add_option("--ball", a->new_ball, "The ball");
  change->add_option("--plan", a->new_plan, "The plan");
  change->add_option("--result", a->result, "What fell, in your own words");
  change->add_option("--notes", a->notes, "Anything else");
  AddTargets(*change, *a);
  CLI::App* export_ = command(
      "export", "Write shots as one result file, for advise, friction, what-if and import, or as a table", Export);
  export_->add_option("--session", a->session_id, "Only this session's shots");
  export_->add_option("--json", a->json, "The result file to write; standard output when neither is given");
  export_->add_option("--csv", a->csv, "Write a table, a row a shot (- is standard output)");
  export_->add_flag("--force", a->force, "Replace a file that is there already");
  CLI::App* import = command("import", "Take in what export wrote, from this or another library", ImportFiles);
  import->add_option("FILE", a->results, "Files of `hookline library export`, --json or --csv")->required();
  import->add_flag("--yes", a->yes, "Replace what is there and differs without asking");
  CLI::App* remove = command("remove", "Remove a shot, a session with its shots, or a lane setup", Remove);
  remove->add_option("ID", a->shot, "The id")->required();
  remove->add_flag("--session", a->remove_session, "It is a session's id");
  remove->add_flag("--setup", a->remove_setup, "It is a lane setup's id")->excludes("--session");
  remove->add_flag("--yes", a->yes, "Do not ask");
  CLI::App* setup = app.add_subcommand("setup", "Lane setups of places and lanes (`hookline lane` makes them)");
  setup->require_subcommand(1);
  const auto setup_command = [&](const char* name, const char* about, int (*function)(const LibraryArguments&)) {
    CLI::App* sub = setup->add_subcommand(name, about);
    sub->callback([a, run, function] { *run = [a, function] { return function(*a); }; });
    sub->add_option("--place", a->session.place, "Where")->required();
    sub->add_option("--lane", a->session.lane, "On which lane")->required();
    sub->add_option("--name", a->setup_name, "Where the camera stood; \"usual\" when not given");
    return sub;
  };
  CLI::App* add_setup = setup_command("add", "Keep a lane setup", AddSetup);
  add_setup->add_option("FILE", a->setup_file, "A lane saved by `hookline lane --save`")->required();
  add_setup->add_flag("--yes", a->yes, "Replace one that is there without asking");
  CLI::App* export_setup = setup_command("export", "Write a lane setup as a file", ExportSetup);
  export_setup->add_option("FILE", a->setup_file, "The file to write; standard output when not given");
  export_setup->add_flag("--force", a->force, "Replace a file that is there already");
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
