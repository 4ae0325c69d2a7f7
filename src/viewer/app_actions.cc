// What keys and the panels' events do.

#include <GLFW/glfw3.h>
#include <imgui.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "camera/projection.h"
#include "viewer/app.h"
#include "viewer/frame_motion.h"

namespace hookline::viewer {
namespace {

constexpr std::array<double, 6> kRates = {0.1, 0.25, 0.5, 1, 2, 4};

struct CornerMark {
  const char* name;
  const char* label;
  double side, y;
};
constexpr std::array<CornerMark, 4> kCorners = {
    {{"foul_left", "foul line, left edge", -0.5, 0},
     {"foul_right", "foul line, right edge", 0.5, 0},
     {"headpin_left", "head pin's row, left edge", -0.5, lane::kHeadPinY},
     {"headpin_right", "head pin's row, right edge", 0.5, lane::kHeadPinY}}};

}  // namespace

void App::Keys() {
  const std::vector<KeyPress> keys = window_->TakeKeys();
  if (ImGui::GetIO().WantTextInput || chooser_.open() || export_.open() || pair_.open() || clip_.open() ||
      library_.open())
    return;
  for (const KeyPress& press : keys) {
    if (press.key == GLFW_KEY_ESCAPE && help_.open()) help_.Toggle();
    const auto action = ActionOf(press.key, press.ctrl, press.shift);
    if (!action) continue;
    const bool repeats = *action == Action::kStepOn || *action == Action::kStepBack || *action == Action::kTenOn ||
                         *action == Action::kTenBack || *action == Action::kZoomIn || *action == Action::kZoomOut;
    if (!press.again || repeats) Do(*action);
  }
}

void App::Do(Action action) {
  const double now = Now();
  Player* player = panes_[0].player.get();
  const auto loop = [&](std::optional<Stretch> stretch) {
    if (player && !player->SetLoop(stretch, now)) notice_ = "A loop has to end after it begins.";
  };
  switch (action) {
    case Action::kPlay:
      if (player) player->Toggle(now);
      break;
    case Action::kStepBack:
    case Action::kStepOn:
    case Action::kTenBack:
    case Action::kTenOn: {
      const int by = action == Action::kTenBack || action == Action::kTenOn ? 10 : 1;
      asked_at_ = now;
      if (player) player->Step(action == Action::kStepOn || action == Action::kTenOn ? by : -by, now);
      break;
    }
    case Action::kToStart:
      asked_at_ = now;
      if (player && !player->times_s().empty()) player->Seek(player->times_s().front(), now);
      break;
    case Action::kToEnd:
      asked_at_ = now;
      if (player && !player->times_s().empty()) player->Seek(player->times_s().back(), now);
      break;
    case Action::kToRelease:
      JumpTo(Mark::kRelease);
      break;
    case Action::kToArrows:
      JumpTo(Mark::kArrows);
      break;
    case Action::kToBreakpoint:
      JumpTo(Mark::kBreakpoint);
      break;
    case Action::kToPins:
      JumpTo(Mark::kPins);
      break;
    case Action::kSlower: {
      const auto at = std::lower_bound(kRates.begin(), kRates.end(), rate_ - 1e-9);
      if (at != kRates.begin()) SetRate(*(at - 1));
      break;
    }
    case Action::kFaster: {
      const auto at = std::upper_bound(kRates.begin(), kRates.end(), rate_ + 1e-9);
      if (at != kRates.end()) SetRate(*at);
      break;
    }
    case Action::kLoopStart:
      if (player && !player->times_s().empty())
        loop(Stretch{player->position_s(), player->loop() && player->loop()->to_s > player->position_s()
                                               ? player->loop()->to_s
                                               : player->times_s().back()});
      break;
    case Action::kLoopEnd:
      if (player && !player->times_s().empty())
        loop(Stretch{player->loop() && player->loop()->from_s < player->position_s() ? player->loop()->from_s
                                                                                     : player->times_s().front(),
                     player->position_s()});
      break;
    case Action::kLoopShot:
      if (const auto span = SpanNow(); span && player && !player->loop()) {
        loop(Stretch{span->from_s - 0.5, span->to_s + 0.7});
      } else {
        loop(std::nullopt);
      }
      break;
    case Action::kLoopOff:
      loop(std::nullopt);
      break;
    case Action::kShotBefore:
      OtherShot(-1);
      break;
    case Action::kShotNext:
      OtherShot(1);
      break;
    case Action::kZoomIn:
      panes_[pane_focused_].picture.ZoomBy(1.25);
      break;
    case Action::kZoomOut:
      panes_[pane_focused_].picture.ZoomBy(0.8);
      break;
    case Action::kZoomOff:
      for (Pane& pane : panes_) pane.picture.ZoomOff();
      break;
    case Action::kStraighten:
      straighten_ = !straighten_;
      break;
    case Action::kDrawings:
      drawings_ = !drawings_;
      break;
    case Action::kCorrect:
      correcting_ = !correcting_;
      StopAdding();
      if (correcting_ && player) player->Pause(now);
      break;
    case Action::kRemoveBall:
      if (DeskClip* clip = FindClip(desk_, panes_[0].clip); clip && correcting_ && player && player->shown()) {
        if (const auto span = SpanNow()) {
          clip->edits.RemoveBall(*span, player->shown()->time_s);
          AfterEdit();
        }
      }
      break;
    case Action::kUndo:
    case Action::kRedo:
      if (DeskClip* clip = FindClip(desk_, panes_[0].clip)) {
        if (action == Action::kUndo && clip->edits.CanUndo()) {
          clip->edits.Undo();
          AfterEdit();
        } else if (action == Action::kRedo && clip->edits.CanRedo()) {
          clip->edits.Redo();
          AfterEdit();
        }
      }
      break;
    case Action::kOpen:
      chooser_.Open(settings_.folder);
      break;
    case Action::kExport:
      export_.Open(settings_.folder);
      break;
    case Action::kTabShots:
    case Action::kTabLane:
    case Action::kTabPlots:
    case Action::kTabAdvice:
    case Action::kTabCompare:
    case Action::kTabClips:
      tab_wanted_ = static_cast<Tab>(static_cast<int>(action) - static_cast<int>(Action::kTabShots));
      break;
    case Action::kTheme:
      settings_.theme = settings_.theme == Theme::kDark ? Theme::kLight : Theme::kDark;
      window_->SetLook(settings_.theme, settings_.font_scale);
      break;
    case Action::kLarger:
    case Action::kSmaller:
      settings_.font_scale =
          std::clamp(settings_.font_scale + (action == Action::kLarger ? 0.125f : -0.125f), 0.75f, 2.5f);
      window_->SetLook(settings_.theme, settings_.font_scale);
      break;
    case Action::kHelp:
      help_.Toggle();
      break;
    case Action::kQuit:
      closing_ = true;
      break;
  }
}

void App::SetRate(double rate) {
  rate_ = rate;
  for (Pane& pane : panes_) {
    if (pane.player) pane.player->SetRate(rate, Now());
  }
}

std::optional<double> App::MarkTime(const DeskShot& shot, Mark mark) const {
  const DeskClip* clip = FindClip(desk_, shot.clip);
  const bool known = clip && clip->result && clip->result->lane_setup;
  return TimeOfMark(shot.shot, known ? clip->result->lane_setup->lane : lane::LaneSpec{}, mark);
}

void App::JumpTo(Mark mark) {
  Player* player = panes_[0].player.get();
  int id = desk_.shot_on_show.value_or(0);
  if (Compared()) id = compare_panel_.state().first;
  const DeskShot* shot = FindShot(desk_, id);
  if (!player) return;
  if (!shot || shot->clip != panes_[0].clip) {
    notice_ = "No shot is known in this clip yet.";
    return;
  }
  if (const auto time = MarkTime(*shot, mark)) {
    player->Pause(Now());
    player->Seek(*time, Now());
  } else {
    notice_ = "Shot " + std::to_string(shot->shot.number) + " has no " + std::string(MarkName(mark)) + ".";
  }
}

void App::ShowEvidence(const Evidence& evidence) {
  if (evidence.shots.empty()) return;
  ChooseOnly(desk_, evidence.shots);
  ShowShot(desk_, evidence.shots.back());
  SettlePanes();
  JumpTo(evidence.at);
}

void App::WritePair() {
  auto first = ShotInClipOf(desk_, compare_panel_.state().first);
  auto second = ShotInClipOf(desk_, compare_panel_.state().second);
  for (const auto* shot : {&first, &second}) {
    if (shot->ok()) continue;
    notice_ = shot->status().sentence();
    return;
  }
  pair_.Open(settings_.folder, std::move(*first), std::move(*second), compare_panel_.state().in_step);
}

void App::OtherShot(int by) {
  if (desk_.shots.empty()) return;
  const auto at = std::find_if(desk_.shots.begin(), desk_.shots.end(),
                               [&](const DeskShot& s) { return desk_.shot_on_show == s.id; });
  const auto place = at == desk_.shots.end() ? 0 : at - desk_.shots.begin() + by;
  const auto last = static_cast<std::ptrdiff_t>(desk_.shots.size()) - 1;
  const DeskShot& shot = desk_.shots[static_cast<std::size_t>(std::clamp<std::ptrdiff_t>(place, 0, last))];
  ChooseOnly(desk_, {shot.id});
  ShowShot(desk_, shot.id);
  SettlePanes();
  JumpTo(Mark::kRelease);
}

std::optional<ShotSpan> App::SpanNow() const {
  const DeskShot* shot = desk_.shot_on_show ? FindShot(desk_, *desk_.shot_on_show) : nullptr;
  if (!shot || shot->shot.path.empty() || shot->clip != panes_[0].clip) return std::nullopt;
  return ShotSpan{shot->shot.path.front().time_s, shot->shot.path.back().time_s};
}

std::vector<PictureHandle> App::HandlesNow() const {
  std::vector<PictureHandle> handles;
  const DeskClip* clip = FindClip(desk_, panes_[0].clip);
  const Player* player = panes_[0].player.get();
  if (!correcting_ || !clip || !clip->run || !player || !player->shown()) return handles;
  const double time = player->shown()->time_s;
  const LaneSetup* setup = dragged_lane_              ? &*dragged_lane_
                           : clip->result->lane_setup ? &*clip->result->lane_setup
                                                      : nullptr;
  // While clicks are places of a ball, no mark is in their way.
  if (setup && !adding_) {
    const FrameMotion motion = MotionAt(*clip->run, time);
    for (const CornerMark& corner : kCorners) {
      auto at = camera::ImageFromLane(setup->camera, {corner.side * setup->lane.width, corner.y, 0});
      if (!at) continue;
      if (motion.known) at = camera::FrameFromReference(setup->camera, motion, *at);
      handles.push_back({corner.name, corner.label, *at, 0, clip->edits.now().lane_marks.count(corner.name) > 0});
    }
  }
  if (const ShotCorrection* added = AddedShot()) {
    for (const HandSight& s : added->sights) {
      if (std::abs(s.time_s - time) < 1e-4) handles.push_back({"added ball", "ball", s.p_in_frame, 1, true});
    }
  }
  const DeskShot* shot = desk_.shot_on_show ? FindShot(desk_, *desk_.shot_on_show) : nullptr;
  if (shot && shot->clip == clip->id && !adding_) {
    for (const PathPoint& p : shot->shot.path) {
      if (std::abs(p.time_s - time) < 1e-4) handles.push_back({"ball", "ball", {p.u_px, p.v_px}, 1, p.set_by_hand});
    }
  }
  for (PictureHandle& h : handles) {
    if (dragged_ && dragged_->first == h.name) h.at = dragged_->second;
  }
  return handles;
}

void App::DragHandle(const HandleDrag& drag) {
  DeskClip* clip = FindClip(desk_, panes_[0].clip);
  const Player* player = panes_[0].player.get();
  if (!clip || !clip->base || !player || !player->shown()) return;
  const double time = player->shown()->time_s;
  if (drag.began) {
    dragged_.reset();
    return;
  }
  const bool moved = dragged_.has_value();
  if (!drag.ended) {
    dragged_ = {drag.name, drag.to};
    if (drag.name != "ball" && drag.name != "added ball") {
      Corrections trial = clip->edits.now();
      trial.lane_marks[drag.name] = HandMark{drag.to, time};
      if (auto lane = pipeline::DraggedLane(*clip->base, trial); lane.ok()) dragged_lane_ = std::move(*lane);
    }
    return;
  }
  dragged_.reset();
  if (!moved) return;
  if (drag.name == "added ball") {
    AddBall(drag.to);
    return;
  }
  if (drag.name == "ball") {
    if (const auto span = SpanNow()) clip->edits.PlaceBall(*span, time, drag.to);
  } else {
    clip->edits.PlaceMark(drag.name, drag.to, time);
  }
  AfterEdit();
}

const ShotCorrection* App::AddedShot() const {
  const DeskClip* clip = adding_at_ ? FindClip(desk_, panes_[0].clip) : nullptr;
  if (!clip) return nullptr;
  for (const ShotCorrection& s : clip->edits.now().shots) {
    if (s.added && std::abs(s.at_s - *adding_at_) < 1e-6) return &s;
  }
  return nullptr;  // taken back
}

void App::AddBall(const Eigen::Vector2d& p_in_frame) {
  DeskClip* clip = FindClip(desk_, panes_[0].clip);
  Player* player = panes_[0].player.get();
  if (!clip || !clip->base || !player || !player->shown()) return;
  const double time = player->shown()->time_s;
  if (!AddedShot()) {
    for (const DeskShot& s : desk_.shots) {
      if (s.clip != clip->id || s.shot.path.empty()) continue;
      if (time < s.shot.path.front().time_s || time > s.shot.path.back().time_s) continue;
      notice_ = "Shot " + std::to_string(s.shot.number) + " is on its way in this picture; drag its ball instead.";
      return;
    }
    adding_at_ = clip->edits.AddShot(time, p_in_frame);
  } else {
    clip->edits.PlaceBall({*adding_at_, *adding_at_}, time, p_in_frame);
  }
  AfterEdit();
  // On to where the ball has moved enough to be pointed at again, a twelfth of a second.
  const std::vector<double>& times = player->times_s();
  const auto next = std::lower_bound(times.begin(), times.end(), time + 1.0 / 12 - 1e-6);
  if (next != times.end()) player->Seek(*next, Now());
}

void App::AfterEdit() {
  DeskClip* clip = FindClip(desk_, panes_[0].clip);
  if (!clip) return;
  if (saved_) {
    if (Status s = saved_->SaveCorrections(clip->file, clip->edits.now()); !s.ok()) {
      notice_ = s.sentence();
    } else {
      clip->edits.MarkSaved();
    }
  }
  // A shot that is being added by hand cannot be measured from fewer places.
  if (const ShotCorrection* added = AddedShot(); added && std::ssize(added->sights) < kFewestAddedSights) return;
  Refit(clip->id);
}

}  // namespace hookline::viewer
