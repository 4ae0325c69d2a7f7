#include "viewer/library_sheet.h"

#include <imgui.h>

#include <algorithm>
#include <array>
#include <utility>

#include "report/number_text.h"
#include "viewer/panel_draw.h"

namespace hookline::viewer {
namespace {

constexpr ImGuiTableFlags kTable =
    ImGuiTableFlags_RowBg | ImGuiTableFlags_ScrollY | ImGuiTableFlags_BordersInnerV | ImGuiTableFlags_SizingStretchProp;

std::string Or(const std::string& text) { return text.empty() ? "–" : text; }
std::string Number(const std::optional<double>& value, int decimals) {
  return value ? report::FixedText(*value, decimals) : "–";
}

}  // namespace

void LibrarySheet::Open(const Desk& desk) {
  Show();
  bad_ = false;
  said_.clear();
  if (!library_) {
    auto opened = library::Library::Open(library::DefaultFile());
    if (!opened.ok()) {
      said_ = opened.status().sentence();
      bad_ = true;
      return;
    }
    library_ = std::move(*opened);
  }
  // What was written on the sheet before stays.
  if (wish_.bowler.empty()) {
    if (auto usual = UsualWish(*library_, desk); usual.ok()) wish_ = std::move(*usual);
  }
  Read();
}

void LibrarySheet::Read() {
  auto sessions = library_->Sessions();
  if (!sessions.ok()) {
    said_ = sessions.status().sentence();
    bad_ = true;
    return;
  }
  sessions_ = std::move(*sessions);
  // The newest on top.
  std::sort(sessions_.begin(), sessions_.end(), [](const library::Session& a, const library::Session& b) {
    return std::pair(a.day, a.id) > std::pair(b.day, b.id);
  });
  const bool there = std::any_of(sessions_.begin(), sessions_.end(), [&](const auto& s) { return s.id == session_; });
  if (!there) session_ = sessions_.empty() ? 0 : sessions_.front().id;
  ReadShots(session_);
}

void LibrarySheet::ReadShots(std::int64_t session) {
  session_ = session;
  shots_.clear();
  if (session == 0) return;
  library::ShotFilter filter;
  filter.session = session;
  filter.measured = false;
  auto shots = library_->Shots(filter);
  if (shots.ok()) {
    shots_ = std::move(*shots);
  } else {
    said_ = shots.status().sentence();
    bad_ = true;
  }
}

void LibrarySheet::Keep(const Desk& desk) {
  // A few milliseconds a clip: done while the window waits.
  auto kept = KeepDesk(*library_, desk, wish_);
  bad_ = !kept.ok();
  if (!kept.ok()) {
    said_ = kept.status().sentence();
    return;
  }
  said_ = std::to_string(kept->added) + (kept->added == 1 ? " shot" : " shots") + " added, " +
          std::to_string(kept->updated) + " updated.";
  if (kept->elsewhere > 0)
    said_ += " " + std::to_string(kept->elsewhere) + " of them stand in another session, where they were kept first.";
  if (!kept->not_found.empty())
    said_ += " " + std::to_string(kept->not_found.size()) + " that were kept before were not found this time and stay.";
  Read();
  for (const library::Session& s : sessions_) {
    if (s.bowler == wish_.bowler && s.place == wish_.place && s.lane == wish_.lane && s.day == wish_.day)
      ReadShots(s.id);
  }
}

void LibrarySheet::DrawSessions(const Style& style) {
  if (sessions_.empty()) {
    QuietText(style, "The library holds nothing yet. What is kept stays on this computer.");
    return;
  }
  if (!ImGui::BeginTable("sessions", 5, kTable, {0, 8 * style.em})) return;
  ImGui::TableSetupScrollFreeze(0, 1);
  for (const char* name : {"Day", "Bowler", "Place", "Lane", "Shots"}) ImGui::TableSetupColumn(name);
  ImGui::TableHeadersRow();
  for (const library::Session& s : sessions_) {
    ImGui::PushID(static_cast<int>(s.id));
    ImGui::TableNextColumn();
    if (ImGui::Selectable(s.day.c_str(), s.id == session_, ImGuiSelectableFlags_SpanAllColumns)) ReadShots(s.id);
    for (const std::string& text : {s.bowler, s.place, s.lane, std::to_string(s.shots)}) {
      ImGui::TableNextColumn();
      ImGui::TextUnformatted(text.c_str());
    }
    ImGui::PopID();
  }
  ImGui::EndTable();
}

void LibrarySheet::DrawShots(const Style& style) {
  if (shots_.empty()) return;
  if (!ImGui::BeginTable("kept shots", 8, kTable, {0, 11 * style.em})) return;
  ImGui::TableSetupScrollFreeze(0, 1);
  for (const char* name :
       {"Shot", "Ball", "Plan", "Result", "Arrows, board", "Entry, board", "Entry, deg", "Speed, mph"})
    ImGui::TableSetupColumn(name);
  ImGui::TableHeadersRow();
  for (const library::StoredShot& s : shots_) {
    for (const std::string& text :
         {std::to_string(s.number), Or(s.ball), Or(s.plan), Or(s.result), Number(s.arrows_board, 1),
          Number(s.entry_board, 1), Number(s.entry_angle_deg, 1), Number(s.speed_mph, 1)}) {
      ImGui::TableNextColumn();
      ImGui::TextUnformatted(text.c_str());
      if (!s.notes.empty()) TipForItem(style, s.notes);
    }
  }
  ImGui::EndTable();
}

void LibrarySheet::Draw(const Style& style, const Desk& desk) {
  if (!Begin(style)) return;
  const float em = style.em;
  if (library_) {
    ImGui::TextWrapped("Keep the shots on the desk, with what was said of them:");
    const std::array<std::pair<const char*, std::string*>, 4> fields = {
        {{"Bowler", &wish_.bowler}, {"Place", &wish_.place}, {"Lane", &wish_.lane}, {"Day", &wish_.day}}};
    for (std::size_t i = 0; i < fields.size(); ++i) {
      const auto& [label, text] = fields[i];
      // Two a row.
      if (i % 2 == 1) ImGui::SameLine(27 * em);
      Field(style, label, text, i % 2 == 1 ? -1 : 20 * em);
    }
    ImGui::BeginDisabled(desk.shots.empty());
    const std::string count = std::to_string(desk.shots.size());
    if (Button("Keep them")) Keep(desk);
    ImGui::EndDisabled();
    ImGui::SameLine();
    QuietText(style, desk.shots.size() == 1 ? "1 shot is on the desk." : count + " shots are on the desk.");
  }
  Tell(style, said_, bad_);
  if (library_) {
    ImGui::Separator();
    DrawSessions(style);
    DrawShots(style);
  }
  if (Button("Close")) Close();
  End();
}

}  // namespace hookline::viewer
