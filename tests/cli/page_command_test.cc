// hookline page and hookline side-by-side as a user runs them.
#include <doctest/doctest.h>

#include <nlohmann/json.hpp>

#include "cli/program.h"

using hookline::test::Content;
using hookline::test::Hookline;
using hookline::test::ScratchFolder;
using hookline::test::WriteContent;

namespace {

bool Holds(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

std::string Quoted(const std::string& s) { return "'" + s + "'"; }

}  // namespace

TEST_CASE("a session without video becomes a page with the advice of hookline advise") {
  const ScratchFolder scratch;
  const std::string session = scratch / "evening.json", page = scratch / "page.html", pdf = scratch / "page.pdf";
  REQUIRE(Hookline("synth-session " + Quoted(session) + " --seed 3").code == 0);
  const auto run = Hookline("page " + Quoted(session) + " --out " + Quoted(page) + " --pdf " + Quoted(pdf));
  CHECK(run.err == "");
  REQUIRE(run.code == 0);  // no pictures, so no question
  const std::string html = Content(page);
  const auto advice = nlohmann::json::parse(Hookline("advise " + Quoted(session) + " --json -").out);
  const auto escaped = [](std::string s) {
    for (std::size_t at = 0; (at = s.find('\'', at)) != std::string::npos; at += 5) s.replace(at, 1, "&#39;");
    return s;
  };
  CHECK(Holds(html, escaped(advice["next_move"]["reason"])));
  int findings = 0;
  for (const auto& shot : advice["shots"])
    for (const auto& f : shot["findings"])
      if (f["cause"] != "too_few_shots") {
        CHECK(Holds(html, escaped(f["text"])));
        ++findings;
      }
  CHECK(findings > 0);
  CHECK(Content(pdf).substr(0, 5) == "%PDF-");
  // Nothing is overwritten unasked.
  CHECK(Hookline("page " + Quoted(session) + " --out " + Quoted(page)).code == 2);
  CHECK(Hookline("page " + Quoted(session)).code == 2);
  CHECK(Hookline("page /dev/null --out " + Quoted(scratch / "x.html")).code == 5);
}

TEST_CASE("pictures need consent, stated once and remembered; then page and clip are made" *
          doctest::test_suite("slow")) {
  const ScratchFolder scratch;
  const std::string state = "env XDG_STATE_HOME=" + Quoted(scratch / "state");
  const std::string result = scratch / "hook.json", page = scratch / "page.html", both = scratch / "both.mp4";
  REQUIRE(Hookline("measure '" HOOKLINE_SAMPLES "/hook.mp4' --json " + Quoted(result)).code == 0);
  const std::string make = "page " + Quoted(result) + " --out " + Quoted(page);
  const auto refused = Hookline(make, state);
  CHECK(refused.code == 2);
  CHECK(Holds(refused.err, "consent"));
  CHECK(Content(page).empty());
  CHECK(Hookline("side-by-side " + Quoted(result) + " --out " + Quoted(both), state).code == 2);
  REQUIRE(Hookline(make + " --no-pictures", state).code == 0);
  CHECK_FALSE(Holds(Content(page), "<img"));
  REQUIRE(Hookline(make + " --force --consent-given", state).code == 0);
  const std::string html = Content(page);
  CHECK(Holds(html, "data:image/jpeg;base64,"));
  CHECK(html.size() < 2000000);
  // The path of the user's own disk is nobody's business.
  CHECK_FALSE(Holds(html, HOOKLINE_SAMPLES));
  // Said once: now it goes on by itself.
  CHECK(Hookline(make + " --force", state).code == 0);
  REQUIRE(Hookline("side-by-side " + Quoted(result) + " --from arrows --out " + Quoted(both), state).code == 0);
  CHECK(Content(both).size() > 20000);
  CHECK(Hookline("side-by-side " + Quoted(result) + " --shots 1 5 --out " + Quoted(scratch / "y.mp4"), state).code ==
        2);
  CHECK(Hookline(make + " --force --blur 1,2,3", state).code == 2);
  CHECK(Hookline(make + " --force --blur-others --blur 10,10,50,50", state).code == 0);
}
