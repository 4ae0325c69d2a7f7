#include "viewer/app.h"

#include <imgui.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "core/whole_file.h"
#include "viewer/cut_content.h"

namespace hookline::viewer {

Result<std::unique_ptr<App>> App::Start(const AppOptions& options) {
  Settings settings = ReadSettings(SettingsFile());
  if (options.theme) settings.theme = *options.theme;
  if (options.font_scale) settings.font_scale = *options.font_scale;
  if (options.width) settings.width = *options.width;
  if (options.height) settings.height = *options.height;
  WindowOptions window;
  window.width = settings.width;
  window.height = settings.height;
  window.theme = settings.theme;
  window.font_scale = settings.font_scale;
  auto opened = Window::Open(window);
  if (!opened.ok()) return opened.status();
  std::unique_ptr<App> app(new App(options, std::move(*opened), settings));
  for (Pane& pane : app->panes_) {
    auto video = VideoView::Make();
    if (!video.ok()) return video.status();
    pane.video = std::move(*video);
  }
  auto saved = SavedWork::Open(WorkFolder());
  if (saved.ok()) {
    app->saved_ = std::move(*saved);
    app->notice_ = app->saved_->notice();
    // All at once: the list is saved again at the end, and what is not on the desk by then is forgotten.
    std::vector<std::string> files;
    for (const SavedClip& clip : app->saved_->clips()) files.push_back(clip.file);
    app->OpenFiles(files);
  } else {
    app->notice_ = saved.status().sentence();
  }
  app->OpenFiles(options.files);
  return app;
}

App::App(const AppOptions& options, std::unique_ptr<Window> window, Settings settings)
    : options_(options),
      window_(std::move(window)),
      settings_(std::move(settings)),
      queue_(Poster()),
      refits_(Poster()),
      advice_maker_(Poster()),
      lane_panel_(Poster()),
      export_(Poster()),
      pair_(Poster()),
      clip_(Poster()) {}

App::~App() {
  queue_.CancelAll();
  refits_.CancelAll();
  window_->GetSize(&settings_.width, &settings_.height);
  WriteSettings(SettingsFile(), settings_);
}

// The players' threads wake the window for each picture they have decoded; whether one of them is to be shown the
// main thread says. What the others post is worth a frame each.
std::function<void()> App::Waker() {
  return [window = window_.get()] { window->Wake(); };
}
std::function<void()> App::Poster() {
  return [window = window_.get()] { window->Post([] {}); };
}

double App::Now() const {
  return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

void App::Run() {
  double wait = 0;
  bool moved = false;
  while (window_->Wait(wait)) {
    TakeNews();
    SettlePanes();
    Keys();  // before the frame, so that a step is in it
    const bool asked = asked_at_.has_value();
    moved = Tick() || moved;
    const bool settled = panes_[0].player && panes_[0].player->settled();
    if (moved || window_->wants_frame()) {
      window_->BeginFrame();
      places_drawn_.clear();
      Draw();
      places_ = places_drawn_;
      window_->EndFrame();
      ++frames_;
      if (asked && asked_at_ && settled) {
        settle_ms_ = (Now() - *asked_at_) * 1000;
        ++settles_;
        asked_at_.reset();
      }
      moved = Tick();  // what keys and clicks asked for is wanted at once
      WriteState();
    }
    if (closing_) break;
    const std::optional<double> next = panes_[0].player ? panes_[0].player->NextTick(Now()) : std::nullopt;
    wait = moved ? 0 : next ? std::max(0.0005, panes_[1].player ? std::min(*next, 1.0 / 60) : *next) : -1;
  }
}

bool App::Tick() {
  const double now = Now();
  bool moved = false;
  if (Player* p = panes_[0].player.get()) moved = p->Tick(now) || moved;
  if (Player* p = panes_[1].player.get()) {
    if (const auto clock = Compared(); clock && panes_[0].player)
      p->Follow(clock->TimeIn(1, clock->PositionOf(0, panes_[0].player->position_s())), panes_[0].player->playing(),
                now);
    moved = p->Tick(now) || moved;
  }
  for (Pane& pane : panes_) {
    if (pane.player) pane.video->Upload(pane.player->shown(), pane.player->form(), pane.player->info());
  }
  return moved;
}

std::optional<CompareClock> App::Compared() const {
  if (tab_ != Tab::kCompare) return std::nullopt;
  const CompareState& state = compare_panel_.state();
  if (!state.first || !state.second || state.first == state.second) return std::nullopt;
  const std::vector<ShownShot> shots = ShownShots(desk_);
  const auto find = [&](int id) {
    return std::find_if(shots.begin(), shots.end(), [id](const ShownShot& s) { return s.id == id; });
  };
  const auto first = find(state.first), second = find(state.second);
  if (first == shots.end() || second == shots.end()) return std::nullopt;
  return CompareClock::Make(*first, *second, state.in_step);
}

void App::SettlePanes() {
  int wanted[2] = {desk_.clip_on_show.value_or(0), 0};
  if (Compared()) {
    const CompareState& state = compare_panel_.state();
    wanted[0] = FindShot(desk_, state.first)->clip;
    if (!state.lay_over) wanted[1] = FindShot(desk_, state.second)->clip;
  }
  for (int i = 0; i < 2; ++i) {
    Pane& pane = panes_[i];
    if (pane.clip == wanted[i]) continue;
    pane.clip = wanted[i];
    pane.player.reset();
    if (i == 0) StopAdding();
    pane.picture.ZoomOff();
    const DeskClip* clip = wanted[i] ? FindClip(desk_, wanted[i]) : nullptr;
    if (!clip || clip->state == ClipState::kOnlyNumbers) continue;
    pane.player = std::make_unique<Player>(clip->file, Waker());
    pane.player->SetRate(rate_, Now());
    window_->AskForFrames();
  }
}

void App::TakeNews() {
  for (MeasureQueue* queue : {&queue_, &refits_}) {
    for (const MeasureQueue::Done& done : queue->TakeDone()) {
      DeskClip* clip = FindClip(desk_, done.id);
      if (!clip) continue;
      if (done.status.ok()) {
        PutRun(desk_, done.id, done.base, done.run);
        dragged_lane_.reset();
      } else if (queue == &refits_) {
        notice_ = done.status.sentence();
        dragged_lane_.reset();
      } else {
        clip->state = done.status.code() == StatusCode::kStopped ? ClipState::kStopped : ClipState::kFailed;
        clip->note =
            done.status.code() == StatusCode::kStopped ? "Not measured: it was stopped." : done.status.sentence();
      }
    }
  }
  if (const auto now = queue_.Now()) {
    if (DeskClip* clip = FindClip(desk_, now->id)) {
      clip->state = ClipState::kMeasuring;
      clip->stage = now->stage;
      clip->share = now->share;
    }
  }
  if (auto made = advice_maker_.Take(); made && made->version == desk_.version) {
    desk_.advice = std::move(made->advice);
    desk_.advice_made = true;
  }
  if (advice_asked_ != desk_.version && !desk_.shots.empty()) {
    advice_asked_ = desk_.version;
    advice_maker_.Ask(SessionOf(desk_), desk_.version);
  }
  const std::vector<std::string> dropped = window_->TakeDropped();
  if (!dropped.empty()) OpenFiles(dropped);
}

void App::OpenFiles(const std::vector<std::string>& files) {
  bool first = true;
  for (const std::string& file : files) {
    std::error_code ignored;
    if (std::filesystem::is_directory(file, ignored)) {
      std::string trouble;
      std::vector<std::string> inside;
      for (const ChooserEntry& e : EntriesOf(file, &trouble)) {
        if (!e.folder && IsClipName(e.name)) inside.push_back(e.path);
      }
      OpenFiles(inside);
      if (!trouble.empty()) notice_ = trouble;
      continue;
    }
    int id = 0;
    if (IsResultName(file)) {
      auto added = AddResultFile(desk_, file);
      if (!added.ok()) {
        notice_ = added.status().sentence();
        continue;
      }
      id = *added;
    } else {
      const std::size_t before = desk_.clips.size();
      id = AddClip(desk_, file);
      if (desk_.clips.size() > before) {
        DeskClip* clip = FindClip(desk_, id);
        if (saved_) {
          for (const SavedClip& listed : saved_->clips()) {
            if (listed.file == clip->file) clip->options = listed.options;
          }
          const SavedClip kept = saved_->Opened(clip->file, clip->options);
          clip->options = kept.options;
          clip->edits = Edits(kept.corrections);
          if (const auto words = kept.kept.find("words"); words != kept.kept.end()) clip->words = words->second;
        }
        QueueClip(id, false);
      }
    }
    if (first) ShowClip(desk_, id);
    first = false;
  }
  if (!files.empty()) SaveList();
  window_->AskForFrames();
}

void App::QueueClip(int id, bool again) {
  DeskClip* clip = FindClip(desk_, id);
  if (!clip) return;
  clip->state = ClipState::kWaiting;
  clip->note.clear();
  MeasureJob job;
  job.id = id;
  job.file = clip->file;
  job.options = clip->options;
  job.corrections = clip->edits.now();
  if (saved_) {
    SavedWork* saved = saved_.get();
    if (!again) job.load = [saved, file = job.file, o = job.options] { return saved->LoadRun(file, o); };
    // A run that cannot be kept is measured again next time; that is all.
    job.keep = [saved, file = job.file, o = job.options](const pipeline::ClipRun& run) {
      static_cast<void>(saved->SaveRun(file, o, run));
    };
  }
  queue_.Add(std::move(job));
}

void App::Refit(int id) {
  DeskClip* clip = FindClip(desk_, id);
  if (!clip || !clip->base) return;
  MeasureJob job;
  job.id = id;
  job.file = clip->file;
  job.options = clip->options;
  job.corrections = clip->edits.now();
  job.base = clip->base;
  refits_.Add(std::move(job));
}

void App::SaveList() {
  if (!saved_) return;
  std::vector<SavedClip> list;
  for (const DeskClip& clip : desk_.clips) {
    SavedClip kept;
    kept.file = clip.file;
    kept.options = clip.options;
    kept.corrections = clip.edits.now();
    if (const std::string words = WordsOf(desk_, clip.id); !words.empty()) kept.kept["words"] = words;
    list.push_back(std::move(kept));
  }
  if (Status s = saved_->Save(list); !s.ok()) notice_ = s.sentence();
}

void App::WriteState() {
  if (options_.state_file.empty()) return;
  using Json = nlohmann::ordered_json;
  constexpr const char* kStates[] = {"waiting", "measuring", "measured", "failed", "stopped", "only numbers"};
  constexpr const char* kTabs[] = {"shots", "lane", "plots", "advice", "compare", "clips"};
  Json j;
  for (const DeskClip& clip : desk_.clips) {
    j["clips"].push_back({{"file", FileName(clip.file)},
                          {"state", kStates[static_cast<int>(clip.state)]},
                          {"note", clip.note},
                          {"hand", !clip.options.hand                        ? "as seen"
                                   : *clip.options.hand == lane::Hand::kLeft ? "left"
                                                                             : "right"},
                          {"corrections", clip.edits.now().lane_marks.size() + clip.edits.now().shots.size()}});
  }
  for (const DeskShot& shot : desk_.shots) {
    Json s = {{"id", shot.id}, {"number", shot.shot.number}, {"ball", shot.shot.ball}};
    for (std::size_t i = 0; i < kMeasureCount; ++i) {
      const Measure& m = shot.shot.measures.all[i];
      s[std::string(kMeasureTable[i].key)] = m.value ? Json(*m.value) : Json();
    }
    j["shots"].push_back(std::move(s));
  }
  j["shot_on_show"] = desk_.shot_on_show.value_or(0);
  j["chosen"] = desk_.chosen;
  for (const Pane& pane : panes_) {
    if (!pane.player) continue;
    const Player& p = *pane.player;
    Json one = {{"clip", pane.clip},
                {"ready", p.phase() == ClipPhase::kReady},
                {"frames", p.times_s().size()},
                {"playing", p.playing()},
                {"rate", p.rate()},
                {"position_s", p.position_s()},
                {"wanted", p.wanted()},
                {"shown", p.shown() ? p.shown()->index : -1},
                {"uploads", pane.video->uploads()}};
    if (pane.picture.map()) {
      const Eigen::Vector4d r = pane.picture.map()->window_rect();
      one["picture"] = {r[0], r[1], r[2], r[3]};
      one["scale"] = pane.picture.map()->scale();
    }
    j["panes"].push_back(std::move(one));
  }
  for (const PictureHandle& h : HandlesNow()) {
    if (!panes_[0].picture.map()) break;
    const Eigen::Vector2d w = panes_[0].picture.map()->WindowFromPicture(h.at);
    j["handles"][h.name] = {w.x(), w.y()};
  }
  j["settle_ms"] = settle_ms_;
  j["settles"] = settles_;
  j["tab"] = kTabs[static_cast<int>(tab_)];
  j["theme"] = settings_.theme == Theme::kLight ? "light" : "dark";
  j["correcting"] = correcting_;
  j["help"] = help_.open();
  j["chooser"] = chooser_.open();
  j["advice_made"] = desk_.advice_made;
  j["notice"] = notice_;
  const PageExport::News page = export_.work().Look();
  j["export"] = {{"open", export_.open()},
                 {"busy", page.busy},
                 {"done", page.done},
                 {"ok", page.done && page.status.ok()},
                 {"sentence", page.status.sentence()}};
  const auto writing = [](bool open, const SideJob::News& news) {
    return Json{{"open", open},
                {"busy", news.busy},
                {"ok", news.done && news.status.ok()},
                {"sentence", news.status.sentence()}};
  };
  j["pair"] = writing(pair_.open(), pair_.work().Look());
  j["clip"] = writing(clip_.open(), clip_.work().Look());
  j["library"] = {{"open", library_.open()}, {"sessions", library_.sessions().size()}, {"said", library_.said()}};
  for (const library::StoredShot& s : library_.shots())
    j["library"]["shots"].push_back(
        {{"number", s.number}, {"arrows_board", s.arrows_board ? Json(*s.arrows_board) : Json()}});
  const ShotCorrection* added = AddedShot();
  j["adding"] = {{"on", adding_}, {"places", added ? added->sights.size() : 0}};
  for (const auto& [name, r] : places_) j["places"][name] = r;
  j["cut"] = Json::object();
  for (const CutContent& c : FindCutContent()) j["cut"][c.where] = c.px;
  std::string text = j.dump();
  // The count changes with every frame and is no news by itself.
  if (text == state_written_) return;
  state_written_ = std::move(text);
  j["frames_drawn"] = frames_;
  static_cast<void>(WriteWholeFile(options_.state_file, j.dump(1)));
}

}  // namespace hookline::viewer
