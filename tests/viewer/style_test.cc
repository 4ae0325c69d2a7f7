#include "viewer/style.h"

#include <doctest/doctest.h>

#include <cmath>
#include <set>
#include <tuple>

using namespace hookline::viewer;

namespace {

// Relative luminance and contrast as in the W3C's WCAG 2.1, "relative luminance" and "contrast ratio".
double Luminance(Ink ink) {
  const auto channel = [&](int shift) {
    const double c = static_cast<double>(ink >> shift & 255U) / 255;
    return c <= 0.03928 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4);
  };
  return 0.2126 * channel(0) + 0.7152 * channel(8) + 0.0722 * channel(16);
}

double Contrast(Ink a, Ink b) {
  const double la = Luminance(a), lb = Luminance(b);
  return (std::max(la, lb) + 0.05) / (std::min(la, lb) + 0.05);
}

}  // namespace

TEST_CASE("text stands off its ground in both themes") {
  for (Theme theme : {Theme::kDark, Theme::kLight}) {
    const Style s = MakeStyle(theme, 16);
    for (Ink ground : {s.ground, s.panel, s.raised}) {
      CHECK(Contrast(s.text, ground) >= 7);     // WCAG 2.1, level AAA for text
      CHECK(Contrast(s.quiet, ground) >= 4.5);  // level AA
    }
    for (Ink ink : {s.warn, s.by_hand, s.accent}) CHECK(Contrast(ink, s.panel) >= 4.5);
    CHECK(Contrast(s.accent_text, s.accent) >= 4.5);
    for (std::size_t i = 0; i < 7; ++i) CHECK(Contrast(LookOfSeries(s, i).colour, s.panel) >= 3);  // graphics, AA
  }
}

TEST_CASE("series differ in shape as well as in colour") {
  const Style s = MakeStyle(Theme::kDark, 16);
  std::set<std::tuple<Ink, Dash, Marker>> looks;
  std::set<std::tuple<Dash, Marker>> shapes;
  for (std::size_t i = 0; i < 20; ++i) {
    const SeriesLook look = LookOfSeries(s, i);
    looks.insert({look.colour, look.dash, look.marker});
    shapes.insert({look.dash, look.marker});
  }
  CHECK(looks.size() == 20);
  CHECK(shapes.size() == 20);  // told apart without any colour
}
