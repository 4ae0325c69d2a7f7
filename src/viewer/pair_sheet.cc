#include "viewer/pair_sheet.h"

#include <imgui.h>

#include <algorithm>
#include <filesystem>
#include <utility>

#include "viewer/page_export.h"
#include "viewer/panel_draw.h"

namespace hookline::viewer {
namespace {

pipeline::ShotMark MarkOf(Mark mark) {
  switch (mark) {
    case Mark::kArrows:
      return pipeline::ShotMark::kArrows;
    case Mark::kBreakpoint:
      return pipeline::ShotMark::kBreakpoint;
    case Mark::kPins:
      return pipeline::ShotMark::kPins;
    case Mark::kRelease:
      break;
  }
  return pipeline::ShotMark::kRelease;
}

}  // namespace

Result<pipeline::ShotInClip> ShotInClipOf(const Desk& desk, int id) {
  const DeskShot* shot = FindShot(desk, id);
  const DeskClip* clip = shot ? FindClip(desk, shot->clip) : nullptr;
  if (!clip || !clip->result) return Status(StatusCode::kBadUse, "This shot is not on the desk any more.");
  const std::string name = "Shot " + std::to_string(shot->shot.number);
  if (clip->state == ClipState::kOnlyNumbers)
    return Status(StatusCode::kBadUse, name + " has only numbers here; open its clip to show it.");
  if (!clip->result->lane_setup)
    return Status(StatusCode::kBadUse, name + ": the lane was not found in its clip; set the lane's corners first.");
  pipeline::ShotInClip out;
  out.clip = clip->file;
  out.result = *clip->result;
  out.shot = static_cast<std::size_t>(shot->in_clip);
  out.result.shots.at(out.shot) = shot->shot;
  out.name = name;
  return out;
}

Status CheckPairPlace(const std::string& file, bool replace, const pipeline::ShotInClip& first,
                      const pipeline::ShotInClip& second) {
  return CheckClipPlace(file, replace, {first.clip, second.clip});
}

void PairSheet::Open(const std::string& folder, pipeline::ShotInClip first, pipeline::ShotInClip second, Mark mark) {
  if (!OpenIn(folder)) return;
  first_ = std::move(first);
  second_ = std::move(second);
  options_.mark = MarkOf(mark);
}

Status PairSheet::Check(const std::string& file, bool replace) const {
  const Status place = CheckPairPlace(file, replace, first_, second_);
  return place.ok() ? options_.Check() : place;
}

std::set<std::string> PairSheet::Bowlers() const {
  const auto bowler = [](const pipeline::ShotInClip& s) { return s.result.shots[s.shot].bowler; };
  return {bowler(first_), bowler(second_)};
}

PairSheet::Work PairSheet::WorkInto(const std::string& file) const {
  pipeline::SideBySideOptions options = options_;
  options.blur_first.others = options.blur_second.others = blur_others_;
  return [first = first_, second = second_, options, file](const ProgressFn& progress, const StopToken& stop) {
    return pipeline::SideBySide(first, second, options, file, progress, stop);
  };
}

void PairSheet::Ask() {
  ImGui::TextWrapped("%s beside %s, in step, as one clip for a phone. Nothing is sent anywhere.", first_.name.c_str(),
                     second_.name.c_str());
  ImGui::AlignTextToFramePadding();
  ImGui::TextUnformatted("Played");
  for (const auto& [name, slower] : {std::pair{"as it was", 1.0}, {"half as fast", 2.0}, {"four times slower", 4.0}}) {
    SameLineIfFits(CheckboxWidth(name));
    if (ImGui::RadioButton(name, options_.slower == slower)) options_.slower = slower;
  }
  ImGui::Checkbox("Paths drawn on the pictures", &options_.path);
}

}  // namespace hookline::viewer
