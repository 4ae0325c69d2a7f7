// What a user gets told when something is wrong: one clear sentence, the exit code of the help text, and nothing on
// standard output.
#include <doctest/doctest.h>

#include <algorithm>

#include "cli/program.h"

using namespace hookline::test;

namespace {

void CheckOneSentence(const Run& run, int code, const std::string& about) {
  CAPTURE(run.err);
  CHECK(run.code == code);
  CHECK(run.out.empty());
  CHECK(run.err.find(about) != std::string::npos);
  CHECK(std::count(run.err.begin(), run.err.end(), '\n') == 1);
}

}  // namespace

TEST_CASE("a missing file, a folder, an empty file and a file without video are bad files") {
  const ScratchFolder folder;
  CheckOneSentence(Hookline("measure '" + (folder / "none.mp4") + "'"), 5, "none.mp4");
  CheckOneSentence(Hookline("measure '" + (folder / ".") + "'"), 5, "folder");
  WriteContent(folder / "empty.mp4", "");
  CheckOneSentence(Hookline("measure '" + (folder / "empty.mp4") + "'"), 5, "empty");
  WriteContent(folder / "text.mp4", std::string(5000, 'x') + "this is no video\n");
  CheckOneSentence(Hookline("measure '" + (folder / "text.mp4") + "'"), 5, "text.mp4");
  CheckOneSentence(Hookline("lane '" + (folder / "none.mp4") + "'"), 5, "none.mp4");
}

TEST_CASE("a bad clip among several does not stop the others from being tried, and is not forgotten") {
  const ScratchFolder folder;
  const Run run = Hookline("measure '" + (folder / "a.mp4") + "' '" + (folder / "b.mp4") + "'");
  CHECK(run.code == 5);
  CHECK(run.err.find("a.mp4") != std::string::npos);
  CHECK(run.err.find("b.mp4") != std::string::npos);
}

TEST_CASE("options that make no sense") {
  CHECK(Hookline("").code == 2);
  CHECK(Hookline("juggle").code == 2);
  CHECK(Hookline("measure").code == 2);
  CHECK(Hookline("measure a.mp4 --hand up").code == 2);
  CHECK(Hookline("measure a.mp4 --loud").code == 2);
  CHECK(Hookline("lane a.mp4 --point foul_left=12").code == 2);
  CHECK(Hookline("lane a.mp4 --lane-setup b.json --point foul_left=1,2").code == 2);
  CHECK(Hookline("help juggle").code == 2);
}

TEST_CASE("an output that is there already is kept, before any long run") {
  const ScratchFolder folder;
  const std::string old = folder / "old.json", clip = folder / "clip.mp4";
  WriteContent(old, "mine");
  for (const char* option : {"--json", "--csv"}) {
    CheckOneSentence(Hookline("measure '" + clip + "' " + option + " '" + old + "'"), 2, "--force");
  }
  WriteContent(folder / "old.mp4", "mine");
  CheckOneSentence(Hookline("measure '" + clip + "' --overlay '" + (folder / "old.mp4") + "'"), 2, "--force");
  CHECK(Content(old) == "mine");
  // Forced, the run gets as far as the missing clip, and the old file still stands.
  CHECK(Hookline("measure '" + clip + "' --force --json '" + old + "'").code == 5);
  CHECK(Content(old) == "mine");
}

TEST_CASE("outputs that cannot be meant") {
  const ScratchFolder folder;
  const std::string clip = folder / "clip.mp4";
  WriteContent(clip, "not really");
  CheckOneSentence(Hookline("measure '" + clip + "' --force --overlay '" + clip + "'"), 2, "the clip itself");
  CHECK(Content(clip) == "not really");
  CheckOneSentence(Hookline("measure '" + clip + "' --overlay '" + (folder / "drawn.txt") + "'"), 2, "must end in");
  CheckOneSentence(Hookline("measure '" + clip + "' --blur-others"), 2, "--overlay");
  CheckOneSentence(Hookline("measure '" + clip + "' --blur 1,2,3 --overlay '" + (folder / "drawn.mp4") + "'"), 2,
                   "X,Y,WIDTH,HEIGHT");
  CheckOneSentence(Hookline("measure '" + clip + "' --json '" + (folder / "no/such.json") + "'"), 2, "is not there");
  CheckOneSentence(Hookline("measure '" + clip + "' '" + clip + "' --json one.json"), 2, "give a folder");
  CheckOneSentence(Hookline("measure '" + clip + "' '" + clip + "' --json -"), 2, "single clip");
  CheckOneSentence(Hookline("measure '" + clip + "' '" + clip + "' --json '" + (folder / "results/") + "'"), 2,
                   "two clips");
  CheckOneSentence(Hookline("measure '" + clip + "' --json - --csv -"), 2, "not both");
}

TEST_CASE("the help teaches: what a good clip is, examples, exit codes") {
  const Run help = Hookline("--help"), measure = Hookline("help measure");
  CHECK(help.code == 0);
  CHECK(measure.code == 0);
  CHECK(measure.out == Hookline("measure --help").out);
  for (const char* word : {"Exit codes:", "hookline measure", "130"}) {
    CAPTURE(word);
    CHECK(help.out.find(word) != std::string::npos);
    CHECK(measure.out.find(word) != std::string::npos);
  }
  CHECK(measure.out.find("A good clip") != std::string::npos);
  CHECK(Hookline("--version").out.rfind("hookline ", 0) == 0);
}
