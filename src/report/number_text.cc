#include "report/number_text.h"

#include <algorithm>
#include <cmath>
#include <cstdio>

namespace hookline::report {
namespace {

constexpr int kMostExtraDecimals = 2;

int DecimalsShown(int least, double sd) {
  if (!std::isfinite(sd)) return least;
  // As it is kept in files, or a doubt on the very edge would be shown with other decimals once it was read back.
  sd = FileNumber(sd);
  int decimals = least;
  while (decimals < least + kMostExtraDecimals && sd < 0.5 * std::pow(10.0, -decimals)) ++decimals;
  return decimals;
}

// Rounded up to the last decimal shown where it is smaller than that: a doubt of nothing would be a lie.
std::string DoubtText(double sd, int decimals) {
  return FixedText(std::max(FileNumber(sd), std::pow(10.0, -decimals)), decimals);
}

}  // namespace

bool Given(const Measure& measure) {
  return measure.value && std::isfinite(*measure.value) && std::isfinite(measure.sd);
}

std::string ReasonOf(const Measure& measure) {
  if (Given(measure)) return {};
  if (!measure.reason.empty()) return measure.reason;
  return measure.value ? "its doubt could not be determined" : "not measured";
}

int DecimalsShown(MeasureId id, double sd) {
  return DecimalsShown(kMeasureTable[static_cast<std::size_t>(id)].decimals, sd);
}

std::string FixedText(double value, int decimals) {
  char text[64];
  std::snprintf(text, sizeof text, "%.*f", decimals, value);
  std::string s = text;
  if (s.find_first_not_of("-0.") == std::string::npos && s.front() == '-') s.erase(0, 1);
  return s;
}

std::string ValueText(MeasureId id, const Measure& measure) {
  return FixedText(FileNumber(*measure.value), DecimalsShown(id, measure.sd));
}

std::string DoubtText(MeasureId id, const Measure& measure) {
  return DoubtText(measure.sd, DecimalsShown(id, measure.sd));
}

std::string MeasureText(MeasureId id, const Measure& measure) {
  if (!Given(measure)) return "–";
  return ValueText(id, measure) + " ±" + DoubtText(id, measure);
}

std::string TextWithDoubt(double value, double sd, int least_decimals) {
  if (!std::isfinite(value) || !std::isfinite(sd)) return "–";
  const int decimals = DecimalsShown(least_decimals, sd);
  return FixedText(FileNumber(value), decimals) + " ±" + DoubtText(sd, decimals);
}

std::string ShareText(double share) {
  if (share > 0.99) return "over 99 %";
  if (share < 0.01) return "under 1 %";
  return FixedText(100 * share, 0) + " %";
}

double FileNumber(double value) {
  const double rounded = std::round(value * 1e6) / 1e6;
  return rounded == 0 ? 0 : rounded;
}

std::size_t TextWidth(std::string_view utf8) {
  return static_cast<std::size_t>(std::count_if(utf8.begin(), utf8.end(), [](char c) { return (c & 0xC0) != 0x80; }));
}

std::string PadLeft(std::string_view utf8, std::size_t width) {
  const std::size_t w = TextWidth(utf8);
  return std::string(width > w ? width - w : 0, ' ') + std::string(utf8);
}

std::string PadRight(std::string_view utf8, std::size_t width) {
  const std::size_t w = TextWidth(utf8);
  return std::string(utf8) + std::string(width > w ? width - w : 0, ' ');
}

}  // namespace hookline::report
