#include "synth/random_scenario.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>

#include "lane/lane_spec.h"
#include "synth/truth.h"

namespace hookline::synth {
namespace {

// Splitmix64 (Steele, Lea, Flood 2014): small, and the same everywhere.
class Dice {
 public:
  // The seed is stirred first: neighbouring seeds would else be the same row of numbers, shifted.
  explicit Dice(std::uint64_t seed) : state_(seed) { state_ = Next() ^ (Next() << 1); }
  std::uint64_t Next() {
    std::uint64_t z = (state_ += 0x9E3779B97F4A7C15ull);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ull;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBull;
    return z ^ (z >> 31);
  }
  double Unit() { return static_cast<double>(Next() >> 11) * 0x1.0p-53; }
  double In(double low, double high) { return low + (high - low) * Unit(); }
  // Nearer to the middle: the mean of two draws.
  double Near(double low, double high) { return 0.5 * (In(low, high) + In(low, high)); }
  int Whole(int low, int high) { return low + static_cast<int>(Next() % static_cast<std::uint64_t>(high - low + 1)); }
  bool Chance(double p) { return Unit() < p; }
  template <typename T, std::size_t N>
  const T& Of(const std::array<T, N>& list) {
    return list[static_cast<std::size_t>(Next() % N)];
  }

 private:
  std::uint64_t state_;
};

// To a multiple of the step, as near as its decimal form is.
double Rounded(double v, double step) {
  return step < 1 ? std::round(v / step) / std::round(1 / step) : std::round(v / step) * step;
}

std::string Hex(double r, double g, double b) {
  const auto byte = [](double v) { return static_cast<int>(std::lround(std::clamp(v, 0.0, 1.0) * 255)); };
  char text[8];
  std::snprintf(text, sizeof text, "#%02x%02x%02x", byte(r), byte(g), byte(b));
  return text;
}

std::array<double, 3> Parts(const std::string& c) {
  std::array<double, 3> p{};
  for (std::size_t i = 0; i < 3; ++i) p[i] = std::stoi(c.substr(1 + 2 * i, 2), nullptr, 16) / 255.0;
  return p;
}

// A colour a little off the given one.
std::string Near(Dice& d, const std::string& c, double spread) {
  const auto p = Parts(c);
  const double all = d.In(-spread, spread);
  return Hex(p[0] + all + d.In(-0.4, 0.4) * spread, p[1] + all + d.In(-0.4, 0.4) * spread,
             p[2] + all + d.In(-0.4, 0.4) * spread);
}

double Brightness(const std::string& c) {
  const auto p = Parts(c);
  return 0.3 * p[0] + 0.6 * p[1] + 0.1 * p[2];
}

// `vivid`: most of the colour's strength that may come, 0 grey .. 1.
std::string AnyColour(Dice& d, double low, double high, double vivid = 0.95) {
  const double hue = d.In(0, 6), value = d.In(low, high), grey = vivid * d.In(0.1, 1);
  const auto part = [&](double at) {
    const double x = std::abs(std::fmod(hue + at, 6.0) - 3) - 1;
    return value * (grey * std::clamp(x, 0.0, 1.0) + (1 - grey));
  };
  return Hex(part(0), part(4), part(2));
}

struct Wood {
  const char *light, *dark;
};
constexpr std::array<Wood, 10> kWoods = {{{"#d8a868", "#c08f50"},
                                          {"#e2c08c", "#cfa670"},
                                          {"#b98a55", "#9c6f40"},
                                          {"#cdbfa6", "#b3a48c"},
                                          {"#a8a8a4", "#8e8e8c"},
                                          {"#7d8fa6", "#6c7d94"},
                                          {"#5a4030", "#463024"},
                                          {"#3c3a3c", "#302e32"},
                                          {"#efe2c4", "#dcc9a2"},
                                          {"#96604a", "#7e4c3a"}}};

FigureSpec AnyFigure(Dice& d) {
  static const std::array<std::string, 6> skins = {"#e8c4a8", "#d0a080", "#b5825e", "#8d5a3c", "#6a4230", "#f0d2bc"};
  static const std::array<std::string, 5> hairs = {"#181412", "#302010", "#6a4a28", "#b08a50", "#8a8a8a"};
  FigureSpec f;
  f.height_ft = Rounded(d.Near(5.0, 6.4), 0.01);
  f.build = Rounded(d.Near(0.82, 1.25), 0.01);
  f.shirt = AnyColour(d, 0.1, 0.95);
  f.trousers = AnyColour(d, 0.06, 0.5, 0.6);
  f.skin = d.Of(skins);
  f.hair = d.Of(hairs);
  f.shoes = d.Chance(0.5) ? "#e6e6e6" : AnyColour(d, 0.1, 0.8);
  f.shirt_style = d.Chance(0.6) ? "plain" : d.Chance(0.5) ? "hoops" : "halves";
  f.shorts = d.Chance(0.25);
  f.cap = d.Chance(0.2);
  return f;
}

void SetHouse(Dice& d, Scenario& s) {
  LanesSpec& l = s.lanes;
  l.width_in = Rounded(d.Near(41, 42), 0.01);
  // Lanes in pairs with the ball return's track between, or at one spacing.
  const int count = d.Chance(0.12) ? d.Whole(2, 3) : d.Whole(4, 9), own = d.Whole(0, count - 1);
  const double within = Rounded(d.In(64, 70), 0.25), between = d.Chance(0.35) ? within : Rounded(d.In(70, 92), 0.25);
  const bool own_first = d.Chance(0.5);
  l.centres_in.assign(1, 0.0);
  const auto gap = [&](int step) { return (step % 2 == 0) == own_first ? within : between; };
  for (int i = own; i + 1 < count; ++i) l.centres_in.push_back(l.centres_in.back() + gap(i - own));
  for (int i = 0; i < own; ++i) l.centres_in.insert(l.centres_in.begin(), l.centres_in.front() - gap(i + 1));
  const double centre = Rounded(d.In(14.2, 16), 0.01),
               step = Rounded(d.Chance(0.15) ? d.In(0.15, 0.4) : d.In(0.5, 1.2), 0.01);
  for (std::size_t i = 0; i < 7; ++i)
    l.arrow_tips_ft[i] = Rounded(std::max(12.4, centre - step * std::abs(static_cast<double>(i) - 3)), 0.01);
  l.arrow_style = d.Of(std::array<std::string, 3>{"solid", "chevron", "dart"});
  l.arrow_length_in = Rounded(d.In(4.5, 6), 0.1);
  l.arrow_width_in = Rounded(d.In(0.9, 1.25), 0.01);
  l.dots_ft = Rounded(d.In(6.1, 7.9), 0.01);
  if (d.Chance(0.3)) l.dot_boards = {5, 10, 15, 25, 30, 35};
  l.dot_diameter_in = Rounded(d.In(0.5, 0.75), 0.01);
  l.approach_dot_rows_ft =
      d.Chance(0.5) ? std::vector<double>{-0.25, -12} : std::vector<double>{-0.3, -6.5, -12, -14.5};
  if (d.Chance(0.4)) l.approach_dot_boards = {10, 15, 20, 25, 30};
  l.range_marks = d.Chance(0.25);
  l.foul_line_in = Rounded(d.In(0.375, 1), 0.005);
  const Wood wood = d.Of(kWoods), floor = d.Chance(0.5) ? wood : d.Of(kWoods);
  l.lane_colour = Near(d, wood.light, 0.04);
  l.lane_colour_2 = Near(d, wood.dark, 0.04);
  l.approach_colour = Near(d, floor.light, 0.05);
  l.approach_colour_2 = Near(d, floor.dark, 0.05);
  const bool dark_lane = Brightness(l.lane_colour) < 0.42;
  l.mark_colour =
      dark_lane ? (d.Chance(0.6) ? "#e8e0d0" : "#c8b060") : Near(d, d.Chance(0.7) ? "#20160f" : "#5a1818", 0.03);
  static const std::array<std::string, 6> lines = {"#0c0c0c", "#8a1414", "#ececec", "#303848", "#c8a020", "#181830"};
  do l.foul_line_colour = d.Of(lines);
  while (std::abs(Brightness(l.foul_line_colour) - Brightness(l.lane_colour)) < 0.22);
  l.board_contrast = Rounded(d.In(0.1, 0.9), 0.01);
  l.grain = Rounded(d.In(0.1, 0.9), 0.01);
  l.gloss = Rounded(d.In(0.15, 0.9), 0.01);
  l.approach_gloss = Rounded(d.In(0.05, 0.6), 0.01);
  l.roughness = Rounded(d.In(0.004, 0.02), 0.0001);
  l.gutter_depth_in = Rounded(d.In(1.75, 2.5), 0.01);
  l.gutter_colour = d.Chance(0.6) ? Near(d, "#35353a", 0.08) : AnyColour(d, 0.15, 0.6);
  l.cap_height_in = Rounded(d.In(0.1, 1.6), 0.01);
  l.cap_colour = d.Chance(0.5) ? Near(d, "#4a3626", 0.1) : AnyColour(d, 0.1, 0.7, 0.7);

  HallSpec& h = s.hall;
  h.left_wall_in = Rounded(l.centres_in.front() - 32 - d.In(4, 90), 1);
  h.right_wall_in = Rounded(l.centres_in.back() + 32 + d.In(4, 90), 1);
  h.ceiling_ft = Rounded(d.In(9.2, 15), 0.1);
  h.wall_colour = AnyColour(d, 0.12, 0.8, d.Chance(0.75) ? 0.3 : 0.8);
  h.wall_colour_2 = AnyColour(d, 0.1, 0.8, d.Chance(0.6) ? 0.4 : 0.95);
  h.wall_style = d.Of(std::array<std::string, 5>{"plain", "stripe", "panels", "brick", "dots"});
  h.ceiling_colour = d.Chance(0.5) ? Near(d, "#202022", 0.08) : Near(d, "#b0aea8", 0.15);
  h.ceiling_style = d.Of(std::array<std::string, 3>{"plain", "tiles", "beams"});
  h.lamp_style = d.Of(std::array<std::string, 5>{"panels", "tubes_along", "tubes_across", "discs", "coves"});
  h.lamp_rows = d.Whole(3, 7);
  h.lamp_columns = d.Whole(2, 6);
  h.lamp_first_ft = Rounded(d.In(-24, -8), 0.5);
  h.lamp_last_ft = Rounded(d.In(8, 54), 0.5);
  h.lane_lamp_share = Rounded(d.In(0.15, 1), 0.01);
  h.ambient = Rounded(d.In(0.2, 0.5), 0.01);
  h.pin_light = Rounded(d.In(0.6, 1.6), 0.01);
  h.lamp_colour = d.Chance(0.7) ? Near(d, "#fff2de", 0.04) : d.Chance(0.5) ? "#d8e6ff" : AnyColour(d, 0.85, 1.0, 0.3);
  h.masking_style = d.Of(std::array<std::string, 6>{"hills", "lanterns", "triangles", "stripes", "stars", "plain"});
  for (auto& c : h.masking_colours) c = AnyColour(d, 0.15, 0.9);
  h.masking_bottom_in = Rounded(d.In(21, 32), 0.5);
  h.masking_top_in = Rounded(h.masking_bottom_in + d.In(24, 60), 0.5);
  h.masking_y_ft = Rounded(d.In(58, 59.3), 0.1);
  h.deck_side_colour = d.Chance(0.6) ? Near(d, "#1c1c1e", 0.03) : Near(d, "#8a8a86", 0.15);
  h.pit_colour = Near(d, "#161616", 0.06);
  h.pin_band_colour = d.Chance(0.7) ? "#c02020" : AnyColour(d, 0.3, 0.8);
  h.monitors = d.Chance(0.3) ? d.Whole(1, 4) : 0;
  h.ball_return = d.Chance(0.8);
  const double side = own_first && own + 1 < count ? 1 : own > 0 ? -1 : 1;
  h.ball_return_x_in = Rounded(side * (within / 2 + d.In(-2, 2)), 0.5);
  h.ball_return_y_ft = Rounded(d.In(-12.5, -8), 0.1);
  h.ball_return_colour = AnyColour(d, 0.1, 0.7);
  h.ball_return_balls = d.Whole(1, 9);
}

BallSpec AnyBall(Dice& d, const LanesSpec& lanes, bool lane_coloured) {
  BallSpec b;
  b.diameter_in = Rounded(d.In(8.50, 8.595), 0.001);
  b.rg_in = Rounded(d.In(2.46, 2.75), 0.001);
  b.look = d.Of(std::array<std::string, 3>{"plain", "swirl", "marks"});
  b.gloss = Rounded(d.In(0.2, 1), 0.01);
  const bool dark = d.Chance(0.4);
  b.colours[0] = lane_coloured ? Near(d, lanes.lane_colour, 0.05)
                 : dark        ? AnyColour(d, 0.03, 0.22)
                               : AnyColour(d, 0.25, 0.95);
  b.colours[1] = lane_coloured       ? Near(d, lanes.lane_colour_2, 0.05)
                 : b.look == "marks" ? "#e8e8e0"
                                     : AnyColour(d, 0.03, 0.95);
  b.colours[2] = b.look == "marks" ? "#f0f0ea" : lane_coloured ? b.colours[0] : AnyColour(d, 0.1, 0.95);
  return b;
}

// A shot of the wanted kind; drawn again until the ball does what the kind says.
ShotSpec AnyShot(Dice& d, const Scenario& s, Situation kind, const std::string& hand) {
  const double width = lane::MetresFromInches(s.lanes.width_in),
               gutter = lane::MetresFromInches(s.lanes.gutter_depth_in);
  ShotSpec shot;
  for (int attempt = 0; attempt < 400; ++attempt) {
    shot = ShotSpec();
    shot.hand = hand;
    shot.speed_mph = Rounded(d.Near(12.5, 21.5), 0.01);
    shot.rev_rpm = Rounded(d.Near(120, 480), 1);
    shot.axis_rotation_deg = Rounded(d.Near(15, 85), 0.5);
    shot.axis_tilt_deg = Rounded(d.Near(0, 28), 0.5);
    shot.laydown_board = Rounded(d.Near(8, 30), 0.01);
    shot.angle_deg = Rounded(d.Near(-1.5, 4.5), 0.01);
    if (kind == Situation::kStraight) {
      shot.axis_rotation_deg = 0;
      shot.axis_tilt_deg = Rounded(d.In(0, 3), 0.5);
      shot.rev_rpm = Rounded(d.In(60, 260), 1);
      shot.angle_deg = Rounded(d.In(-1.2, 1.2), 0.01);
    } else if (kind == Situation::kBackup) {
      shot.axis_rotation_deg = Rounded(d.In(-55, -15), 0.5);
      shot.axis_tilt_deg = Rounded(d.In(-15, 5), 0.5);
      shot.angle_deg = Rounded(d.In(-3.5, 0.5), 0.01);
    } else if (kind == Situation::kGutter) {
      shot.angle_deg = Rounded(d.Chance(0.7) ? d.In(2.5, 6) : d.In(-6, -2.5), 0.01);
      shot.rev_rpm = Rounded(d.In(50, 220), 1);
      shot.axis_rotation_deg = Rounded(d.In(0, 30), 0.5);
    }
    FrictionSpec& f = shot.friction;
    f.oil = Rounded(d.In(0.028, 0.055), 0.001);
    f.outside = Rounded(f.oil + d.In(0, 0.07), 0.001);
    f.dry = Rounded(d.In(0.13, 0.24), 0.001);
    f.oil_length_ft = Rounded(d.In(34, 46), 0.1);
    f.transition_ft = Rounded(d.In(2, 11), 0.1);
    f.outside_board = Rounded(d.In(6, 11), 0.1);
    // Where the hand opens, how high, and so where the ball lands: at the line mostly, well past it at times.
    shot.release_height_in = Rounded(d.Chance(0.75) ? d.In(0.3, 3) : d.In(3, 9), 0.01);
    shot.release_climb_mph = Rounded(d.Chance(0.7) ? d.In(-0.6, 0.4) : d.In(0.4, 1.6), 0.01);
    shot.bounce = Rounded(d.In(0.05, 0.35), 0.01);
    const double g = lane::kStandardGravity, climb = lane::MetresPerSecondFromMph(shot.release_climb_mph);
    const double fly = (climb + std::sqrt(climb * climb + 2 * g * lane::MetresFromInches(shot.release_height_in))) / g;
    shot.laydown_ft =
        Rounded(d.In(-1.2, 0.6) + lane::FeetFromMetres(lane::MetresPerSecondFromMph(shot.speed_mph) * fly), 0.01);
    if (shot.laydown_ft < -0.4 || shot.laydown_ft > 7) continue;
    shot.release_s = 1.2;
    if (kind == Situation::kSpare) {
      static const std::array<std::vector<int>, 8> leaves = {
          {{10}, {7}, {3, 10}, {2, 4, 5}, {6, 10}, {5}, {1, 2, 4}, {3, 6, 9, 10}}};
      shot.pins_before = d.Of(leaves);
    }
    const ShotRun run(shot, width, gutter);
    const ShotTruth t = TruthOf(run, LaneOf(s.lanes));
    if (kind == Situation::kGutter) {
      if (run.gutter_s() && run.At(*run.gutter_s()).motion.p.y() > 5 && run.At(*run.gutter_s()).motion.p.y() < 17)
        break;
      continue;
    }
    if (run.gutter_s() || !t.entry || !t.arrows) continue;
    const double entry = lane::BoardFromX(t.entry->x, width, hand == "right" ? lane::Hand::kRight : lane::Hand::kLeft);
    if (kind == Situation::kSpare ? (entry < 2 || entry > 38) : (entry < 11 || entry > 26)) continue;
    if (kind == Situation::kHook && !t.breakpoint && !d.Chance(0.1)) continue;
    if (kind == Situation::kStraight && t.breakpoint) continue;
    break;
  }
  return shot;
}

void SetVideo(Dice& d, Scenario& s, const RandomKind& kind) {
  VideoSpec& v = s.video;
  switch (kind.format) {
    case PictureFormat::k1080p60:
      v.width = 1920, v.height = 1080, v.fps = 60;
      break;
    case PictureFormat::k1080p30:
      v.width = 1920, v.height = 1080, v.fps = 30;
      break;
    case PictureFormat::k720p60:
      v.width = 1280, v.height = 720, v.fps = 60;
      break;
    case PictureFormat::k720p120:
      v.width = 1280, v.height = 720, v.fps = 120;
      break;
    case PictureFormat::kPortrait1080p60:
      v.width = 1080, v.height = 1920, v.fps = 60;
      break;
    case PictureFormat::kPortrait720p60:
      v.width = 720, v.height = 1280, v.fps = 60;
      break;
    case PictureFormat::k2160p60:
      v.width = 3840, v.height = 2160, v.fps = 60;
      break;
  }
  if (v.width < v.height) v.rotation_deg = d.Chance(0.5) ? 90 : 270;
  v.shutter_s = Rounded(std::min(1 / 60.0, d.In(0.12, 0.7) / v.fps), 1e-4);
  v.readout_s = d.Chance(0.5) ? 0 : Rounded(std::min(0.9 / v.fps, d.In(0.004, 0.02)), 1e-4);
  v.noise = Rounded(d.In(0.3, 2), 0.01);
  v.exposure = Rounded(d.In(0.85, 1.35), 0.01);
  v.contrast = Rounded(d.In(0.85, 1.25), 0.01);
  v.warmth = Rounded(d.In(-0.6, 0.7), 0.01);
  v.vignette = Rounded(d.In(0, 0.35), 0.01);
  v.blur_px = Rounded(d.In(0.3, 0.9), 0.01);
  // A phone keeps a bit rate; a clip that was sent on is squeezed harder.
  const double lines = std::min(v.width, v.height) / 1080.0;
  if (d.Chance(0.75))
    v.bit_rate_kbps = static_cast<int>(Rounded(d.In(7000, 17000) * lines * lines * v.fps / 60, 100));
  else
    v.quality = d.Whole(19, 25);
  v.codec = "h264";
  if (kind.situation == Situation::kVariableRate) {
    v.time_jitter_s = Rounded(d.In(0.05, 0.3) / v.fps, 1e-5);
    v.dropped_share = Rounded(d.In(0.02, 0.12), 0.001);
  }
}

void SetCamera(Dice& d, Scenario& s, const RandomKind& kind, double hand_sign) {
  CameraSpec& c = s.camera;
  c = CameraSpec();
  const VideoSpec& v = s.video;
  const bool portrait = v.height > v.width;
  const double y = d.Near(-23, -11), z = d.Near(2.6, std::min(8.0, s.hall.ceiling_ft - 1.5)),
               x = hand_sign * d.Near(-2.6, 3.6);
  c.position_ft = {Rounded(x, 0.01), Rounded(y, 0.01), Rounded(z, 0.01)};
  const double half_across = lane::RadiansFromDegrees((portrait ? d.In(34, 48) : d.In(44, 70)) / 2);
  c.focal_px = Rounded(v.width / 2.0 / std::tan(half_across), 0.1);
  // The picture holds everything from before the foul line to above the pins, when it can; the rest of the room above
  // and below is chance.
  const double half_down = std::atan(v.height / 2.0 / c.focal_px);
  const double low = std::atan2(z, -y - 1.5), high = std::atan2(z - 3, 60 - y);
  const double from = low + 0.02 - half_down, to = high - 0.02 + half_down;
  const double pitch = from < to ? d.Near(from, std::min(to, from + 0.35)) : 0.5 * (from + to);
  c.pitch_deg = Rounded(lane::DegreesFromRadians(pitch), 0.01);
  c.yaw_deg = Rounded(
      lane::DegreesFromRadians(std::atan2(-x, d.In(22, 60) - y)) + (portrait ? d.In(-1, 1) : d.In(-3, 3)), 0.01);
  c.roll_deg = Rounded(d.Near(-1.6, 1.6), 0.01);
  c.k1 = Rounded(d.Near(-0.07, 0.06), 0.0001);
  c.k2 = Rounded(d.Near(-0.02, 0.02), 0.0001);
  c.centre_offset_px = {Rounded(d.Near(-12, 12) * v.width / 1920, 0.1), Rounded(d.Near(-12, 12) * v.width / 1920, 0.1)};
  if (kind.situation == Situation::kHandHeld) {
    c.shake_deg = Rounded(d.In(0.05, 0.35), 0.001);
    c.shake_hz = Rounded(d.In(0.8, 3.5), 0.01);
  } else if (kind.situation == Situation::kKnocked) {
    c.knock_s = Rounded(d.In(1.4, 3.0), 0.01);
    c.knock_deg = {Rounded(d.In(-0.9, 0.9), 0.01), Rounded(d.In(-0.6, 0.6), 0.01), Rounded(d.In(-0.5, 0.5), 0.01)};
  } else if (kind.situation == Situation::kDrift) {
    c.drift_deg_per_s = {Rounded(d.In(-0.15, 0.15), 0.001), Rounded(d.In(-0.1, 0.1), 0.001),
                         Rounded(d.In(-0.08, 0.08), 0.001)};
  }
}

// Share of places between 2 ft and 58 ft where most of the ball is seen.
double ShareSeen(const Scene& scene, std::size_t shot) {
  const ShotRun& run = scene.runs()[shot];
  int seen = 0, all = 0;
  for (double y = 2; y <= 58; y += 4) {
    const auto at = ShotTruth::CrossY(run, lane::MetresFromFeet(y));
    if (!at) continue;
    ++all;
    if (scene.BallVisible(shot, at->time_s) > 0.6) ++seen;
  }
  return all > 0 ? static_cast<double>(seen) / all : 0;
}

// The lane itself must be in the picture: its edges at the arrows and its pins.
bool LaneInPicture(const Scene& scene) {
  const CameraModel& c = scene.camera().still();
  const double half = scene.hall().lane_half_width();
  for (const Eigen::Vector3d& p :
       {Eigen::Vector3d(-half, 2.5, 0), Eigen::Vector3d(half, 2.5, 0), Eigen::Vector3d(-half, 18.3, 0),
        Eigen::Vector3d(half, 18.3, 0), Eigen::Vector3d(0, 18.3, 0.38)}) {
    const Eigen::Vector3d q = scene.camera().rotation() * (p - c.position_in_lane);
    if (q.z() < 0.5) return false;
    const double u = c.focal_px * q.x() / q.z() + c.centre_u, v = c.focal_px * q.y() / q.z() + c.centre_v;
    if (u < 8 || v < 8 || u > c.width - 9 || v > c.height - 9) return false;
  }
  return true;
}

}  // namespace

const char* NameOf(Situation situation) {
  switch (situation) {
    case Situation::kHook:
      return "hook";
    case Situation::kStraight:
      return "straight";
    case Situation::kBackup:
      return "backup";
    case Situation::kGutter:
      return "gutter";
    case Situation::kSpare:
      return "spare";
    case Situation::kNoShot:
      return "noshot";
    case Situation::kTwoBalls:
      return "twoballs";
    case Situation::kSession:
      return "session";
    case Situation::kHandHeld:
      return "handheld";
    case Situation::kKnocked:
      return "knocked";
    case Situation::kDrift:
      return "drift";
    case Situation::kVariableRate:
      return "vfr";
    case Situation::kLaneColoured:
      return "lanecoloured";
  }
  return "";
}

const char* NameOf(PictureFormat format) {
  switch (format) {
    case PictureFormat::k1080p60:
      return "1080p60";
    case PictureFormat::k1080p30:
      return "1080p30";
    case PictureFormat::k720p60:
      return "720p60";
    case PictureFormat::k720p120:
      return "720p120";
    case PictureFormat::kPortrait1080p60:
      return "portrait1080p60";
    case PictureFormat::kPortrait720p60:
      return "portrait720p60";
    case PictureFormat::k2160p60:
      return "2160p60";
  }
  return "";
}

Scenario RandomScenario(std::uint64_t seed, const RandomKind& kind) {
  Dice d(seed * 1009 + static_cast<std::uint64_t>(kind.situation) * 31 + static_cast<std::uint64_t>(kind.format));
  Scenario s;
  s.seed = seed;
  s.name = std::string("s") + std::to_string(seed) + "_" + NameOf(kind.situation) + "_" + NameOf(kind.format);
  s.description = std::string("At random: ") + NameOf(kind.situation) + ", " + NameOf(kind.format) + ".";
  SetHouse(d, s);
  SetVideo(d, s, kind);
  const std::string hand = d.Chance(0.3) ? "left" : "right";
  const double hand_sign = hand == "right" ? 1 : -1;
  s.duration_s = 4;
  if (kind.situation != Situation::kNoShot) {
    Situation path = kind.situation;
    if (path != Situation::kStraight && path != Situation::kBackup && path != Situation::kGutter &&
        path != Situation::kSpare)
      path = d.Chance(0.85) ? Situation::kHook : d.Chance(0.5) ? Situation::kStraight : Situation::kBackup;
    const int shots = kind.situation == Situation::kSession ? 3 : 1;
    const FigureSpec bowler = AnyFigure(d);
    const BallSpec ball = AnyBall(d, s.lanes, kind.situation == Situation::kLaneColoured);
    const double approach = Rounded(d.In(2.0, 2.9), 0.01);
    double release = Rounded(d.In(0.8, 1.4), 0.001);
    for (int i = 0; i < shots; ++i) {
      ShotSpec shot = AnyShot(d, s, path, hand);
      shot.release_s = release;
      shot.bowler = bowler;
      shot.ball = ball;
      shot.approach_s = approach;
      if (i > 0) shot.friction = s.shots[0].friction;
      s.shots.push_back(shot);
      release += Rounded(d.In(10.5, 13), 0.01);
    }
    if (kind.situation == Situation::kTwoBalls && s.lanes.centres_in.size() > 1) {
      const auto own =
          std::find(s.lanes.centres_in.begin(), s.lanes.centres_in.end(), 0.0) - s.lanes.centres_in.begin();
      ShotSpec other = AnyShot(d, s, Situation::kHook, d.Chance(0.3) ? "left" : "right");
      other.lane = own == 0 ? 1 : own + 1 == static_cast<long>(s.lanes.centres_in.size()) ? -1 : d.Chance(0.5) ? 1 : -1;
      other.release_s = Rounded(s.shots[0].release_s + d.In(-0.5, 1.2), 0.001);
      other.bowler = AnyFigure(d);
      other.ball = AnyBall(d, s.lanes, false);
      s.shots.push_back(other);
    }
  }
  const int people = kind.situation == Situation::kNoShot ? 2 : d.Whole(0, 2);
  for (int i = 0; i < people; ++i) {
    PersonSpec p;
    p.figure = AnyFigure(d);
    const double side = d.Chance(0.5) ? 1 : -1, x = side * d.In(6, 13), y = d.In(-9, -1.5);
    if (d.Chance(0.5) && kind.situation != Situation::kNoShot) {
      p.way = {{0, Rounded(x, 0.01), Rounded(y, 0.01)}};
      p.facing_deg = Rounded(d.In(-150, 150), 1);
    } else {
      const double to = kind.situation == Situation::kNoShot ? -x * d.In(0.2, 1) : x + side * d.In(-1, 6);
      p.way = {{Rounded(d.In(0, 1), 0.01), Rounded(x, 0.01), Rounded(y, 0.01)},
               {Rounded(d.In(3, 5.5), 0.01), Rounded(to, 0.01), Rounded(y + d.In(-2, 2), 0.01)}};
    }
    s.people.push_back(p);
  }
  if (!s.shots.empty()) {
    const ShotRun last(s.shots[kind.situation == Situation::kSession ? s.shots.size() - 1 : 0],
                       lane::MetresFromInches(s.lanes.width_in), lane::MetresFromInches(s.lanes.gutter_depth_in));
    const auto at60 = ShotTruth::CrossY(last, lane::kEntryY);
    const double arrive = at60 ? at60->time_s : last.release_s() + 3.5;
    s.duration_s = Rounded(arrive + d.In(0.5, 1.0), 0.01);
    if (kind.situation == Situation::kSession) s.duration_s = Rounded(arrive + 3, 0.01);
  }
  // The camera last, where the ball can be seen; harder to please at first.
  double best = -1;
  CameraSpec best_camera;
  for (int attempt = 0; attempt < 60; ++attempt) {
    SetCamera(d, s, kind, hand_sign);
    const Scene scene(s);
    if (!LaneInPicture(scene)) continue;
    const double seen = s.shots.empty() ? 1 : ShareSeen(scene, 0);
    if (seen > best) {
      best = seen;
      best_camera = s.camera;
    }
    if (seen >= (attempt < 40 ? 0.92 : 0.8)) break;
  }
  if (best >= 0) s.camera = best_camera;
  return s;
}

RandomKind TableKind(int index) {
  using S = Situation;
  using F = PictureFormat;
  static const std::array<RandomKind, 24> kinds = {
      {{S::kHook, F::k1080p60},         {S::kHook, F::k720p60},          {S::kStraight, F::k1080p60},
       {S::kHook, F::kPortrait720p60},  {S::kHook, F::k1080p60},         {S::kHandHeld, F::k720p60},
       {S::kLaneColoured, F::k1080p60}, {S::kVariableRate, F::k1080p30}, {S::kTwoBalls, F::k1080p60},
       {S::kKnocked, F::k720p60},       {S::kHook, F::k1080p60},         {S::kHook, F::k720p120},
       {S::kSpare, F::k1080p60},        {S::kGutter, F::k720p60},        {S::kBackup, F::k1080p60},
       {S::kNoShot, F::k720p60},        {S::kHook, F::k1080p60},         {S::kHook, F::kPortrait1080p60},
       {S::kHook, F::k1080p60},         {S::kDrift, F::k720p60},         {S::kGutter, F::k1080p60},
       {S::kHook, F::k720p60},          {S::kHook, F::k1080p60},         {S::kTwoBalls, F::k720p60}}};
  return kinds[static_cast<std::size_t>(index) % kinds.size()];
}

}  // namespace hookline::synth
