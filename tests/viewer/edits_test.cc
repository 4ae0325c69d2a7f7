#include "viewer/edits.h"

#include <doctest/doctest.h>

using namespace hookline;
using namespace hookline::viewer;

namespace {

constexpr ShotSpan kFirst{1.0, 3.4}, kSecond{9.0, 11.4};

}  // namespace

TEST_CASE("steps are taken back and done again, each exactly") {
  Edits edits;
  CHECK_FALSE(edits.CanUndo());
  CHECK_FALSE(edits.CanRedo());
  edits.PlaceMark("foul_left", {500, 900}, 0.5);
  const Corrections one = edits.now();
  edits.PlaceBall(kFirst, 1.5, {800, 700});
  const Corrections two = edits.now();
  edits.SetRelease(kFirst, 1.1);
  edits.RemoveShot(kSecond);
  const Corrections four = edits.now();
  REQUIRE(four.shots.size() == 2);
  CHECK(four.shots[0].release_s == 1.1);
  CHECK(four.shots[1].removed);
  CHECK(edits.UndoName() == "Remove shot");
  edits.Undo();
  CHECK(edits.RedoName() == "Remove shot");
  CHECK(edits.now().shots.size() == 1);
  edits.Undo();
  CHECK(edits.now() == two);
  edits.Undo();
  CHECK(edits.now() == one);
  edits.Undo();
  CHECK(edits.now().empty());
  edits.Undo();  // nothing there
  CHECK(edits.now().empty());
  for (int i = 0; i < 5; ++i) edits.Redo();
  CHECK(edits.now() == four);
  // A new step forgets what was taken back.
  edits.Undo();
  edits.Undo();
  edits.SetPinContact(kFirst, 3.3);
  CHECK_FALSE(edits.CanRedo());
  CHECK(edits.now().shots[0].pin_contact_s == 3.3);
}

TEST_CASE("one drag is one step, and a drag back to where it began is none") {
  Edits edits;
  int gesture = edits.BeginGesture();
  for (int i = 0; i <= 40; ++i) edits.PlaceMark("headpin_right", {1000.0 + i, 300}, 0, gesture);
  CHECK(edits.now().lane_marks.at("headpin_right").p_in_frame.x() == 1040);
  const Corrections dragged = edits.now();
  // The same mark again is another drag.
  gesture = edits.BeginGesture();
  for (int i = 0; i <= 10; ++i) edits.PlaceMark("headpin_right", {1040.0 - i, 310}, 0, gesture);
  edits.Undo();
  CHECK(edits.now() == dragged);
  gesture = edits.BeginGesture();
  for (const double x : {1041.0, 1050.0, 1041.0, 1040.0}) edits.PlaceMark("headpin_right", {x, 300}, 0, gesture);
  CHECK(edits.now() == dragged);
  CHECK(edits.UndoName() == "Move lane mark");
  edits.Undo();
  CHECK(edits.now().empty());
  CHECK_FALSE(edits.CanUndo());
}

TEST_CASE("what changes nothing is no step") {
  Edits edits;
  edits.UnsetAll();
  edits.DropMark("foul_left");
  edits.UnsetBall(kFirst, 1.5);
  edits.SetRelease(kFirst, std::nullopt);
  CHECK_FALSE(edits.CanUndo());
  CHECK(edits.now().empty());
  edits.PlaceBall(kFirst, 1.5, {10, 20});
  edits.PlaceBall(kFirst, 1.5, {10, 20});
  edits.Undo();
  CHECK_FALSE(edits.CanUndo());
}

TEST_CASE("a frame holds one word of the hand: the ball is there, or it is not") {
  Edits edits;
  edits.PlaceBall(kFirst, 2.0, {10, 20});
  edits.PlaceBall(kFirst, 1.5, {30, 40}, 0.5);
  edits.PlaceBall(kFirst, 2.0, {11, 21});
  REQUIRE(edits.now().shots.size() == 1);
  REQUIRE(edits.now().shots[0].sights.size() == 2);
  CHECK(edits.now().shots[0].sights[0].time_s == 1.5);
  CHECK(edits.now().shots[0].sights[1].p_in_frame.x() == 11);
  edits.RemoveBall(kFirst, 2.0);
  CHECK(edits.now().shots[0].sights.size() == 1);
  CHECK(edits.now().shots[0].no_ball_s == std::vector<double>{2.0});
  edits.PlaceBall(kFirst, 2.0, {12, 22});
  CHECK(edits.now().shots[0].no_ball_s.empty());
  edits.UnsetBall(kFirst, 2.0);
  edits.UnsetBall(kFirst, 1.5);
  CHECK(edits.now().empty());
}

TEST_CASE("the corrections of a shot are found again though its ends have moved") {
  Edits edits;
  edits.PlaceBall({1.0, 3.4}, 2.0, {10, 20});
  edits.SetRelease({1.3, 3.0}, 1.2);
  edits.SetPinContact({0.8, 3.6}, 3.5);
  REQUIRE(edits.now().shots.size() == 1);
  edits.PlaceBall(kSecond, 10, {10, 20});
  REQUIRE(edits.now().shots.size() == 2);
  edits.UnsetShot(kFirst);
  REQUIRE(edits.now().shots.size() == 1);
  CHECK(edits.now().shots[0].at_s > 9);
}

TEST_CASE("a shot is added by its first click, grows, and is gone with its last") {
  Edits edits;
  const double at = edits.AddShot(5.0, {900, 800});
  edits.PlaceBall({at, at}, 4.8, {905, 850});
  edits.PlaceBall({4.8, 5.4}, 5.2, {890, 760});
  REQUIRE(edits.now().shots.size() == 1);
  CHECK(edits.now().shots[0].added);
  CHECK(edits.now().shots[0].sights.size() == 3);
  edits.RemoveBall({4.8, 5.4}, 5.2);
  CHECK(edits.now().shots[0].sights.size() == 2);
  CHECK(edits.now().shots[0].no_ball_s.empty());
  edits.RemoveShot({4.8, 5.4});
  CHECK(edits.now().empty());
  edits.Undo();
  CHECK(edits.now().shots[0].added);
  edits.RemoveBall({at, at}, 4.8);
  edits.RemoveBall({at, at}, 5.0);
  CHECK(edits.now().empty());
}

TEST_CASE("a shot is added in the stead of one that was taken out, and from then on is the one that is meant") {
  Edits edits;
  edits.RemoveShot(kFirst);
  const double at = edits.AddShot(2.2, {700, 600});  // in the middle of what was taken out
  edits.PlaceBall({at, at}, 2.3, {705, 580});
  edits.SetRelease(kFirst, 1.8);
  REQUIRE(edits.now().shots.size() == 2);
  int removed = 0, added = 0;
  for (const ShotCorrection& s : edits.now().shots) {
    CHECK(s.added != s.removed);
    removed += s.removed && s.sights.empty() && !s.release_s;
    added += s.added && s.sights.size() == 2 && s.release_s == 1.8;
  }
  CHECK(removed == 1);
  CHECK(added == 1);
}

TEST_CASE("whether there is something to save follows undo and redo too") {
  Corrections before;
  before.lane_marks["foul_left"] = {{1, 2}, 0};
  Edits edits(before);
  CHECK_FALSE(edits.dirty());
  edits.DropMark("foul_left");
  CHECK(edits.dirty());
  edits.Undo();
  CHECK_FALSE(edits.dirty());
  edits.Redo();
  edits.MarkSaved();
  CHECK_FALSE(edits.dirty());
  edits.Undo();
  CHECK(edits.dirty());
}

TEST_CASE("merging takes both, and of two words about one thing the later") {
  Edits mine, theirs;
  mine.PlaceMark("foul_left", {1, 1}, 0);
  mine.PlaceMark("foul_right", {2, 2}, 0);
  mine.PlaceBall(kFirst, 2.0, {10, 10});
  mine.PlaceBall(kFirst, 2.1, {11, 11});
  mine.SetRelease(kFirst, 1.1);
  theirs.PlaceMark("foul_right", {3, 3}, 0);
  theirs.PlaceBall({1.1, 3.4}, 2.1, {21, 21});
  theirs.RemoveBall({1.1, 3.4}, 2.0);
  theirs.SetPinContact({1.1, 3.4}, 3.3);
  theirs.RemoveShot(kSecond);
  mine.Merge(theirs.now());
  const Corrections& c = mine.now();
  CHECK(c.lane_marks.at("foul_left").p_in_frame.x() == 1);
  CHECK(c.lane_marks.at("foul_right").p_in_frame.x() == 3);
  REQUIRE(c.shots.size() == 2);
  REQUIRE(c.shots[0].sights.size() == 1);
  CHECK(c.shots[0].sights[0].p_in_frame.x() == 21);
  CHECK(c.shots[0].no_ball_s == std::vector<double>{2.0});
  CHECK(c.shots[0].release_s == 1.1);
  CHECK(c.shots[0].pin_contact_s == 3.3);
  CHECK(c.shots[1].removed);
  mine.Undo();
  CHECK(mine.now().shots[0].sights.size() == 2);
  CHECK(Merged(mine.now(), {}) == mine.now());
  CHECK(Merged({}, mine.now()) == mine.now());
}
