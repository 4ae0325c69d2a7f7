#include "viewer/compare_panel.h"

#include <imgui.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <string>
#include <vector>

#include "viewer/panel_draw.h"

namespace hookline::viewer {
namespace {

const ShownShot* Find(std::span<const ShownShot> shots, int id) {
  const auto it = std::find_if(shots.begin(), shots.end(), [id](const ShownShot& s) { return s.id == id; });
  return it == shots.end() ? nullptr : &*it;
}

std::string NameOf(const ShownShot& s) { return "Shot " + s.name + (s.shot->ball.empty() ? "" : ", " + s.shot->ball); }

bool ShotCombo(const char* label, std::span<const ShownShot> shots, float width, int* id) {
  bool changed = false;
  const ShownShot* now = Find(shots, *id);
  ImGui::SetNextItemWidth(width);
  if (!ImGui::BeginCombo(label, now ? NameOf(*now).c_str() : "Choose a shot")) return false;
  for (const ShownShot& s : shots) {
    ImGui::PushID(s.id);
    if (ImGui::Selectable(NameOf(s).c_str(), s.id == *id)) {
      *id = s.id;
      changed = true;
    }
    ImGui::PopID();
  }
  ImGui::EndCombo();
  return changed;
}

// A clear difference is told by its sign; in a narrow place the sign stands alone, before the number, and the words
// are a tip.
void DrawDifferences(const Style& style, const std::vector<CompareRow>& rows, const std::string& first,
                     const std::string& second) {
  const float em = style.em;
  const auto widest = [](float width, const std::string& text) {
    return std::max(width, ImGui::CalcTextSize(text.c_str()).x);
  };
  // "entry board" needs no unit.
  const auto label = [](const CompareRow& row) {
    return row.label.find(row.unit) != std::string::npos ? row.label : row.label + " (" + row.unit + ")";
  };
  const std::string sign = "◆ ";
  const float sign_width = ImGui::CalcTextSize(sign.c_str()).x;
  std::array<float, 5> wide = {widest(0, "Measure"), widest(0, first), widest(0, second), widest(0, "Difference"),
                               widest(0, "Sure?")};
  for (const CompareRow& row : rows) {
    wide[0] = widest(wide[0], label(row));
    wide[1] = widest(wide[1], row.first);
    wide[2] = widest(wide[2], row.second);
    wide[3] = widest(wide[3], row.difference);
    wide[4] = widest(wide[4], sign + row.says_text);
  }
  const ImVec2 room(ImGui::GetContentRegionAvail().x, std::max(ImGui::GetContentRegionAvail().y, 5 * em));
  const float cell = 2 * ImGui::GetStyle().CellPadding.x + 1, bar = ImGui::GetStyle().ScrollbarSize;
  const bool words = wide[0] + wide[1] + wide[2] + wide[3] + wide[4] + 5 * cell + bar <= room.x;
  // Without the words labels are broken where they must be, but not to pieces: then it is scrolled.
  const float numbers = wide[1] + wide[2] + wide[3] + sign_width + 4 * cell + bar, least = 9 * em;
  const bool fits = words || room.x - numbers >= least;
  const float labels = words ? wide[0] : std::clamp(room.x - numbers, least, wide[0]);
  const ImGuiTableFlags flags = ImGuiTableFlags_RowBg | ImGuiTableFlags_ScrollY | ImGuiTableFlags_BordersInnerV |
                                ImGuiTableFlags_SizingFixedFit | (fits ? 0 : ImGuiTableFlags_ScrollX);
  if (!ImGui::BeginTable(words ? "differences" : "differences, narrow", words ? 5 : 4, flags, room)) return;
  ImGui::TableSetupScrollFreeze(fits ? 0 : 1, 1);
  ImGui::TableSetupColumn("Measure", ImGuiTableColumnFlags_WidthFixed, labels);
  ImGui::TableSetupColumn((first + "##1").c_str());
  ImGui::TableSetupColumn((second + "##2").c_str());
  ImGui::TableSetupColumn("Difference");
  if (words) ImGui::TableSetupColumn("Sure?");
  ImGui::TableHeadersRow();
  for (const CompareRow& row : rows) {
    const auto text = [&](const std::string& t, bool quiet, const std::string& tip, float indent = 0) {
      ImGui::TableNextColumn();
      ImGui::SetCursorPosX(ImGui::GetCursorPosX() + indent);
      ImGui::PushStyleColor(ImGuiCol_Text, quiet ? style.quiet : style.text);
      ImGui::TextUnformatted(t.c_str());
      ImGui::PopStyleColor();
      TipForItem(style, tip);
    };
    const bool clear = row.says == Difference::kClear;
    ImGui::TableNextRow();
    text(words ? label(row) : WrappedAtBlanks(label(row), labels), false, "");
    text(row.first, row.first == "–", row.first_reason);
    text(row.second, row.second == "–", row.second_reason);
    // Without its sign a number stands where it would with it.
    text(clear && !words ? sign + row.difference : row.difference, !words && !clear, words ? "" : row.says_text,
         clear || words ? 0 : sign_width);
    if (words) text(clear ? sign + row.says_text : row.says_text, !clear, "");
  }
  ImGui::EndTable();
}

}  // namespace

void ComparePanel::Settle(const CompareInputs& in) {
  std::vector<int> chosen;
  for (const ShownShot& s : in.shots)
    if (s.chosen) chosen.push_back(s.id);
  const bool there = Find(in.shots, state_.first) && Find(in.shots, state_.second);
  if (taken_by_hand_ && there) return;
  taken_by_hand_ = false;
  if (chosen.size() >= 2) {
    state_.first = chosen[0];
    state_.second = chosen[1];
  } else if (!there && in.shots.size() >= 2) {
    state_.first = in.shots[in.shots.size() - 2].id;
    state_.second = in.shots.back().id;
  } else if (in.shots.size() < 2) {
    state_.first = state_.second = 0;
  }
}

CompareEvents ComparePanel::Draw(const CompareInputs& in) {
  CompareEvents events;
  const Style& style = *in.style;
  const float em = style.em;
  const CompareState before = state_;
  Settle(in);
  if (in.shots.size() < 2) {
    EmptyState(style, "Nothing to compare yet",
               "Two shots or more are needed to compare. Open more clips, or a result file with several shots.");
    events.changed = !(state_ == before);
    return events;
  }
  const float beside = ImGui::CalcTextSize("against").x + ButtonWidth("Swap") + 3 * ImGui::GetStyle().ItemSpacing.x;
  const float combo = std::floor(std::clamp((ImGui::GetContentRegionAvail().x - beside) / 2, 7 * em, 13 * em));
  taken_by_hand_ |= ShotCombo("##first", in.shots, combo, &state_.first);
  SameLineIfFits(combo + ImGui::CalcTextSize("against").x + em);
  ImGui::AlignTextToFramePadding();
  ImGui::TextUnformatted("against");
  ImGui::SameLine();
  taken_by_hand_ |= ShotCombo("##second", in.shots, combo, &state_.second);
  SameLineIfFits(ButtonWidth("Swap"));
  if (ImGui::Button("Swap")) {
    std::swap(state_.first, state_.second);
    taken_by_hand_ = true;
  }
  const ShownShot *first = Find(in.shots, state_.first), *second = Find(in.shots, state_.second);
  if (!first || !second) {
    events.changed = !(state_ == before);
    return events;
  }
  if (first->id == second->id) {
    EmptyState(style, "This is the same shot twice", "Choose another shot on one side to see what differs.");
    events.changed = !(state_ == before);
    return events;
  }
  const std::vector<Mark> marks = CompareClock::SharedMarks(*first, *second);
  if (marks.empty()) {
    QuietText(style, "These two have no mark in common, so they cannot be played in step.");
  } else {
    if (std::find(marks.begin(), marks.end(), state_.in_step) == marks.end()) state_.in_step = marks.front();
    ImGui::AlignTextToFramePadding();
    ImGui::TextUnformatted("In step from");
    for (const Mark m : marks) {
      const std::string name(MarkName(m));
      SameLineIfFits(CheckboxWidth(name.c_str()));
      if (ImGui::RadioButton(name.c_str(), state_.in_step == m)) state_.in_step = m;
    }
    const bool can_lay_over = first->lane_setup != nullptr && !second->shot->path.empty();
    if (can_lay_over) {
      SameLineIfFits(CheckboxWidth("Path over the other's picture"));
      ImGui::Checkbox("Path over the other's picture", &state_.lay_over);
      TipForItem(style, "Draws the path of shot " + second->name + " on the picture of shot " + first->name +
                            ", board for board.");
    } else {
      state_.lay_over = false;
    }
    if (const auto clock = CompareClock::Make(*first, *second, state_.in_step)) {
      std::string text = "Shot " + second->name + " is there";
      bool some = false;
      for (const Mark m : marks) {
        if (m == state_.in_step) continue;
        text += std::string(some ? "; " : " ") + LagText(*first, *second, *clock, m) + " at the " +
                std::string(MarkName(m));
        some = true;
      }
      if (some) QuietText(style, text + ".");
    }
    ImGui::AlignTextToFramePadding();
    ImGui::TextUnformatted("Go to");
    for (const Mark m : marks) {
      const std::string name(MarkName(m));
      SameLineIfFits(ButtonWidth(name.c_str()));
      ImGui::PushID(static_cast<int>(m));
      if (ImGui::Button((name + "##go").c_str())) events.jump_to = m;
      ImGui::PopID();
    }
    SameLineIfFits(ButtonWidth("As a clip..."));
    events.write_clip = ImGui::Button("As a clip...");
    events.button_at = {ImGui::GetItemRectMin().x, ImGui::GetItemRectMin().y, ImGui::GetItemRectMax().x,
                        ImGui::GetItemRectMax().y};
    TipForItem(style, "Writes the two, in step, beside each other as one clip.");
  }
  SameLineIfFits(CheckboxWidth("Clear differences only (◆)"));
  ImGui::Checkbox("Clear differences only (◆)", &state_.clear_only);
  TipForItem(style, "A difference of more than two standard deviations.");
  std::vector<CompareRow> rows = CompareShots(*first->shot, *second->shot);
  if (state_.clear_only) std::erase_if(rows, [](const CompareRow& r) { return r.says != Difference::kClear; });
  if (rows.empty()) {
    EmptyState(style, "No clear difference", "No measure of these two differs by more than the doubt can explain.");
  } else {
    DrawDifferences(style, rows, "Shot " + first->name, "Shot " + second->name);
  }
  events.changed = !(state_ == before);
  return events;
}

}  // namespace hookline::viewer
