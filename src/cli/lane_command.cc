// hookline lane CLIP : finds the lane alone, for a person to look at and to keep.

#include <charconv>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <map>
#include <memory>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "cli/command.h"
#include "cli/exit_code.h"
#include "cli/outputs.h"
#include "cli/terminal.h"
#include "core/whole_file.h"
#include "lane/units.h"
#include "pipeline/lane_in_clip.h"
#include "report/number_text.h"
#include "report/overlay.h"
#include "report/result_json.h"
#include "setup/setup_file.h"

namespace hookline::cli {
namespace {

constexpr const char* kHelp =
    "Look at the picture: the drawn edges, foul line, arrows and pins must lie on the lane's own. If they do not, "
    "mark\n"
    "four or more places yourself, in pixels of the picture as displayed, the centre of the first pixel being 0,0:\n"
    "  foul_left foul_right        where the middle of the foul line meets the lane's edges\n"
    "  headpin_left headpin_right  the lane's edges at the head pin's spot\n"
    "  arrow_5 .. arrow_35         the arrows' tips, boards counted from the right edge\n"
    "  pin_1 .. pin_10             the middle of a pin's foot;  pin_1_top .. pin_10_top  the middle of its top\n"
    "A saved lane serves every clip of the same tripod until it is moved: hookline measure CLIP --lane-setup FILE.\n"
    "\n"
    "Examples:\n"
    "  hookline lane shot.mp4 --picture lane.png\n"
    "  hookline lane shot.mp4 --save lane-12.json\n"
    "  hookline lane shot.mp4 --point foul_left=512,905 --point foul_right=1406,903 --point pin_7=905,402\n"
    "                         --point pin_10=1013,402 --save lane-12.json\n"
    "\n";

struct LaneArguments {
  std::string clip, points_file, save, picture, lane_setup;
  std::vector<std::string> points;
  int lane = 0;
  bool force = false;
};

using Points = std::map<std::string, Eigen::Vector2d>;

std::optional<double> NumberIn(std::string_view text) {
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size()) return std::nullopt;
  return value;
}

// NAME=U,V
Status AddPoint(const std::string& text, Points* points) {
  const auto equals = text.find('='), comma = text.find(',', equals == std::string::npos ? 0 : equals);
  if (equals != std::string::npos && comma != std::string::npos && equals > 0) {
    const auto u = NumberIn(std::string_view(text).substr(equals + 1, comma - equals - 1));
    const auto v = NumberIn(std::string_view(text).substr(comma + 1));
    if (u && v) {
      (*points)[text.substr(0, equals)] = {*u, *v};
      return Status::Ok();
    }
  }
  return {StatusCode::kBadUse, "--point " + text + ": a point is NAME=U,V, such as foul_left=512,905."};
}

// {"foul_left": [512, 905], ...}
Status AddPointsFrom(const std::string& file, Points* points) {
  const auto text = ReadWholeFile(file);
  if (!text.ok()) return text.status();
  const auto json = nlohmann::json::parse(*text, nullptr, false);
  const Status bad(StatusCode::kBadFile,
                   file + " does not hold marked points; they look like {\"foul_left\": [512, 905], ...}.");
  if (!json.is_object()) return bad;
  for (const auto& [name, place] : json.items()) {
    if (!place.is_array() || place.size() != 2 || !place[0].is_number() || !place[1].is_number()) return bad;
    (*points)[name] = {place[0].get<double>(), place[1].get<double>()};
  }
  return Status::Ok();
}

std::string Summary(const pipeline::LaneInClip& lane) {
  using report::FixedText;
  const LaneSetup& setup = lane.setup;
  const Eigen::Vector3d& c = setup.camera.position_in_lane;
  std::string text = "Lane of " + lane.clip.file + ", " + std::string(report::SetupSourceName(setup.source)) +
                     ", fits to " + FixedText(setup.residual_px, 2) + " px over " +
                     std::to_string(setup.evidence_points) + " places\n";
  const auto corners = report::LaneCorners(setup, FrameMotion{});
  static constexpr std::array<const char*, 4> kNames = {"foul line, left", "foul line, right", "head pin, left",
                                                        "head pin, right"};
  for (std::size_t i = 0; i < corners.size(); ++i) {
    if (corners[i]) {
      text += "  " + report::PadRight(kNames[i], 18) + report::PadLeft(FixedText(corners[i]->x(), 1), 8) +
              report::PadLeft(FixedText(corners[i]->y(), 1), 9) + "  px\n";
    }
  }
  text += "  camera            " + FixedText(-lane::FeetFromMetres(c.y()), 1) + " ft behind the foul line, " +
          FixedText(lane::FeetFromMetres(c.z()), 1) + " ft high, " +
          FixedText(std::abs(lane::FeetFromMetres(c.x())), 1) + " ft to the " + (c.x() >= 0 ? "right" : "left") +
          " of the centre line\n";
  text += "  lane width        " + FixedText(lane::InchesFromMetres(setup.lane.width), 2) + " in\n";
  text += std::string("  arrows            ") +
          (setup.lane.arrows_measured ? "measured" : "not seen: their usual places") + "\n";
  for (const std::string& note : setup.notes) text += "  " + note + "\n";
  for (const std::string& warning : lane.warnings) text += "Warning: " + warning + "\n";
  return text;
}

int RunLane(const LaneArguments& a) {
  const std::vector<std::string> clips = {a.clip};
  const auto save = PlanOutput({"--save", a.save, ".json", {}, false}, clips, a.force);
  if (!save.ok()) return Report(save.status());
  const auto picture = PlanOutput({"--picture", a.picture, ".png", {".png"}, false}, clips, a.force);
  if (!picture.ok()) return Report(picture.status());
  pipeline::LaneOptions options;
  options.setup_file = a.lane_setup;
  options.lane_offset = a.lane;
  if (!a.points_file.empty()) {
    if (Status s = AddPointsFrom(a.points_file, &options.points); !s.ok()) return Report(s);
  }
  for (const std::string& point : a.points) {
    if (Status s = AddPoint(point, &options.points); !s.ok()) return Report(s);
  }
  InstallStopSignals();
  auto lane = [&] {
    ProgressLine line(std::filesystem::path(a.clip).filename().string());
    return pipeline::FindLaneInClip(a.clip, options, line.Function(), StopRequested());
  }();
  if (!lane.ok()) return Report(lane.status());
  if (!save->empty()) {
    if (Status s = WriteOutput(*save, setup::SetupText(lane->setup)); !s.ok()) return Report(s);
  }
  if (!picture->empty()) {
    // On the still background: no bowler stands before the lane there.
    Picture still;
    still.luma = lane->background.luma;
    still.cb = lane->background.cb;
    still.cr = lane->background.cr;
    cv::Mat bgr = report::BgrFromPicture(still);
    if (Status s = report::DrawLaneSetup(bgr, lane->setup, FrameMotion{}); !s.ok()) return Report(s);
    if (Status s = WriteOutput(*picture, report::PngFromBgr(bgr)); !s.ok()) return Report(s);
  }
  return Report(WriteOutput("-", Summary(*lane)));
}

}  // namespace

std::function<int()> InstallLane(CLI::App& app) {
  const auto a = std::make_shared<LaneArguments>();
  app.add_option("CLIP", a->clip, "A clip filmed from behind the approach")->required();
  app.add_option("--points", a->points_file, "A file of marked points, {\"NAME\": [U, V], ...}");
  app.add_option("--point", a->points, "A marked point, NAME=U,V; may be given often")->allow_extra_args(false);
  app.add_option("--lane-setup", a->lane_setup, "Check a saved lane against this clip instead of searching");
  app.add_option("--lane", a->lane,
                 "Another lane than the one the camera aims at: 1 the next to its right, -1 to its left");
  app.add_option("--save", a->save, "Save the lane for other clips of the same tripod");
  app.add_option("--picture", a->picture, "Write the clip's still picture with the lane drawn on it, a .png");
  app.add_flag("--force", a->force, "Replace output files that are there already");
  app.footer(std::string(kHelp) + std::string(kExitCodeHelp));
  return [a] { return RunLane(*a); };
}

}  // namespace hookline::cli
