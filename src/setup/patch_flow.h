// Small fixed patches of a reference picture, found again in another picture to a few hundredths of a pixel.
//
// Inverse compositional alignment (Baker and Matthews, 2004): gradients and Hessian belong to the reference and are
// computed once, so a hundred patches cost a fraction of a millisecond a frame. Brightness and its slope across time
// are taken out by the patch's mean.
#pragma once

#include <Eigen/Core>
#include <array>
#include <opencv2/core/mat.hpp>
#include <optional>
#include <vector>

namespace hookline::setup {

class PatchFlow {
 public:
  static constexpr int kHalf = 7;
  static constexpr int kSide = 2 * kHalf + 1;
  static constexpr int kRow = 16;  // a patch's rows in memory, as vectors are wide

  // Picks up to `count` well-spread corners of the reference, away from its border. mask: CV_8U, zero where none may
  // be; may be empty.
  PatchFlow(const cv::Mat& reference, int count, const cv::Mat& mask = {});

  struct Found {
    std::size_t patch = 0;
    Eigen::Vector2d p_in_picture = Eigen::Vector2d::Zero();
  };
  const std::vector<Eigen::Vector2d>& places() const { return places_; }  // in the reference, px

  // Where each patch is now, starting from the expected places (same order as places()). Patches that did not converge
  // within 3 px of the expected place or look different now are left out.
  std::vector<Found> Find(const cv::Mat& picture, const std::vector<Eigen::Vector2d>& expected) const;

  // The same over long ways (some 60 px) with image pyramids; slower.
  std::vector<Found> FindFar(const cv::Mat& picture) const;

 private:
  struct Patch {
    using Values = std::array<float, static_cast<std::size_t>(kSide* kRow)>;
    Values value{}, du{}, dv{};  // zero-mean value and gradients
    Eigen::Matrix2d inverse_hessian;
    double energy = 0;
  };
  cv::Mat reference_;
  std::vector<Eigen::Vector2d> places_;
  std::vector<Patch> patches_;
};

// Homography (3x3, picture from reference) that most found patches agree on. nullopt when fewer than 12 or a third
// agree.
std::optional<cv::Mat> HomographyFrom(const PatchFlow& flow, const std::vector<PatchFlow::Found>& found);

}  // namespace hookline::setup
