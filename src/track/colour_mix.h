// What a pixel shows that is half ball and half background, when their colours differ.
//
// Light adds up in each of red, green and blue before the tone curve; luma and chroma are made from the curved values
// (Rec. ITU-R BT.709, item 3):
//   R' = Y + 1.5397 (Cr - 128),  B' = Y + 1.8142 (Cb - 128),  Y = 0.2126 R' + 0.7152 G' + 0.0722 B'
//   X' = 255 (X / 255)^(1 / 2.2) for each
// Between grey parts luma is then the mix of linear lumas put through the curve. Between parts of different colours it
// is not: half green and half grey is brighter than either rule of luma alone says, which moves the edge of a bright
// green ball outwards by a third of a pixel, and more on its lit side than on the shaded one.
// Levels are those of the file, 8 bit; black at 16 instead of 0 makes no difference that matters here.
#pragma once

#include <array>
#include <cstddef>

namespace hookline::track {

// Levels of the file from linear light, 255 (x / 255)^(1 / gamma), and back, tabulated.
class ToneCurve {
 public:
  explicit ToneCurve(double gamma);
  double Linear(double level) const;
  double Level(double linear) const { return Between(level_, linear); }
  double Slope(double linear) const { return Between(slope_, linear); }  // grey levels per unit of linear light

 private:
  static constexpr int kSteps = 2048;
  static constexpr double kMost = 400;  // the model may overshoot white
  using Table = std::array<float, kSteps + 2>;
  static double Between(const Table& table, double linear);

  Table level_{}, slope_{};
  std::array<float, 402> linear_{};  // per grey level
};

const ToneCurve& UsualCurve();

struct Colour {
  double y = 128, cb = 128, cr = 128;  // levels
};

// Colour of a pixel that is covered by `over` to the share a and shows `under` beside it.
Colour MixOf(const Colour& under, const Colour& over, double a);

// By how much the mix differs from the mix of its lumas in linear light (Y, in linear light) and from the even mix of
// the levels (Cb, Cr):  excess(a) = a (1 - a) (first + second a), exact at a third and two thirds.
struct MixExcess {
  double first = 0, second = 0;
  double At(double a) const { return a * (1 - a) * (first + second * a); }
  double Slope(double a) const { return (1 - 2 * a) * (first + second * a) + a * (1 - a) * second; }
};

struct ColourExcess {
  MixExcess y, cb, cr;
};

ColourExcess ExcessOf(const Colour& under, const Colour& over);

}  // namespace hookline::track
