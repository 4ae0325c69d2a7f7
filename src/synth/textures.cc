#include "synth/textures.h"

#include <algorithm>
#include <cmath>

#include "lane/lane_spec.h"

namespace hookline::synth {
namespace {

float Fract(float x) {
  const float whole = static_cast<float>(static_cast<int>(x));
  return x < whole ? x - whole + 1 : x - whole;
}

// 1 inside |x| < half, falling off over one pixel.
float Stripe(float x, float half, float blur) { return Clamp01((half - std::abs(x)) / std::max(1e-6f, blur) + 0.5f); }

}  // namespace

V3 WoodAt(const WoodLook& wood, float x, float y, float blur) {
  const float f = x / wood.board;
  const int column = static_cast<int>(std::floor(f));
  const std::uint32_t id = Hash(static_cast<std::uint32_t>(column + 4096), wood.seed);
  const float row_f = y / wood.plank + Unit(id) * 3;
  const std::uint32_t plank = Hash(static_cast<std::uint32_t>(static_cast<int>(std::floor(row_f)) + 4096), id);
  // Boards narrower than a pixel melt into their mean.
  const float clear = Clamp01(1.6f - 0.8f * blur / wood.board);
  const float tone = 0.5f + (Unit(plank) - 0.5f) * clear;
  V3 c = Mix(wood.colour, wood.colour_2, Clamp01(0.35f + wood.contrast * 1.3f * (tone - 0.5f)));
  const float fine = Clamp01(1.5f - blur / 0.012f);
  if (wood.grain > 0) {
    const float long_grain = Noise2(x * 90, y * 1.1f, plank) - 0.5f;
    const float cathedral = std::sin(30 * Noise2(x * 28 + Unit(plank) * 50, y * 0.55f, plank ^ 7u));
    c *= 1 + wood.grain * (0.30f * fine * long_grain + 0.07f * fine * cathedral +
                           0.16f * clear * (Noise2(x * 9, y * 0.35f, wood.seed) - 0.5f));
  }
  // The joint between two boards, and the butt of a plank.
  const float joint = Stripe((Fract(f + 0.5f) - 0.5f) * wood.board, 0.0006f, std::max(0.0006f, blur));
  c *= 1 - 0.45f * wood.contrast * joint * clear;
  const float butt = Stripe((Fract(row_f + 0.5f) - 0.5f) * wood.plank, 0.0008f, std::max(0.001f, blur * 6));
  c *= 1 - 0.3f * wood.contrast * butt * clear;
  return c;
}

MarkLook MarksOf(const LanesSpec& lanes) {
  MarkLook m;
  const double width = lane::MetresFromInches(lanes.width_in);
  const auto x_of = [&](double board) {
    return static_cast<float>(lane::XFromBoard(board, width, lane::Hand::kRight));
  };
  m.board = static_cast<float>(lane::BoardWidth(width));
  m.arrow = lanes.arrow_style == "chevron" ? MarkLook::Arrow::kChevron
            : lanes.arrow_style == "dart"  ? MarkLook::Arrow::kDart
                                           : MarkLook::Arrow::kSolid;
  m.arrow_length = static_cast<float>(lane::MetresFromInches(lanes.arrow_length_in));
  m.arrow_half_width = static_cast<float>(lane::MetresFromInches(lanes.arrow_width_in) / 2);
  m.arrows_from = 1e9f;
  m.arrows_to = -1e9f;
  for (std::size_t i = 0; i < 7; ++i) {
    m.tip_x[i] = x_of(5.0 * static_cast<double>(i + 1));
    m.tip_y[i] = static_cast<float>(lane::MetresFromFeet(lanes.arrow_tips_ft[i]));
    m.arrows_from = std::min(m.arrows_from, m.tip_y[i] - m.arrow_length);
    m.arrows_to = std::max(m.arrows_to, m.tip_y[i]);
  }
  m.dots_y = static_cast<float>(lane::MetresFromFeet(lanes.dots_ft));
  m.dot_radius = static_cast<float>(lane::MetresFromInches(lanes.dot_diameter_in) / 2);
  for (double b : lanes.dot_boards) m.dot_x.push_back(x_of(b));
  for (double b : lanes.approach_dot_boards) m.approach_dot_x.push_back(x_of(b));
  for (double y : lanes.approach_dot_rows_ft) m.approach_row_y.push_back(static_cast<float>(lane::MetresFromFeet(y)));
  m.range_marks = lanes.range_marks;
  return m;
}

bool MarkAt(const MarkLook& m, float x, float y) {
  const auto on_dot = [&](const std::vector<float>& xs, float row) {
    const float dy = y - row;
    if (std::abs(dy) > m.dot_radius) return false;
    return std::any_of(xs.begin(), xs.end(),
                       [&](float c) { return (x - c) * (x - c) + dy * dy < m.dot_radius * m.dot_radius; });
  };
  if (y < 0)
    return std::any_of(m.approach_row_y.begin(), m.approach_row_y.end(),
                       [&](float row) { return on_dot(m.approach_dot_x, row); });
  if (y > m.arrows_from && y < m.arrows_to) {
    for (std::size_t i = 0; i < 7; ++i) {
      const float back = (m.tip_y[i] - y) / m.arrow_length, off = std::abs(x - m.tip_x[i]) / m.arrow_half_width;
      if (back < 0 || back > 1 || off > 1) continue;
      switch (m.arrow) {
        case MarkLook::Arrow::kSolid:
          if (off < back) return true;
          break;
        case MarkLook::Arrow::kChevron:
          if (off < back && off > (back - 0.45f) * 1.2f) return true;
          break;
        case MarkLook::Arrow::kDart:
          if (off < back * 0.9f && back < 0.72f + 0.28f * off) return true;
          break;
      }
    }
  }
  if (on_dot(m.dot_x, m.dots_y)) return true;
  if (m.range_marks && y > 10 && y < 14) {
    const float side = std::abs(x), half = 0.35f * m.board;
    if (std::abs(side - 10 * m.board) < half && y > 12.192f && y < 13.1064f) return true;
    if (std::abs(side - 5 * m.board) < half && y > 10.3632f && y < 11.2776f) return true;
  }
  return false;
}

V3 MaskingAt(const HallSpec& hall, const std::array<V3, 3>& c, float x, float z, std::uint32_t seed) {
  const float low = static_cast<float>(lane::MetresFromInches(hall.masking_bottom_in));
  const float high = static_cast<float>(lane::MetresFromInches(hall.masking_top_in));
  const float v = (z - low) / (high - low);
  const std::string& s = hall.masking_style;
  if (v < 0.04f || v > 0.97f) return 0.25f * c[0];
  if (s == "hills") {
    const float ridge = 0.30f + 0.28f * Noise1(x * 0.7f, seed) + 0.08f * Noise1(x * 2.9f, seed + 1);
    const float front = 0.12f + 0.22f * Noise1(x * 1.3f + 9, seed + 2);
    if (v < front) return 0.5f * c[2];
    if (v < ridge) return c[2];
    const float sun = std::hypot(x - 1.1f, (v - 0.62f) * (high - low));
    return sun < 0.2f ? c[1] : Mix(Mix(c[0], c[1], 0.35f), c[0], v);
  }
  if (s == "lanterns") {
    const float cell = 0.62f, fx = Fract(x / cell) - 0.5f;
    const float up =
        (v - 0.5f -
         0.15f * (Unit(Hash(static_cast<std::uint32_t>(static_cast<int>(std::floor(x / cell)) + 999), seed)) - 0.5f)) *
        (high - low) / cell;
    const float d = std::hypot(fx * 1.25f, up);
    if (std::abs(fx) < 0.012f && up > 0) return 0.4f * c[1];
    if (d < 0.30f)
      return Mix(c[1], V3(c[1] * 1.4f), 1 - d / 0.30f) * (std::abs(Fract(up * 7) - 0.5f) < 0.08f ? 0.6f : 1.0f);
    return Mix(c[0], c[2], 0.35f * Clamp01(1.2f - 2 * d));
  }
  if (s == "triangles") {
    const float a = x * 1.9f, b = v * 2;
    const int i = static_cast<int>(std::floor(a)), j = static_cast<int>(std::floor(b));
    const bool upper = (Fract(a) + Fract(b) > 1) == (((i + j) & 1) == 0);
    return c[Hash(static_cast<std::uint32_t>(i * 2 + (upper ? 1 : 0) + 512), seed + static_cast<std::uint32_t>(j)) %
             3] *
           (upper ? 1.0f : 0.82f);
  }
  if (s == "stripes") return c[static_cast<std::size_t>(static_cast<int>(std::floor(x * 1.4f + v * 0.9f)) % 3 + 3) % 3];
  if (s == "stars") {
    const float cell = 0.24f;
    const int i = static_cast<int>(std::floor(x / cell)), j = static_cast<int>(std::floor(z / cell));
    const std::uint32_t h = Hash(static_cast<std::uint32_t>(i + 999), seed + static_cast<std::uint32_t>(j));
    const float d = std::hypot(Fract(x / cell) - 0.2f - 0.6f * Unit(h), Fract(z / cell) - 0.2f - 0.6f * Unit(Hash(h)));
    if (d < 0.05f + 0.12f * Unit(Hash(h + 3))) return Unit(Hash(h + 5)) < 0.6f ? c[1] : c[2];
    return c[0] * (0.8f + 0.4f * v);
  }
  return c[0];
}

V3 WallAt(const std::string& style, const V3& a, const V3& b, float along, float z, float blur) {
  if (style == "stripe") return z > 1.2f && z < 1.5f ? b : a;
  if (style == "panels") {
    const float f = Fract(along / 1.8f);
    if (f < 0.02f) return 0.4f * a;
    return static_cast<int>(std::floor(along / 1.8f)) % 2 == 0 ? a : (z < 1.0f ? b : Mix(a, b, 0.25f));
  }
  if (style == "brick") {
    const float row = std::floor(z / 0.075f), f = Fract(along / 0.22f + 0.5f * row);
    const float tone =
        Unit(Hash(static_cast<std::uint32_t>(static_cast<int>(std::floor(along / 0.22f + 0.5f * row)) + 4096),
                  static_cast<std::uint32_t>(static_cast<int>(row))));
    const float joint = (f < 0.05f || Fract(z / 0.075f) < 0.13f) ? Clamp01(1.4f - blur / 0.02f) : 0.0f;
    return Mix(V3(Mix(a, b, 0.5f * tone)), V3::Constant(0.35f), 0.6f * joint);
  }
  if (style == "dots") {
    const float u = Fract(along / 0.6f) - 0.5f, v = Fract(z / 0.6f) - 0.5f;
    return u * u + v * v < 0.06f ? b : a;
  }
  return a;
}

V3 CeilingAt(const std::string& style, const V3& c, float x, float y) {
  if (style == "tiles") {
    const float u = Fract(x / 0.6f), v = Fract(y / 0.6f);
    return u < 0.04f || v < 0.04f ? V3(0.55f * c) : c;
  }
  if (style == "beams") return Fract(y / 2.4f) < 0.14f ? V3(0.45f * c) : c;
  return c;
}

BallLook LookOf(const BallSpec& ball, std::uint32_t seed) {
  BallLook look;
  look.style = ball.look == "swirl"   ? BallLook::Style::kSwirl
               : ball.look == "marks" ? BallLook::Style::kMarks
                                      : BallLook::Style::kPlain;
  for (std::size_t i = 0; i < 3; ++i) look.colours[i] = LinearFromColour(ball.colours[i].c_str());
  look.gloss = static_cast<float>(ball.gloss);
  look.seed = seed;
  return look;
}

V3 BallAt(const BallLook& look, const V3& u) {
  // Three drilled holes near one pole, on every ball.
  static const V3 holes[3] = {V3(0.12f, 0.15f, 0.98f).normalized(), V3(-0.12f, 0.15f, 0.98f).normalized(),
                              V3(0, -0.62f, 0.79f).normalized()};
  for (const V3& hole : holes)
    if (u.dot(hole) > 0.9915f) return V3::Constant(0.004f);
  V3 c = look.colours[0];
  if (look.style == BallLook::Style::kSwirl) {
    const V3 q = u * 1.9f + V3::Constant(3);
    const V3 bent = q + 1.6f * V3(Noise3(q, look.seed), Noise3(q, look.seed + 1), Noise3(q, look.seed + 2));
    const float s = std::sin(5.0f * Noise3(bent, look.seed + 3) + 3.0f * bent.x());
    c = Mix(c, look.colours[1], SmoothStep(-0.35f, 0.35f, s));
    c = Mix(c, look.colours[2], SmoothStep(0.62f, 0.75f, Noise3(V3(bent * 1.3f), look.seed + 4)));
  } else if (look.style == BallLook::Style::kMarks) {
    // A patch of tape, a ring round the middle and an emblem.
    static const V3 tape = V3(0.75f, 0.3f, 0.3f).normalized(), emblem = V3(-0.5f, -0.55f, 0.6f).normalized();
    if (std::abs(u.dot(tape.unitOrthogonal())) < 0.14f && u.dot(tape) > 0.86f) c = look.colours[2];
    const float e = u.dot(emblem);
    if (e > 0.93f && e < 0.975f) c = look.colours[1];
    if (e > 0.99f) c = look.colours[1];
  }
  return c;
}

}  // namespace hookline::synth
