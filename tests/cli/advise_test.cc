// hookline synth-session and hookline advise as a user runs them.

#include <doctest/doctest.h>

#include <nlohmann/json.hpp>

#include "cli/program.h"

using hookline::test::Content;
using hookline::test::Hookline;
using hookline::test::ScratchFolder;

TEST_CASE("a made session is judged, as text and as JSON") {
  const ScratchFolder scratch;
  const std::string file = scratch / "evening.json";
  REQUIRE(Hookline("synth-session '" + file + "' --seed 3").code == 0);
  const auto truth = nlohmann::json::parse(Content(scratch / "evening.truth.json"));
  const auto text = Hookline("advise '" + file + "'");
  CHECK(text.code == 0);
  CHECK(text.out.find("Next move") != std::string::npos);
  const auto run = Hookline("advise '" + file + "' --json -");
  REQUIRE(run.code == 0);
  const auto advice = nlohmann::json::parse(run.out);
  CHECK(advice["shots"].size() == truth["shots"].size());
  // Nothing is overwritten unasked.
  CHECK(Hookline("synth-session '" + file + "' --seed 4").code == 2);
}

TEST_CASE("a file that is no result file is named") {
  const auto run = Hookline("advise /dev/null");
  CHECK(run.code == 5);
  CHECK(run.err.find("/dev/null") != std::string::npos);
}
