#include "report/corrections_json.h"

#include <algorithm>
#include <cmath>

#include "core/whole_file.h"
#include "report/json_parts.h"

namespace hookline::report {
namespace {

constexpr const char* kFormat = "hookline-corrections";

Json OrNull(const std::optional<double>& v) { return v ? Json(*v) : Json(nullptr); }

// Thrown within this file only, so that each reader below can be one expression.
struct Bad {
  std::string what;
};

double NumberIn(const Json& j, const char* key, const std::string& where) {
  const auto it = j.find(key);
  if (it == j.end() || !it->is_number()) throw Bad{where + " has no number \"" + key + "\""};
  const double v = it->get<double>();
  if (!std::isfinite(v)) throw Bad{where + " has no finite number \"" + key + "\""};
  return v;
}

std::optional<double> OptionalIn(const Json& j, const char* key, const std::string& where) {
  const auto it = j.find(key);
  if (it == j.end() || it->is_null()) return std::nullopt;
  return NumberIn(j, key, where);
}

bool FlagIn(const Json& j, const char* key, const std::string& where) {
  const auto it = j.find(key);
  if (it == j.end()) return false;
  if (!it->is_boolean()) throw Bad{where + " has a \"" + key + "\" that is neither true nor false"};
  return it->get<bool>();
}

Eigen::Vector2d PlaceIn(const Json& j, const std::string& where) {
  const auto it = j.find("px");
  if (it == j.end() || !it->is_array() || it->size() != 2 || !(*it)[0].is_number() || !(*it)[1].is_number())
    throw Bad{where + " has no place \"px\": [u, v]"};
  return {(*it)[0].get<double>(), (*it)[1].get<double>()};
}

const Json* ListIn(const Json& j, const char* key, const std::string& where) {
  const auto it = j.find(key);
  if (it == j.end() || it->is_null()) return nullptr;
  if (!it->is_array()) throw Bad{where + " has a \"" + key + "\" that is no list"};
  return &*it;
}

ShotCorrection ShotIn(const Json& j, const std::string& where) {
  if (!j.is_object()) throw Bad{where + " is no object"};
  ShotCorrection c;
  c.at_s = NumberIn(j, "at_s", where);
  c.added = FlagIn(j, "added", where);
  c.removed = FlagIn(j, "removed", where);
  c.release_s = OptionalIn(j, "release_s", where);
  c.pin_contact_s = OptionalIn(j, "pin_contact_s", where);
  if (const Json* balls = ListIn(j, "ball", where))
    for (const Json& b : *balls) {
      const std::string ball = "a ball of " + where;
      if (!b.is_object()) throw Bad{ball + " is no object"};
      HandSight s;
      s.time_s = NumberIn(b, "t_s", ball);
      s.p_in_frame = PlaceIn(b, ball);
      s.sd_px = OptionalIn(b, "sd_px", ball).value_or(s.sd_px);
      if (!(s.sd_px > 0)) throw Bad{ball + " has an \"sd_px\" that is not above 0"};
      c.sights.push_back(s);
    }
  if (const Json* times = ListIn(j, "no_ball_s", where))
    for (const Json& t : *times) {
      if (!t.is_number()) throw Bad{where + " has a time in \"no_ball_s\" that is no number"};
      c.no_ball_s.push_back(t.get<double>());
    }
  std::sort(c.sights.begin(), c.sights.end(), [](const auto& a, const auto& b) { return a.time_s < b.time_s; });
  std::sort(c.no_ball_s.begin(), c.no_ball_s.end());
  return c;
}

}  // namespace

std::string CorrectionsText(const Corrections& corrections, const std::string& clip) {
  Json j = {{"format", kFormat}, {"version", 1}, {"clip", clip}};
  j["lane_marks"] = Json::object();
  for (const auto& [name, mark] : corrections.lane_marks)
    j["lane_marks"][name] = {{"t_s", mark.time_s}, {"px", {mark.p_in_frame.x(), mark.p_in_frame.y()}}};
  j["shots"] = Json::array();
  for (const ShotCorrection& c : corrections.shots) {
    Json balls = Json::array();
    for (const HandSight& s : c.sights)
      balls.push_back({{"t_s", s.time_s}, {"px", {s.p_in_frame.x(), s.p_in_frame.y()}}, {"sd_px", s.sd_px}});
    j["shots"].push_back({{"at_s", c.at_s},
                          {"added", c.added},
                          {"removed", c.removed},
                          {"release_s", OrNull(c.release_s)},
                          {"pin_contact_s", OrNull(c.pin_contact_s)},
                          {"ball", std::move(balls)},
                          {"no_ball_s", c.no_ball_s}});
  }
  return j.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

Result<Corrections> ParseCorrections(const std::string& text, const std::string& file) {
  try {
    const Json j = Json::parse(text, nullptr, false);
    if (j.is_discarded() || !j.is_object()) throw Bad{"this is no JSON document"};
    const auto format = j.find("format");
    if (format == j.end() || *format != kFormat)
      throw Bad{"this is no corrections file (its \"format\" is not \"hookline-corrections\")"};
    if (NumberIn(j, "version", "it") != 1) throw Bad{"its version is not known to this program; 1 is known"};
    Corrections c;
    if (const auto marks = j.find("lane_marks"); marks != j.end() && !marks->is_null()) {
      if (!marks->is_object()) throw Bad{"its \"lane_marks\" is no object"};
      for (const auto& [name, mark] : marks->items()) {
        const std::string where = "the mark " + name;
        if (!mark.is_object()) throw Bad{where + " is no object"};
        c.lane_marks[name] = {PlaceIn(mark, where), OptionalIn(mark, "t_s", where).value_or(0)};
      }
    }
    if (const Json* shots = ListIn(j, "shots", "it"))
      for (std::size_t i = 0; i < shots->size(); ++i)
        c.shots.push_back(ShotIn((*shots)[i], "correction " + std::to_string(i + 1)));
    std::stable_sort(c.shots.begin(), c.shots.end(), [](const auto& a, const auto& b) { return a.at_s < b.at_s; });
    return c;
  } catch (const Bad& bad) {
    return Status(StatusCode::kBadFile, file + ": " + bad.what + ".");
  }
}

Result<Corrections> ReadCorrections(const std::string& file) {
  const auto text = ReadWholeFile(file);
  if (!text.ok()) return text.status();
  return ParseCorrections(*text, file);
}

}  // namespace hookline::report
