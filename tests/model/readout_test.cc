#include "model/readout.h"

#include <doctest/doctest.h>

namespace hookline {

// Closed answers: the first line of the stored picture is read half the readout before the stamp, the last half after.
// Turned clockwise by 90 degrees for display, the stored picture's first row becomes the displayed one's right column.
TEST_CASE("a sensor's first line is read first, wherever the display matrix puts it") {
  struct Case {
    int rotation_deg;
    Eigen::Vector2d first, last;  // px, middle of the displayed line that is read first and last
  };
  for (const Case& c : {Case{0, {959.5, 0}, {959.5, 1079}}, Case{180, {959.5, 1079}, {959.5, 0}},
                        Case{90, {1919, 539.5}, {0, 539.5}}, Case{270, {0, 539.5}, {1919, 539.5}}}) {
    CAPTURE(c.rotation_deg);
    const Readout readout{0.02, 0, c.rotation_deg};
    const double half_line = 0.01 / (c.rotation_deg % 180 == 0 ? 1080 : 1920);
    CHECK(readout.LagAt(c.first, 1920, 1080) == doctest::Approx(-0.01 + half_line));
    CHECK(readout.LagAt(c.last, 1920, 1080) == doctest::Approx(0.01 - half_line));
    CHECK(readout.LagAt({959.5, 539.5}, 1920, 1080) == doctest::Approx(0));
  }
}

}  // namespace hookline
