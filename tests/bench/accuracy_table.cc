#include "accuracy_table.h"

#include <algorithm>
#include <cmath>
#include <cstdarg>
#include <cstdio>
#include <limits>
#include <optional>
#include <set>

namespace hookline::bench {
namespace {

using Json = nlohmann::json;

std::string Format(const char* format, ...) __attribute__((format(printf, 1, 2)));
std::string Format(const char* format, ...) {
  char text[512];
  va_list arguments;
  va_start(arguments, format);
  std::vsnprintf(text, sizeof text, format, arguments);
  va_end(arguments);
  return text;
}

std::optional<double> Number(const Json& j, const char* key) {
  if (!j.is_object() || !j.contains(key) || !j[key].is_number()) return std::nullopt;
  const double v = j[key].get<double>();
  return std::isfinite(v) ? std::optional<double>(v) : std::nullopt;
}

bool Hard(const Json& t) {
  return t["height"].get<int>() < 1080 || t["width"].get<int>() < t["height"].get<int>() ||
         t["fps_nominal"].get<double>() < 50 || !t["jitter_homography"].is_null();
}

// Visible enough, on the lane, in enough frames to be measured at all.
bool CanBeMeasured(const Json& shot) {
  int seen = 0;
  for (const Json& s : shot["samples"]) seen += s["visible"].get<double>() > 0.5 && s["phase"] == "lane";
  return seen >= 12;
}

bool SeenAt(const Json& shot, double y_ft) {
  if (y_ft < 0) y_ft = shot["breakpoint"].is_object() ? shot["breakpoint"]["y_ft"].get<double>() : 35;
  return std::any_of(shot["samples"].begin(), shot["samples"].end(), [&](const Json& s) {
    return s["visible"].get<double>() > 0.5 && std::abs(s["y_ft"].get<double>() - y_ft) < 4 &&
           (s["phase"] == "lane" || s["phase"] == "flight");
  });
}

std::optional<double> TruthOf(const Json& s, const std::string& key) {
  const double side = s["hand"] == "right" ? 1 : -1;
  const auto in = [&](const char* group, const char* name) {
    return s[group].is_object() ? Number(s[group], name) : std::nullopt;
  };
  if (s["gutter_ball"].get<bool>()) {
    for (const MeasureBar& bar : Bars())
      if (key == bar.key)
        for (double place : bar.places_ft)
          if (place < 0 || place > s["gutter_y_ft"].get<double>()) return std::nullopt;
  }
  if (key == "board_at_arrows") return Number(s, "board_at_arrows_own_hand");
  if (key == "board_at_15ft") return Number(s, "board_at_15ft_own_hand");
  if (key == "board_at_40ft") return Number(s, "board_at_40ft_own_hand");
  if (key == "breakpoint_board") return in("breakpoint", "board_own_hand");
  if (key == "breakpoint_ft") return in("breakpoint", "y_ft");
  if (key == "entry_board") return in("entry", "board_own_hand");
  if (key == "entry_angle_deg") return in("entry", "angle_deg");
  if (key == "launch_angle_deg") {
    const auto v = Number(s, "launch_angle_deg");
    return v ? std::optional<double>(*v * side) : v;
  }
  if (key == "speed_release_mph") return in("speed_mph", "release_2ft");
  if (key == "speed_arrows_mph") return in("speed_mph", "arrows_15ft");
  if (key == "speed_entry_mph") return in("speed_mph", "entry_59ft");
  if (key == "speed_mean_mph") return in("speed_mph", "mean_foul_to_59p5ft");
  return std::nullopt;
}

double ErrorAgainst(const std::string& key, double value, double truth, const Json& shot) {
  if (key != "breakpoint_ft") return value - truth;
  const double low = shot["breakpoint"]["y_range_within_0p1_board_ft"][0].get<double>();
  const double high = shot["breakpoint"]["y_range_within_0p1_board_ft"][1].get<double>();
  return value < low ? value - low : value > high ? value - high : 0;
}

double Median(std::vector<double> v) {
  if (v.empty()) return std::numeric_limits<double>::quiet_NaN();
  std::sort(v.begin(), v.end());
  return v.size() % 2 == 1 ? v[v.size() / 2] : 0.5 * (v[v.size() / 2 - 1] + v[v.size() / 2]);
}

}  // namespace

const std::vector<MeasureBar>& Bars() {
  // docs/measures.md, "How good it must be", good footage.
  static const std::vector<MeasureBar> bars = {
      {"board_at_arrows", "board", 0.10, 0.30, {14}},  {"board_at_15ft", "board", 0.10, 0.30, {15}},
      {"breakpoint_board", "board", 0.20, 0.50, {-1}}, {"board_at_40ft", "board", 0.20, 0.50, {40}},
      {"entry_board", "board", 0.20, 0.50, {58}},      {"breakpoint_ft", "ft", 1.0, 3.0, {-1}},
      {"launch_angle_deg", "deg", 0.05, 0.20, {4, 9}}, {"entry_angle_deg", "deg", 0.15, 0.40, {58}},
      {"speed_mean_mph", "mph", 0.08, 0.25, {3, 58}},  {"speed_arrows_mph", "mph", 0.08, 0.25, {15}},
      {"speed_release_mph", "mph", 0.20, 0.60, {3}},   {"speed_entry_mph", "mph", 0.20, 0.60, {58}}};
  return bars;
}

void AccuracyTable::AddFailedRun(const Json& truth) {
  Counts& c = counts_[Hard(truth) ? 1 : 0];
  ++c.clips;
  ++c.failed;
  for (const Json& s : truth["shots"])
    if (s["lane"] == 0 && CanBeMeasured(s)) {
      ++c.shots;
      ++c.missed;
    }
}

std::vector<std::string> AccuracyTable::Add(const Json& truth, const Json& result) {
  std::vector<std::string> notes;
  const std::string clip = truth["clip"].get<std::string>();
  const int kind = Hard(truth) ? 1 : 0;
  Counts& count = counts_[kind];
  ++count.clips;
  const Json& shots = result["shots"];
  std::set<std::size_t> used;
  for (const Json& s : truth["shots"]) {
    if (s["lane"] != 0) continue;
    const bool can = CanBeMeasured(s);
    count.shots += can;
    const double end = s["first_pin_contact_s"].is_number() ? s["first_pin_contact_s"].get<double>()
                       : s["entry"].is_object()             ? s["entry"]["time_s"].get<double>()
                                                            : s["release_time_s"].get<double>() + 3;
    std::optional<std::pair<double, std::size_t>> best;
    for (std::size_t i = 0; i < shots.size(); ++i) {
      std::vector<double> off;
      if (const auto t = Number(shots[i], "pin_contact_s")) off.push_back(std::abs(*t - end));
      if (const auto t = Number(shots[i], "release_s")) off.push_back(std::abs(*t - s["release_time_s"].get<double>()));
      if (off.empty() && !shots[i]["path"].empty())
        off.push_back(std::abs(shots[i]["path"].back()["t_s"].get<double>() - end));
      if (off.empty() || used.count(i) > 0) continue;
      const double worst = *std::max_element(off.begin(), off.end());
      if (worst < 0.7 && (!best || worst < best->first)) best = {worst, i};
    }
    if (!best) {
      if (can) {
        ++count.missed;
        notes.push_back("MISSED");
      }
      continue;
    }
    used.insert(best->second);
    physics_.Add(s, shots[best->second], kind == 1, clip);
    const Json& measures = shots[best->second]["measures"];
    for (const MeasureBar& bar : Bars()) {
      const Json empty = Json::object();
      const Json& m = measures.contains(bar.key) ? measures[bar.key] : empty;
      const auto value = Number(m, "value"), sd = Number(m, "sd"), wanted = TruthOf(s, bar.key);
      const bool counts =
          can && std::all_of(bar.places_ft.begin(), bar.places_ft.end(), [&](double y) { return SeenAt(s, y); });
      if (!value) {
        if (wanted && counts) {
          ++count.missing;
          notes.push_back(std::string(bar.key) + " null");
        }
        continue;
      }
      if (!wanted) {
        ++count.false_values;
        notes.push_back(Format("%s=%.2f but truth: none", bar.key, *value));
        continue;
      }
      if (!sd || *sd <= 0) ++count.no_sd;
      const double error = ErrorAgainst(bar.key, *value, *wanted, s), f = kind == 1 ? 2 : 1;
      errors_[kind][bar.key].push_back({error, sd.value_or(0), clip, counts});
      if (counts && std::abs(error) > bar.worst * f)
        notes.push_back(Format("%s off by %+.3f (sd %.3f)", bar.key, error, sd.value_or(0)));
    }
  }
  const int invented = static_cast<int>(shots.size() - used.size());
  count.invented += invented;
  if (invented > 0) notes.push_back(Format("%d INVENTED", invented));
  const Json& setup = result["lane_setup"];
  if (setup.contains("corners_px") && setup["corners_px"].is_object() && setup.value("found", true)) {
    static const std::pair<const char*, const char*> pairs[] = {{"foul_left", "foul_left"},
                                                                {"foul_right", "foul_right"},
                                                                {"headpin_left", "edge60_left"},
                                                                {"headpin_right", "edge60_right"}};
    double worst = 0;
    for (const auto& [ours, theirs] : pairs) {
      const Json& a = setup["corners_px"][ours];
      const Json& b = truth["landmarks"][theirs]["px"];
      if (a.is_array() && b.is_array())
        worst = std::max(worst,
                         std::hypot(a[0].get<double>() - b[0].get<double>(), a[1].get<double>() - b[1].get<double>()));
    }
    corners_px_.push_back(worst);
    notes.push_back(Format("lane corners off by up to %.1f px", worst));
  } else {
    ++count.lane_not_found;
    notes.push_back("lane not found");
  }
  return notes;
}

std::string AccuracyTable::Text(bool* passes) const {
  *passes = true;
  std::string out =
      "| measure | unit | good: median / worst | n | error/sd rms | hard: median / worst | n | error/sd rms |\n"
      "| --- | --- | --- | --- | --- | --- | --- | --- |\n";
  std::vector<ErrorOf> all;
  for (const MeasureBar& bar : Bars()) {
    out += Format("| `%s` | %s |", bar.key, bar.unit);
    for (int kind = 0; kind < 2; ++kind) {
      const auto found = errors_[kind].find(bar.key);
      std::vector<double> sizes, sds;
      double squares = 0;
      int whitened = 0;
      if (found != errors_[kind].end()) {
        for (const ErrorOf& e : found->second) {
          if (e.counts) sizes.push_back(std::abs(e.error));
          if (e.sd <= 0) continue;
          sds.push_back(e.sd);
          if (std::string(bar.key) == "breakpoint_ft") continue;  // its error is zero on a stretch
          squares += e.error * e.error / (e.sd * e.sd);
          ++whitened;
          ErrorOf named = e;
          named.clip += std::string(" ") + bar.key;
          all.push_back(named);
        }
      }
      if (sizes.empty()) {
        out += " - | 0 | - |";
        continue;
      }
      const double f = kind == 1 ? 2 : 1, median = Median(sizes), worst = *std::max_element(sizes.begin(), sizes.end());
      const bool over = (sizes.size() >= 3 && median > bar.median * f) || worst > bar.worst * f,
                 wide = !sds.empty() && Median(sds) > bar.worst * f;
      *passes = *passes && !over && !wide;
      out += Format(" %.3f / %.3f%s%s | %zu |", median, worst, over ? " OVER" : "", wide ? " SD TOO WIDE" : "",
                    sizes.size());
      out += whitened > 0 ? Format(" %.2f |", std::sqrt(squares / whitened)) : " - |";
    }
    out += "\n";
  }
  double squares = 0;
  std::vector<ErrorOf> far;
  for (const ErrorOf& e : all) {
    squares += e.error * e.error / (e.sd * e.sd);
    if (std::abs(e.error) > 3 * e.sd) far.push_back(e);
  }
  if (!all.empty()) {
    const double rms = std::sqrt(squares / static_cast<double>(all.size())),
                 share = static_cast<double>(far.size()) / static_cast<double>(all.size());
    const bool over = all.size() >= 20 && (rms < 0.7 || rms > 1.3 || share > 0.025);
    *passes = *passes && !over;
    out += Format("\nerror / sd: rms %.2f, beyond 3 sd %zu of %zu (%.1f %%)%s\n", rms, far.size(), all.size(),
                  100 * share, over ? " OVER" : "");
    std::sort(far.begin(), far.end(),
              [](const ErrorOf& a, const ErrorOf& b) { return std::abs(a.error / a.sd) > std::abs(b.error / b.sd); });
    for (std::size_t i = 0; i < std::min<std::size_t>(12, far.size()); ++i)
      out += Format("  %+.1f sd  %s\n", far[i].error / far[i].sd, far[i].clip.c_str());
  }
  for (int kind = 0; kind < 2; ++kind) {
    const Counts& c = counts_[kind];
    if (c.clips == 0) continue;
    out += Format(
        "\n%s footage: %d clips, %d shots; missed %d, invented %d, missing values %d, false values %d, no sd %d, lane "
        "not found %d, failed runs %d",
        kind == 0 ? "good" : "hard", c.clips, c.shots, c.missed, c.invented, c.missing, c.false_values, c.no_sd,
        c.lane_not_found, c.failed);
    *passes = *passes && c.missed + c.invented + c.missing + c.false_values + c.no_sd + c.failed == 0;
  }
  out += Format("\nlane corners off by %.2f px median, %.2f px worst\n", Median(corners_px_),
                corners_px_.empty() ? std::numeric_limits<double>::quiet_NaN()
                                    : *std::max_element(corners_px_.begin(), corners_px_.end()));
  out += physics_.Text(passes);
  out += *passes ? "all bars hold\n" : "falls short\n";
  return out;
}

}  // namespace hookline::bench
