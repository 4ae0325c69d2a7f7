#include "viewer/colour_matrix.h"

namespace hookline::viewer {

ColourMatrix ColourMatrixOf(media::ColourMatrix matrix, bool full_range) {
  double kr = 0.2126, kb = 0.0722;
  if (matrix == media::ColourMatrix::kBt601) kr = 0.299, kb = 0.114;
  if (matrix == media::ColourMatrix::kBt2020) kr = 0.2627, kb = 0.0593;
  const double kg = 1 - kr - kb;
  const double y = full_range ? 1.0 : 255.0 / 219, c = full_range ? 1.0 : 255.0 / 224;
  ColourMatrix m;
  m.rgb_from_ycc << y, 0, 2 * (1 - kr) * c,                         //
      y, -2 * kb * (1 - kb) / kg * c, -2 * kr * (1 - kr) / kg * c,  //
      y, 2 * (1 - kb) * c, 0;
  m.ycc_zero = {full_range ? 0 : 16.0 / 255, 128.0 / 255, 128.0 / 255};
  return m;
}

}  // namespace hookline::viewer
