#include "track/colour_mix.h"

#include <doctest/doctest.h>

#include <cmath>

using namespace hookline::track;

namespace {

// Rec. ITU-R BT.709 items 3.2 and 3.3, 8 bit (item 4.6), written out anew; the curve is 2.2 as everywhere in the fit.
struct Rgb {
  double r, g, b;  // curved, levels of luma
};

Colour Coded(const Rgb& c) {
  const double y = 0.2126 * c.r + 0.7152 * c.g + 0.0722 * c.b, chroma = 224.0 / 219;
  return {y, 128 + chroma * (c.b - y) / 1.8556, 128 + chroma * (c.r - y) / 1.5748};
}

double Mixed(double under, double over, double a) {
  return 255 * std::pow((1 - a) * std::pow(under / 255, 2.2) + a * std::pow(over / 255, 2.2), 1 / 2.2);
}

const Rgb kLane{190, 165, 140}, kGreen{110, 240, 60}, kGrey{60, 60, 60};

}  // namespace

TEST_CASE("light adds up in red, green and blue") {
  for (const Rgb& ball : {kGreen, kGrey})
    for (const double a : {0.0, 0.2, 0.5, 0.8, 1.0}) {
      const Colour mix = MixOf(Coded(kLane), Coded(ball), a);
      const Colour truth = Coded({Mixed(kLane.r, ball.r, a), Mixed(kLane.g, ball.g, a), Mixed(kLane.b, ball.b, a)});
      CHECK(std::abs(mix.y - truth.y) < 0.2);
      CHECK(std::abs(mix.cb - truth.cb) < 0.2);
      CHECK(std::abs(mix.cr - truth.cr) < 0.2);
    }
}

TEST_CASE("between greys luma alone tells the mix, between colours it does not") {
  const ColourExcess none = ExcessOf({180, 128, 128}, {60, 128, 128});
  for (const double a : {0.25, 0.5, 0.75}) {
    CHECK(std::abs(none.y.At(a)) < 0.1);
    CHECK(std::abs(none.cb.At(a)) < 0.1);
    CHECK(std::abs(none.cr.At(a)) < 0.1);
  }
  const Colour lane = Coded(kLane), green = Coded(kGreen);
  const ColourExcess e = ExcessOf(lane, green);
  const auto linear = [](double level) { return 255 * std::pow(level / 255, 2.2); };
  for (const double a : {1.0 / 3, 0.5, 2.0 / 3}) {
    const Colour mix = Coded({Mixed(kLane.r, kGreen.r, a), Mixed(kLane.g, kGreen.g, a), Mixed(kLane.b, kGreen.b, a)});
    CHECK(std::abs(e.y.At(a) - (linear(mix.y) - (1 - a) * linear(lane.y) - a * linear(green.y))) < 0.4);
    CHECK(std::abs(e.cb.At(a) - (mix.cb - (1 - a) * lane.cb - a * green.cb)) < 0.6);
    CHECK(std::abs(e.cr.At(a) - (mix.cr - (1 - a) * lane.cr - a * green.cr)) < 0.6);
    const double h = 1e-4;
    CHECK(e.y.Slope(a) == doctest::Approx((e.y.At(a + h) - e.y.At(a - h)) / (2 * h)));
  }
  CHECK(e.y.At(0.5) > 5);
}
