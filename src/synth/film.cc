#include "synth/film.h"

#include <algorithm>
#include <cmath>
#include <opencv2/core/utility.hpp>
#include <random>

#include "synth/shapes.h"

namespace hookline::synth {
namespace {

constexpr int kCodes = 8192;
constexpr float kBrightest = 16;  // of the tone table, in linear light

}  // namespace

Film::Film(const VideoSpec& video, std::uint32_t seed) : video_(video) {
  gain_.create(video.height, video.width, CV_32F);
  const float corner2 = 0.25f * static_cast<float>(video.width * video.width + video.height * video.height);
  for (int v = 0; v < video.height; ++v) {
    for (int u = 0; u < video.width; ++u) {
      const float x = static_cast<float>(u) - 0.5f * static_cast<float>(video.width),
                  y = static_cast<float>(v) - 0.5f * static_cast<float>(video.height);
      gain_.at<float>(v, u) =
          static_cast<float>(video.exposure) * (1 - static_cast<float>(video.vignette) * (x * x + y * y) / corner2);
    }
  }
  tone_.resize(kCodes + 1);
  spread_.resize(kCodes + 1);
  const auto curve = [&](double light) {
    double x = 0.18 * std::pow(light / 0.18, video.contrast);
    x = x < 0.5 ? x : 0.5 + (1 - std::exp(-(x - 0.5) / 0.55)) * 0.55;
    x = std::min(1.0, x);
    return 255 * (x <= 0.0031308 ? 12.92 * x : 1.055 * std::pow(x, 1 / 2.4) - 0.055);
  };
  for (int i = 0; i <= kCodes; ++i) {
    const double root = std::sqrt(static_cast<double>(kBrightest)) * i / kCodes, light = root * root;
    tone_[static_cast<std::size_t>(i)] = static_cast<float>(curve(light));
    const double noise = video.noise * std::sqrt(0.0035 * 0.0035 + 0.00022 * light);
    spread_[static_cast<std::size_t>(i)] =
        static_cast<float>(std::min(12.0, 0.5 * (curve(light + noise) - curve(std::max(0.0, light - noise)))));
  }
  std::mt19937 random(seed + 99);
  grain_.resize(1 << 20);
  for (std::size_t i = 0; i < grain_.size(); i += 2) {
    const double a = std::sqrt(-2 * std::log((static_cast<double>(random()) + 1) / 4294967297.0)),
                 b = 6.283185307179586 * static_cast<double>(random()) / 4294967296.0;
    grain_[i] = static_cast<float>(a * std::cos(b));
    grain_[i + 1] = static_cast<float>(a * std::sin(b));
  }
}

void Film::Develop(const cv::Mat& picture, std::uint32_t index, cv::Mat& bgr) const {
  bgr.create(picture.size(), CV_8UC3);
  const float scale = kCodes / std::sqrt(kBrightest);
  const float red = 1 + 0.12f * static_cast<float>(video_.warmth), blue = 1 - 0.16f * static_cast<float>(video_.warmth);
  cv::parallel_for_(cv::Range(0, picture.rows), [&](const cv::Range& rows) {
    for (int v = rows.start; v < rows.end; ++v) {
      const auto* in = picture.ptr<cv::Vec3f>(v);
      const float* shade = gain_.ptr<float>(v);
      auto* out = bgr.ptr<cv::Vec3b>(v);
      std::size_t g = Hash(static_cast<std::uint32_t>(v), index + 1) & (grain_.size() - 4);
      for (int u = 0; u < picture.cols; ++u) {
        const float light[3] = {in[u][2] * blue * shade[u], in[u][1] * shade[u], in[u][0] * red * shade[u]};
        const float* grains = grain_.data() + g;
        const float common = 0.75f * grains[0];
        for (int k = 0; k < 3; ++k) {
          // Steps of the table are a sixth of a code value or less.
          const auto c = static_cast<std::size_t>(
              std::min(static_cast<float>(kCodes), std::sqrt(std::max(0.0f, light[k])) * scale));
          const float value = tone_[c] + spread_[c] * (common + 0.66f * grains[1 + k]);
          out[u][k] = static_cast<unsigned char>(std::clamp(value + 0.5f, 0.0f, 255.0f));
        }
        g = (g + 4) & (grain_.size() - 1);
      }
    }
  });
}

}  // namespace hookline::synth
