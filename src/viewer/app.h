// The window's program: owns the desk, the players, the panels and the threads beside them, hands each panel what it
// needs and carries out what its events ask for. app.cc runs it, app_layout.cc lays the panels out, app_actions.cc does
// what keys and events ask for.
#pragma once

#include <array>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/status.h"
#include "viewer/actions.h"
#include "viewer/advice_maker.h"
#include "viewer/advice_panel.h"
#include "viewer/clip_sheet.h"
#include "viewer/compare_panel.h"
#include "viewer/desk.h"
#include "viewer/export_sheet.h"
#include "viewer/file_chooser.h"
#include "viewer/help_sheet.h"
#include "viewer/lane_panel.h"
#include "viewer/library_sheet.h"
#include "viewer/measure_queue.h"
#include "viewer/pair_sheet.h"
#include "viewer/picture_panel.h"
#include "viewer/player.h"
#include "viewer/plots_panel.h"
#include "viewer/saved_work.h"
#include "viewer/settings.h"
#include "viewer/shots_panel.h"
#include "viewer/timeline_panel.h"
#include "viewer/video_view.h"
#include "viewer/window.h"

namespace hookline::viewer {

struct AppOptions {
  std::vector<std::string> files;
  std::optional<int> width, height;  // of the window, instead of the remembered ones
  std::optional<Theme> theme;
  std::optional<float> font_scale;
  // For tests: what the window shows is written here whenever it changes, as JSON.
  std::string state_file;
};

class App {
 public:
  static Result<std::unique_ptr<App>> Start(const AppOptions& options);
  ~App();
  // Until the window is closed.
  void Run();

 private:
  // A clip on show: its player and its picture.
  struct Pane {
    int clip = 0;  // 0: none
    std::unique_ptr<Player> player;
    std::unique_ptr<VideoView> video;
    PicturePanel picture;
  };
  enum class Tab { kShots, kLane, kPlots, kAdvice, kCompare, kClips };

  App(const AppOptions& options, std::unique_ptr<Window> window, Settings settings);

  // app.cc
  double Now() const;
  bool Tick();
  void TakeNews();
  void SettlePanes();
  void OpenFiles(const std::vector<std::string>& files);
  void QueueClip(int clip, bool again);
  void Refit(int clip);
  void SaveList();
  void WriteState();
  std::optional<CompareClock> Compared() const;
  std::function<void()> Waker();
  std::function<void()> Poster();

  // app_actions.cc
  void Keys();
  void Do(Action action);
  void JumpTo(Mark mark);
  void ShowEvidence(const Evidence& evidence);
  void WritePair();
  void OtherShot(int by);
  void DragHandle(const HandleDrag& drag);
  void AddBall(const Eigen::Vector2d& p_in_frame);
  void StopAdding() { adding_at_.reset(), adding_ = false; }
  const ShotCorrection* AddedShot() const;
  void AfterEdit();
  std::vector<PictureHandle> HandlesNow() const;
  std::optional<ShotSpan> SpanNow() const;
  std::optional<double> MarkTime(const DeskShot& shot, Mark mark) const;
  void SetRate(double rate);

  // app_layout.cc
  void Draw();
  void DrawTopBar();
  void DrawPictures(float width, float height);
  void DrawPane(Pane& pane, int index, float width, float height);
  void DrawTransport();
  void DrawCorrecting();
  void DrawSide();
  void DrawClips();
  void DrawStatus();
  void Place(const std::string& name);  // remembers where the last item is, for tests

  AppOptions options_;
  // Declared first, goes last: threads wake it.
  std::unique_ptr<Window> window_;
  Settings settings_;
  Desk desk_;
  std::unique_ptr<SavedWork> saved_;
  std::string notice_;  // one sentence in the status line
  MeasureQueue queue_, refits_;
  AdviceMaker advice_maker_;
  long advice_asked_ = -1;
  Pane panes_[2];
  int pane_focused_ = 0;
  ShotsPanel shots_panel_;
  LanePanel lane_panel_;
  PlotsPanel plots_panel_;
  AdvicePanel advice_panel_;
  ComparePanel compare_panel_;
  TimelinePanel timeline_;
  FileChooser chooser_;
  HelpSheet help_;
  ExportSheet export_;
  PairSheet pair_;
  ClipSheet clip_;
  LibrarySheet library_;
  Tab tab_ = Tab::kShots;
  std::optional<Tab> tab_wanted_;
  DrawnParts drawn_;
  bool drawings_ = true, straighten_ = false, correcting_ = false;
  double rate_ = 1;
  int gesture_ = 0;
  float transport_height_ = 0;  // of its rows of buttons in the frame before, px
  // A shot that was missed is being added by clicks on its ball; its time once the first was made.
  bool adding_ = false;
  std::optional<double> adding_at_;
  std::optional<LaneSetup> dragged_lane_;  // while a mark is dragged
  std::optional<std::pair<std::string, Eigen::Vector2d>> dragged_;
  std::map<std::string, std::array<float, 4>> places_, places_drawn_;
  std::string state_written_;
  long frames_ = 0;
  // From a step or jump until its picture was drawn.
  std::optional<double> asked_at_;
  double settle_ms_ = 0;
  long settles_ = 0;
  bool closing_ = false;
};

}  // namespace hookline::viewer
