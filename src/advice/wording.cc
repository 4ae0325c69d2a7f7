#include "advice/wording.h"

#include <algorithm>
#include <cmath>
#include <cstdio>

namespace hookline::advice {

std::string Fixed(double value, int decimals) {
  char text[64];
  std::snprintf(text, sizeof text, "%.*f", decimals, value);
  std::string s = text;
  if (s[0] == '-' && s.find_first_not_of("-0.") == std::string::npos) s.erase(0, 1);
  return s;
}

std::string WithDoubt(double value, double sd, int decimals) {
  const double least = std::pow(10.0, -decimals);
  return Fixed(value, decimals) + " ± " + Fixed(std::max(sd, least), decimals);
}

std::string Percent(double share) {
  if (share > 0.99) return "over 99 %";
  if (share < 0.01) return "under 1 %";
  return Fixed(100 * share, 0) + " %";
}

std::string Count(int n, std::string_view one, std::string_view many) {
  return std::to_string(n) + " " + std::string(n == 1 ? one : many);
}

std::string ShotList(const std::vector<int>& shots) {
  std::string text;
  for (std::size_t i = 0; i < shots.size();) {
    std::size_t j = i;
    while (j + 1 < shots.size() && shots[j + 1] == shots[j] + 1) ++j;
    if (!text.empty()) text += ", ";
    text += std::to_string(shots[i]);
    if (j == i + 1) text += ", " + std::to_string(shots[j]);
    if (j > i + 1) text += " to " + std::to_string(shots[j]);
    i = j + 1;
  }
  return text;
}

std::string Inward(double boards, int decimals) {
  const std::string size = Fixed(std::abs(boards), decimals);
  return size + (size == "1" ? " board " : " boards ") + (boards >= 0 ? "inward" : "outward");
}

}  // namespace hookline::advice
