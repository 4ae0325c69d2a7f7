#include "viewer/file_chooser.h"

#include <imgui.h>
#include <imgui_stdlib.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cstdlib>
#include <filesystem>
#include <optional>

#include "viewer/panel_draw.h"

namespace hookline::viewer {
namespace {

namespace fs = std::filesystem;

std::string Ending(const std::string& name) {
  std::string e = fs::path(name).extension().string();
  std::transform(e.begin(), e.end(), e.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return e;
}

}  // namespace

bool IsClipName(const std::string& name) {
  constexpr std::array<const char*, 8> kEndings = {".mp4", ".mov", ".m4v", ".mkv", ".avi", ".webm", ".mts", ".3gp"};
  const std::string e = Ending(name);
  return std::any_of(kEndings.begin(), kEndings.end(), [&](const char* k) { return e == k; });
}

bool IsResultName(const std::string& name) {
  return Ending(name) == ".json" && !name.ends_with(".scenario.json") && !name.ends_with(".truth.json") &&
         !name.ends_with(".corrections.json");
}

std::vector<ChooserEntry> EntriesOf(const std::string& folder, std::string* trouble) {
  std::vector<ChooserEntry> folders, files;
  std::error_code error;
  trouble->clear();
  for (fs::directory_iterator it(folder, fs::directory_options::skip_permission_denied, error), end;
       !error && it != end; it.increment(error)) {
    const std::string name = it->path().filename().string();
    if (name.empty() || name[0] == '.') continue;
    std::error_code ignored;
    if (it->is_directory(ignored)) {
      folders.push_back({name, it->path().string(), true});
    } else if (IsClipName(name) || IsResultName(name)) {
      files.push_back({name, it->path().string(), false});
    }
  }
  if (error) *trouble = "This folder cannot be read (" + error.message() + ").";
  const auto by_name = [](const ChooserEntry& a, const ChooserEntry& b) { return a.name < b.name; };
  std::sort(folders.begin(), folders.end(), by_name);
  std::sort(files.begin(), files.end(), by_name);
  folders.insert(folders.end(), files.begin(), files.end());
  return folders;
}

void FileChooser::Open(const std::string& folder) {
  open_ = just_opened_ = true;
  std::error_code ignored;
  const char* home = std::getenv("HOME");
  Enter(fs::is_directory(folder, ignored) ? folder : home ? home : "/");
}

void FileChooser::Enter(const std::string& folder) {
  folder_ = typed_ = folder;
  entries_ = EntriesOf(folder, &trouble_);
  taken_.assign(entries_.size(), false);
}

std::vector<std::string> FileChooser::Draw(const Style& style) {
  std::vector<std::string> chosen;
  if (!open_) return chosen;
  constexpr const char* kTitle = "Open clips or result files";
  if (just_opened_) ImGui::OpenPopup(kTitle);
  just_opened_ = false;
  const ImVec2 screen = ImGui::GetIO().DisplaySize;
  const float em = style.em;
  ImGui::SetNextWindowPos({screen.x / 2, screen.y / 2}, ImGuiCond_Always, {0.5f, 0.5f});
  ImGui::SetNextWindowSize({std::min(48 * em, screen.x - 2 * em), std::min(34 * em, screen.y - 2 * em)});
  if (!ImGui::BeginPopupModal(kTitle, &open_, ImGuiWindowFlags_NoResize | ImGuiWindowFlags_NoMove)) return chosen;
  if (ImGui::Button("Folder above")) Enter(fs::path(folder_).parent_path().string());
  ImGui::SameLine();
  ImGui::SetNextItemWidth(-1);
  if (ImGui::InputText("##folder", &typed_, ImGuiInputTextFlags_EnterReturnsTrue)) {
    std::error_code ignored;
    if (fs::is_directory(typed_, ignored)) {
      Enter(std::string(typed_));
    } else if (fs::is_regular_file(typed_, ignored)) {
      chosen.push_back(typed_);
    } else {
      trouble_ = "There is no such folder or file; check its name.";
    }
  }
  const float foot = ImGui::GetFrameHeightWithSpacing() + ImGui::GetTextLineHeightWithSpacing();
  std::optional<std::string> enter;
  if (ImGui::BeginChild("list", {0, -foot}, true)) {
    if (entries_.empty() && trouble_.empty()) QuietText(style, "No folders, clips or result files here.");
    for (std::size_t i = 0; i < entries_.size(); ++i) {
      const ChooserEntry& e = entries_[i];
      const std::string label = (e.folder ? e.name + "/" : e.name) + "##" + std::to_string(i);
      if (e.folder) {
        ImGui::PushStyleColor(ImGuiCol_Text, style.quiet);
        if (ImGui::Selectable(label.c_str(), false)) enter = e.path;
        ImGui::PopStyleColor();
      } else if (ImGui::Selectable(label.c_str(), taken_[i],
                                   ImGuiSelectableFlags_AllowDoubleClick | ImGuiSelectableFlags_DontClosePopups)) {
        taken_[i] = !taken_[i];
        if (ImGui::IsMouseDoubleClicked(0)) chosen.push_back(e.path);
      }
    }
  }
  ImGui::EndChild();
  const auto count = std::count(taken_.begin(), taken_.end(), true);
  QuietText(style, !trouble_.empty() ? trouble_
                   : count == 0      ? std::string("Click files to take them, a folder to enter it.")
                                     : std::to_string(count) + (count == 1 ? " file taken." : " files taken."));
  if (ImGui::Button("Take all clips")) {
    for (std::size_t i = 0; i < entries_.size(); ++i) taken_[i] = !entries_[i].folder && IsClipName(entries_[i].name);
  }
  ImGui::SameLine();
  ImGui::BeginDisabled(count == 0);
  const bool open = ImGui::Button("Open") || (count > 0 && ImGui::IsKeyPressed(ImGui::GetKeyIndex(ImGuiKey_Enter)));
  ImGui::EndDisabled();
  if (open && chosen.empty()) {
    for (std::size_t i = 0; i < entries_.size(); ++i) {
      if (taken_[i]) chosen.push_back(entries_[i].path);
    }
  }
  ImGui::SameLine();
  if (ImGui::Button("Cancel") || ImGui::IsKeyPressed(ImGui::GetKeyIndex(ImGuiKey_Escape))) open_ = false;
  if (!chosen.empty()) open_ = false;
  if (!open_) ImGui::CloseCurrentPopup();
  ImGui::EndPopup();
  if (enter) Enter(std::string(*enter));
  return chosen;
}

}  // namespace hookline::viewer
