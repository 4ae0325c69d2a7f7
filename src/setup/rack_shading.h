// What a rack of pins can look like whatever lights it: pictures whose sums, with any weights, are the pins under any
// broad light.
//
// A light from above makes the shoulders and heads of pins brighter than their feet, a coloured band darkens their
// necks: drawn all of one white they seem to stand some .4 px higher than they do. The light that a matt convex body
// gives back is nearly linear in its surface's normal (the first spherical harmonics of its lighting; Basri and Jacobs,
// "Lambertian reflectance and linear subspaces", 2003, from memory), so three pictures, one for each part of the
// normal, hold all of it, and none of them moves the outline.
#pragma once

#include <Eigen/Core>
#include <vector>

namespace hookline::setup {

struct PinOnScreen {
  Eigen::Vector2d foot = Eigen::Vector2d::Zero(), top = Eigen::Vector2d::Zero();  // px
  double px_per_metre = 0;
};

// Where a pixel looks at a pin. inside: how far within its outline, px, negative outside; height above its foot as a
// share of the pin's; normal of its surface there: to the right, towards the camera, up.
struct PlaceOnPin {
  double inside = -1e3, height = 0;
  Eigen::Vector3d normal = Eigen::Vector3d::Zero();
};
PlaceOnPin LookAtPin(const PinOnScreen& pin, double u, double v);

// No bloom or blur makes a pin larger by more than that, px; looks in columns that `Beside` finds farther off see none
// of it.
inline constexpr double kMostBeyond = 2.5;
bool Beside(const PinOnScreen& pin, double u);

// Samples in rows of nx, the first at (u_lo, v_lo), step px apart.
struct SampleGrid {
  double u_lo = 0, v_lo = 0, step = 1;
  int nx = 0, ny = 0;
};

class LitRack {
 public:
  // pins: nearest the camera first.
  LitRack(const std::vector<PinOnScreen>& pins, const SampleGrid& grid);

  // bloom: how much larger than they are lens, exposure and encoder make white pins, px. blur: px.
  void Draw(double bloom, double blur);

  // A row for each sample, a column each: the dark behind, white pins, pins lit from the right, the front and above,
  // the band at the neck.
  const Eigen::MatrixXd& pictures() const { return pictures_; }
  // What no sum of the pictures can be.
  Eigen::VectorXd Unexplained(const Eigen::VectorXd& image) const {
    return image - basis_ * (basis_.transpose() * image);
  }

 private:
  struct Hit {
    int sample = 0;
    bool first = false;  // of its look through the sample: nothing nearer covers it
    PlaceOnPin at;
  };
  SampleGrid grid_;
  std::vector<Hit> hits_;  // nearest first for each look
  Eigen::MatrixXd pictures_, basis_;
};

}  // namespace hookline::setup
