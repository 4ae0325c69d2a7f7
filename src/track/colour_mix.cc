#include "track/colour_mix.h"

#include <algorithm>
#include <cmath>

namespace hookline::track {
namespace {

constexpr double kDarkest = 24;  // grey level below which the slope of the tone curve is no longer believed
constexpr double kRed = 0.2126, kGreen = 0.7152, kBlue = 0.0722;
// Chroma spans 224 levels where luma spans 219.
constexpr double kFromCr = 2 * (1 - kRed) * 219 / 224, kFromCb = 2 * (1 - kBlue) * 219 / 224;

struct Light {
  double r, g, b;
};

Light LightOf(const Colour& c) {
  const ToneCurve& curve = UsualCurve();
  const double r = c.y + kFromCr * (c.cr - 128), b = c.y + kFromCb * (c.cb - 128);
  return {curve.Linear(r), curve.Linear((c.y - kRed * r - kBlue * b) / kGreen), curve.Linear(b)};
}

Colour ColourOf(const Light& l) {
  const ToneCurve& curve = UsualCurve();
  const double r = curve.Level(l.r), b = curve.Level(l.b), y = kRed * r + kGreen * curve.Level(l.g) + kBlue * b;
  return {y, 128 + (b - y) / kFromCb, 128 + (r - y) / kFromCr};
}

Colour MixOf(const Light& under, const Light& over, double a) {
  const auto mix = [a](double u, double o) { return (1 - a) * u + a * o; };
  return ColourOf({mix(under.r, over.r), mix(under.g, over.g), mix(under.b, over.b)});
}

// Through the excess at a third and at two thirds.
MixExcess Through(double third, double two_thirds) {
  MixExcess e;
  e.second = 13.5 * (two_thirds - third);
  e.first = 4.5 * third - e.second / 3;
  return e;
}

}  // namespace

ToneCurve::ToneCurve(double gamma) {
  for (std::size_t i = 0; i < level_.size(); ++i) {
    const double l = 255 * std::pow(kMost * static_cast<double>(i) / kSteps / 255, 1 / gamma);
    level_[i] = static_cast<float>(l);
    slope_[i] = static_cast<float>(1 / (gamma * std::pow(std::max(l, kDarkest) / 255, gamma - 1)));
  }
  for (std::size_t i = 0; i < linear_.size(); ++i)
    linear_[i] = static_cast<float>(255 * std::pow(static_cast<double>(i) / 255, gamma));
}

double ToneCurve::Linear(double level) const {
  const double t = std::clamp(level, 0.0, static_cast<double>(linear_.size() - 2));
  const std::size_t i = static_cast<std::size_t>(t);
  return linear_[i] + (t - static_cast<double>(i)) * (linear_[i + 1] - linear_[i]);
}

double ToneCurve::Between(const Table& table, double linear) {
  const double t = std::clamp(linear / kMost, 0.0, 1.0) * kSteps;
  const std::size_t i = static_cast<std::size_t>(t);
  return table[i] + (t - static_cast<double>(i)) * (table[i + 1] - table[i]);
}

const ToneCurve& UsualCurve() {
  static const ToneCurve usual(2.2);
  return usual;
}

Colour MixOf(const Colour& under, const Colour& over, double a) { return MixOf(LightOf(under), LightOf(over), a); }

ColourExcess ExcessOf(const Colour& under, const Colour& over) {
  const ToneCurve& curve = UsualCurve();
  const Light u = LightOf(under), o = LightOf(over);
  const double plain_u = curve.Linear(under.y), plain_o = curve.Linear(over.y);
  double y[2], cb[2], cr[2];
  for (int k = 0; k < 2; ++k) {
    const double a = (k + 1) / 3.0;
    const Colour mix = MixOf(u, o, a);
    y[k] = curve.Linear(mix.y) - ((1 - a) * plain_u + a * plain_o);
    cb[k] = mix.cb - ((1 - a) * under.cb + a * over.cb);
    cr[k] = mix.cr - ((1 - a) * under.cr + a * over.cr);
  }
  return {Through(y[0], y[1]), Through(cb[0], cb[1]), Through(cr[0], cr[1])};
}

}  // namespace hookline::track
