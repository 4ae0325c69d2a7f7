// The page a student takes home, as a description: words, tables, figures and pictures, all figures already rounded by
// number_text.h. One description becomes HTML (page_html.h) and PDF (pdf_page.h), so their figures cannot differ.
#pragma once

#include <string>
#include <vector>

#include "model/advice.h"
#include "model/shot.h"
#include "report/page_figure.h"

namespace hookline::report {

struct PagePicture {
  std::string jpeg;  // a JPEG file's content
  int width = 0, height = 0;
  std::string alt;      // what it shows, for who cannot see it
  std::string caption;  // below it
};

// A figure with its doubt, or a dash with the reason why there is none.
struct PageRow {
  std::string name;
  std::string value, doubt;  // "12.0", "0.1"; both empty when not given
  std::string unit;
  std::string reason;  // when not given
};

struct PageTable {
  std::string title;
  std::vector<PageRow> rows;
};

// A row a shot; cells in the order of the heads.
struct PageOverview {
  struct Cell {
    std::string value, doubt;  // empty: not given
  };
  struct Row {
    std::string name;
    std::vector<Cell> cells;
  };
  std::vector<std::string> heads, units;
  std::vector<Row> rows;
};

struct PageAdvice {
  std::string head;  // "Shot 3", "Next move"
  std::string text;
  std::string sure;  // "93 % sure"; empty where the text itself says its doubt
};

struct PageShot {
  std::string title;                  // "Shot 3"
  std::string line;                   // hand, bowler, ball, plan
  std::vector<std::string> in_words;  // sentences for a glance
  std::vector<PagePicture> pictures;
  std::string no_picture;  // why there is none
  PageFigure lane;         // from above
  std::vector<PageFigure> plots;
  std::string no_plots;  // why there are none
  std::vector<PageTable> tables;
};

struct Page {
  std::string title, subtitle;
  PageOverview overview;  // empty for a single shot
  PageFigure lane;        // all shots from above; empty for a single shot
  std::vector<PageAdvice> advice;
  std::vector<PageShot> shots;
  std::vector<std::string> how_to_read, cautions, warnings;
  std::string maker;  // "Made by Hookline on this computer ..."
};

// Pictures of one shot, or why there are none.
struct ShotPictures {
  std::vector<PagePicture> pictures;
  std::string reason;
};

struct PageInput {
  std::string title;                   // empty: made from what the shots say
  std::vector<Shot> shots;             // one session in order, with rising numbers
  std::vector<double> lane_width;      // m, one a shot
  std::vector<ShotPictures> pictures;  // one a shot, or empty
  Advice advice;                       // of these shots
  std::vector<std::string> warnings;   // of the result files
};

Page DescribePage(const PageInput& input);

// Charts of the page (page_charts.cc). Boards count from the edge of the hand of the first shot.
PageFigure LaneFigure(const std::vector<const Shot*>& shots, const std::vector<double>& lane_width, bool strong_last);
std::vector<PageFigure> PlotsOf(const Shot& shot, double lane_width);

}  // namespace hookline::report
