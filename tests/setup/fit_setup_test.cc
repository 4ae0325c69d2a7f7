#include "setup/fit_setup.h"

#include <doctest/doctest.h>

#include <Eigen/Dense>
#include <cmath>
#include <functional>
#include <opencv2/calib3d.hpp>
#include <random>

#include "camera/projection.h"
#include "setup/from_points.h"

using namespace hookline;
using Eigen::Vector2d;
using Eigen::Vector3d;

namespace {

LaneSetup TrueSetup() {
  LaneSetup s;
  CameraModel& c = s.camera;
  c.width = 1920;
  c.height = 1080;
  c.focal_px = 1480;
  c.centre_u = 955;
  c.centre_v = 544;
  c.k1 = -0.03;
  c.k2 = 0.006;
  // Looking down the lane: camera x along the lane's x, camera z along the lane's y, then pitched down, yawed and
  // rolled a little.
  Eigen::Matrix3d level;
  level << 1, 0, 0, 0, 0, -1, 0, 1, 0;
  const Eigen::Matrix3d r = (Eigen::AngleAxisd(0.02, Vector3d::UnitZ()) * Eigen::AngleAxisd(0.11, Vector3d::UnitX()) *
                             Eigen::AngleAxisd(-0.03, Vector3d::UnitY()))
                                .toRotationMatrix() *
                            level;
  const Eigen::AngleAxisd aa(r);
  c.rotation = aa.angle() * aa.axis();
  c.position_in_lane = {0.4, -4.7, 1.55};
  s.lane.width = lane::MetresFromInches(41.7);
  return s;
}

Vector2d Seen(const LaneSetup& s, const Vector3d& p) { return camera::ImageFromLane(s.camera, p).value(); }

// Evidence as a perfect picture would give it, with Gaussian noise.
setup::Evidence EvidenceOf(const LaneSetup& s, const std::vector<setup::LaneInView>& lanes, double noise,
                           unsigned seed) {
  std::mt19937 random(seed);
  std::normal_distribution<double> n(0, 1);
  const auto noisy = [&](const Vector2d& p) { return Vector2d(p.x() + noise * n(random), p.y() + noise * n(random)); };
  setup::Evidence e;
  for (std::size_t l = 0; l < lanes.size(); ++l) {
    for (const double side : {-1.0, 1.0})
      for (double y = 0.3; y < 18; y += 0.25)
        e.edges.push_back({l, side, false, y, noisy(Seen(s, {lanes[l].centre_x + side * 0.5 * s.lane.width, y, 0}))});
    for (const int pin : {6, 9, 0}) {
      const lane::Point2 spot = lane::PinSpots()[static_cast<std::size_t>(pin)];
      const Vector3d p(spot.x, spot.y, 0.19);
      e.racks.push_back({l, p, noisy(Seen(s, p + Vector3d(lanes[l].centre_x, 0, 0))), 1.0});
    }
  }
  for (double x = -0.5; x <= 0.5; x += 0.05) e.foul.push_back({x, true, noisy(Seen(s, {x, 0, 0}))});
  return e;
}

LaneSetup Disturbed(LaneSetup s) {
  s.camera.focal_px *= 1.03;
  s.camera.centre_u = 959.5;
  s.camera.centre_v = 539.5;
  s.camera.k1 = s.camera.k2 = 0;
  s.camera.rotation += Vector3d(0.004, -0.003, 0.004);
  s.camera.position_in_lane += Vector3d(0.05, -0.12, 0.04);
  s.lane.width = lane::kNominalWidth;
  return s;
}

// Where a pixel on the lane at 50 ft lies across it (way 0) or along it (1): error and sd that the covariance gives, m.
struct Doubted {
  double error = 0, sd = 0;
};
Doubted AtFiftyFeet(const LaneSetup& fitted, const LaneSetup& truth, int way) {
  const Vector2d pixel = Seen(truth, {0.1, 15.24, 0});
  const auto place = [&](const LaneSetup& s) { return (*camera::LaneFromImage(s.camera, pixel, 0))[way]; };
  const SetupVector p = camera::ParametersOf(fitted);
  SetupVector g = SetupVector::Zero();
  for (int k = 0; k < kSetupParameters; ++k) {
    const double h = 0.01 * std::sqrt(fitted.covariance(k, k)) + 1e-9;
    SetupVector a = p, b = p;
    a[k] -= h;
    b[k] += h;
    g[k] = (place(camera::WithParameters(fitted, b)) - place(camera::WithParameters(fitted, a))) / (2 * h);
  }
  return {place(fitted) - place(truth), std::sqrt(g.dot(fitted.covariance * g))};
}

// How a place at 50 ft is doubted with evidence of either scatter, px, and how far off it is in units of that with the
// cleaner one, over 30 pictures.
struct Scatters {
  double clean = 0, usual = 0;
  int way = 0;
};
struct Told {
  double clean_sd = 0, usual_sd = 0, rms = 0;
};
Told OverPictures(const LaneSetup& truth, const std::vector<setup::LaneInView>& lanes, setup::FitSetupOptions options,
                  const Scatters& scatters, const std::function<setup::Evidence(double, unsigned)>& evidence_of) {
  options.correlated_points = 1;
  options.edge_smear_px = options.rack_rise_px = 1e-3;
  constexpr int kPictures = 30;
  Told told;
  for (unsigned seed = 1; seed <= kPictures; ++seed) {
    const auto fitted = [&](double scatter) {
      const setup::SetupFit fit = setup::FitSetup(Disturbed(truth), lanes, evidence_of(scatter, seed), {}, options);
      REQUIRE(fit.usable);
      return AtFiftyFeet(fit.setup, truth, scatters.way);
    };
    const Doubted clean = fitted(scatters.clean);
    told.rms += clean.error * clean.error / (clean.sd * clean.sd) / kPictures;
    told.clean_sd += clean.sd / kPictures;
    told.usual_sd += fitted(scatters.usual).sd / kPictures;
  }
  told.rms = std::sqrt(told.rms);
  return told;
}

}  // namespace

TEST_CASE("perfect evidence gives the camera back") {
  const LaneSetup truth = TrueSetup();
  const std::vector<setup::LaneInView> lanes = {{0, 0.0}, {1, 1.66}, {-1, -1.71}};
  const setup::Evidence e = EvidenceOf(truth, lanes, 0, 1);
  setup::FitSetupOptions options;
  // Wide priors: the closed answer is the truth itself, not a compromise with what is usual.
  options.centre_prior_share = options.k1_prior = options.k2_prior = options.width_prior_m = 1;
  options.edge_smear_px = options.rack_rise_px = 1e-4;
  const setup::SetupFit fit = setup::FitSetup(Disturbed(truth), {{0, 0.0}, {1, 1.68}, {-1, -1.68}}, e, {}, options);
  REQUIRE(fit.usable);
  CHECK(fit.rms_px < 1e-3);
  for (const Vector3d& p : {Vector3d(-0.52, 0, 0), Vector3d(0.52, 0, 0), Vector3d(-0.5, 18.288, 0),
                            Vector3d(0.5, 18.288, 0), Vector3d(0, 9, 0.1)})
    CHECK((Seen(fit.setup, p) - Seen(truth, p)).norm() < 0.01);
  CHECK(fit.setup.lane.width == doctest::Approx(truth.lane.width).epsilon(1e-4));
  CHECK(fit.lanes[1].centre_x == doctest::Approx(1.66).epsilon(1e-3));
}

TEST_CASE("the stated doubt is honest over many noisy pictures") {
  const LaneSetup truth = TrueSetup();
  const std::vector<setup::LaneInView> lanes = {{0, 0.0}, {1, 1.66}};
  setup::FitSetupOptions options;
  options.correlated_points = 1;                        // the noise made here is independent, point by point
  options.edge_smear_px = options.rack_rise_px = 1e-3;  // nor does it push all edges one way
  options.edge_sigma_px = options.rack_sigma_px = options.foul_sigma_px = 0.3;
  double sum = 0;
  int n = 0;
  for (unsigned seed = 1; seed <= 40; ++seed) {
    const setup::SetupFit fit =
        setup::FitSetup(Disturbed(truth), lanes, EvidenceOf(truth, lanes, 0.3, seed), {}, options);
    REQUIRE(fit.usable);
    const Doubted along = AtFiftyFeet(fit.setup, truth, 1);
    sum += along.error * along.error / (along.sd * along.sd);
    ++n;
  }
  const double rms = std::sqrt(sum / n);
  // Below one by design: the three points of a rack count as one, for they share what a rack's alignment errs by, and
  // here they do not.
  CHECK(rms > 0.3);
  CHECK(rms < 1.2);
}

TEST_CASE("edges that scatter less than usual are known better, and still honestly") {
  const LaneSetup truth = TrueSetup();
  const std::vector<setup::LaneInView> lanes = {{0, 0.0}, {1, 1.66}};
  setup::FitSetupOptions options;
  options.foul_sigma_px = options.rack_sigma_px = 0.15;
  const Told told = OverPictures(truth, lanes, options, {.clean = 0.15, .usual = 0.35, .way = 0},
                                 [&](double noise, unsigned seed) { return EvidenceOf(truth, lanes, noise, seed); });
  CHECK(told.clean_sd < 0.85 * told.usual_sd);
  CHECK(told.rms < 1.2);
}

TEST_CASE("racks that agree with each other are known better, and still honestly") {
  const LaneSetup truth = TrueSetup();
  const std::vector<setup::LaneInView> lanes = {{0, 0.0}, {1, 1.66}, {-1, -1.71}};
  setup::FitSetupOptions options;
  options.edge_sigma_px = options.foul_sigma_px = 0.35;
  const Told told =
      OverPictures(truth, lanes, options, {.clean = 0.1, .usual = 0.25, .way = 1}, [&](double noise, unsigned seed) {
        setup::Evidence e = EvidenceOf(truth, lanes, 0.35, seed);
        e.racks = EvidenceOf(truth, lanes, noise, seed + 100).racks;
        return e;
      });
  CHECK(told.clean_sd < 0.65 * told.usual_sd);
  CHECK(told.rms < 1.2);
}

TEST_CASE("a person's contour among the edges does not pull the lane") {
  const LaneSetup truth = TrueSetup();
  setup::Evidence e = EvidenceOf(truth, {{0, 0.0}}, 0.1, 3);
  for (std::size_t i = 0; i < e.edges.size(); i += 4) e.edges[i].p_in_image += Vector2d(3.5, 1.0);  // every fourth
  const setup::SetupFit fit = setup::FitSetup(Disturbed(truth), {{0, 0.0}}, e, {});
  REQUIRE(fit.usable);
  CHECK((Seen(fit.setup, {0.5, 18.288, 0}) - Seen(truth, {0.5, 18.288, 0})).norm() < 0.5);
}

TEST_CASE("pose agrees with OpenCV's solvePnP on the same points") {
  // Outside reference: cv::solvePnP (SOLVEPNP_ITERATIVE) with the true intrinsics, on the same exact points.
  const LaneSetup truth = TrueSetup();
  const CameraModel& c = truth.camera;
  std::vector<cv::Point3d> object;
  std::vector<cv::Point2d> image;
  std::vector<setup::MarkPoint> marks;
  for (const double x : {-0.5, 0.0, 0.5})
    for (const double y : {0.0, 4.0, 9.0, 18.0})
      for (const double z : {0.0, 0.3}) {
        const Vector2d p = Seen(truth, {x, y, z});
        object.emplace_back(x, y, z);
        image.emplace_back(p.x(), p.y());
        marks.push_back({{x, y, z}, false, 1, p});
      }
  const cv::Mat k = (cv::Mat_<double>(3, 3) << c.focal_px, 0, c.centre_u, 0, c.focal_px, c.centre_v, 0, 0, 1);
  const cv::Mat d = (cv::Mat_<double>(1, 5) << c.k1, c.k2, 0, 0, 0);
  cv::Mat r, t;
  REQUIRE(cv::solvePnP(object, image, k, d, r, t));
  cv::Mat rm;
  cv::Rodrigues(r, rm);
  const cv::Mat position = -rm.t() * t;
  setup::FitSetupOptions options;
  options.centre_prior_share = options.k1_prior = options.k2_prior = 1;
  options.mark_sigma_px = 0.01;
  const setup::SetupFit fit = setup::FitSetup(Disturbed(truth), {{0, 0.0}}, {}, marks, options);
  REQUIRE(fit.usable);
  for (int i = 0; i < 3; ++i) {
    CHECK(fit.setup.camera.position_in_lane[i] == doctest::Approx(position.at<double>(i)).epsilon(1e-3));
    CHECK(fit.setup.camera.rotation[i] == doctest::Approx(r.at<double>(i)).epsilon(1e-3));
  }
}

TEST_CASE("focal length and distortion agree with OpenCV's calibrateCamera on the same points") {
  // Outside reference: cv::calibrateCamera on one view of points at several heights, k1 and k2 free, tangential off.
  const LaneSetup truth = TrueSetup();
  std::vector<cv::Point3f> object;
  std::vector<cv::Point2f> image;
  std::vector<setup::MarkPoint> marks;
  for (double x = -3; x <= 3.01; x += 1.0)
    for (const double y : {0.0, 2.0, 5.0, 9.0, 14.0, 18.0})
      for (const double z : {0.0, 1.2, 2.5}) {
        const auto p = camera::ImageFromLane(truth.camera, {x, y, z});
        if (!p || p->x() < 0 || p->y() < 0 || p->x() > 1919 || p->y() > 1079) continue;
        object.emplace_back(static_cast<float>(x), static_cast<float>(y), static_cast<float>(z));
        image.emplace_back(static_cast<float>(p->x()), static_cast<float>(p->y()));
        marks.push_back({{x, y, z}, false, 1, *p});
      }
  REQUIRE(object.size() > 40);
  cv::Mat k = (cv::Mat_<double>(3, 3) << 1400, 0, 959.5, 0, 1400, 539.5, 0, 0, 1), d = cv::Mat::zeros(1, 5, CV_64F);
  std::vector<cv::Mat> r, t;
  cv::calibrateCamera(
      std::vector<std::vector<cv::Point3f>>{object}, std::vector<std::vector<cv::Point2f>>{image}, cv::Size(1920, 1080),
      k, d, r, t,
      cv::CALIB_USE_INTRINSIC_GUESS | cv::CALIB_FIX_ASPECT_RATIO | cv::CALIB_ZERO_TANGENT_DIST | cv::CALIB_FIX_K3);
  setup::FitSetupOptions options;
  options.centre_prior_share = options.k1_prior = options.k2_prior = 1;
  options.mark_sigma_px = 0.01;
  const setup::SetupFit fit = setup::FitSetup(Disturbed(truth), {{0, 0.0}}, {}, marks, options);
  REQUIRE(fit.usable);
  CHECK(fit.setup.camera.focal_px == doctest::Approx(k.at<double>(0, 0)).epsilon(2e-3));
  CHECK(fit.setup.camera.k1 == doctest::Approx(d.at<double>(0)).epsilon(0.03));
  CHECK(fit.setup.camera.k2 == doctest::Approx(d.at<double>(1)).epsilon(0.1));
}

TEST_CASE("without evidence the doubt is as wide as the priors") {
  const setup::SetupFit fit = setup::FitSetup(TrueSetup(), {{0, 0.0}}, {}, {});
  // Nothing but priors: the camera's place is not determined, and the fit must not pretend it is.
  if (fit.usable) CHECK(fit.setup.evidence_points == 0);
}

TEST_CASE("a lane from four marks, and sentences for marks that are none") {
  const LaneSetup truth = TrueSetup();
  const double half = 0.5 * lane::kNominalWidth;
  std::map<std::string, Vector2d> marks = {{"foul_left", Seen(truth, {-half, 0, 0})},
                                           {"foul_right", Seen(truth, {half, 0, 0})},
                                           {"headpin_left", Seen(truth, {-half, lane::kHeadPinY, 0})},
                                           {"headpin_right", Seen(truth, {half, lane::kHeadPinY, 0})}};
  const auto four = setup::LaneFromPoints(marks, 1920, 1080, nullptr);
  REQUIRE(four.ok());
  CHECK(four->source == SetupSource::kPoints);
  for (const auto& [name, p] : marks) {
    const double x = name.ends_with("left") ? -half : half, y = name.starts_with("foul") ? 0 : lane::kHeadPinY;
    CHECK((Seen(*four, {x, y, 0}) - p).norm() < 2);
  }
  marks["pin_7_top"] = Seen(truth, {lane::PinSpots()[6].x, lane::PinSpots()[6].y, lane::kPinHeight});
  marks["pin_1"] = Seen(truth, {0, lane::kHeadPinY, 0});
  marks["arrow_20"] = Seen(truth, {0, lane::MetresFromFeet(15.0), 0});
  const auto seven = setup::LaneFromPoints(marks, 1920, 1080, nullptr);
  REQUIRE(seven.ok());
  // More marks, less doubt of the focal length.
  CHECK(seven->covariance(0, 0) < four->covariance(0, 0));

  marks["arrow_7"] = {10, 10};
  auto bad = setup::LaneFromPoints(marks, 1920, 1080, nullptr);
  REQUIRE_FALSE(bad.ok());
  CHECK(bad.status().code() == StatusCode::kBadUse);
  CHECK(bad.status().sentence().find("arrow_7") != std::string::npos);
  bad = setup::LaneFromPoints({{"foul_left", {10, 10}}, {"foul_right", {20, 10}}, {"pin_1", {15, 5}}}, 1920, 1080,
                              nullptr);
  REQUIRE_FALSE(bad.ok());
  CHECK(bad.status().sentence().find("four") != std::string::npos);
  bad = setup::LaneFromPoints(
      {{"foul_left", {-10, 10}}, {"foul_right", {20, 10}}, {"pin_1", {15, 5}}, {"pin_7", {15, 5}}}, 1920, 1080,
      nullptr);
  REQUIRE_FALSE(bad.ok());
  CHECK(bad.status().sentence().find("outside") != std::string::npos);
}

TEST_CASE("options out of bounds are refused") {
  setup::FitSetupOptions o;
  CHECK(o.Check().ok());
  o.edge_sigma_px = 0;
  CHECK_FALSE(o.Check().ok());
}
