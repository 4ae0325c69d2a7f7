// A scenario: everything that a made clip holds, in the units of the trade (this is a file's mirror, so an edge of the
// program). The JSON form has exactly these names (docs/scenario-file.md). Frame: docs/conventions.md; feet and inches
// as the names end. Colours are sRGB "#rrggbb".
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "core/status.h"

namespace hookline::synth {

// How the picture is taken and stored.
struct VideoSpec {
  int width = 1280;  // of the displayed picture, px, even
  int height = 720;
  double fps = 60;           // nominal frame rate
  double shutter_s = 0.008;  // exposure of one row
  double readout_s =
      0;  // first row to last row; the row at height (v + 0.5) / H is exposed at pts + (that - 0.5) * readout
  double time_jitter_s = 0;    // largest shift of a frame's time from the even grid
  double dropped_share = 0;    // share of frames missing, 0..0.3
  double noise = 1;            // 1: a phone in a lit hall; 0: none; 3: a dark hall
  double exposure = 1;         // factor on light
  double contrast = 1;         // slope of the tone curve at middle grey, 0.7..1.5
  double warmth = 0;           // white balance error, -1 blue .. 1 orange
  double vignette = 0.15;      // loss of light in the corners, 0..0.6
  double blur_px = 0.5;        // sd of the lens's blur beyond the pixel's own box
  std::string codec = "h264";  // as media::ClipWriterOptions
  int bit_rate_kbps = 0;       // 0: by quality
  int quality = 23;
  int gop = 0;
  int rotation_deg = 0;  // the stored picture is turned, with this display matrix
};

// Where the camera stands and how it moves. It only turns: a rotation R_j in front of the still camera's R.
struct CameraSpec {
  std::array<double, 3> position_ft = {0, -15, 5};
  double yaw_deg = 0;    // to the right
  double pitch_deg = 6;  // downward
  double roll_deg = 0;   // clockwise as seen in the picture's content
  double focal_px = 1000;
  std::array<double, 2> centre_offset_px = {0, 0};  // principal point minus the picture's middle
  double k1 = 0, k2 = 0;
  double shake_deg = 0;                               // rms turn of a hand-held camera, each axis
  double shake_hz = 2.0;                              // where most of the shake lies
  double knock_s = -1;                                // time of a knock against the tripod; < 0: none
  std::array<double, 3> knock_deg = {0, 0, 0};        // yaw, pitch, roll that remain after the knock
  std::array<double, 3> drift_deg_per_s = {0, 0, 0};  // slow turn, yaw, pitch, roll
};

struct LanesSpec {
  double width_in = 41.5;
  std::vector<double> centres_in = {0};  // of every lane, 0 among them
  std::array<double, 7> arrow_tips_ft = {12.5, 13.6, 14.7, 15.8,
                                         14.7, 13.6, 12.5};  // boards 5, 10 .. 35 from the right edge
  std::string arrow_style = "solid";                         // solid, chevron, dart
  double arrow_length_in = 6, arrow_width_in = 1.25;
  double dots_ft = 7;  // row of guide dots
  std::vector<double> dot_boards = {3, 5, 8, 11, 14, 26, 29, 32, 35, 37};
  double dot_diameter_in = 0.75;
  std::vector<double> approach_dot_rows_ft = {-0.25, -12};
  std::vector<double> approach_dot_boards = {5, 10, 15, 20, 25, 30, 35};
  bool range_marks = false;   // stripes on boards 10 and 30, 40 to 43 ft; 15 and 25, 34 to 37 ft
  double foul_line_in = 1.0;  // 3/8 to 1
  std::string foul_line_colour = "#101010";
  std::string mark_colour = "#2a1a10";
  std::string lane_colour = "#d8a868";
  std::string lane_colour_2 = "#c4904e";  // the darker boards
  std::string approach_colour = "#c89858";
  std::string approach_colour_2 = "#b88848";
  double board_contrast = 0.5;  // 0: one sheet; 1: every board apart
  double grain = 0.5;           // strength of the wood's grain
  double gloss = 0.6;           // mirror strength of the lane, 0..1
  double approach_gloss = 0.3;
  double roughness = 0.012;  // rms slope of the lane's waviness, rad
  double gutter_depth_in = 1.875;
  std::string gutter_colour = "#3a3a40";
  double cap_height_in = 0.75;  // of the division strips above the lane
  std::string cap_colour = "#503020";
};

struct HallSpec {
  double left_wall_in = -260, right_wall_in = 260;  // x of the side walls
  double ceiling_ft = 11;
  std::string wall_colour = "#606470";
  std::string wall_style = "plain";  // plain, stripe, panels, brick, dots
  std::string wall_colour_2 = "#805020";
  std::string ceiling_colour = "#303030";
  std::string ceiling_style = "plain";  // plain, tiles, beams
  std::string lamp_style = "panels";    // panels, tubes_along, tubes_across, discs, coves
  int lamp_rows = 4, lamp_columns = 3;
  double lamp_first_ft = -14, lamp_last_ft = 40;
  double lamp_light = 1;         // over the approach
  double lane_lamp_share = 0.6;  // of those over the lanes, against the approach's
  double ambient = 0.35;
  double pin_light = 1.2;
  std::string lamp_colour = "#fff4e0";
  std::string masking_style = "hills";  // hills, lanterns, triangles, stripes, stars, plain
  std::array<std::string, 3> masking_colours = {"#203860", "#e0a030", "#70b0a0"};
  double masking_bottom_in = 24, masking_top_in = 62;
  double masking_y_ft = 59;
  std::string deck_side_colour = "#202020";
  std::string pit_colour = "#181818";
  std::string pin_band_colour = "#c02020";
  int monitors = 0;  // screens hanging over the approach's end
  bool ball_return = true;
  double ball_return_x_in = 34, ball_return_y_ft = -10;
  std::string ball_return_colour = "#404450";
  int ball_return_balls = 5;
};

struct BallSpec {
  double diameter_in = 8.55;
  double rg_in = 2.55;         // radius of gyration
  std::string look = "plain";  // plain, swirl, marks
  std::array<std::string, 3> colours = {"#183070", "#183070", "#ffffff"};
  double gloss = 0.8;
};

struct FrictionSpec {
  double oil = 0.04, outside = 0.08, dry = 0.2;
  double oil_length_ft = 40;
  double transition_ft = 5;  // from 10 % to 90 % of the step between oil and dry
  double outside_board = 8;  // outside of this board, both sides, friction is `outside`
  double rolling = 0;        // rolling resistance as a share of g
};

struct FigureSpec {
  double height_ft = 5.75;
  double build = 1;  // 0.8 slim .. 1.3 heavy
  std::string shirt = "#3060a0", trousers = "#202028", skin = "#d0a080", hair = "#302010", shoes = "#e0e0e0";
  std::string shirt_style = "plain";  // plain, hoops, halves
  bool shorts = false, cap = false;
};

struct ShotSpec {
  int lane = 0;  // index relative to the own lane: +1 the next in centres_in to the right
  std::string hand = "right";
  double release_s = 1.5;     // the ball leaves the hand
  double laydown_board = 17;  // own hand
  double laydown_ft = 0.8;    // first touch, may be negative
  double speed_mph = 18;      // level speed at laydown
  double angle_deg = 2;       // level direction at laydown, outward positive
  double rev_rpm = 300, axis_rotation_deg = 45, axis_tilt_deg = 12;
  double release_height_in = 1.5;  // ball's bottom above the floor when it leaves the hand
  double release_climb_mph = 0;    // upward speed when it leaves the hand
  double bounce = 0.25;            // coefficient of restitution on the lane
  BallSpec ball;
  FrictionSpec friction;
  FigureSpec bowler;
  bool bowler_shown = true;
  double approach_s = 2.4;
  std::vector<int> pins_before = {1, 2, 3, 4, 5, 6, 7, 8, 9, 10};
  double sweep_after_s = 1.9;  // from first pin contact (or the end of the lane) to the sweep bar's start; < 0: none
};

struct PersonSpec {
  FigureSpec figure;
  std::vector<std::array<double, 3>> way;  // (time_s, x_ft, y_ft), in order of time; one entry: stands there
  double facing_deg = 0;                   // when standing: 0 down the lane, 90 to the right
};

struct Scenario {
  std::string format = "hookline-scenario";
  int version = 1;
  std::string name = "clip";
  std::string description;
  std::uint64_t seed = 1;
  double duration_s = 4;
  VideoSpec video;
  CameraSpec camera;
  LanesSpec lanes;
  HallSpec hall;
  std::vector<ShotSpec> shots;
  std::vector<PersonSpec> people;
  Status Check() const;
};

// Reads a scenario file. Keys that are left out keep the values above; an unknown key, a wrong type or a value out of
// its bounds fails with a sentence naming it.
Result<Scenario> ReadScenario(const std::string& file);
Result<Scenario> ScenarioFromJson(const std::string& text);
std::string JsonFromScenario(const Scenario& scenario);  // pretty, every key
Status WriteScenario(const Scenario& scenario, const std::string& file);

}  // namespace hookline::synth
