#include "setup/camera_motion.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

#include "camera/projection.h"
#include "setup/patch_flow.h"

namespace hookline::setup {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

struct Turn {
  Vector3d rotation = Vector3d::Zero();
  double sd_px = 1e9;
  int agreed = 0;
};

}  // namespace

struct CameraMotion::State {
  CameraModel camera;
  PatchFlow flow;
  std::vector<Vector2d> reference;  // normalised coordinates of the patches
  Vector3d last = Vector3d::Zero();

  State(const LaneSetup& setup, const Background& background) : camera(setup.camera), flow(background.luma, 70) {
    for (const Vector2d& p : flow.places()) reference.push_back(camera::NormalisedFromImage(camera, p));
  }

  Vector2d Predicted(const Eigen::Matrix3d& now_from_reference, std::size_t i) const {
    const Vector3d q = now_from_reference * Vector3d(reference[i].x(), reference[i].y(), 1);
    return camera::ImageFromNormalised(camera, {q.x() / q.z(), q.y() / q.z()});
  }
  Vector2d Predicted(const Vector3d& rotation, std::size_t i) const {
    return Predicted(camera::RotationFromAngleAxis<double>(rotation), i);
  }

  // The turn that most found patches agree on: Gauss-Newton with Tukey weights from a start that may be off by `scale`
  // px.
  Turn Solve(const std::vector<PatchFlow::Found>& found, Vector3d rotation, double scale) const {
    Turn t;
    constexpr double kStep = 1e-5;  // rad
    for (int round = 0; round < 15; ++round) {
      const Eigen::Matrix3d here = camera::RotationFromAngleAxis<double>(rotation);
      std::array<Eigen::Matrix3d, 3> beside;
      for (int k = 0; k < 3; ++k)
        beside[static_cast<std::size_t>(k)] =
            camera::RotationFromAngleAxis<double>(Vector3d(rotation + kStep * Vector3d::Unit(k)));
      Eigen::Matrix3d a = Eigen::Matrix3d::Zero();
      Vector3d b = Vector3d::Zero();
      std::vector<double> errors;
      double weights = 0, weighted = 0;
      t.agreed = 0;
      for (const PatchFlow::Found& f : found) {
        const Vector2d p = Predicted(here, f.patch), e = f.p_in_picture - p;
        errors.push_back(e.norm());
        const double x = e.norm() / scale;
        if (x > 1) continue;
        const double w = (1 - x * x) * (1 - x * x);
        Eigen::Matrix<double, 2, 3> j;
        for (int k = 0; k < 3; ++k) j.col(k) = (Predicted(beside[static_cast<std::size_t>(k)], f.patch) - p) / kStep;
        a += w * j.transpose() * j;
        b += w * j.transpose() * e;
        weights += w;
        weighted += w * e.squaredNorm();
        ++t.agreed;
      }
      if (t.agreed < 6) return t;
      const Vector3d step = a.ldlt().solve(b);
      rotation += step;
      const double before = scale;
      std::nth_element(errors.begin(), errors.begin() + static_cast<std::ptrdiff_t>(errors.size() / 2), errors.end());
      scale = std::clamp(6.0 * errors[errors.size() / 2], 0.4, scale);
      const double variance = weighted / weights / 2;
      t.sd_px = std::sqrt(variance / std::max(1, t.agreed)) + 0.005;
      // A thousandth of a pixel, and nothing more to leave out.
      if (step.norm() * camera.focal_px < 1e-3 && std::abs(scale - before) < 0.01 * before) break;
    }
    t.rotation = rotation;
    return t;
  }
};

CameraMotion::CameraMotion(const LaneSetup& setup, const Background& background)
    : state_(std::make_unique<State>(setup, background)) {}
CameraMotion::~CameraMotion() = default;

FrameMotion CameraMotion::Estimate(const Picture& picture) {
  State& s = *state_;
  const auto places = s.flow.places().size();
  FrameMotion out;
  if (places < 8) {
    out.known = false;
    return out;
  }
  std::vector<Vector2d> expected;
  for (std::size_t i = 0; i < places; ++i) expected.push_back(s.Predicted(s.last, i));
  auto found = s.flow.Find(picture.luma, expected);
  Turn turn = s.Solve(found, s.last, 8);
  // A knock moves the picture by more than a patch can follow: search far, then once more nearby for the exact place.
  if (turn.agreed < static_cast<int>(places) / 3 || turn.sd_px > 0.1) {
    const Turn far = s.Solve(s.flow.FindFar(picture.luma), s.last, 120);
    if (far.agreed > turn.agreed) {
      for (std::size_t i = 0; i < places; ++i) expected[i] = s.Predicted(far.rotation, i);
      found = s.flow.Find(picture.luma, expected);
      turn = s.Solve(found, far.rotation, 8);
    }
  }
  if (turn.agreed < std::max(6, static_cast<int>(places) / 8)) {
    // Too little of the background was seen (a person close to the lens): the last known turn is the best guess.
    out.known = false;
    turn.rotation = s.last;
    turn.sd_px = 5;
  }
  s.last = turn.rotation;
  for (int k = 0; k < 3; ++k) out.rotation[k] = turn.rotation[k];
  out.sd_px = turn.sd_px;
  return out;
}

}  // namespace hookline::setup
