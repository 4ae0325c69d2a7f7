// Runs the built program as a user would and catches what it says.
#pragma once

#include <sys/wait.h>

#include <cstdlib>
#include <string>

#include "scratch_folder.h"

namespace hookline::test {

struct Run {
  int code = -1;
  std::string out, err;
};

// Arguments as a shell would have them; paths with blanks are quoted by the caller.
// `before` stands in front of the program: "timeout -s INT 1".
inline Run Hookline(const std::string& arguments, const std::string& before = "") {
  const ScratchFolder scratch;
  const std::string out = scratch / "out", err = scratch / "err";
  const std::string command = before + " '" HOOKLINE_PROGRAM "' " + arguments;
  const int status = std::system((command + " >'" + out + "' 2>'" + err + "' </dev/null").c_str());
  Run run;
  run.code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  run.out = Content(out);
  run.err = Content(err);
  return run;
}

}  // namespace hookline::test
