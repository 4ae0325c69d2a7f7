// Plots of speed, board and angle over the distance, the chosen shots together, each with its band of doubt; a cursor
// that follows the play position, another under the pointer.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "viewer/plot_series.h"
#include "viewer/shown_shot.h"
#include "viewer/style.h"

namespace hookline::viewer {

struct PlotsInputs {
  const Style* style = nullptr;
  std::span<const ShownShot> shots;
  std::optional<int> playing;    // id of the shot whose clip is played
  std::optional<double> time_s;  // of that clip
};

// The user wants to see that shot at that time of its clip.
struct SeekWish {
  int shot = 0;
  double time_s = 0;
};

struct PlotsEvents {
  std::optional<SeekWish> seek;
};

class PlotsPanel {
 public:
  // Fills what is left of the current ImGui window.
  PlotsEvents Draw(const PlotsInputs& in);

 private:
  struct Plotted {
    const ShownShot* shot;
    std::vector<PlotSeries> series;  // by kind
  };
  // The series of a shot, worked out anew only when the shot is another than before.
  const std::vector<PlotSeries>& SeriesFor(const ShownShot& shot);
  struct Kept {
    int id = 0;
    std::vector<double> key;
    std::vector<PlotSeries> series;
    bool used = false;
  };
  std::vector<Kept> kept_;
  void DrawPlot(const PlotsInputs& in, PlotKind kind, const std::vector<Plotted>& plotted, float height,
                PlotsEvents* events);
  bool show_[3] = {true, true, true};
  bool bands_ = true;
  std::optional<double> hover_ft_, next_hover_ft_;
};

}  // namespace hookline::viewer
