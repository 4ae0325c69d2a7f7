#include "viewer/cut_content.h"

#include <imgui_internal.h>

#include <algorithm>

namespace hookline::viewer {
namespace {

// Positions are rounded to whole pixels here and there.
constexpr float kRounding = 1.5f;

// "all/side_1234ABCD/panel_5678" -> "all/side/panel".
std::string PlainName(const char* name) {
  std::string out;
  for (const char* c = name; *c != 0; ++c) {
    if (*c == '_') {
      while (c[1] != 0 && c[1] != '/') ++c;
    } else {
      out += *c;
    }
  }
  return out;
}

void Note(std::vector<CutContent>* cut, const std::string& where, float px) {
  if (px > kRounding) cut->push_back({where, px});
}

void LookAtWindow(const ImGuiWindow& w, const ImVec2& screen, std::vector<CutContent>* cut) {
  const std::string name = PlainName(w.Name);
  const ImVec2 most = w.DC.CursorMaxPos;
  if (!(w.Flags & ImGuiWindowFlags_HorizontalScrollbar)) Note(cut, name + ", to the right", most.x - w.WorkRect.Max.x);
  if (w.Flags & ImGuiWindowFlags_NoScrollbar) Note(cut, name + ", below", most.y - w.WorkRect.Max.y);
  if (w.ParentWindow && !(w.Flags & ImGuiWindowFlags_Popup)) return;
  Note(cut, name + ", past the screen",
       std::max({-w.Pos.x, -w.Pos.y, w.Pos.x + w.Size.x - screen.x, w.Pos.y + w.Size.y - screen.y}));
}

void LookAtTable(ImGuiTable& table, std::vector<CutContent>* cut) {
  for (int i = 0; i < table.ColumnsCount; ++i) {
    const ImGuiTableColumn& c = table.Columns[i];
    if (!c.IsEnabled) continue;
    const char* said = c.NameOffset >= 0 ? table.ColumnsNames.Buf.Data + c.NameOffset : "";
    std::string name =
        PlainName(table.OuterWindow->Name) + ", column \"" + std::string(said, ImGui::FindRenderedTextEnd(said)) + "\"";
    std::replace(name.begin(), name.end(), '\n', ' ');
    const float head = table.IsUsingHeaders ? c.ContentMaxXHeadersIdeal : c.WorkMaxX;
    // What is scrolled away was not laid out.
    if (c.IsVisibleX) Note(cut, name, std::max({c.ContentMaxXFrozen, c.ContentMaxXUnfrozen, head}) - c.WorkMaxX);
    Note(cut, name + ", out of sight", c.WorkMaxX - table.InnerClipRect.Max.x);
  }
}

}  // namespace

std::vector<CutContent> FindCutContent() {
  std::vector<CutContent> cut;
  ImGuiContext& g = *ImGui::GetCurrentContext();
  for (const ImGuiWindow* w : g.Windows) {
    if (w->Active && !w->Hidden && !(w->Flags & ImGuiWindowFlags_Tooltip)) LookAtWindow(*w, g.IO.DisplaySize, &cut);
  }
  for (int i = 0; i < g.Tables.GetMapSize(); ++i) {
    if (ImGuiTable* table = g.Tables.TryGetMapData(i); table && table->LastFrameActive == g.FrameCount)
      LookAtTable(*table, &cut);
  }
  for (int i = 0; i < g.TabBars.GetMapSize(); ++i) {
    const ImGuiTabBar* bar = g.TabBars.TryGetMapData(i);
    if (!bar || bar->CurrFrameVisible != g.FrameCount) continue;
    for (const ImGuiTabItem& tab : bar->Tabs)
      Note(&cut, std::string("tab ") + bar->GetTabName(&tab), tab.ContentWidth - tab.Width);
  }
  return cut;
}

}  // namespace hookline::viewer
