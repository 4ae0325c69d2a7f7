#include "viewer/shots_panel.h"

#include <imgui.h>
#include <imgui_stdlib.h>

#include <algorithm>
#include <utility>

#include "report/number_text.h"
#include "viewer/panel_draw.h"

namespace hookline::viewer {
namespace {

constexpr TagField kFields[] = {TagField::kBall,   TagField::kPlan,     TagField::kArrowsTarget,     TagField::kStance,
                                TagField::kResult, TagField::kLookedAt, TagField::kBreakpointTarget, TagField::kNotes};

std::optional<TagField> FieldOf(ColumnKind kind) {
  switch (kind) {
    case ColumnKind::kBall:
      return TagField::kBall;
    case ColumnKind::kPlan:
      return TagField::kPlan;
    case ColumnKind::kStance:
      return TagField::kStance;
    case ColumnKind::kLookedAt:
      return TagField::kLookedAt;
    case ColumnKind::kArrowsTarget:
      return TagField::kArrowsTarget;
    case ColumnKind::kBreakpointTarget:
      return TagField::kBreakpointTarget;
    case ColumnKind::kResult:
      return TagField::kResult;
    case ColumnKind::kNotes:
      return TagField::kNotes;
    default:
      return std::nullopt;
  }
}

std::vector<int> ChosenIds(std::span<const ShownShot> shots) {
  std::vector<int> ids;
  for (const ShownShot& s : shots)
    if (s.chosen) ids.push_back(s.id);
  return ids;
}

float CellWidth(const Style& style, ColumnKind kind) {
  switch (kind) {
    case ColumnKind::kShot:
      return LookSampleWidth(style) + 4.2f * style.em;
    case ColumnKind::kMeasure:
      return ImGui::CalcTextSize("00.00 ±0.00").x;
    case ColumnKind::kBall:
    case ColumnKind::kPlan:
    case ColumnKind::kBowler:
      return 6.5f * style.em;
    case ColumnKind::kClip:
    case ColumnKind::kNotes:
      return 10 * style.em;
    case ColumnKind::kUnusual:
      return 14 * style.em;
    default:
      return 0;
  }
}

bool Has(const std::vector<int>& ids, int id) { return std::find(ids.begin(), ids.end(), id) != ids.end(); }

// A combo of the words used so far, with "any" first; true when the choice changed.
bool WordsCombo(const char* label, const char* any, const std::vector<std::string>& words, float width,
                std::string* chosen) {
  bool changed = false;
  ImGui::SetNextItemWidth(width);
  if (!ImGui::BeginCombo(label, chosen->empty() ? any : chosen->c_str())) return false;
  if (ImGui::Selectable(any, chosen->empty())) {
    chosen->clear();
    changed = true;
  }
  for (const std::string& word : words)
    if (ImGui::Selectable(word.c_str(), word == *chosen)) {
      *chosen = word;
      changed = true;
    }
  ImGui::EndCombo();
  return changed;
}

}  // namespace

void ShotsPanel::DrawFilter(const ShotsInputs& in, std::size_t shown, ShotsEvents* events) {
  const Style& style = *in.style;
  const float em = style.em;
  ImGui::SetNextItemWidth(std::min(11 * em, ImGui::GetContentRegionAvail().x));
  ImGui::InputTextWithHint("##words", "Find in the rows", &filter_.words);
  const std::vector<std::string> balls = WordsUsed(in.shots, TagField::kBall),
                                 plans = WordsUsed(in.shots, TagField::kPlan);
  // A ball or plan that has been written over is gone from the session.
  if (!filter_.ball.empty() && std::find(balls.begin(), balls.end(), filter_.ball) == balls.end()) filter_.ball.clear();
  if (!filter_.plan.empty() && std::find(plans.begin(), plans.end(), filter_.plan) == plans.end()) filter_.plan.clear();
  if (balls.size() > 1) {
    SameLineIfFits(9 * em);
    WordsCombo("##ball", "Every ball", balls, 9 * em, &filter_.ball);
  }
  if (plans.size() > 1) {
    SameLineIfFits(9 * em);
    WordsCombo("##plan", "Every plan", plans, 9 * em, &filter_.plan);
  }
  SameLineIfFits(CheckboxWidth("Chosen"));
  ImGui::Checkbox("Chosen", &filter_.chosen_only);
  SameLineIfFits(CheckboxWidth("Unusual"));
  ImGui::Checkbox("Unusual", &filter_.unusual_only);
  TipForItem(style, "Only shots in which something acted: slower, more turn, a miss, a change of the lane.");
  const std::string count = CountText(shown, in.shots.size());
  SameLineIfFits(ImGui::CalcTextSize(count.c_str()).x);
  ImGui::AlignTextToFramePadding();
  ImGui::PushStyleColor(ImGuiCol_Text, style.quiet);
  ImGui::TextUnformatted(count.c_str());
  ImGui::PopStyleColor();
  const std::vector<int> chosen = ChosenIds(in.shots);
  if (!chosen.empty()) {
    const std::string label = "Choose none";
    SameLineIfFits(ButtonWidth(label.c_str()));
    if (ImGui::Button(label.c_str())) events->chosen = std::vector<int>{};
  }
}

void ShotsPanel::DrawTags(const ShotsInputs& in, ShotsEvents* events) {
  const Style& style = *in.style;
  const float em = style.em;
  const std::vector<int> chosen = ChosenIds(in.shots);
  if (chosen.empty()) return;
  const std::string label =
      chosen.size() == 1 ? "Say of the chosen shot" : "Say of the " + std::to_string(chosen.size()) + " chosen shots";
  const std::string button = label + " …";
  SameLineIfFits(ButtonWidth(button.c_str()));
  if (ImGui::Button(button.c_str())) {
    ImGui::OpenPopup("say");
    typing_.reset();
    typed_wrong_.clear();
  }
  TipForItem(style, "Ball, plan, target, stance and result of all of them at once.");
  if (!ImGui::BeginPopup("say")) return;
  float labels = 0;
  for (const TagField field : kFields) labels = std::max(labels, ImGui::CalcTextSize(TagTitle(field).c_str()).x);
  for (const TagField field : kFields) {
    ImGui::PushID(static_cast<int>(field));
    // What they have in common stands in the field.
    std::string common;
    bool first = true, same = true;
    for (const ShownShot& s : in.shots) {
      if (!s.chosen) continue;
      const std::string text = TagText(s, field);
      same = same && (first || text == common);
      common = text;
      first = false;
    }
    const bool mine = typing_ && *typing_ == field;
    std::string text = mine ? typed_ : same ? common : std::string();
    ImGui::AlignTextToFramePadding();
    ImGui::TextUnformatted(TagTitle(field).c_str());
    ImGui::SameLine(labels + 2 * em);
    ImGui::SetNextItemWidth(IsBoardField(field) ? 5 * em : 12 * em);
    const bool entered =
        ImGui::InputTextWithHint("##field", same ? "" : "several", &text, ImGuiInputTextFlags_EnterReturnsTrue);
    if (ImGui::IsItemActive()) {
      if (!mine) typed_wrong_.clear();
      typing_ = field;
      typed_ = text;
    }
    const bool left = ImGui::IsItemDeactivatedAfterEdit();
    if (mine && (entered || left)) {
      const auto change = MakeTagChange(chosen, field, text);
      typed_wrong_ = change.ok() ? std::string() : change.status().sentence();
      if (change.ok()) {
        events->tags.push_back(*change);
        typing_.reset();
      }
    }
    if (!IsBoardField(field) && field != TagField::kNotes) {
      const std::vector<std::string> used = WordsUsed(in.shots, field);
      if (!used.empty()) {
        ImGui::SameLine();
        if (ImGui::ArrowButton("used", ImGuiDir_Down)) ImGui::OpenPopup("words");
        if (ImGui::BeginPopup("words")) {
          for (const std::string& word : used)
            if (ImGui::Selectable(word.c_str())) {
              if (const auto change = MakeTagChange(chosen, field, word); change.ok()) events->tags.push_back(*change);
              typing_.reset();
            }
          ImGui::EndPopup();
        }
      }
    }
    if (mine && !typed_wrong_.empty()) {
      ImGui::PushStyleColor(ImGuiCol_Text, style.warn);
      ImGui::TextUnformatted(WrappedAtBlanks(typed_wrong_, 26 * em).c_str());
      ImGui::PopStyleColor();
    }
    ImGui::PopID();
  }
  ImGui::EndPopup();
}

void ShotsPanel::DrawTable(const ShotsInputs& in, std::vector<std::size_t> rows, ShotsEvents* events) {
  const Style& style = *in.style;
  const float em = style.em;
  const std::vector<TableColumn>& columns = TableColumns();
  constexpr ImGuiTableFlags kFlags = ImGuiTableFlags_Sortable | ImGuiTableFlags_Hideable | ImGuiTableFlags_Reorderable |
                                     ImGuiTableFlags_Resizable | ImGuiTableFlags_RowBg | ImGuiTableFlags_ScrollX |
                                     ImGuiTableFlags_ScrollY | ImGuiTableFlags_BordersInnerV |
                                     ImGuiTableFlags_SizingFixedFit;
  const ImVec2 room = ImGui::GetContentRegionAvail();
  if (!ImGui::BeginTable("shots", static_cast<int>(columns.size()), kFlags, {room.x, std::max(room.y, 5 * em)})) return;
  ImGui::TableSetupScrollFreeze(1, 1);
  for (std::size_t c = 0; c < columns.size(); ++c) {
    ImGuiTableColumnFlags flags = columns[c].shown_at_first ? 0 : ImGuiTableColumnFlags_DefaultHide;
    if (c == 0)
      flags |= ImGuiTableColumnFlags_DefaultSort | ImGuiTableColumnFlags_NoHide | ImGuiTableColumnFlags_NoReorder;
    // The unit on a line of its own keeps columns of numbers narrow.
    const std::string label =
        columns[c].title + "\n" + (columns[c].unit.empty() ? " " : columns[c].unit) + "##" + std::to_string(c);
    // Wide enough for its head with the sort's arrow, and for what usually stands in it.
    const float head = ImGui::CalcTextSize(label.c_str(), nullptr, true).x + 1.1f * em;
    const float cell = CellWidth(style, columns[c].kind);
    ImGui::TableSetupColumn(label.c_str(), flags | ImGuiTableColumnFlags_WidthFixed, std::max(head, cell));
  }
  ImGui::PushStyleVar(ImGuiStyleVar_FramePadding, {ImGui::GetStyle().FramePadding.x, 0.12f * em});
  ImGui::TableNextRow(ImGuiTableRowFlags_Headers);
  for (std::size_t c = 0; c < columns.size(); ++c) {
    if (!ImGui::TableSetColumnIndex(static_cast<int>(c))) continue;
    ImGui::PushID(static_cast<int>(c));
    ImGui::TableHeader(ImGui::TableGetColumnName(static_cast<int>(c)));
    TipForItem(style, columns[c].about + " Click to sort; right click to choose columns.");
    ImGui::PopID();
  }
  if (ImGuiTableSortSpecs* specs = ImGui::TableGetSortSpecs()) {
    if (specs->SpecsCount > 0) {
      sort_.column = static_cast<std::size_t>(specs->Specs[0].ColumnIndex);
      sort_.ascending = specs->Specs[0].SortDirection != ImGuiSortDirection_Descending;
    }
    // In this very picture: there may be no other until the next event.
    if (specs->SpecsDirty) rows = RowsShown(in.shots, filter_, sort_);
    specs->SpecsDirty = false;
  }
  std::vector<int> chosen = ChosenIds(in.shots);
  for (const std::size_t r : rows) {
    const ShownShot& s = in.shots[r];
    ImGui::PushID(s.id);
    ImGui::TableNextRow();
    ImGui::TableSetColumnIndex(0);
    bool tick = s.chosen;
    if (ImGui::Checkbox("##chosen", &tick)) {
      if (tick)
        chosen.push_back(s.id);
      else
        std::erase(chosen, s.id);
      events->chosen = chosen;
      last_clicked_ = s.id;
    }
    ImGui::SameLine();
    if (s.chosen)
      LookSample(style, static_cast<std::size_t>(s.look));
    else
      ImGui::Dummy({LookSampleWidth(style), ImGui::GetTextLineHeight()});
    ImGui::SameLine();
    ImGui::AlignTextToFramePadding();
    const std::string name = (in.playing && *in.playing == s.id ? "▶ " : "") + s.name;
    if (ImGui::Selectable(name.c_str(), s.chosen,
                          ImGuiSelectableFlags_SpanAllColumns | ImGuiSelectableFlags_AllowDoubleClick |
                              ImGuiSelectableFlags_AllowItemOverlap)) {
      std::optional<TagField> field;
      for (std::size_t c = 1; c < columns.size(); ++c)
        if (ImGui::TableGetColumnFlags(static_cast<int>(c)) & ImGuiTableColumnFlags_IsHovered)
          field = FieldOf(columns[c].kind);
      const bool twice = ImGui::IsMouseDoubleClicked(ImGuiMouseButton_Left),
                 plain = !ImGui::GetIO().KeyCtrl && !ImGui::GetIO().KeyShift;
      // A click in a row that is chosen already is a second click too: on a slow screen two quick ones are seen as one.
      if (field && plain && (twice || chosen == std::vector<int>{s.id})) {
        typing_ = field;
        typing_of_ = {s.id};
        typed_ = TagText(s, *field);
        typed_wrong_.clear();
        focus_typing_ = true;
      } else if (twice) {
        events->open = s.id;
      } else if (ImGui::GetIO().KeyCtrl) {
        std::vector<int> next = chosen;
        if (Has(next, s.id))
          std::erase(next, s.id);
        else
          next.push_back(s.id);
        events->chosen = next;
      } else if (ImGui::GetIO().KeyShift && last_clicked_) {
        std::vector<int> next;
        const auto place_of = [&](int id) {
          return std::find_if(rows.begin(), rows.end(), [&](std::size_t i) { return in.shots[i].id == id; });
        };
        auto from = place_of(*last_clicked_), to = place_of(s.id);
        if (from != rows.end() && to != rows.end()) {
          if (to < from) std::swap(from, to);
          for (auto i = from; i <= to; ++i) next.push_back(in.shots[*i].id);
          events->chosen = next;
        }
      } else {
        events->chosen = std::vector<int>{s.id};
        last_clicked_ = s.id;
      }
    }
    for (std::size_t c = 1; c < columns.size(); ++c) {
      if (!ImGui::TableSetColumnIndex(static_cast<int>(c))) continue;
      const TableColumn& column = columns[c];
      const auto field = FieldOf(column.kind);
      ImGui::PushID(static_cast<int>(c));
      const bool typing = field && typing_ && *typing_ == *field && typing_of_ == std::vector<int>{s.id};
      ImGui::AlignTextToFramePadding();
      if (typing) {
        ImGui::SetNextItemWidth(-1);
        if (std::exchange(focus_typing_, false)) ImGui::SetKeyboardFocusHere();
        const bool entered = ImGui::InputText("##cell", &typed_, ImGuiInputTextFlags_EnterReturnsTrue);
        const bool left = ImGui::IsItemDeactivated();
        if (!typed_wrong_.empty()) {
          ImGui::BeginTooltip();
          ImGui::TextUnformatted(typed_wrong_.c_str());
          ImGui::EndTooltip();
        }
        if (ImGui::IsKeyPressed(ImGui::GetIO().KeyMap[ImGuiKey_Escape])) {
          typing_.reset();
        } else if (entered || left) {
          const auto change = MakeTagChange({s.id}, *field, typed_);
          if (!change.ok() && entered) {
            typed_wrong_ = change.status().sentence();
            focus_typing_ = true;
          } else if (!change.ok()) {
            typing_.reset();  // clicked elsewhere: what was there stays
          } else {
            if (typed_ != TagText(s, *field)) events->tags.push_back(*change);
            typing_.reset();
          }
        }
      } else {
        std::string text = CellText(s, column);
        const bool empty_field = field && text.empty();
        if (empty_field) text = "·";
        ImGui::PushStyleColor(ImGuiCol_Text, empty_field || text == "–" ? style.quiet : style.text);
        ImGui::TextUnformatted(text.c_str());
        ImGui::PopStyleColor();
        TipForItem(style, field ? (chosen == std::vector<int>{s.id} ? "Click to write it." : "Click twice to write it.")
                                : CellHint(s, column));
      }
      ImGui::PopID();
    }
    ImGui::PopID();
  }
  ImGui::PopStyleVar();
  ImGui::EndTable();
  if (events->chosen) {
    std::vector<int> in_order;
    for (const ShownShot& s : in.shots)
      if (Has(*events->chosen, s.id)) in_order.push_back(s.id);
    events->chosen = in_order;
  }
}

ShotsEvents ShotsPanel::Draw(const ShotsInputs& in) {
  ShotsEvents events;
  const Style& style = *in.style;
  if (in.shots.empty()) {
    EmptyState(style, "No shots yet",
               "Open a clip, or drop one on the window: its shots appear here as soon as they are measured.");
    return events;
  }
  const std::vector<std::size_t> rows = RowsShown(in.shots, filter_, sort_);
  DrawFilter(in, rows.size(), &events);
  DrawTags(in, &events);
  if (rows.empty()) {
    EmptyState(style, "No shot passes the filter", "Take words out of the search or choose every ball and plan.");
    return events;
  }
  DrawTable(in, rows, &events);
  return events;
}

}  // namespace hookline::viewer
