#include "core/at_once.h"

#include <doctest/doctest.h>

#include <stdexcept>
#include <vector>

using namespace hookline;

TEST_CASE("work on many things is done once for each of them") {
  for (const unsigned count : {0U, 1U, 3U, 500U}) {
    std::vector<int> done(count);
    ForEachAtOnce(count, [&](std::size_t i) { ++done[i]; });
    CHECK(done == std::vector<int>(count, 1));
  }
}

TEST_CASE("what one piece of work throws comes out, and the others are not lost") {
  std::vector<int> done(20);
  CHECK_THROWS_AS(ForEachAtOnce(done.size(),
                                [&](std::size_t i) {
                                  ++done[i];
                                  if (i == 3) throw std::runtime_error("the third");
                                }),
                  std::runtime_error);
  CHECK(done == std::vector<int>(20, 1));
}
