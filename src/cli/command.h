// A command of the program: its name, its line in the table of commands, and how it hangs its options into the command
// line.
#pragma once

#include <CLI/CLI.hpp>
#include <functional>

namespace hookline::cli {

struct Command {
  const char* name;
  const char* summary;
  // Adds options to `app`; the function returned runs the command after parsing and returns the exit code.
  std::function<int()> (*install)(CLI::App& app);
};

std::function<int()> InstallMeasure(CLI::App& app);
std::function<int()> InstallLane(CLI::App& app);
std::function<int()> InstallFriction(CLI::App& app);
std::function<int()> InstallWhatIf(CLI::App& app);
std::function<int()> InstallScore(CLI::App& app);
std::function<int()> InstallLibrary(CLI::App& app);
std::function<int()> InstallPage(CLI::App& app);
std::function<int()> InstallSideBySide(CLI::App& app);
std::function<int()> InstallAdvise(CLI::App& app);
std::function<int()> InstallSynth(CLI::App& app);
std::function<int()> InstallSession(CLI::App& app);

}  // namespace hookline::cli
