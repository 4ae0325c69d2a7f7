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

TEST_CASE("a session of the library is judged, with what fell") {
  const ScratchFolder scratch;
  const std::string file = scratch / "evening.json", library = " --library '" + (scratch / "shots.db") + "'";
  REQUIRE(Hookline("synth-session '" + file + "' --seed 3 --shots 12").code == 0);
  REQUIRE(Hookline("library" + library + " add '" + file + "' --bowler Robin").code == 0);
  const auto plain = nlohmann::json::parse(Hookline("advise '" + file + "' --json -").out);
  CHECK(plain["score_outlook"].is_null());
  auto stored = nlohmann::json::parse(Hookline("advise --session 1" + library + " --json -").out);
  CHECK(stored["score_outlook"].is_null());
  CHECK(stored["shots"].size() == 12);
  CHECK(stored["shots"][11]["causes"] == plain["shots"][11]["causes"]);
  for (int i = 1; i <= 4; ++i)
    REQUIRE(Hookline("library" + library + " change " + std::to_string(i) + " --result '" + (i < 3 ? "strike" : "9 /") +
                     "'")
                .code == 0);
  stored = nlohmann::json::parse(Hookline("advise --session 1" + library + " --game 10 9 1 --need 180 --json -").out);
  const auto& outlook = stored["score_outlook"];
  REQUIRE(outlook.is_object());
  CHECK(outlook["need"] == 180);
  CHECK(outlook["choices"][0]["strike"]["hits"] == 2);
  CHECK(outlook["choices"][0]["spare"]["hits"] == 2);
  CHECK(outlook["choices"][0]["expected_score"].get<double>() > 100);
  CHECK(outlook["choices"][0]["chance"].get<double>() > 0);
  CHECK(Hookline("advise --session 1" + library).out.find("expected score") != std::string::npos);
  CHECK(Hookline("advise --session 99" + library).code == 2);
  CHECK(Hookline("advise").code == 2);
  CHECK(Hookline("advise '" + file + "' --session 1" + library).code == 2);
  CHECK(Hookline("advise '" + file + "' --game 9 5").code == 2);
}
