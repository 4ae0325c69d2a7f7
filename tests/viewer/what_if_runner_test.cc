#include "viewer/what_if_runner.h"

#include <doctest/doctest.h>

#include <atomic>
#include <chrono>
#include <cmath>
#include <thread>

#include "viewer/sample_session.h"
#include "viewer/what_if_table.h"

using namespace hookline;
using namespace hookline::viewer;

namespace {

template <typename F>
bool Within(double seconds, F done) {
  const auto end = std::chrono::steady_clock::now() + std::chrono::duration<double>(seconds);
  while (std::chrono::steady_clock::now() < end) {
    if (done()) return true;
    std::this_thread::sleep_for(std::chrono::milliseconds(2));
  }
  return done();
}

}  // namespace

TEST_CASE("what is rolled again and what teaches the lane") {
  const test::SampleSession session = test::MakeSampleSession();
  const WhatIfChoice two = ChooseForWhatIf(session.Shown({2, 3}));
  CHECK(two.missing.empty());
  CHECK(two.rolled.size() == 2);
  CHECK(two.lane.size() == 12);  // the other ball's two shots are left out
  CHECK(two.about.find("Mean of shots 3, 4") != std::string::npos);
  CHECK(ChooseForWhatIf(session.Shown({})).missing.starts_with("Choose a shot"));
  const WhatIfChoice mixed = ChooseForWhatIf(session.Shown({3, 4}));
  CHECK(mixed.missing.find("several") != std::string::npos);
  CHECK(mixed.rolled.empty());
  // The key tells anything that matters: another choice, a corrected number.
  CHECK(two.key != ChooseForWhatIf(session.Shown({2})).key);
  CHECK(two.key == ChooseForWhatIf(session.Shown({2, 3})).key);
  test::SampleSession corrected = session;
  corrected.shots[7].measures[MeasureId::kEntryBoard] = Measure::Of(17, 0.1);
  CHECK(two.key != ChooseForWhatIf(corrected.Shown({2, 3})).key);
}

TEST_CASE("the thread answers what the library would, soon and then well") {
  const test::SampleSession session = test::MakeSampleSession();
  const WhatIfChoice choice = ChooseForWhatIf(session.Shown({2, 3}));
  std::atomic<int> woken{0};
  WhatIfRunner runner([&] { ++woken; });
  runner.SetShots(choice);
  motion::Change change;
  change.feet_boards = 2;
  change.eyes_boards = 1;
  runner.Ask(change);
  REQUIRE(Within(60, [&] { return runner.Look().fine; }));
  const WhatIfRunner::News news = runner.Look();
  CHECK_FALSE(news.busy);
  CHECK(news.change.feet_boards == 2);
  REQUIRE(news.grid);
  CHECK(news.grid->most_balls >= 1);
  const auto map = motion::MapFriction(choice.lane);
  const auto what_if = motion::WhatIf::Make(choice.rolled, *map);
  const motion::WhatIfAnswer expected = what_if->Ask(change);
  CHECK(news.answer->after.entry_board.value == expected.after.entry_board.value);
  CHECK(news.answer->after.entry_board.sd == expected.after.entry_board.sd);
  CHECK(woken > 0);
  // Two boards in with the feet and one with the eyes make this ball enter further outward (right hander).
  CHECK(news.answer->after.entry_board.value < news.answer->before.entry_board.value);
  // The grid is the map's.
  const motion::FrictionCell cell = map->At((10 + 1 - 20) * lane::BoardWidth(lane::kNominalWidth), 25.5 * 0.3048);
  CHECK(news.grid->At(10, 25).value == doctest::Approx(cell.value));
}

TEST_CASE("of quick questions the last is answered, and asking does not wait") {
  const test::SampleSession session = test::MakeSampleSession();
  WhatIfRunner runner(nullptr);
  runner.SetShots(ChooseForWhatIf(session.Shown({2, 3})));
  const auto begin = std::chrono::steady_clock::now();
  for (int i = 1; i <= 100; ++i) {
    motion::Change change;
    change.feet_boards = 0.05 * i;
    runner.Ask(change);
  }
  // A hundred questions while the fit is still going on: less than ten milliseconds each is far more than is needed.
  CHECK(std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count() < 1.0);
  REQUIRE(Within(60, [&] { return runner.Look().fine; }));
  CHECK(runner.Look().change.feet_boards == doctest::Approx(5));
}

TEST_CASE("shots that tell too little give a sentence, not an answer") {
  test::SampleSession session = test::MakeSampleSession(3);
  for (Shot& shot : session.shots) shot.measures[MeasureId::kSpeedReleaseMph] = Measure::None("not seen");
  WhatIfRunner runner(nullptr);
  runner.SetShots(ChooseForWhatIf(session.Shown({0})));
  runner.Ask({});
  REQUIRE(Within(60, [&] { return !runner.Look().busy; }));
  CHECK_FALSE(runner.Look().answer);
  CHECK(runner.Look().missing.find("lacks its speed") != std::string::npos);
}

TEST_CASE("closing while it works neither hangs nor crashes") {
  const test::SampleSession session = test::MakeSampleSession();
  for (int i = 0; i < 5; ++i) {
    WhatIfRunner runner([] {});
    runner.SetShots(ChooseForWhatIf(session.Shown({2, 3})));
    runner.Ask({});
  }
}

TEST_CASE("the answer in rows and cautions") {
  motion::WhatIfAnswer answer;
  answer.before.entry_board = {17.44, 0.62};
  answer.after.entry_board = {15.21, 0.71};
  answer.before.breakpoint_board = answer.after.breakpoint_board = {NAN, NAN};
  answer.entry_board_change = {-2.23, 0.3};
  answer.after.gutter = 0.12;
  answer.misfit = 3.2;
  bool found = false;
  for (const WhatIfRow& row : WhatIfTable(answer)) {
    if (row.label == "entry, board") {
      found = true;
      CHECK(row.before == "17.4 ±0.6");
      CHECK(row.after == "15.2 ±0.7");
    }
    if (row.label == "breakpoint, board") CHECK(row.after == "–");
  }
  CHECK(found);
  const std::vector<std::string> notes = WhatIfNotes(answer, 2, true);
  REQUIRE(notes.size() == 5);
  CHECK(notes[0] == "The entry moves 2.2 ±0.3 boards outward.");
  CHECK(notes[1].find("12 of 100") != std::string::npos);
  CHECK(notes[2].find("2 shots") != std::string::npos);
  CHECK(notes[4].find("coach") != std::string::npos);
  answer.entry_board_change = {0, 0};
  answer.after.gutter = 0;
  answer.misfit = 1;
  CHECK(WhatIfNotes(answer, 12, false).empty());
  CHECK(FrictionText(0.0412, 0.004) == "friction 0.041 ±0.004");
  CHECK(FrictionText(0.18, 0.03) == "friction 0.18 ±0.03");
}
