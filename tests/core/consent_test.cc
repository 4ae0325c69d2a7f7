#include "core/consent.h"

#include <doctest/doctest.h>

#include "core/whole_file.h"
#include "scratch_folder.h"

using namespace hookline;

TEST_CASE("consent: no picture, no question; asked once; refused where nobody can answer") {
  CHECK(NextConsentStep({false, false, false, true}) == ConsentStep::kGoOn);
  CHECK(NextConsentStep({true, true, false, true}) == ConsentStep::kGoOn);
  CHECK(NextConsentStep({true, false, true, false}) == ConsentStep::kGoOnAndRemember);
  CHECK(NextConsentStep({true, false, false, true}) == ConsentStep::kAsk);
  CHECK(NextConsentStep({true, false, false, false}) == ConsentStep::kRefuse);
}

TEST_CASE("consent is remembered for each bowler, whatever the name is") {
  const test::ScratchFolder scratch;
  const std::string file = scratch / "state/hookline/consent";
  const std::set<std::string> odd = {"", "Robin", "a\nb", "a\\nb", "=x"};
  auto known = ConsentRemembered(file, {"Robin"});
  REQUIRE(known.ok());
  CHECK_FALSE(*known);
  REQUIRE(RememberConsent(file, {"Robin"}).ok());
  known = ConsentRemembered(file, {"Robin"});
  REQUIRE(known.ok());
  CHECK(*known);
  for (const std::string& name : odd) {
    if (name == "Robin") continue;
    known = ConsentRemembered(file, {name, "Robin"});
    REQUIRE(known.ok());
    CHECK_FALSE(*known);
  }
  REQUIRE(RememberConsent(file, odd).ok());
  known = ConsentRemembered(file, odd);
  REQUIRE(known.ok());
  CHECK(*known);
  known = ConsentRemembered(file, {"a"});
  REQUIRE(known.ok());
  CHECK_FALSE(*known);
}

TEST_CASE("a file that is no list of consents is neither believed nor replaced") {
  const test::ScratchFolder scratch;
  const std::string file = scratch / "consent";
  test::WriteContent(file, "=Robin\n");
  CHECK_FALSE(ConsentRemembered(file, {"Robin"}).ok());
  CHECK_FALSE(RememberConsent(file, {"Kim"}).ok());
  CHECK(test::Content(file) == "=Robin\n");
}

TEST_CASE("the place is the XDG state folder") {  // XDG base directory specification 0.8
  CHECK(ConsentFile("/s", "/h") == "/s/hookline/consent");
  CHECK(ConsentFile(nullptr, "/h") == "/h/.local/state/hookline/consent");
  CHECK(ConsentFile("relative", "/h") == "/h/.local/state/hookline/consent");
  CHECK(ConsentFile(nullptr, nullptr).empty());
}

TEST_CASE("the question names who is shown") {
  CHECK(ConsentQuestion({"Kim", "Robin"}).find("Kim, Robin") != std::string::npos);
  CHECK(ConsentQuestion({""}).find("the person filmed") != std::string::npos);
  CHECK(ConsentQuestion({"", "Kim"}).find("Kim, and of who bowled the shots without a name") != std::string::npos);
}
