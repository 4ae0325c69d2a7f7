#include "setup/setup_file.h"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "camera/projection.h"
#include "core/whole_file.h"
#include "setup/evidence.h"
#include "setup/pencil.h"

namespace hookline::setup {
namespace {

using nlohmann::json;

constexpr const char* kFormat = "hookline-lane-setup";

const char* SourceName(SetupSource s) {
  return s == SetupSource::kPoints ? "points" : s == SetupSource::kFile ? "file" : "automatic";
}

}  // namespace

std::string SetupText(const LaneSetup& s) {
  const CameraModel& c = s.camera;
  json j;
  j["format"] = kFormat;
  j["version"] = 1;
  j["found_by"] = SourceName(s.source);
  j["picture"] = {{"width", c.width}, {"height", c.height}};
  j["camera"] = {{"focal_px", c.focal_px},
                 {"centre_px", {c.centre_u, c.centre_v}},
                 {"k1", c.k1},
                 {"k2", c.k2},
                 {"rotation_rad", {c.rotation.x(), c.rotation.y(), c.rotation.z()}},
                 {"position_m", {c.position_in_lane.x(), c.position_in_lane.y(), c.position_in_lane.z()}}};
  j["lane"] = {
      {"width_m", s.lane.width}, {"arrow_tips_m", s.lane.arrow_tip_y}, {"arrows_measured", s.lane.arrows_measured}};
  j["residual_px"] = std::isfinite(s.residual_px) ? json(s.residual_px) : json();
  json rows = json::array();
  for (int i = 0; i < kSetupParameters; ++i) {
    json row = json::array();
    for (int k = 0; k < kSetupParameters; ++k) row.push_back(s.covariance(i, k));
    rows.push_back(row);
  }
  j["covariance"] = rows;
  json n = json::array();
  for (const NeighbourLane& l : s.neighbours) n.push_back({{"index", l.index}, {"centre_m", l.centre_x}});
  j["neighbours"] = n;
  return j.dump(1) + "\n";
}

Result<LaneSetup> SetupFromText(const std::string& text, const std::string& file) {
  const auto bad = [&](const std::string& why) {
    return Status(StatusCode::kBadFile,
                  file + " is not a lane setup (" + why + "); make one with `hookline lane CLIP --save FILE`");
  };
  try {
    const json j = json::parse(text);
    if (!j.is_object() || j.value("format", "") != kFormat) return bad("its format is not \"hookline-lane-setup\"");
    if (j.at("version").get<int>() != 1) return bad("its version is not 1");
    LaneSetup s;
    s.source = SetupSource::kFile;
    CameraModel& c = s.camera;
    c.width = j.at("picture").at("width");
    c.height = j.at("picture").at("height");
    const json& k = j.at("camera");
    c.focal_px = k.at("focal_px");
    c.centre_u = k.at("centre_px").at(0);
    c.centre_v = k.at("centre_px").at(1);
    c.k1 = k.at("k1");
    c.k2 = k.at("k2");
    for (int i = 0; i < 3; ++i) {
      c.rotation[i] = k.at("rotation_rad").at(static_cast<std::size_t>(i));
      c.position_in_lane[i] = k.at("position_m").at(static_cast<std::size_t>(i));
    }
    const json& l = j.at("lane");
    s.lane.width = l.at("width_m");
    s.lane.arrow_tip_y = l.at("arrow_tips_m").get<std::array<double, 7>>();
    s.lane.arrows_measured = l.at("arrows_measured");
    if (j.contains("residual_px") && j["residual_px"].is_number()) s.residual_px = j["residual_px"];
    for (int i = 0; i < kSetupParameters; ++i)
      for (int m = 0; m < kSetupParameters; ++m)
        s.covariance(i, m) = j.at("covariance").at(static_cast<std::size_t>(i)).at(static_cast<std::size_t>(m));
    for (const json& n : j.value("neighbours", json::array()))
      s.neighbours.push_back({n.at("index"), n.at("centre_m")});
    if (!(c.width > 0 && c.height > 0 && c.focal_px > 0))
      return bad("its picture size and focal length must be above 0");
    if (!(s.lane.width >= lane::kMinWidth - 0.01 && s.lane.width <= lane::kMaxWidth + 0.01))
      return bad("its lane width must be 41 to 42 inches");
    if (!(c.position_in_lane.z() > 0)) return bad("its camera must be above the lane");
    return s;
  } catch (const json::exception& e) {
    return bad(std::string("part of it is missing or no number"));
  }
}

Status SaveSetup(const std::string& file, const LaneSetup& setup) {
  if (std::filesystem::exists(file))
    return {StatusCode::kBadUse, file + " exists already; give another name or remove it first"};
  return WriteWholeFile(file, SetupText(setup));
}

Result<LaneSetup> LoadSetup(const std::string& file) {
  if (!std::filesystem::is_regular_file(file))
    return Status(StatusCode::kBadFile,
                  "there is no file " + file + "; give the lane setup that `hookline lane CLIP --save FILE` wrote");
  std::ifstream in(file, std::ios::binary);
  std::stringstream text;
  text << in.rdbuf();
  if (!in) return Status(StatusCode::kBadFile, file + " cannot be read; check its permissions");
  return SetupFromText(text.str(), file);
}

SetupCheck CheckSetup(const LaneSetup& setup, const Background& background) {
  SetupCheck check;
  if (setup.camera.width != background.luma.cols || setup.camera.height != background.luma.rows) {
    check.sentence = "the lane setup was made for pictures of " + std::to_string(setup.camera.width) + "x" +
                     std::to_string(setup.camera.height) + ", the clip has " + std::to_string(background.luma.cols) +
                     "x" + std::to_string(background.luma.rows) + "; find the lane anew";
    return check;
  }
  EvidenceOptions look;
  look.window_px = 8.0 * std::max(1.0, background.luma.rows / 1080.0);
  // The polarity of edges is not stored: the one that sees more is right.
  Evidence best;
  for (const double sign : {1.0, -1.0}) {
    look.lane_sign = sign;
    const Evidence e = MeasureEvidence({background.luma}, setup, {{0, 0.0}}, look);
    if (e.edges.size() >= best.edges.size()) best = e;
  }
  std::vector<double> off;
  for (const EdgePoint& e : best.edges) {
    const double x = e.side * 0.5 * setup.lane.width;
    const auto a = camera::ImageFromLane(setup.camera, {x, e.y - 0.15, 0}),
               b = camera::ImageFromLane(setup.camera, {x, e.y + 0.15, 0});
    if (!a || !b) continue;
    const Eigen::Vector2d d = (*b - *a).normalized(), r = e.p_in_image - *a;
    off.push_back(std::abs(d.x() * r.y() - d.y() * r.x()));
  }
  for (const RackPoint& r : best.racks)
    if (const auto p = camera::ImageFromLane(setup.camera, r.p_in_rack_lane)) off.push_back((*p - r.p_in_image).norm());
  if (off.size() < 20 || 3 * static_cast<int>(best.edges.size()) < best.edges_expected) {
    check.sentence = "the lane is not where the lane setup has it; find the lane anew";
    return check;
  }
  double sum = 0;
  for (const double o : off) sum += o * o;
  check.rms_px = std::sqrt(sum / static_cast<double>(off.size()));
  std::nth_element(off.begin(), off.begin() + static_cast<std::ptrdiff_t>(off.size() / 2), off.end());
  check.shift_px = off[off.size() / 2];
  const double allowed = 1.0 * std::max(1.0, background.luma.rows / 1080.0);
  check.fits = check.shift_px <= allowed;
  if (!check.fits) {
    std::ostringstream s;
    s.precision(1);
    s << std::fixed << "the lane setup no longer fits: the lane's edges lie " << check.shift_px
      << " px from where it has them; find the lane anew";
    check.sentence = s.str();
  }
  return check;
}

}  // namespace hookline::setup
