// Where the skid ends on a way, against places worked out by hand.
#include "lane/friction_rise.h"

#include <doctest/doctest.h>

#include <vector>

#include "lane/units.h"

using namespace hookline::lane;
using doctest::Approx;

namespace {

FrictionRise RiseOnFeet(std::vector<FrictionMet> way) {
  for (FrictionMet& met : way) met.y = MetresFromFeet(met.y);
  return RiseOn(way);
}

}  // namespace

TEST_CASE("friction rises evenly between two flat stretches: half way is in the middle (worked out)") {
  const FrictionRise rise = RiseOnFeet({{0, 0.04}, {35, 0.04}, {45, 0.20}, {60, 0.20}});
  CHECK(rise.front == Approx(0.04));
  CHECK(rise.back == Approx(0.20));
  REQUIRE(rise.half_way_y.has_value());
  CHECK(FeetFromMetres(*rise.half_way_y) == Approx(40));
}

TEST_CASE("the value in front is the mean from 5 to 25 ft, that down the lane the one at 57 ft (worked out)") {
  const FrictionRise rise = RiseOnFeet({{0, 0}, {60, 0.60}});
  CHECK(rise.front == Approx(0.15));
  CHECK(rise.back == Approx(0.57));
  REQUIRE(rise.half_way_y.has_value());
  CHECK(FeetFromMetres(*rise.half_way_y) == Approx(36));
}

TEST_CASE("a ball that leaves the oil sideways and comes back: where the oil ends (worked out)") {
  const FrictionRise rise =
      RiseOnFeet({{0, 0.04}, {30, 0.04}, {30, 0.18}, {33, 0.18}, {33, 0.04}, {42, 0.04}, {42, 0.20}, {60, 0.20}});
  REQUIRE(rise.half_way_y.has_value());
  CHECK(FeetFromMetres(*rise.half_way_y) == Approx(42));
  // And one that stays outside.
  const FrictionRise stays = RiseOnFeet({{0, 0.04}, {30, 0.04}, {30, 0.18}, {60, 0.18}});
  REQUIRE(stays.half_way_y.has_value());
  CHECK(FeetFromMetres(*stays.half_way_y) == Approx(30));
}

TEST_CASE("of two steps the one that passes half way counts, however little it does (worked out)") {
  const auto half_way_ft = [](double between) {
    const FrictionRise rise = RiseOnFeet({{0, 0.04}, {28, 0.04}, {28, between}, {40, between}, {40, 0.20}, {60, 0.20}});
    return FeetFromMetres(rise.half_way_y.value_or(0));
  };
  CHECK(half_way_ft(0.121) == Approx(28));
  CHECK(half_way_ft(0.119) == Approx(40));
}

TEST_CASE("friction that falls or stays has no place half way") {
  CHECK_FALSE(RiseOnFeet({{0, 0.1}, {60, 0.1}}).half_way_y);
  CHECK_FALSE(RiseOnFeet({{0, 0.2}, {60, 0.1}}).half_way_y);
}
