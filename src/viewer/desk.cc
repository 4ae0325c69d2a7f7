#include "viewer/desk.h"

#include <algorithm>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <utility>

#include "report/read_result.h"

namespace hookline::viewer {
namespace {

using Json = nlohmann::json;

template <typename T>
auto* Find(T& all, int id) {
  const auto it = std::find_if(all.begin(), all.end(), [id](const auto& one) { return one.id == id; });
  return it == all.end() ? nullptr : &*it;
}

// Shots stand in the order of their clips; numbers count through the session.
void Renumber(Desk& desk) {
  const auto place = [&](int clip) {
    const auto it = std::find_if(desk.clips.begin(), desk.clips.end(), [&](const DeskClip& c) { return c.id == clip; });
    return it - desk.clips.begin();
  };
  std::stable_sort(desk.shots.begin(), desk.shots.end(), [&](const DeskShot& a, const DeskShot& b) {
    return std::pair(place(a.clip), a.in_clip) < std::pair(place(b.clip), b.in_clip);
  });
  int number = 0;
  for (DeskShot& shot : desk.shots) shot.shot.number = ++number;
  std::erase_if(desk.chosen, [&](int id) { return !FindShot(desk, id); });
  if (desk.shot_on_show && !FindShot(desk, *desk.shot_on_show)) desk.shot_on_show.reset();
  if (desk.clip_on_show && !FindClip(desk, *desk.clip_on_show)) desk.clip_on_show.reset();
  if (!desk.clip_on_show && !desk.clips.empty()) ShowClip(desk, desk.clips.front().id);
  ++desk.version;
  desk.advice_made = false;
}

void TakeShots(Desk& desk, const DeskClip& clip) {
  std::vector<DeskShot> old;
  std::copy_if(desk.shots.begin(), desk.shots.end(), std::back_inserter(old),
               [&](const DeskShot& s) { return s.clip == clip.id; });
  std::erase_if(desk.shots, [&](const DeskShot& s) { return s.clip == clip.id; });
  const std::vector<Shot>& shots = clip.result->shots;
  for (std::size_t i = 0; i < shots.size(); ++i) {
    DeskShot shot;
    shot.clip = clip.id;
    shot.in_clip = static_cast<int>(i);
    shot.shot = shots[i];
    const auto before =
        std::find_if(old.begin(), old.end(), [&](const DeskShot& s) { return s.in_clip == shot.in_clip; });
    if (before != old.end()) {
      shot.id = before->id;
      shot.result = before->result;
      shot.notes = before->notes;
      shot.shot.bowler = before->shot.bowler;
      shot.shot.ball = before->shot.ball;
      shot.shot.plan = before->shot.plan;
      shot.shot.target = before->shot.target;
    } else {
      shot.id = desk.next_id++;
    }
    desk.shots.push_back(std::move(shot));
  }
  Renumber(desk);
  if (desk.clip_on_show == clip.id && !desk.shot_on_show) ShowClip(desk, clip.id);
}

// What people say of a shot, by its name in the kept words; for reading and for writing.
template <typename DeskShotOrConst, typename Word, typename Board>
void EachSaid(DeskShotOrConst& s, const Word& word, const Board& board) {
  word("bowler", s.shot.bowler);
  word("ball", s.shot.ball);
  word("plan", s.shot.plan);
  word("result", s.result);
  word("notes", s.notes);
  board("stance", s.shot.target.stance_board);
  board("looked_at", s.shot.target.target_board);
  board("arrows", s.shot.target.arrows_board);
  board("breakpoint", s.shot.target.breakpoint_board);
}

}  // namespace

DeskClip* FindClip(Desk& desk, int id) { return Find(desk.clips, id); }
const DeskClip* FindClip(const Desk& desk, int id) { return Find(desk.clips, id); }
DeskShot* FindShot(Desk& desk, int id) { return Find(desk.shots, id); }
const DeskShot* FindShot(const Desk& desk, int id) { return Find(desk.shots, id); }

std::string FileName(const std::string& path) { return std::filesystem::path(path).filename().string(); }

int AddClip(Desk& desk, const std::string& file) {
  std::error_code ignored;
  const std::filesystem::path whole = std::filesystem::absolute(file, ignored).lexically_normal();
  const std::string name = whole.empty() ? file : whole.string();
  for (const DeskClip& clip : desk.clips) {
    if (clip.file == name) return clip.id;
  }
  DeskClip clip;
  clip.id = desk.next_id++;
  clip.file = name;
  desk.clips.push_back(clip);
  if (!desk.clip_on_show) ShowClip(desk, clip.id);
  return clip.id;
}

Result<int> AddResultFile(Desk& desk, const std::string& file) {
  auto result = report::ReadResult(file);
  if (!result.ok()) return result.status();
  const int id = AddClip(desk, file);
  DeskClip* clip = FindClip(desk, id);
  clip->state = ClipState::kOnlyNumbers;
  clip->result = std::make_shared<const ClipResult>(std::move(*result));
  clip->note = clip->result->no_shot_reason;
  TakeShots(desk, *clip);
  return id;
}

void RemoveClip(Desk& desk, int id) {
  std::erase_if(desk.shots, [id](const DeskShot& s) { return s.clip == id; });
  std::erase_if(desk.clips, [id](const DeskClip& c) { return c.id == id; });
  Renumber(desk);
}

void PutRun(Desk& desk, int id, std::shared_ptr<const pipeline::ClipRun> base,
            std::shared_ptr<const pipeline::ClipRun> run) {
  DeskClip* clip = FindClip(desk, id);
  if (!clip) return;
  clip->base = std::move(base);
  clip->run = run;
  clip->result = std::shared_ptr<const ClipResult>(run, &run->result);
  clip->state = ClipState::kMeasured;
  clip->share = 1;
  clip->note = clip->result->no_shot_reason;
  if (!clip->result->lane_setup && !clip->result->lane_reason.empty()) clip->note = clip->result->lane_reason;
  TakeShots(desk, *clip);
  if (!clip->words.empty()) PutWords(desk, id, std::exchange(clip->words, {}));
}

std::string WordsOf(const Desk& desk, int id) {
  const DeskClip* clip = FindClip(desk, id);
  if (clip && !clip->words.empty()) return clip->words;
  Json all = Json::object();
  for (const DeskShot& s : desk.shots) {
    if (s.clip != id) continue;
    Json j = Json::object();
    const auto word = [&](const char* key, const std::string& text) {
      if (!text.empty()) j[key] = text;
    };
    const auto board = [&](const char* key, const std::optional<double>& value) {
      if (value) j[key] = *value;
    };
    EachSaid(s, word, board);
    if (!j.empty()) all[std::to_string(s.in_clip + 1)] = j;
  }
  return all.empty() ? "" : all.dump();
}

void PutWords(Desk& desk, int id, const std::string& words) {
  const Json all = Json::parse(words, nullptr, false);
  if (!all.is_object()) return;
  bool any = false;
  for (DeskShot& s : desk.shots) {
    if (s.clip != id) continue;
    any = true;
    const auto at = all.find(std::to_string(s.in_clip + 1));
    if (at == all.end() || !at->is_object()) continue;
    const auto word = [&](const char* key, std::string& text) {
      if (at->contains(key) && (*at)[key].is_string()) text = (*at)[key].get<std::string>();
    };
    const auto board = [&](const char* key, std::optional<double>& value) {
      if (at->contains(key) && (*at)[key].is_number()) value = (*at)[key].get<double>();
    };
    EachSaid(s, word, board);
  }
  ++desk.version;
  desk.advice_made = false;
  if (DeskClip* clip = FindClip(desk, id); clip && !any) clip->words = words;
}

void ShowClip(Desk& desk, int id) {
  desk.clip_on_show = id;
  const DeskShot* now = desk.shot_on_show ? FindShot(desk, *desk.shot_on_show) : nullptr;
  if (now && now->clip == id) return;
  desk.shot_on_show.reset();
  for (const DeskShot& shot : desk.shots) {
    if (shot.clip != id) continue;
    ShowShot(desk, shot.id);
    return;
  }
}

void ShowShot(Desk& desk, int id) {
  const DeskShot* shot = FindShot(desk, id);
  if (!shot) return;
  desk.shot_on_show = id;
  desk.clip_on_show = shot->clip;
  // What is on show is among the chosen, so that every panel speaks of it.
  if (std::find(desk.chosen.begin(), desk.chosen.end(), id) == desk.chosen.end()) ChooseOnly(desk, {id});
}

void Choose(Desk& desk, int id, bool chosen) {
  std::erase(desk.chosen, id);
  if (chosen && FindShot(desk, id)) desk.chosen.push_back(id);
}

void ChooseOnly(Desk& desk, const std::vector<int>& shots) {
  desk.chosen.clear();
  for (const int id : shots) Choose(desk, id, true);
}

void Apply(Desk& desk, const TagChange& change) {
  for (const int id : change.shots) {
    DeskShot* s = FindShot(desk, id);
    if (!s) continue;
    switch (change.field) {
      case TagField::kBall:
        s->shot.ball = change.text;
        break;
      case TagField::kPlan:
        s->shot.plan = change.text;
        break;
      case TagField::kResult:
        s->result = change.text;
        break;
      case TagField::kNotes:
        s->notes = change.text;
        break;
      case TagField::kStance:
        s->shot.target.stance_board = change.board;
        break;
      case TagField::kLookedAt:
        s->shot.target.target_board = change.board;
        break;
      case TagField::kArrowsTarget:
        s->shot.target.arrows_board = change.board;
        break;
      case TagField::kBreakpointTarget:
        s->shot.target.breakpoint_board = change.board;
        break;
    }
  }
  ++desk.version;
  desk.advice_made = false;
}

std::vector<ShownShot> ShownShots(const Desk& desk) {
  std::vector<ShownShot> all;
  for (const DeskShot& s : desk.shots) {
    ShownShot shown;
    shown.id = s.id;
    shown.shot = &s.shot;
    shown.name = std::to_string(s.shot.number);
    const auto at = std::find(desk.chosen.begin(), desk.chosen.end(), s.id);
    shown.chosen = at != desk.chosen.end();
    shown.look = static_cast<int>(at - desk.chosen.begin());
    shown.result = s.result;
    shown.notes = s.notes;
    if (desk.advice_made) {
      for (const ShotAdvice& a : desk.advice.shots) {
        if (a.number == s.shot.number) shown.advice = &a;
      }
    }
    if (const DeskClip* clip = FindClip(desk, s.clip)) {
      if (clip->state != ClipState::kOnlyNumbers) shown.clip = FileName(clip->file);
      if (clip->result && clip->result->lane_setup) {
        shown.lane_setup = &*clip->result->lane_setup;
        shown.first_frame = clip->result->first_frame;
      }
    }
    all.push_back(std::move(shown));
  }
  return all;
}

std::vector<Shot> SessionOf(const Desk& desk) {
  std::vector<Shot> shots;
  for (const DeskShot& s : desk.shots) shots.push_back(s.shot);
  return shots;
}

}  // namespace hookline::viewer
