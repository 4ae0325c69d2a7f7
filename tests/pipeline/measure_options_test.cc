#include <doctest/doctest.h>

#include "pipeline/measure_clip.h"

namespace hookline::pipeline {

// Sensors that read at once and those of 10 ms must both lie within two sds of what is taken for an unknown one.
TEST_CASE("a readout that is not told lies between a sensor that reads at once and a usual one, and is doubted") {
  ClipInfo clip;
  clip.rotation_deg = 90;
  MeasureOptions options;
  const Readout unknown = options.ReadoutOf(clip);
  CHECK(unknown.s > 0);
  CHECK(unknown.s < 2 * unknown.sd_s);
  CHECK(0.010 - unknown.s < 2 * unknown.sd_s);
  CHECK(unknown.rotation_deg == 90);
  CHECK(options.ReadoutOf(clip, 0.008).sd_s == 0.008);
  for (const double told : {0.0, 0.012}) {
    options.readout_s = told;
    CHECK(options.ReadoutOf(clip).s == told);
    CHECK(options.ReadoutOf(clip, 0.008).sd_s == kStatedReadoutSd);
  }
}

}  // namespace hookline::pipeline
