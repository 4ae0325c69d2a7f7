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

TEST_CASE("a faint ball's chain stays with its rim when what is dark below it draws more") {
  Scene scene(Setup(), 12);
  const Corridor corridor(scene.setup());
  ChangeMap map(corridor, scene.StillBackground());
  const Colour faint{160, 112, 146}, dark{25, 128, 128};
  // Its shadow and its dark underside's image, hidden behind it at first.
  const auto below = [&](double t) {
    Eigen::Vector3d p = Hook(t);
    p.z() -= kRadius * std::clamp(2 * (t - 0.7), 0.0, 2.0);
    return p;
  };
  std::deque<FrameView> views;
  std::vector<std::pair<const FrameView*, Candidate>> places;
  std::optional<Chain> chain;
  for (int i = 0; i < 100; ++i) {
    const double t = 0.3 + i * kFrame;
    const FrameView view = map.View(scene.Draw(t, i, {{below(t), dark, 0}, {Hook(t), faint, 0}}), FrameMotion{});
    if (chain) {
      chain->Advance(view);
      continue;
    }
    views.push_back(view);
    if (i < 6) continue;
    for (const FrameView* v : {&views.front(), &views.back()}) {
      const Eigen::Vector3d p = Hook(v->time_s);
      Candidate c;
      c.contact = p.head<2>(), c.p = *corridor.Disc(c.contact), c.radius = corridor.RadiusPx(c.contact), c.score = 5;
      places.emplace_back(v, c);
    }
    chain.emplace(corridor, map, places, views);
  }
  REQUIRE(chain);
  CHECK_FALSE(chain->over());
  double worst = 0;
  for (const Step& s : chain->steps())
    if (s.time_s > 0.7)
      worst = std::max(worst, (s.p - scene.Pixel(Hook(s.time_s))).norm() / corridor.RadiusPx(s.contact));
  CHECK(worst < 0.3);
}
