// From light to code values: exposure, vignette, white balance, tone curve, noise.
//
// Tone: x = 0.18 (light / 0.18)^contrast, above 0.5 a soft shoulder to 1, then the sRGB curve. Noise: sd^2 of linear
// light a + b light (reading and counting), carried through the curve; three quarters of it common to the three
// colours.
#pragma once

#include <cstdint>
#include <opencv2/core/mat.hpp>
#include <vector>

#include "synth/scenario.h"

namespace hookline::synth {

class Film {
 public:
  Film(const VideoSpec& video, std::uint32_t seed);
  // light: CV_32FC3, linear red, green, blue. bgr: CV_8UC3. Same index, same noise.
  void Develop(const cv::Mat& light, std::uint32_t index, cv::Mat& bgr) const;

 private:
  VideoSpec video_;
  cv::Mat gain_;                      // exposure and vignette of every pixel
  std::vector<float> tone_, spread_;  // code value and its noise, over the square root of light
  std::vector<float> grain_;          // a store of normal numbers
};

}  // namespace hookline::synth
