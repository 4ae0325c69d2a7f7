// Where everything stands: pictures and transport left, panels right, a bar above and a line of news below.

#include <imgui.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <functional>
#include <initializer_list>

#include "report/number_text.h"
#include "viewer/app.h"
#include "viewer/frame_motion.h"
#include "viewer/panel_draw.h"

namespace hookline::viewer {
namespace {

std::string RateText(double rate) {
  return rate == 1 ? "full speed" : report::FixedText(rate, rate < 0.2 ? 1 : rate < 0.3 ? 2 : rate < 1 ? 1 : 0) + " x";
}

const char* StateText(ClipState state) {
  constexpr std::array<const char*, 6> kTexts = {"waiting",      "measuring", "measured",
                                                 "not measured", "stopped",   "numbers only"};
  return kTexts[static_cast<std::size_t>(state)];
}

// Which hand bowls in a clip: as the picture tells it, or as a person says. `drawn` is told each choice that is shown.
bool HandCombo(const Style& style, std::optional<lane::Hand>* hand, const std::function<void(const char*)>& drawn) {
  constexpr std::array<const char*, 3> kNames = {"hand as seen", "right hand", "left hand"};
  const std::size_t now = !*hand ? 0 : **hand == lane::Hand::kRight ? 1 : 2;
  bool changed = false;
  ImGui::SetNextItemWidth(9 * style.em);
  if (ImGui::BeginCombo("##hand", kNames[now])) {
    for (std::size_t i = 0; i < kNames.size(); ++i) {
      const bool picked = ImGui::Selectable(kNames[i], i == now);
      drawn(kNames[i]);
      if (!picked || i == now) continue;
      *hand = i == 0 ? std::nullopt : std::optional(i == 1 ? lane::Hand::kRight : lane::Hand::kLeft);
      changed = true;
    }
    ImGui::EndCombo();
  }
  TipForItem(style, "The bowler's hand: boards count from its side. Say it where the program sees it wrong.");
  return changed;
}

}  // namespace

void App::Place(const std::string& name) {
  const ImVec2 a = ImGui::GetItemRectMin(), b = ImGui::GetItemRectMax();
  places_drawn_[name] = {a.x, a.y, b.x, b.y};
}

void App::Draw() {
  const Style& style = window_->style();
  const float em = style.em;
  const ImVec2 screen = ImGui::GetIO().DisplaySize;
  ImGui::SetNextWindowPos({0, 0});
  ImGui::SetNextWindowSize(screen);
  ImGui::PushStyleVar(ImGuiStyleVar_WindowPadding, {0.4f * em, 0.4f * em});
  ImGui::Begin("all", nullptr,
               ImGuiWindowFlags_NoDecoration | ImGuiWindowFlags_NoMove | ImGuiWindowFlags_NoSavedSettings |
                   ImGuiWindowFlags_NoBringToFrontOnFocus | ImGuiWindowFlags_NoScrollWithMouse |
                   ImGuiWindowFlags_NoBackground);  // the window is cleared to that colour as it is
  ImGui::PopStyleVar();
  DrawTopBar();
  const float status = ImGui::GetTextLineHeightWithSpacing() + 0.2f * em;
  const float height = ImGui::GetContentRegionAvail().y - status, width = ImGui::GetContentRegionAvail().x;
  const float grip = 0.4f * em;
  const float side = std::clamp(static_cast<float>(settings_.side_share) * width, std::min(22 * em, 0.6f * width),
                                std::max(22 * em, width - 24 * em));
  const ImGuiWindowFlags fixed = ImGuiWindowFlags_NoScrollbar | ImGuiWindowFlags_NoScrollWithMouse;
  // Under the picture no ground is laid: filling what is covered at once takes as long as the picture.
  if (ImGui::BeginChild("left", {width - side - grip, height}, false, fixed | ImGuiWindowFlags_NoBackground)) {
    if (desk_.clips.empty()) {
      const ImVec2 from = ImGui::GetCursorScreenPos(), room = ImGui::GetContentRegionAvail();
      ImGui::GetWindowDrawList()->AddRectFilled(from, {from.x + room.x, from.y + room.y}, style.panel);
      const GuideEvents guide = DrawGuide(style, !SampleFolder().empty());
      if (guide.open) Do(Action::kOpen);
      if (guide.help) Do(Action::kHelp);
      if (guide.try_samples) OpenFiles({SampleFolder()});
    } else {
      const ImVec2 room = ImGui::GetContentRegionAvail();
      // As many rows of buttons as there were in the frame before.
      const float below = TimelinePanel::Height(style) + ImGui::GetStyle().ItemSpacing.y +
                          std::max(transport_height_, ImGui::GetFrameHeightWithSpacing()) + 0.3f * em;
      DrawPictures(room.x, room.y - below);
      const ImVec2 from = ImGui::GetCursorScreenPos();
      ImGui::GetWindowDrawList()->AddRectFilled({from.x, from.y - ImGui::GetStyle().ItemSpacing.y},
                                                {from.x + room.x, from.y + below}, style.panel);
      DrawTransport();
    }
  }
  ImGui::EndChild();
  ImGui::SameLine(0, 0);
  ImGui::InvisibleButton("grip", {grip, height});
  if (ImGui::IsItemHovered() || ImGui::IsItemActive()) {
    ImGui::SetMouseCursor(ImGuiMouseCursor_ResizeEW);
    const ImVec2 a = ImGui::GetItemRectMin(), b = ImGui::GetItemRectMax();
    ImGui::GetWindowDrawList()->AddRectFilled({a.x + 0.15f * em, a.y}, {b.x - 0.15f * em, b.y}, style.accent);
  }
  if (ImGui::IsItemActive())
    settings_.side_share = std::clamp(settings_.side_share - ImGui::GetIO().MouseDelta.x / width, 0.2, 0.7);
  ImGui::SameLine(0, 0);
  if (ImGui::BeginChild("side", {side, height}, false, fixed)) DrawSide();
  ImGui::EndChild();
  DrawStatus();
  ImGui::End();
  help_.Draw(style);
  export_.Draw(style, desk_);
  pair_.Draw(style);
  clip_.Draw(style);
  library_.Draw(style, desk_);
  for (const Sheet* sheet : std::initializer_list<const Sheet*>{&export_, &pair_, &clip_, &library_})
    for (const Sheet::Spot& s : sheet->spots()) places_drawn_[s.name] = {s.left, s.top, s.right, s.bottom};
  const std::vector<std::string> chosen = chooser_.Draw(style);
  if (!chosen.empty()) {
    settings_.folder = chooser_.folder();
    OpenFiles(chosen);
  }
}

void App::DrawTopBar() {
  const Style& style = window_->style();
  const auto button = [&](const char* label, Action action, const std::string& about) {
    if (ImGui::Button(label)) Do(action);
    Place(label);
    TipForItem(style, about + " (" + KeysOf(action) + ")");
    ImGui::SameLine();
  };
  button("Open...", Action::kOpen, "Open clips or result files");
  if (!desk_.shots.empty()) button("Page...", Action::kExport, "Make a page for the student");
  if (const DeskClip* shown = FindClip(desk_, panes_[0].clip); shown && ClipSheet::CanWrite(*shown)) {
    if (ImGui::Button("Clip...")) clip_.Open(settings_.folder, *shown);
    Place("Clip...");
    TipForItem(style, "Write this clip with its path, boards and numbers drawn on it");
    ImGui::SameLine();
  }
  if (ImGui::Button("Library...")) library_.Open(desk_);
  Place("Library...");
  TipForItem(style, "Keep these shots, and see what was kept before");
  ImGui::SameLine();
  DeskClip* clip = FindClip(desk_, panes_[0].clip);
  if (clip) {
    ImGui::PushStyleColor(ImGuiCol_Button, correcting_ ? style.by_hand : style.raised);
    ImGui::PushStyleColor(ImGuiCol_Text, correcting_ ? style.accent_text : style.text);
    if (ImGui::Button(correcting_ ? "Correcting" : "Correct")) Do(Action::kCorrect);
    ImGui::PopStyleColor(2);
    Place("Correct");
    TipForItem(style, "Drag lane marks and the ball where they belong (C)");
    ImGui::SameLine();
    ImGui::BeginDisabled(!clip->edits.CanUndo());
    button("Undo", Action::kUndo, clip->edits.CanUndo() ? "Undo: " + clip->edits.UndoName() : "Nothing to undo");
    ImGui::EndDisabled();
    ImGui::BeginDisabled(!clip->edits.CanRedo());
    button("Redo", Action::kRedo, clip->edits.CanRedo() ? "Redo: " + clip->edits.RedoName() : "Nothing to redo");
    ImGui::EndDisabled();
  }
  const float right = ButtonWidth("A-") + ButtonWidth("A+") + ButtonWidth("Light") + ButtonWidth("Keys") +
                      3 * ImGui::GetStyle().ItemSpacing.x;
  ImGui::SameLine(std::max(ImGui::GetCursorPosX(), ImGui::GetWindowContentRegionMax().x - right));
  button("A-", Action::kSmaller, "Smaller letters");
  button("A+", Action::kLarger, "Larger letters");
  button(settings_.theme == Theme::kDark ? "Light" : "Dark", Action::kTheme, "The other theme");
  if (ImGui::Button("Keys")) Do(Action::kHelp);
  Place("Keys");
  TipForItem(style, "Every key on one sheet (F1)");
}

void App::DrawPictures(float width, float height) {
  if (panes_[1].player) {
    const float gap = ImGui::GetStyle().ItemSpacing.x, each = (width - gap) / 2;
    DrawPane(panes_[0], 0, each, height);
    ImGui::SameLine(0, gap);
    DrawPane(panes_[1], 1, each, height);
  } else {
    DrawPane(panes_[0], 0, width, height);
  }
}

void App::DrawPane(Pane& pane, int index, float width, float height) {
  const Style& style = window_->style();
  if (!ImGui::BeginChild(
          index == 0 ? "pane0" : "pane1", {width, height}, false,
          ImGuiWindowFlags_NoScrollbar | ImGuiWindowFlags_NoScrollWithMouse | ImGuiWindowFlags_NoBackground)) {
    ImGui::EndChild();
    return;
  }
  PictureInputs in;
  in.style = &style;
  const DeskClip* clip = FindClip(desk_, pane.clip);
  const Player* player = pane.player.get();
  const bool picture = player && player->shown();
  if (!clip) {
    in.waiting = "Nothing is open.";
  } else if (!player) {
    in.waiting = "Only numbers are here: the clip of these shots was not opened.";
  } else if (player->phase() == ClipPhase::kFailed) {
    in.waiting = player->failure();
  } else if (!picture) {
    in.waiting = "Opening " + FileName(clip->file) + "...";
  }
  const auto compared = Compared();
  if (picture && player->phase() != ClipPhase::kFailed) {
    const double time = player->shown()->time_s;
    in.video = pane.video.get();
    in.width = player->info().width;
    in.height = player->info().height;
    in.straighten = straighten_;
    in.drawn = drawn_;
    in.caption = FileName(clip->file) + "  " + TimeText(time);
    if (clip->result && clip->result->lane_setup) {
      in.setup = index == 0 && dragged_lane_ ? &*dragged_lane_ : &*clip->result->lane_setup;
      if (clip->run) in.motion = MotionAt(*clip->run, time);
      if (!clip->edits.now().empty()) in.note = "Corrected by hand";
    }
    if (drawings_) {
      const CompareState& state = compare_panel_.state();
      for (const DeskShot& s : desk_.shots) {
        PictureShot shot;
        shot.shot = &s.shot;
        shot.time_s = time;
        const auto look = std::find(desk_.chosen.begin(), desk_.chosen.end(), s.id);
        const bool own = s.clip == pane.clip;
        if (compared) {
          const bool mine = s.id == (index == 0 ? state.first : state.second);
          const bool over = index == 0 && state.lay_over && s.id == state.second;
          if (!mine && !over) continue;
          shot.on_show = mine;
          if (over) shot.time_s = compared->TimeIn(1, compared->PositionOf(0, player->position_s()));
        } else {
          if (!own || look == desk_.chosen.end()) continue;
          shot.on_show = desk_.shot_on_show == s.id;
        }
        shot.look =
            LookOfSeries(style, static_cast<std::size_t>(look == desk_.chosen.end() ? 0 : look - desk_.chosen.begin()));
        const DeskClip* its = FindClip(desk_, s.clip);
        if (its && its->result && its->result->lane_setup) shot.lane_width = its->result->lane_setup->lane.width;
        if (shot.on_show) in.hand = s.shot.hand;
        in.shots.push_back(shot);
      }
    } else {
      in.setup = straighten_ ? in.setup : nullptr;
      in.drawn.lane = in.drawn.ruler = false;
    }
    if (index == 0) in.handles = HandlesNow();
  }
  const PictureEvents events = pane.picture.Draw(in);
  Place(index == 0 ? "picture" : "picture2");
  ImGui::EndChild();
  if (events.focused) pane_focused_ = index;
  if (index == 0 && events.drag) DragHandle(*events.drag);
  if (events.clicked && !correcting_) Do(Action::kPlay);
  if (events.clicked && correcting_ && adding_ && index == 0) AddBall(*events.clicked);
}

void App::DrawTransport() {
  const Style& style = window_->style();
  Player* player = panes_[0].player.get();
  TimelineInputs line;
  line.style = &style;
  if (player && !player->times_s().empty()) {
    line.first_s = player->times_s().front();
    line.last_s = player->times_s().back();
    line.position_s = player->position_s();
    line.loop = player->loop();
  }
  for (const DeskShot& s : desk_.shots) {
    if (!player || s.clip != panes_[0].clip || s.shot.path.empty()) continue;
    TimelineShot shot{s.id,
                      std::to_string(s.shot.number),
                      desk_.shot_on_show == s.id,
                      s.shot.path.front().time_s,
                      s.shot.path.back().time_s,
                      {}};
    for (const Mark mark : kMarks) {
      const bool by_hand =
          (mark == Mark::kRelease && s.shot.by_hand.release) || (mark == Mark::kPins && s.shot.by_hand.pin_contact);
      if (const auto t = MarkTime(s, mark)) shot.marks.push_back({*t, mark, by_hand});
    }
    line.shots.push_back(std::move(shot));
  }
  const TimelineEvents events = timeline_.Draw(line);
  Place("timeline");
  if (events.seek && player && *events.seek != player->position_s()) {
    asked_at_ = Now();
    player->Seek(*events.seek, Now());
  }
  if (events.open) ShowShot(desk_, *events.open);

  // Under the timeline's bar, not flush at the window's edge.
  ImGui::PushStyleVar(ImGuiStyleVar_WindowPadding, {TimelinePanel::Inset(style), 0});
  ImGui::BeginChild("transport", {0, 0}, false,
                    ImGuiWindowFlags_AlwaysUseWindowPadding | ImGuiWindowFlags_NoScrollbar |
                        ImGuiWindowFlags_NoScrollWithMouse | ImGuiWindowFlags_NoBackground);
  ImGui::PopStyleVar();
  const auto button = [&](const char* label, Action action, const std::string& about, bool first = false) {
    if (!first) SameLineIfFits(ButtonWidth(label));
    if (ImGui::Button(label)) Do(action);
    Place(label);
    TipForItem(style, about + " (" + KeysOf(action) + ")");
  };
  ImGui::BeginDisabled(!player);
  button(player && player->playing() ? "Pause" : "Play", Action::kPlay, "Play or pause", true);
  Place("Play");
  button("|<", Action::kStepBack, "One picture back");
  button(">|", Action::kStepOn, "One picture on");
  const float combo = 7 * style.em;
  SameLineIfFits(combo);
  ImGui::SetNextItemWidth(combo);
  if (ImGui::BeginCombo("##rate", RateText(rate_).c_str())) {
    for (const double r : {0.1, 0.25, 0.5, 1.0, 2.0, 4.0}) {
      if (ImGui::Selectable(RateText(r).c_str(), r == rate_)) SetRate(r);
    }
    ImGui::EndCombo();
  }
  button(player && player->loop() ? "No loop" : "Loop shot", Action::kLoopShot, "Play the shot over and over");
  button("Release", Action::kToRelease, "To the release");
  button("Arrows", Action::kToArrows, "To the arrows");
  button("Breakpoint", Action::kToBreakpoint, "To the breakpoint");
  button("Pins", Action::kToPins, "To the pins");
  SameLineIfFits(ButtonWidth("Drawn..."));
  if (ImGui::Button("Drawn...")) ImGui::OpenPopup("drawn");
  Place("Drawn");
  ImGui::EndDisabled();
  if (ImGui::BeginPopup("drawn")) {
    ImGui::Checkbox("Everything below (D)", &drawings_);
    ImGui::Separator();
    ImGui::Checkbox("Lane and arrows", &drawn_.lane);
    ImGui::Checkbox("Boards ruler", &drawn_.ruler);
    ImGui::Checkbox("Path", &drawn_.path);
    ImGui::Checkbox("Its doubt", &drawn_.band);
    ImGui::Checkbox("Ball", &drawn_.ball);
    ImGui::Checkbox("Arrows crossing, breakpoint", &drawn_.places);
    ImGui::Checkbox("Speed along the way", &drawn_.speed);
    ImGui::Separator();
    ImGui::Checkbox("Take out the lens's bend (S)", &straighten_);
    ImGui::EndPopup();
  }
  if (correcting_) DrawCorrecting();
  if (const float height = ImGui::GetCursorPosY(); height != transport_height_) {
    transport_height_ = height;
    window_->AskForFrames();
  }
  ImGui::EndChild();
}

void App::DrawCorrecting() {
  DeskClip* clip = FindClip(desk_, panes_[0].clip);
  const Player* player = panes_[0].player.get();
  if (!clip || !player || !player->shown()) return;
  const double time = player->shown()->time_s;
  const auto span = SpanNow();
  const Style& style = window_->style();
  if (!clip->base) {
    QuietText(style, "Correcting begins when the clip has been measured.");
    return;
  }
  bool first = true;
  const auto button = [&](const char* label, bool able, const std::string& about) {
    if (!first) SameLineIfFits(ButtonWidth(label));
    first = false;
    ImGui::BeginDisabled(!able);
    const bool pressed = ImGui::Button(label);
    ImGui::EndDisabled();
    Place(label);
    TipForItem(style, about);
    return pressed;
  };
  bool changed = false;
  if (button("Release here", span.has_value(), "The ball leaves the hand in this picture"))
    clip->edits.SetRelease(*span, time), changed = true;
  if (button("Impact here", span.has_value(), "The first pin is touched in this picture"))
    clip->edits.SetPinContact(*span, time), changed = true;
  if (button("No ball here", span.has_value(), "What is ringed in this picture is not the ball (Delete)"))
    clip->edits.RemoveBall(*span, time), changed = true;
  if (button("No shot", span.has_value(), "What was found here is no shot at all"))
    clip->edits.RemoveShot(*span), changed = true;
  if (button("Shot as found", span.has_value(), "Everything of this shot as the program found it"))
    clip->edits.UnsetShot(*span), changed = true;
  if (button("All as found", !clip->edits.now().empty(), "Everything of this clip as the program found it"))
    clip->edits.UnsetAll(), changed = true;
  const ShotCorrection* added = AddedShot();
  const std::ptrdiff_t places = added ? std::ssize(added->sights) : 0;
  const std::string fewest = std::to_string(kFewestAddedSights);
  if (!adding_) {
    if (button("Add a shot", true, "A shot that was missed: you click on its ball in " + fewest + " pictures or more"))
      adding_ = true, adding_at_.reset();
  } else if (button("Shot added", true, "Ends adding; with fewer than " + fewest + " places the shot is left out")) {
    if (added && places < kFewestAddedSights) clip->edits.RemoveShot({*adding_at_, *adding_at_}), changed = true;
    StopAdding();
  }
  if (changed) AfterEdit();
  if (adding_) {
    const std::string text = places == 0 ? "Click on the ball, from the release on."
                             : places < kFewestAddedSights
                                 ? "Click on the ball: " + std::to_string(places) + " of at least " + fewest + "."
                                 : std::to_string(places) + " places; more make it surer.";
    SameLineIfFits(ImGui::CalcTextSize(text.c_str()).x);
    ImGui::AlignTextToFramePadding();
    ImGui::TextColored(ImGui::ColorConvertU32ToFloat4(style.by_hand), "%s", text.c_str());
  }
}

void App::DrawSide() {
  const Style& style = window_->style();
  const std::vector<ShownShot> shots = ShownShots(desk_);
  const Player* player = panes_[0].player.get();
  const std::optional<int> playing = player ? desk_.shot_on_show : std::nullopt;
  const std::optional<double> time = player && desk_.shot_on_show ? std::optional(player->position_s()) : std::nullopt;
  constexpr std::array<const char*, 6> kNames = {"Shots", "Lane", "Plots", "Advice", "Two shots", "Clips"};
  if (!ImGui::BeginTabBar("tabs")) return;
  const std::optional<Tab> wanted = std::exchange(tab_wanted_, std::nullopt);
  for (int i = 0; i < static_cast<int>(kNames.size()); ++i) {
    const Tab tab = static_cast<Tab>(i);
    const bool open = ImGui::BeginTabItem(kNames[static_cast<std::size_t>(i)], nullptr,
                                          wanted == tab ? ImGuiTabItemFlags_SetSelected : 0);
    Place(std::string("tab ") + kNames[static_cast<std::size_t>(i)]);
    if (!open) continue;
    if (tab_ != tab) window_->AskForFrames();
    tab_ = tab;
    ImGui::BeginChild("panel", {0, 0}, true);
    switch (tab) {
      case Tab::kShots: {
        const ShotsEvents events = shots_panel_.Draw({&style, shots, playing});
        if (events.chosen) ChooseOnly(desk_, *events.chosen);
        if (events.open) {
          ShowShot(desk_, *events.open);
          SettlePanes();
          JumpTo(Mark::kRelease);
        }
        for (const TagChange& change : events.tags) Apply(desk_, change);
        if (!events.tags.empty()) SaveList();
        break;
      }
      case Tab::kLane: {
        const LaneEvents events = lane_panel_.Draw({&style, shots, playing, time});
        if (events.clicked) ShowShot(desk_, *events.clicked);
        if (events.seek) {
          ShowShot(desk_, events.seek->shot);
          SettlePanes();
          if (panes_[0].player) panes_[0].player->Seek(events.seek->time_s, Now());
        }
        break;
      }
      case Tab::kPlots: {
        const PlotsEvents events = plots_panel_.Draw({&style, shots, playing, time});
        if (events.seek) {
          ShowShot(desk_, events.seek->shot);
          SettlePanes();
          if (panes_[0].player) panes_[0].player->Seek(events.seek->time_s, Now());
        }
        break;
      }
      case Tab::kAdvice: {
        const AdviceEvents events =
            advice_panel_.Draw({&style, shots, desk_.advice_made ? &desk_.advice : nullptr, advice_maker_.busy()});
        if (events.show) ShowEvidence(*events.show);
        break;
      }
      case Tab::kCompare: {
        const CompareEvents events = compare_panel_.Draw({&style, shots});
        if (events.changed) {
          // Both in step at the mark, whatever was on show before.
          SettlePanes();
          JumpTo(compare_panel_.state().in_step);
        }
        if (events.jump_to) JumpTo(*events.jump_to);
        if (events.button_at[2] > 0) places_drawn_["As a clip..."] = events.button_at;
        if (events.write_clip) WritePair();
        break;
      }
      case Tab::kClips:
        DrawClips();
        break;
    }
    ImGui::EndChild();
    ImGui::EndTabItem();
  }
  ImGui::EndTabBar();
}

void App::DrawClips() {
  const Style& style = window_->style();
  if (desk_.clips.empty()) {
    EmptyState(style, "No clips yet", "Drop clips on the window, or open them (Ctrl O).");
    return;
  }
  std::optional<int> remove, again, turned;
  if (ImGui::BeginTable("clips", 3, ImGuiTableFlags_SizingStretchProp | ImGuiTableFlags_RowBg)) {
    ImGui::TableSetupColumn("Clip", ImGuiTableColumnFlags_WidthStretch, 2);
    ImGui::TableSetupColumn("State", ImGuiTableColumnFlags_WidthStretch, 2);
    ImGui::TableSetupColumn("", ImGuiTableColumnFlags_WidthFixed, 11 * style.em);
    ImGui::TableHeadersRow();
    for (DeskClip& clip : desk_.clips) {
      ImGui::PushID(clip.id);
      ImGui::TableNextColumn();
      if (ImGui::Selectable(FileName(clip.file).c_str(), desk_.clip_on_show == clip.id)) ShowClip(desk_, clip.id);
      TipForItem(style, clip.file);
      if (clip.state != ClipState::kOnlyNumbers &&
          HandCombo(style, &clip.options.hand, [&](const char* choice) { Place(choice); }))
        turned = clip.id;
      Place("hand " + FileName(clip.file));
      ImGui::TableNextColumn();
      if (clip.state == ClipState::kMeasuring) {
        ImGui::ProgressBar(clip.share < 0 ? 0 : static_cast<float>(clip.share), {-1, 0}, clip.stage.c_str());
      } else {
        const auto shots =
            std::count_if(desk_.shots.begin(), desk_.shots.end(), [&](const DeskShot& s) { return s.clip == clip.id; });
        std::string text = StateText(clip.state);
        if (clip.result) text += shots == 1 ? ", 1 shot" : ", " + std::to_string(shots) + " shots";
        ImGui::TextUnformatted(text.c_str());
        if (!clip.note.empty()) QuietText(style, clip.note);
      }
      ImGui::TableNextColumn();
      if (clip.state == ClipState::kMeasuring || clip.state == ClipState::kWaiting) {
        if (ImGui::Button("Stop")) queue_.Cancel(clip.id);
        Place("stop " + FileName(clip.file));
      } else if (clip.state != ClipState::kOnlyNumbers) {
        if (ImGui::Button("Measure")) again = clip.id;
        TipForItem(style, "Measure it anew");
      }
      ImGui::SameLine();
      if (ImGui::Button("Put away")) remove = clip.id;
      TipForItem(style, "Off this desk; the file itself stays where it is");
      ImGui::PopID();
    }
    ImGui::EndTable();
  }
  if (again) QueueClip(*again, true);
  if (turned) {
    // What was seen in the clip stays; its shots are made again with that hand.
    QueueClip(*turned, false);
    SaveList();
  }
  if (remove) {
    queue_.Cancel(*remove);
    RemoveClip(desk_, *remove);
    SaveList();
  }
}

void App::DrawStatus() {
  const Style& style = window_->style();
  std::string text = notice_;
  if (const auto now = queue_.Now()) {
    const DeskClip* clip = FindClip(desk_, now->id);
    text = "Measuring " + (clip ? FileName(clip->file) : std::string("a clip")) + ": " + now->stage;
    if (now->share >= 0) text += " " + report::FixedText(now->share * 100, 0) + " %";
    if (queue_.waiting() > 0) text += "; " + std::to_string(queue_.waiting()) + " waiting";
    if (ImGui::SmallButton("Stop all")) queue_.CancelAll();
    Place("Stop all");
    ImGui::SameLine();
  } else if (refits_.Now()) {
    text = "Measuring again with what was corrected...";
  }
  if (!notice_.empty() && text == notice_) {
    if (ImGui::SmallButton("Seen")) notice_.clear();
    Place("Seen");
    ImGui::SameLine();
    ImGui::TextColored(ImGui::ColorConvertU32ToFloat4(style.warn), "%s", text.c_str());
    TipForItem(style, text);
  } else {
    ImGui::PushStyleColor(ImGuiCol_Text, style.quiet);
    ImGui::TextUnformatted(text.empty() ? "Ready." : text.c_str());
    ImGui::PopStyleColor();
  }
}

}  // namespace hookline::viewer
