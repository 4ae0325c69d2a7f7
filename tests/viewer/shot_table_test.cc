#include "viewer/shot_table.h"

#include <doctest/doctest.h>

#include "report/number_text.h"
#include "viewer/sample_session.h"

using namespace hookline;
using namespace hookline::viewer;

namespace {

const test::SampleSession& Session() {
  static const test::SampleSession session = test::MakeSampleSession();
  return session;
}

std::size_t ColumnOf(ColumnKind kind, MeasureId id = MeasureId::kCount) {
  const auto& columns = TableColumns();
  for (std::size_t i = 0; i < columns.size(); ++i)
    if (columns[i].kind == kind && columns[i].measure == id) return i;
  FAIL("no such column");
  return 0;
}

}  // namespace

TEST_CASE("every measure has one column") {
  for (std::size_t m = 0; m < kMeasureCount; ++m) {
    int count = 0;
    for (const TableColumn& c : TableColumns())
      count += c.kind == ColumnKind::kMeasure && c.measure == static_cast<MeasureId>(m) ? 1 : 0;
    CHECK(count == 1);
  }
}

TEST_CASE("rows sort by number, missing ones last either way, equal ones in the session's order") {
  test::SampleSession session = Session();
  session.shots[5].measures[MeasureId::kEntryBoard] = Measure::None("gutter");
  const auto shown = session.Shown({});
  const std::size_t entry = ColumnOf(ColumnKind::kMeasure, MeasureId::kEntryBoard);
  for (const bool ascending : {true, false}) {
    const auto rows = RowsShown(shown, {}, {entry, ascending});
    REQUIRE(rows.size() == shown.size());
    CHECK(rows.back() == 5);
    for (std::size_t i = 1; i + 1 < rows.size(); ++i) {
      const double a = *shown[rows[i - 1]].shot->measures[MeasureId::kEntryBoard].value,
                   b = *shown[rows[i]].shot->measures[MeasureId::kEntryBoard].value;
      CHECK((ascending ? a <= b : a >= b));
    }
  }
  const auto by_ball = RowsShown(shown, {}, {ColumnOf(ColumnKind::kBall), true});
  CHECK(by_ball.front() == 0);
  CHECK(by_ball[11] == 13);
  CHECK(by_ball.back() == 5);
  const auto back = RowsShown(shown, {}, {0, false});
  CHECK(back.front() == 13);
  CHECK(back.back() == 0);
}

TEST_CASE("filters") {
  const auto shown = Session().Shown({2, 4});
  const auto count = [&](const TableFilter& f) { return RowsShown(shown, f, {}).size(); };
  CHECK(count({}) == 14);
  CHECK(count({"SMOOTH", "", "", false, false}) == 2);
  CHECK(count({"smooth strike", "", "", false, false}) == 1);  // each word, wherever it stands
  CHECK(count({"smooth nothing", "", "", false, false}) == 0);
  CHECK(count({"", "the dull one", "", false, false}) == 12);
  CHECK(count({"", "", "a little inside", false, false}) == 2);
  CHECK(count({"", "", "", true, false}) == 2);
  const auto unusual = RowsShown(shown, {"", "", "", false, true}, {});
  // By the session's script: the let-up, the turn and the lane that changed are among them, a plain shot is not.
  for (const std::size_t place : {6u, 8u, 10u}) CHECK(std::count(unusual.begin(), unusual.end(), place) == 1);
  CHECK(std::count(unusual.begin(), unusual.end(), 1u) == 0);
  CHECK(CountText(2, 14) == "2 of 14 shots");
  CHECK(CountText(1, 1) == "1 shot");
}

TEST_CASE("cells are the library's numbers, a missing one says why") {
  const auto shown = Session().Shown({});
  for (const TableColumn& c : TableColumns()) {
    if (c.kind != ColumnKind::kMeasure) continue;
    CHECK(CellText(shown[3], c) == report::MeasureText(c.measure, shown[3].shot->measures[c.measure]));
  }
  const TableColumn& revs = TableColumns()[ColumnOf(ColumnKind::kMeasure, MeasureId::kRevRateRpm)];
  CHECK(CellText(shown[3], revs) == "–");
  CHECK(CellHint(shown[3], revs) == "The ball's surface shows no marks.");
  CHECK(CellText(shown[6], TableColumns()[ColumnOf(ColumnKind::kUnusual)]).find("Released slower") !=
        std::string::npos);
  CHECK(CellText(shown[3], TableColumns()[ColumnOf(ColumnKind::kArrowsTarget)]) == "14.5");
  CHECK(CellText(shown[3], TableColumns()[ColumnOf(ColumnKind::kStance)]) == "24");
}

TEST_CASE("what a person says becomes a change, or a sentence saying what is wrong") {
  const auto ball = MakeTagChange({7, 8}, TagField::kBall, "  the blue one ");
  REQUIRE(ball.ok());
  CHECK(ball->shots == std::vector<int>{7, 8});
  CHECK(ball->text == "the blue one");
  const auto half = MakeTagChange({7}, TagField::kStance, "17,5");
  REQUIRE(half.ok());
  CHECK(*half->board == 17.5);
  const auto none = MakeTagChange({7}, TagField::kStance, " ");
  REQUIRE(none.ok());
  CHECK_FALSE(none->board);
  for (const char* bad : {"40", "0.5", "left", "12a", "nan", "-3"}) {
    CAPTURE(bad);
    const auto wrong = MakeTagChange({7}, TagField::kArrowsTarget, bad);
    CHECK_FALSE(wrong.ok());
    CHECK(wrong.status().sentence().find("from 1 to 39") != std::string::npos);
  }
  CHECK(WordsUsed(Session().Shown({}), TagField::kBall) == std::vector<std::string>{"the dull one", "the smooth one"});
}
