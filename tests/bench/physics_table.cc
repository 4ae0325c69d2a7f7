#include "physics_table.h"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <optional>

#include "lane/friction_rise.h"
#include "lane/lane_spec.h"
#include "lane/units.h"
#include "synth/ball_physics.h"

namespace hookline::bench {
namespace {

using Json = nlohmann::json;

struct Bar {
  const char* key;
  const char* unit;
  double median;  // on good footage
};
constexpr Bar kBars[] = {{"slip_angle_deg", "deg", 1.5}, {"skid_end_ft", "ft", 0}, {"roll_start_ft", "ft", 2},
                         {"path_turn_deg", "deg", 3},    {"path_rev_rpm", "%", 4}, {"friction_front", "%", 12},
                         {"friction_back", "%", 20},     {"rev_rate_rpm", "%", 3}, {"axis_rotation_deg", "deg", 4},
                         {"axis_tilt_deg", "deg", 5}};

std::optional<double> Number(const Json& j, const char* key) {
  if (!j.is_object() || !j.contains(key) || !j[key].is_number()) return std::nullopt;
  return j[key].get<double>();
}

synth::Friction FrictionOf(const Json& s) {
  const Json& m = s["mu_profile"];
  synth::Friction f;
  f.oil = m["mu_oil"].get<double>();
  f.outside = m["mu_out"].get<double>();
  f.dry = m["mu_dry"].get<double>();
  f.oil_length = lane::MetresFromFeet(m["oil_len_ft"].get<double>());
  f.transition = lane::MetresFromFeet(m["trans_ft"].get<double>());
  f.outside_x = std::abs(lane::XFromBoard(m["out_board"].get<double>(), lane::kNominalWidth, lane::Hand::kRight));
  return f;
}

// On the ball's true way, ft.
std::optional<double> SkidEnd(const Json& s) {
  const synth::Friction f = FrictionOf(s);
  std::vector<lane::FrictionMet> way;
  for (const Json& p : s["samples"]) {
    const double y = lane::MetresFromFeet(p["y_ft"].get<double>());
    if (p["phase"] == "lane") way.push_back({y, f.At(lane::MetresFromInches(p["x_in"].get<double>()), y)});
  }
  if (way.size() < 2) return std::nullopt;
  const auto y = lane::RiseOn(way).half_way_y;
  return y ? std::optional<double>(lane::FeetFromMetres(*y)) : std::nullopt;
}

std::optional<double> TruthOf(const Json& s, const std::string& key) {
  const bool gutter = s["gutter_ball"].get<bool>();
  const double tilt = lane::RadiansFromDegrees(s["axis_tilt_deg"].get<double>());
  const double level_rpm = s["rev_rate_rpm"].get<double>() * std::cos(tilt);
  if (key == "rev_rate_rpm" || key == "axis_rotation_deg" || key == "axis_tilt_deg") return Number(s, key.c_str());
  if (key == "slip_angle_deg") {
    const double w = level_rpm / 60 * lane::kPi * lane::MetresFromInches(s["ball_diameter_in"].get<double>());
    const double turn = lane::RadiansFromDegrees(s["axis_rotation_deg"].get<double>());
    const double v = lane::MetresPerSecondFromMph(s["speed_mph"]["release_2ft"].get<double>());
    return lane::DegreesFromRadians(std::atan2(w * std::sin(turn), v - w * std::cos(turn)));
  }
  if (gutter) return std::nullopt;
  const auto roll = Number(s, "first_rolling_y_ft");
  if (key == "skid_end_ft") {
    const auto y = SkidEnd(s);
    return y && *y < roll.value_or(60) ? y : std::nullopt;
  }
  if (!roll || *roll >= 57) return std::nullopt;
  if (key == "roll_start_ft") return roll;
  if (key == "path_turn_deg") return Number(s, "axis_rotation_deg");
  if (key == "path_rev_rpm") return level_rpm;
  return std::nullopt;
}

// Mean friction along the true path, as the program gives it: the mean of the logarithm.
std::optional<double> TrueFriction(const Json& s, double from_ft, double to_ft) {
  const synth::Friction f = FrictionOf(s);
  double sum = 0;
  int n = 0;
  for (const Json& p : s["samples"]) {
    const double y = p["y_ft"].get<double>();
    if (p["phase"] != "lane" || y < from_ft || y > to_ft) continue;
    sum += std::log(f.At(lane::MetresFromInches(p["x_in"].get<double>()), lane::MetresFromFeet(y)));
    ++n;
  }
  return n < 3 ? std::nullopt : std::optional<double>(std::exp(sum / n));
}

double Median(std::vector<double> v) {
  std::sort(v.begin(), v.end());
  return v.empty() ? 0 : v.size() % 2 == 1 ? v[v.size() / 2] : (v[v.size() / 2 - 1] + v[v.size() / 2]) / 2;
}

}  // namespace

void PhysicsTable::AddError(bool hard, const std::string& key, double error, double sd, const std::string& clip) {
  errors_[hard ? 1 : 0][key].push_back({error, sd, clip});
}

void PhysicsTable::Add(const Json& truth, const Json& shot, bool hard, const std::string& clip) {
  const Json& measures = shot["measures"];
  for (const Bar& bar : kBars) {
    const std::string key = bar.key;
    if (key.starts_with("friction") || !measures.contains(key)) continue;
    const auto value = Number(measures[key], "value"), sd = Number(measures[key], "sd"), wanted = TruthOf(truth, key);
    if (value && wanted) {
      const double scale = std::string(bar.unit) == "%" ? 100 / std::max(std::abs(*wanted), 1e-9) : 1;
      AddError(hard, key, (*value - *wanted) * scale, sd.value_or(0) * scale, clip);
    } else if (wanted) {
      ++missing_[hard ? 1 : 0][key];
    } else if (value && !truth["gutter_ball"].get<bool>()) {
      false_[hard ? 1 : 0][key].push_back(clip);
    }
  }
  const Json& zones = shot["friction"];
  for (std::size_t i = 0; i < zones.size(); ++i) {
    const double from = zones[i]["from_ft"].get<double>(), to = zones[i]["to_ft"].get<double>();
    const bool front = i == 0;
    if (!front && (i + 1 < zones.size() || from < truth["mu_profile"]["oil_len_ft"].get<double>())) continue;
    const auto mu = TrueFriction(truth, from, to);
    if (!mu) continue;
    AddError(hard, front ? "friction_front" : "friction_back", 100 * (zones[i]["value"].get<double>() / *mu - 1),
             100 * zones[i]["sd"].get<double>() / zones[i]["value"].get<double>(), clip);
  }
}

std::string PhysicsTable::Text(bool* passes) const {
  char line[400];
  std::string out =
      "\n| physics | unit | good: median / worst | n | not told | error/sd rms | hard: median / worst | n | not told | "
      "error/sd rms |\n| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n";
  std::vector<std::pair<double, std::string>> far;
  for (const Bar& bar : kBars) {
    std::snprintf(line, sizeof line, "| `%s` | %s |", bar.key, bar.unit);
    out += line;
    for (int kind = 0; kind < 2; ++kind) {
      const auto found = errors_[kind].find(bar.key);
      const auto missing = missing_[kind].find(bar.key);
      const int lost = missing == missing_[kind].end() ? 0 : missing->second;
      if (found == errors_[kind].end()) {
        std::snprintf(line, sizeof line, " - | 0 | %d | - |", lost);
        out += line;
        continue;
      }
      std::vector<double> sizes;
      double squares = 0;
      for (const Entry& e : found->second) {
        sizes.push_back(std::abs(e.error));
        squares += e.error * e.error / (e.sd * e.sd);
        if (std::abs(e.error) > 3 * e.sd) far.emplace_back(e.error / e.sd, e.clip + " " + bar.key);
      }
      const bool over = bar.median > 0 && Median(sizes) > bar.median * (kind + 1);
      *passes = *passes && !over;
      std::snprintf(line, sizeof line, " %.2f / %.2f%s | %zu | %d | %.2f |", Median(sizes),
                    *std::max_element(sizes.begin(), sizes.end()), over ? " OVER" : "", sizes.size(), lost,
                    std::sqrt(squares / static_cast<double>(sizes.size())));
      out += line;
    }
    out += "\n";
  }
  for (const auto& [sds, name] : far) {
    std::snprintf(line, sizeof line, "  %+.1f sd  %s\n", sds, name.c_str());
    out += line;
  }
  for (const auto& kinds : false_)
    for (const auto& [key, clips] : kinds)
      for (const std::string& clip : clips) out += "  given though there is none: " + key + " " + clip + "\n";
  return out;
}

}  // namespace hookline::bench
