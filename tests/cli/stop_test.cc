#include <doctest/doctest.h>
#include <sys/wait.h>

#include <cstdlib>

#include "cli/program.h"

using namespace hookline::test;

TEST_CASE("Ctrl-C and a termination signal end a run with 130 and leave no half-written file") {
  for (const char* signal : {"INT", "TERM"}) {
    CAPTURE(signal);
    const ScratchFolder folder;
    WriteContent(folder / "long.json", R"({"duration_s": 60, "video": {"width": 640, "height": 360}, "shots": [{}]})");
    const Run run = Hookline("synth '" + (folder / "long.json") + "' '" + (folder / "long.mp4") + "'",
                             std::string("timeout --preserve-status -s ") + signal + " 1.5");
    CHECK(run.code == 130);
    CHECK(run.out.empty());
    CHECK(folder.Files() == 1);  // the scenario itself
  }
}

// timeout(1) signals its child and then the whole group, itself left out: two signals in a row ended the run at once,
// half-written file and all, whenever the first had been handled before the second came.
TEST_CASE("two stop signals in a row are one wish") {
  const ScratchFolder folder;
  WriteContent(folder / "long.json", R"({"duration_s": 60, "video": {"width": 640, "height": 360}, "shots": [{}]})");
  const std::string made =
      "'" HOOKLINE_PROGRAM "' synth '" + (folder / "long.json") + "' '" + (folder / "long.mp4") + "'";
  const int status = std::system((made + " >/dev/null 2>&1 & run=$!; sleep 1; kill -TERM $run; sleep 0.005; "
                                         "kill -TERM $run; wait $run")
                                     .c_str());
  REQUIRE(WIFEXITED(status));
  CHECK(WEXITSTATUS(status) == 130);
  CHECK(folder.Files() == 1);
}
