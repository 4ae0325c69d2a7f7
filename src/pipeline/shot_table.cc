#include "pipeline/shot_table.h"

#include <algorithm>
#include <array>
#include <map>

#include "model/measures.h"

namespace hookline::pipeline {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::array<const char*, 4> kTargets = {"arrows_board", "breakpoint_board", "stance_board", "target_board"};
constexpr std::array<const char*, 6> kTexts = {"ball", "plan", "result", "notes", "hand", "hand_source"};

std::string Quoted(const std::string& cell) {
  if (cell.find_first_of(",;\"\r\n") == std::string::npos) return cell;
  std::string quoted = "\"";
  for (const char c : cell) quoted += c == '"' ? "\"\"" : std::string(1, c);
  return quoted + "\"";
}

std::string Line(const std::vector<std::string>& cells) {
  std::string row;
  for (std::size_t i = 0; i < cells.size(); ++i) row += (i ? "," : "") + Quoted(cells[i]);
  return row + "\r\n";
}

// Numbers as the document has them, to the last digit.
std::string Cell(const Json& j, const char* key) {
  const auto it = j.find(key);
  if (it == j.end() || it->is_null()) return {};
  return it->is_string() ? it->get<std::string>() : it->dump();
}

// Rows of cells. Quoted cells may hold anything; a byte order mark is passed over.
std::vector<std::vector<std::string>> Cells(const std::string& text, char between) {
  std::vector<std::vector<std::string>> rows(1);
  std::string cell;
  bool quoted = false;
  std::size_t i = text.starts_with("\xEF\xBB\xBF") ? 3 : 0;
  for (; i < text.size(); ++i) {
    const char c = text[i];
    if (quoted) {
      if (c != '"') {
        cell += c;
      } else if (i + 1 < text.size() && text[i + 1] == '"') {
        cell += '"';
        ++i;
      } else {
        quoted = false;
      }
    } else if (c == '"' && cell.empty()) {
      quoted = true;
    } else if (c == between) {
      rows.back().push_back(std::move(cell));
      cell.clear();
    } else if (c == '\n') {
      rows.back().push_back(std::move(cell));
      cell.clear();
      rows.emplace_back();
    } else if (c != '\r') {
      cell += c;
    }
  }
  if (!cell.empty() || !rows.back().empty()) rows.back().push_back(std::move(cell));
  std::erase_if(rows, [](const auto& row) {
    return std::all_of(row.begin(), row.end(), [](const std::string& cell_) { return cell_.empty(); });
  });
  return rows;
}

}  // namespace

std::string ShotTableHead() {
  std::vector<std::string> head = {"bowler",           "place",    "lane", "day", "number", "clip", "clip_shot",
                                   "clip_fingerprint", "clip_size"};
  for (const char* key : kTexts) head.emplace_back(key);
  for (const char* key : kTargets) head.push_back(std::string("target_") + key);
  for (const MeasureInfo& info : kMeasureTable)
    for (const char* end : {"", "_sd", "_reason"}) head.push_back(std::string(info.key) + end);
  head.emplace_back("rest");
  return Line(head);
}

std::string ShotTableRow(const ShotRow& row) {
  Json rest = row.shot;
  std::vector<std::string> cells = {
      row.session.bowler,       row.session.place,          row.session.lane,
      row.session.day,          std::to_string(row.number), row.clip,
      Cell(row.shot, "number"), row.clip_fingerprint,       row.clip_size ? std::to_string(*row.clip_size) : ""};
  for (const char* key : kTexts) cells.push_back(Cell(row.shot, key));
  const Json target = row.shot.value("target", Json::object());
  for (const char* key : kTargets) cells.push_back(Cell(target, key));
  const Json measures = row.shot.value("measures", Json::object());
  for (const MeasureInfo& info : kMeasureTable) {
    const Json m = measures.value(std::string(info.key), Json::object());
    for (const char* key : {"value", "sd", "reason"}) cells.push_back(Cell(m, key));
  }
  // What has a column leaves its place only, so that the document comes together again in its order.
  for (const char* key : {"number", "hand", "hand_source", "measures"})
    if (rest.contains(key)) rest[key] = nullptr;
  for (const char* key : {"ball", "plan", "result", "notes", "target"}) rest.erase(key);
  cells.push_back(rest.dump(-1, ' ', false, Json::error_handler_t::replace));
  return Line(cells);
}

Result<std::vector<ShotRow>> ReadShotTable(const std::string& text, const std::string& file) {
  const auto bad = [&](const std::string& what) { return Status(StatusCode::kBadFile, file + ": " + what); };
  const std::string first = text.substr(0, text.find('\n'));
  const char between =
      std::count(first.begin(), first.end(), ';') > std::count(first.begin(), first.end(), ',') ? ';' : ',';
  const auto rows = Cells(text, between);
  std::map<std::string, std::size_t> at;
  if (!rows.empty())
    for (std::size_t i = 0; i < rows.front().size(); ++i) at[rows.front()[i]] = i;
  for (const char* needed : {"bowler", "day", "clip", "clip_shot"})
    if (!at.contains(needed))
      return bad(std::string("this is no table that `hookline library export` wrote (it has no column \"") + needed +
                 "\").");
  std::vector<ShotRow> out;
  for (std::size_t r = 1; r < rows.size(); ++r) {
    const std::string where = "row " + std::to_string(r + 1) + ": ";
    Status wrong = Status::Ok();
    const auto cell = [&](const std::string& key) {
      const auto it = at.find(key);
      return it != at.end() && it->second < rows[r].size() ? rows[r][it->second] : std::string();
    };
    const auto number = [&](const std::string& key) -> Json {
      std::string t = cell(key);
      if (t.empty()) return nullptr;
      if (between == ';') std::replace(t.begin(), t.end(), ',', '.');
      const Json j = Json::parse(t, nullptr, false);
      if (!j.is_number()) {
        wrong = bad(where + key + " is \"" + t + "\", which is no number.");
        return nullptr;
      }
      return j;
    };
    ShotRow row;
    row.session = {0, cell("bowler"), cell("place"), cell("lane"), cell("day"), 0};
    row.clip = cell("clip");
    row.clip_fingerprint = cell("clip_fingerprint");
    if (const Json n = number("number"); n.is_number()) row.number = n.get<int>();
    if (const Json n = number("clip_size"); n.is_number()) row.clip_size = n.get<std::int64_t>();
    const std::string rest = cell("rest");
    row.shot = rest.empty() ? Json{{"number", nullptr}, {"hand", nullptr}, {"hand_source", nullptr}}
                            : Json::parse(rest, nullptr, false);
    if (row.shot.is_discarded() || !row.shot.is_object())
      return bad(where + "the column \"rest\" is damaged; empty the cell to read the row without it.");
    row.shot["number"] = number("clip_shot");
    for (const char* key : kTexts)
      if (!cell(key).empty()) row.shot[key] = cell(key);
    Json target = Json::object(), measures = Json::object();
    for (const char* key : kTargets)
      if (const Json n = number(std::string("target_") + key); n.is_number()) target[key] = n;
    for (const MeasureInfo& info : kMeasureTable) {
      const std::string key(info.key);
      if (!at.contains(key)) continue;
      const Json value = number(key), sd = number(key + "_sd");
      if (value.is_number() && sd.is_number())
        measures[key] = {{"value", value}, {"sd", sd}};
      else
        measures[key] = {{"value", nullptr}, {"reason", cell(key + "_reason")}};
    }
    row.shot["target"] = std::move(target);
    row.shot["measures"] = std::move(measures);
    if (!wrong.ok()) return wrong;
    out.push_back(std::move(row));
  }
  return out;
}

}  // namespace hookline::pipeline
