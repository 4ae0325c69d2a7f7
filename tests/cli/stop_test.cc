#include <doctest/doctest.h>

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
