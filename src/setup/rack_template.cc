#include "setup/rack_template.h"

#include <algorithm>
#include <cmath>

#include "lane/lane_spec.h"
#include "lane/pin_profile.h"

namespace hookline::setup {
namespace {

using lane::InchesFromMetres;

RackTemplate MakeRack(double rise) {
  RackTemplate t;
  const auto spots = lane::PinSpots();
  std::size_t k = 0;
  double sum = 0, sum2 = 0;
  for (int j = 0; j < RackTemplate::kNz; ++j)
    for (int i = 0; i < RackTemplate::kNx; ++i, ++k) {
      const double x = -RackTemplate::kHalfWidth + i * RackTemplate::kStepX,
                   z = RackTemplate::kBottom + j * RackTemplate::kStepZ;
      double cover = 0;
      for (const lane::Point2& p : spots) {
        const double back = InchesFromMetres(p.y - lane::kHeadPinY);
        const double shrink = 1 - back / 940.0;  // perspective of a camera some 15 ft behind the foul line
        const double foot = rise * back / 31.18;
        const double r = InchesFromMetres(lane::PinRadiusAt(lane::MetresFromInches((z - foot) / shrink))) * shrink;
        cover = std::max(cover, std::clamp(r - std::abs(x - InchesFromMetres(p.x) * shrink) + 0.5, 0.0, 1.0));
      }
      t.value[k] = static_cast<float>(cover);
      sum += cover;
      sum2 += cover * cover;
    }
  const double n = static_cast<double>(k), mean = sum / n, norm = std::sqrt(sum2 - sum * mean);
  for (float& v : t.value) v = static_cast<float>((v - mean) / norm);
  return t;
}

}  // namespace

const RackTemplate& RackFor(double rise) {
  static const std::array<RackTemplate, 5> kRacks = {MakeRack(0.6), MakeRack(1.5), MakeRack(2.4), MakeRack(3.3),
                                                     MakeRack(4.5)};
  return kRacks[rise < 1.05 ? 0 : rise < 1.95 ? 1 : rise < 2.85 ? 2 : rise < 3.9 ? 3 : 4];
}

}  // namespace hookline::setup
