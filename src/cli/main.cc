// The command line: a table of commands. Each command's file holds its options; exit_code.h holds what the exit codes
// mean.

#include <CLI/CLI.hpp>
#include <array>
#include <cstdio>
#include <exception>
#include <functional>
#include <map>
#include <string>

#include "cli/command.h"
#include "cli/exit_code.h"
#include "cli/terminal.h"

namespace hookline::cli {
namespace {

constexpr std::array<Command, 11> kCommands = {{
    {"measure", "Measure the shots of clips: boards, angles, speeds, each with its doubt", InstallMeasure},
    {"lane", "Find the lane in a clip, show it, save it for other clips of the same tripod", InstallLane},
    {"advise", "Say what changed from shot to shot, why, and what to try next", InstallAdvise},
    {"page", "Make the page a student takes home: pictures, plots, numbers, advice; HTML and PDF", InstallPage},
    {"side-by-side", "Write two shots beside each other as one clip, in step", InstallSideBySide},
    {"friction", "The lane's friction over board and distance, from a session's result files", InstallFriction},
    {"what-if", "Roll a measured shot again with feet, eyes, speed or turn changed", InstallWhatIf},
    {"score", "What is still to come in a game: expected score, chance to reach one, which choice serves it",
     InstallScore},
    {"library", "Keep shots: who bowled them, with which ball, to which plan", InstallLibrary},
    {"synth", "Make a clip with exact truth from a scenario file", InstallSynth},
    {"synth-session", "Make a practice session with exact truth, without pictures", InstallSession},
}};

constexpr const char* kAbout =
    "Hookline turns phone clips of bowling shots, filmed from behind the approach, into boards, speeds and angles\n"
    "with honest doubt.\n";

constexpr const char* kFooter =
    "Examples:\n"
    "  hookline measure shot.mp4\n"
    "  hookline measure shot.mp4 --hand left --json shot.json --overlay shot-drawn.mp4\n"
    "  hookline measure evening/*.mp4 --csv evening.csv\n"
    "  hookline advise evening/*.json\n"
    "  hookline lane shot.mp4 --picture lane.png --save lane-12.json\n"
    "  hookline help measure\n";

int Run(int argc, char** argv) {
  CLI::App app(kAbout, "hookline");
  app.set_version_flag("--version", "hookline " HOOKLINE_VERSION);
  app.require_subcommand(1);
  app.footer(std::string(kFooter) + "\n" + std::string(kExitCodeHelp));
  std::map<const CLI::App*, std::function<int()>> run;
  for (const Command& command : kCommands) {
    CLI::App* sub = app.add_subcommand(command.name, command.summary);
    run[sub] = command.install(*sub);
  }
  std::string topic;
  CLI::App* help = app.add_subcommand("help", "Say more about a command");
  help->add_option("COMMAND", topic, "The command's name");
  run[help] = [&]() -> int {
    const CLI::App* about = topic.empty() ? &app : nullptr;
    for (const auto& [sub, function] : run) {
      if (sub->get_name() == topic) about = sub;
    }
    if (!about) {
      Say("There is no command " + topic + "; `hookline --help` lists them.");
      return kExitBadUse;
    }
    std::fputs((about == &app ? app.help() : about->help("hookline")).c_str(), stdout);
    return 0;
  };
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    const int code = app.exit(e);
    return code == 0 ? 0 : kExitBadUse;
  }
  return run.at(app.get_subcommands().front())();
}

}  // namespace
}  // namespace hookline::cli

int main(int argc, char** argv) {
  try {
    return hookline::cli::Run(argc, argv);
  } catch (const std::exception& e) {
    hookline::cli::Say(std::string("This should not have happened: ") + e.what());
    return hookline::cli::kExitInternal;
  }
}
