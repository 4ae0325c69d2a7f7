#include "track/chain.h"

#include <doctest/doctest.h>

#include <deque>

#include "scene.h"

using namespace hookline;
using namespace hookline::track_test;
using namespace hookline::track;

namespace {

constexpr double kFrame = 1.0 / 60;

// A chain whose discs are where `at` says, px, from one time to another.
template <typename At>
Chain Held(const Corridor& corridor, const ChangeMap& map, double from, double to, const At& at) {
  FrameView early, late;
  early.time_s = from, late.time_s = from + 0.1;
  Candidate a, b;
  a.contact = {0, 8}, b.contact = {0, 8.7};
  a.p = *corridor.Disc(a.contact), b.p = *corridor.Disc(b.contact);
  a.radius = corridor.RadiusPx(a.contact), b.radius = corridor.RadiusPx(b.contact);
  Chain chain(corridor, map, {{&early, a}, {&late, b}}, std::deque<FrameView>());
  chain.steps().clear();
  for (int i = static_cast<int>(from / kFrame + 0.5); i * kFrame < to; ++i) {
    Step s;
    s.frame = i;
    s.time_s = i * kFrame;
    s.hit = true;
    s.score = 10;
    s.p = at(s.time_s);
    s.contact = *corridor.Contact(s.p);
    chain.steps().push_back(s);
  }
  return chain;
}

}  // namespace

TEST_CASE("of two chains a diameter apart the lower one holds the mirror image, from where the upper one began") {
  const Scene scene(Setup());
  const Corridor corridor(scene.setup());
  const ChangeMap map(corridor, scene.StillBackground());
  const auto ball = [&](double t) { return scene.Pixel(Hook(t)); };
  const auto image = [&](double t) {
    Eigen::Vector3d p = Hook(t);
    p.z() = -p.z();
    return scene.Pixel(p);
  };
  const Chain slid = Held(corridor, map, 0.3, 2.0, [&](double t) { return t < 1.2 ? ball(t) : image(t); });
  const Chain relief = Held(corridor, map, 1.25, 2.1, ball);
  const auto since = slid.MirrorOf(relief);
  REQUIRE(since);
  CHECK(*since == doctest::Approx(1.25));
  // Not the other way round, and not of a chain that holds the same disc.
  CHECK_FALSE(relief.MirrorOf(slid));
  CHECK_FALSE(Held(corridor, map, 0.3, 2.0, ball).MirrorOf(relief));
  // A chain of the image beside the ball's whole chain takes nothing from it.
  CHECK_FALSE(Held(corridor, map, 0.3, 2.0, ball).MirrorOf(Held(corridor, map, 1.25, 2.1, image)));

  const Chain before = slid.Between(-1e9, *since);
  CHECK(before.last_time() < *since);
  CHECK(before.last_time() > *since - 2 * kFrame);
  CHECK(before.hits() == static_cast<int>(before.steps().size()));
}
