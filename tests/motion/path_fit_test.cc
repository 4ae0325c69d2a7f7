#include "motion/path_fit.h"

#include <doctest/doctest.h>

#include <cmath>
#include <map>
#include <random>
#include <vector>

#include "measure/measure_path.h"
#include "motion/path_problem.h"
#include "motion/simulated_shot.h"

namespace hookline::motion {
namespace {

using namespace simulated;
using lane::Hand;
using Id = MeasureId;

LaneSetup Setup(int width = 1920, int height = 1080, double focal = 1400) {
  LaneSetup setup;
  setup.camera = CameraAt(0.3, -MetresFromFeet(15), MetresFromFeet(5), 0, 9, focal, width, height);
  return setup;
}

Filming Clean() {
  Filming f;
  f.noise_px = 0.02;
  f.missing = 0;
  return f;
}

Release RandomRelease(std::mt19937& random) {
  std::uniform_real_distribution<double> u;
  const auto between = [&](double a, double b) { return a + (b - a) * u(random); };
  for (;;) {
    Release r;
    r.speed = lane::MetresPerSecondFromMph(between(13, 19));
    r.rpm = between(120, 450);
    r.rotation_deg = between(0, 70);
    r.launch_deg = between(-0.5, 3.5);
    r.laydown_x = between(-0.3, 0.3);
    r.laydown_y = MetresFromFeet(between(0, 1.5));
    r.k = between(0.33, 0.43);
    r.mu_oil = between(0.03, 0.05);
    r.mu_out = r.mu_oil * between(1, 1.8);
    r.mu_dry = between(0.14, 0.23);
    r.oil_ft = between(36, 44);
    r.transition_ft = between(2, 8);
    const TrueShot shot = Roll(r);
    bool on_lane = true;
    for (const State& s : shot.states) on_lane = on_lane && (s.t < 0 || std::abs(s.x) < 0.5);
    if (on_lane) return r;
  }
}

struct Truth {
  double board_15, board_40, entry_board, entry_angle, launch, release_mph, arrows_mph, entry_mph, mean_mph;
};

Truth TruthOf(const TrueShot& shot) {
  const auto at = [&](double ft) { return shot.AtY(MetresFromFeet(ft)); };
  const auto board = [](const State& s) { return lane::BoardFromX(s.x, lane::kNominalWidth, Hand::kRight); };
  const auto mph = [](const State& s) { return lane::MphFromMetresPerSecond(std::hypot(s.vx, s.vy, s.vz)); };
  constexpr double kTouch = (lane::kBallDiameter + lane::kPinMaxDiameter) / 2;
  State entry = at(59.5);
  if (std::abs(entry.x) < kTouch)
    entry = shot.AtY(std::min(lane::kEntryY, lane::kHeadPinY - std::sqrt(kTouch * kTouch - entry.x * entry.x)));
  const State a = at(3), b = at(10);
  return {board(at(15)),
          board(at(40)),
          board(entry),
          lane::DegreesFromRadians(std::atan2(-entry.vx, entry.vy)),
          lane::DegreesFromRadians(std::atan2(b.x - a.x, b.y - a.y)),
          mph(at(2)),
          mph(at(15)),
          mph(at(59)),
          lane::MphFromMetresPerSecond(entry.y / (entry.t - at(0).t))};
}

void CheckNear(const Measures& m, Id id, double truth, double tolerance) {
  CAPTURE(kMeasureTable[static_cast<std::size_t>(id)].key);
  REQUIRE_MESSAGE(m[id].value.has_value(), m[id].reason);
  CHECK(std::abs(*m[id].value - truth) < tolerance);
}

}  // namespace

TEST_CASE("residuals' derivatives agree with differences, by parameters and by what is considered") {
  const LaneSetup setup = Setup();
  const PathFitOptions options;
  PathProblem problem;
  problem.setup = &setup;
  problem.options = &options;
  problem.ball_radius = lane::kBallDiameter / 2;
  problem.grid.origin_s = 1;
  problem.grid.spacing_s = 0.12;
  problem.grid.knots = 20;
  problem.bias_knots = 10;
  problem.bias_spacing_s = 0.25;
  Eigen::VectorXd p = Eigen::VectorXd::Zero(problem.size());
  p.head<9>() << 0.1, 0.2, 0.2, 8, -0.4, 0.06, 1.9, 0.5, 0.2;
  for (int k = 0; k < 20; ++k) p[kFriction + k] = -1 + 0.08 * k;
  for (Eigen::Index i = problem.grid.size(); i < p.size(); ++i) p[i] = 0.1 * std::sin(static_cast<double>(i));
  for (const double t : {1.03, 1.4, 2.5, 3.1}) {
    const SkidState state = EvaluateSkid(problem.grid, p.head(problem.grid.size()), t - 1);
    LaneSight sight;
    sight.time_s = t;
    sight.p_in_image =
        *camera::ImageFromLane(setup.camera, {state.x, state.y, problem.ball_radius}) + Eigen::Vector2d(0.3, -0.4);
    sight.covariance << 0.04, 0.01, 0.01, 0.09;
    sight.radius_px = 15;
    problem.sights.push_back(sight);
  }
  // Whitening takes the flow at the point of linearisation; without time stamp errors the derivative is exact.
  PathFitOptions exact = options;
  exact.time_sd_s = 0;
  problem.options = &exact;
  for (std::size_t i = 0; i < problem.sights.size(); ++i) {
    Eigen::MatrixXd by;
    Eigen::Matrix<double, 2, kConsidered> considered;
    SightResidual(problem, i, 1, p, ShapedCurve(problem, p), &by, &considered);
    for (Eigen::Index k = 0; k < p.size(); ++k) {
      CAPTURE(k);
      const double h = 1e-6;
      Eigen::VectorXd up = p, down = p;
      up[k] += h;
      down[k] -= h;
      const Eigen::Vector2d d = (SightResidual(problem, i, 1, up, ShapedCurve(problem, up), nullptr, nullptr) -
                                 SightResidual(problem, i, 1, down, ShapedCurve(problem, down), nullptr, nullptr)) /
                                (2 * h);
      CHECK((by.col(k) - d).norm() < 1e-4 * (1 + d.norm()));
    }
    SetupVector step;
    step << 1e-3, 1e-3, 1e-3, 1e-5, 1e-5, 1e-7, 1e-7, 1e-7, 1e-5, 1e-5, 1e-5, 1e-5;
    for (Eigen::Index k = 0; k < kSetupParameters; ++k) {
      CAPTURE(k);
      const auto moved = [&](double sign) {
        SetupVector s = camera::ParametersOf(setup);
        s[k] += sign * step[k];
        const LaneSetup other = camera::WithParameters(setup, s);
        PathProblem own = problem;
        own.setup = &other;
        return SightResidual(own, i, 1, p, ShapedCurve(own, p), nullptr, nullptr);
      };
      const Eigen::Vector2d d = (moved(1) - moved(-1)) / (2 * step[k]);
      CHECK((considered.col(k) - d).norm() < 1e-4 * (1 + d.norm()));
    }
    const auto with_radius = [&](double r) {
      PathProblem own = problem;
      own.ball_radius += r;
      return SightResidual(own, i, 1, p, ShapedCurve(own, p), nullptr, nullptr);
    };
    const Eigen::Vector2d d = (with_radius(1e-6) - with_radius(-1e-6)) / 2e-6;
    CHECK((considered.col(kSetupParameters) - d).norm() < 1e-4 * (1 + d.norm()));
    const auto with_readout = [&](double s) {
      PathProblem own = problem;
      own.sights[i].time_s += s * ((own.sights[i].p_in_image.y() + 0.5) / setup.camera.height - 0.5);
      return SightResidual(own, i, 1, p, ShapedCurve(own, p), nullptr, nullptr);
    };
    const Eigen::Vector2d by_readout = (with_readout(1e-6) - with_readout(-1e-6)) / 2e-6;
    // To what the lasting error changes meanwhile.
    CHECK((considered.col(kSetupParameters + 1) - by_readout).norm() < 1e-3 * (1 + by_readout.norm()));
    const auto with_rim = [&](double px) {
      PathProblem own = problem;
      own.sights[i].p_in_image.x() += px * own.sights[i].by_radius_u;
      return SightResidual(own, i, 1, p, ShapedCurve(own, p), nullptr, nullptr);
    };
    const Eigen::Vector2d by_rim = (with_rim(1e-4) - with_rim(-1e-4)) / 2e-4;
    CHECK((considered.col(kSetupParameters + 2) - by_rim).norm() < 1e-6 * (1 + by_rim.norm()));
  }
}

TEST_CASE("a readout that is told takes its error out of the speeds, one that is not is doubted") {
  std::mt19937 random(11);
  for (int i = 0; i < 3; ++i) {
    Release release = RandomRelease(random);
    release.impact = 0.1;
    const TrueShot shot = Roll(release);
    const LaneSetup setup = Setup();
    Filming f = Clean();
    f.readout_s = 0.015;
    const Track track = Film(shot, setup.camera, f, random);
    const double truth = TruthOf(shot).arrows_mph;
    PathFitOptions told;
    told.readout = {f.readout_s, 0, 0};
    const Result<Path> with = FitPath(track, setup, told), without = FitPath(track, setup);
    REQUIRE(with.ok());
    REQUIRE(without.ok());
    const Measure as_told = measure::MeasurePath(*with, track, setup.lane, Hand::kRight)[Id::kSpeedArrowsMph],
                  untold = measure::MeasurePath(*without, track, setup.lane, Hand::kRight)[Id::kSpeedArrowsMph];
    REQUIRE(as_told.value.has_value());
    REQUIRE(untold.value.has_value());
    CAPTURE(truth);
    CHECK(std::abs(*as_told.value - truth) < 0.015);
    // The ball climbs and is read a little earlier each time: less time passes than the frames say.
    CHECK(*untold.value - truth < -0.02);
    CHECK(untold.sd > 1.5 * as_told.sd);
    CHECK(std::abs(*untold.value - truth) < 5 * untold.sd);
  }
}

TEST_CASE("nearly exact sights give the truth back") {
  std::mt19937 random(3);
  for (int i = 0; i < 6; ++i) {
    Release release = RandomRelease(random);
    release.impact = 0.1;  // set down softly: what a hard landing costs is another test's
    const TrueShot shot = Roll(release);
    const LaneSetup setup = Setup();
    const Track track = Film(shot, setup.camera, Clean(), random);
    const Result<Path> path = FitPath(track, setup);
    REQUIRE(path.ok());
    const Measures m = measure::MeasurePath(*path, track, setup.lane, Hand::kRight);
    const Truth truth = TruthOf(shot);
    CheckNear(m, Id::kBoardAt15Ft, truth.board_15, 0.02);
    CheckNear(m, Id::kBoardAt40Ft, truth.board_40, 0.02);
    CheckNear(m, Id::kEntryBoard, truth.entry_board, 0.03);
    CheckNear(m, Id::kEntryAngleDeg, truth.entry_angle, 0.15);
    CheckNear(m, Id::kLaunchAngleDeg, truth.launch, 0.02);
    CheckNear(m, Id::kSpeedArrowsMph, truth.arrows_mph, 0.03);
    CheckNear(m, Id::kSpeedMeanMph, truth.mean_mph, 0.03);
    CheckNear(m, Id::kSpeedEntryMph, truth.entry_mph, 0.25);
  }
}

// The promise of every number: errors divided by the stated sd are spread like a normal variable's.
TEST_CASE("errors agree with the stated doubt over many simulated shots" * doctest::test_suite("slow")) {
  std::mt19937 random(11);
  std::uniform_real_distribution<double> u;
  std::vector<double> z;
  int far = 0;
  for (int i = 0; i < 60; ++i) {
    const TrueShot shot = Roll(RandomRelease(random));
    const bool hard = i % 2 == 1;
    LaneSetup truth_setup = hard ? Setup(1280, 720, 950) : Setup();
    truth_setup.covariance = SetupCovariance(truth_setup, 0.3);
    const LaneSetup setup = camera::WithParameters(
        truth_setup, camera::ParametersOf(truth_setup) + Draw<kSetupParameters>(truth_setup.covariance, random));
    Filming f;
    f.rate = hard ? 30 : 60;
    f.noise_px = hard ? 0.3 : 0.15;
    f.stated_noise = 0.8 + 0.4 * u(random);
    LastingAsMeasured(f);
    f.first_y = MetresFromFeet(0.5 + 5 * u(random));
    f.outliers = i % 3 == 0 ? 0.05 : 0;
    f.burst = i % 5 == 0;
    const Track track = Film(shot, truth_setup.camera, f, random);
    const Result<Path> path = FitPath(track, setup);
    REQUIRE(path.ok());
    const Measures m = measure::MeasurePath(*path, track, setup.lane, Hand::kRight);
    const Truth t = TruthOf(shot);
    const std::pair<Id, double> values[] = {
        {Id::kBoardAt15Ft, t.board_15},      {Id::kBoardAt40Ft, t.board_40},    {Id::kEntryBoard, t.entry_board},
        {Id::kEntryAngleDeg, t.entry_angle}, {Id::kLaunchAngleDeg, t.launch},   {Id::kSpeedReleaseMph, t.release_mph},
        {Id::kSpeedArrowsMph, t.arrows_mph}, {Id::kSpeedEntryMph, t.entry_mph}, {Id::kSpeedMeanMph, t.mean_mph}};
    for (const auto& [id, truth] : values) {
      if (!m[id].value) continue;
      z.push_back((*m[id].value - truth) / m[id].sd);
      far += std::abs(z.back()) > 3 ? 1 : 0;
    }
  }
  double sum = 0;
  for (const double v : z) sum += v * v;
  const double n = static_cast<double>(z.size()), rms = std::sqrt(sum / n);
  CHECK(n > 60 * 9 * 0.9);
  CHECK(rms > 0.7);
  CHECK(rms < 1.3);
  CHECK(far <= 0.025 * n);
}

// The ball's centre passes 2 ft in the air, at the landing, or on the lane after it.
TEST_CASE("a lofted ball's release speed agrees with its stated doubt" * doctest::test_suite("slow")) {
  std::mt19937 random(23);
  std::uniform_real_distribution<double> u;
  std::vector<double> z;
  for (int i = 0; i < 40; ++i) {
    Release r = RandomRelease(random);
    r.laydown_y = MetresFromFeet(1 + 3 * u(random));
    r.impact = 0.7 + 0.8 * u(random);
    r.bounce = 0.1 + 0.2 * u(random);
    const TrueShot shot = Roll(r);
    LaneSetup truth_setup = Setup();
    truth_setup.covariance = SetupCovariance(truth_setup, 0.3);
    const LaneSetup setup = camera::WithParameters(
        truth_setup, camera::ParametersOf(truth_setup) + Draw<kSetupParameters>(truth_setup.covariance, random));
    Filming f;
    LastingAsMeasured(f);
    f.first_y = MetresFromFeet(-0.5 + 1.5 * u(random));
    const Track track = Film(shot, truth_setup.camera, f, random);
    const Result<Path> path = FitPath(track, setup);
    REQUIRE(path.ok());
    const Measures m = measure::MeasurePath(*path, track, setup.lane, Hand::kRight);
    if (!m[Id::kSpeedReleaseMph].value) continue;
    z.push_back((*m[Id::kSpeedReleaseMph].value - TruthOf(shot).release_mph) / m[Id::kSpeedReleaseMph].sd);
  }
  double sum = 0;
  for (const double v : z) sum += v * v;
  const double rms = std::sqrt(sum / static_cast<double>(z.size()));
  CAPTURE(rms);
  CHECK(z.size() >= 36);
  CHECK(rms > 0.7);
  CHECK(rms < 1.3);
}

// Ten sights that are off alike tell no more than one. A fit that is told so gives doubts that hold; one that takes
// them for independent does not.
TEST_CASE("what lasts from sight to sight is doubted as the sights say" * doctest::test_suite("slow")) {
  double told = 0, untold = 0;
  int n = 0;
  std::mt19937 random(31);
  for (int i = 0; i < 14; ++i) {
    const TrueShot shot = Roll(RandomRelease(random));
    Filming f;
    f.noise_px = 0.12;
    f.bias_of_noise = 2;
    Track track = Film(shot, Setup().camera, f, random);
    for (const bool says : {true, false}) {
      if (!says)
        for (BallSight& sight : track.sights) sight.lasting_sd.setZero();
      const Result<Path> path = FitPath(track, Setup());
      REQUIRE(path.ok());
      const Measures m = measure::MeasurePath(*path, track, Setup().lane, Hand::kRight);
      const Truth truth = TruthOf(shot);
      for (const auto& [id, value] :
           {std::pair{Id::kBoardAt15Ft, truth.board_15}, {Id::kBoardAt40Ft, truth.board_40}}) {
        REQUIRE(m[id].value);
        const double z = (*m[id].value - value) / m[id].sd;
        (says ? told : untold) += z * z;
        n += says;
      }
    }
  }
  CAPTURE(std::sqrt(told / n));
  CAPTURE(std::sqrt(untold / n));
  CHECK(std::sqrt(told / n) > 0.6);
  CHECK(std::sqrt(told / n) < 1.35);
  CHECK(std::sqrt(untold / n) > 1.7);
}

// A lofted ball hops two or three times: its landing is the first, seen from before it or from amid the first hop.
TEST_CASE("a hop is not taken for the landing" * doctest::test_suite("slow")) {
  std::mt19937 random(29);
  std::uniform_real_distribution<double> u;
  int landings = 0;
  double worst_ft = 0, squares = 0;
  for (int i = 0; i < 24; ++i) {
    Release r = RandomRelease(random);
    const double landing_ft = 2.8 + 2.2 * u(random);
    r.laydown_y = MetresFromFeet(landing_ft);
    // Let go at the foul line, neither rising nor falling by more than a little.
    r.impact = lane::kStandardGravity * (r.laydown_y / r.speed) + 0.3 * (u(random) - 0.5);
    r.bounce = 0.2 + 0.15 * u(random);
    const bool from_hop = i % 3 == 2;
    Filming f;
    f.rate = 60;
    f.first_y = MetresFromFeet(from_hop ? landing_ft + 1.0 : 1.0);
    const TrueShot shot = Roll(r);
    Track track = Film(shot, Setup().camera, f, random);
    for (BallSight& sight : track.sights) sight.in_air = shot.At(sight.time_s - 1).height > 0.005;
    const Result<Path> path = FitPath(track, Setup());
    REQUIRE(path.ok());
    const Measures m = measure::MeasurePath(*path, track, Setup().lane, Hand::kRight);
    const Measure &release = m[Id::kSpeedReleaseMph], &laydown = m[Id::kLaydownFt];
    REQUIRE(release.value);
    const double z = (*release.value - TruthOf(shot).release_mph) / release.sd;
    squares += z * z;
    if (!laydown.value) continue;  // as it should be when the sights begin in a hop
    landings += from_hop ? 0 : 1;
    worst_ft = std::max(worst_ft, std::abs(*laydown.value - landing_ft));
  }
  CAPTURE(squares / 24);
  CAPTURE(worst_ft);
  CHECK(landings >= 14);   // of 16
  CHECK(worst_ft < 0.25);  // a first hop is 1.5 to 4 ft long
  CHECK(std::sqrt(squares / 24) < 1.5);
}

// The landing has kinks on every side: the search must find its way down from a start with another friction.
TEST_CASE("a step of friction is found for every ball seen from the hand" * doctest::test_suite("slow")) {
  const LaneSetup setup = Setup(1280, 720, 934);
  std::mt19937 random(3);
  std::uniform_real_distribution<double> u;
  int without = 0;
  for (int i = 0; i < 30; ++i) {
    Release r = RandomRelease(random);
    r.laydown_y = MetresFromFeet(0.8 + 1.6 * u(random));
    r.impact = lane::kStandardGravity * (r.laydown_y / r.speed) + 0.2;
    r.uneven_sin = 0.24 * u(random) - 0.12;
    r.uneven_cos = 0.24 * u(random) - 0.12;
    Filming f;
    f.rate = 30;
    f.noise_px = 0.12;
    LastingAsMeasured(f);
    f.first_y = -0.3;
    const TrueShot shot = Roll(r);
    Track track = Film(shot, setup.camera, f, random);
    for (BallSight& sight : track.sights) sight.in_air = shot.At(sight.time_s - 1).height > 0.012;
    const Result<Path> path = FitPath(track, setup);
    REQUIRE(path.ok());
    without += path->stepped ? 0 : 1;
  }
  CHECK(without == 0);
}

// The last fall and a hop after it are the same curve a moment apart: both have to be looked for.
TEST_CASE("a landing just before the first sight is not taken for one just after it" * doctest::test_suite("slow")) {
  std::mt19937 random(31);
  std::uniform_real_distribution<double> u;
  double squares = 0, error = 0;
  for (int i = 0; i < 24; ++i) {
    Release r = RandomRelease(random);
    r.speed = 6.3 + 1.2 * u(random);
    const double landing_ft = 1.6 + 0.35 * u(random);
    r.laydown_y = MetresFromFeet(landing_ft);
    r.impact = lane::kStandardGravity * (r.laydown_y + MetresFromFeet(0.3)) / r.speed + 0.3 * (u(random) - 0.5);
    Filming f;
    f.noise_px = 0.12;
    LastingAsMeasured(f);
    f.first_y = MetresFromFeet(landing_ft + 0.3);
    const TrueShot shot = Roll(r);
    const Track track = Film(shot, Setup().camera, f, random);
    const Result<Path> path = FitPath(track, Setup());
    REQUIRE(path.ok());
    const Measures m = measure::MeasurePath(*path, track, Setup().lane, Hand::kRight);
    const Measure& release = m[Id::kSpeedReleaseMph];
    REQUIRE(release.value);
    const double off = *release.value - TruthOf(shot).release_mph;
    squares += off * off / (release.sd * release.sd), error += off * off;
  }
  const double z = std::sqrt(squares / 24), mph = std::sqrt(error / 24);
  CHECK(mph < 0.07);  // the wrong one for half of them: 0.095
  CHECK(z < 1.5);
}

TEST_CASE("a left-hander's mirrored shot gives mirrored numbers") {
  std::mt19937 random(5);
  const TrueShot shot = Roll(RandomRelease(random));
  LaneSetup setup = Setup();
  setup.camera = CameraAt(0, -MetresFromFeet(15), MetresFromFeet(5), 0, 9, 1400, 1920, 1080);
  setup.camera.centre_u = 960;
  const Track right = Film(shot, setup.camera, Clean(), random);
  Track left = right;
  for (BallSight& s : left.sights) s.p_in_image.x() = 2 * setup.camera.centre_u - s.p_in_image.x();
  const Result<Path> a = FitPath(right, setup), b = FitPath(left, setup);
  REQUIRE(a.ok());
  REQUIRE(b.ok());
  const Measures ma = measure::MeasurePath(*a, right, setup.lane, Hand::kRight),
                 mb = measure::MeasurePath(*b, left, setup.lane, Hand::kLeft);
  for (const Id id : {Id::kLaunchAngleDeg, Id::kBoardAtArrows, Id::kBoardAt15Ft, Id::kBoardAt40Ft, Id::kEntryBoard,
                      Id::kEntryAngleDeg, Id::kSpeedReleaseMph, Id::kSpeedEntryMph, Id::kSpeedMeanMph}) {
    REQUIRE(ma[id].value.has_value());
    REQUIRE(mb[id].value.has_value());
    CHECK(*ma[id].value == doctest::Approx(*mb[id].value).epsilon(1e-3));
    CHECK(ma[id].sd == doctest::Approx(mb[id].sd).epsilon(2e-2));
  }
}

TEST_CASE("a doubted setup widens the doubt, more so for boards far away") {
  std::mt19937 random(8);
  const TrueShot shot = Roll(Release{});
  LaneSetup setup = Setup();
  const Track track = Film(shot, setup.camera, Clean(), random);
  const Result<Path> sure = FitPath(track, setup);
  setup.covariance = SetupCovariance(setup, 1.0);
  const Result<Path> unsure = FitPath(track, setup);
  REQUIRE(sure.ok());
  REQUIRE(unsure.ok());
  const Measures a = measure::MeasurePath(*sure, track, setup.lane, Hand::kRight),
                 b = measure::MeasurePath(*unsure, track, setup.lane, Hand::kRight);
  CHECK(b[Id::kEntryBoard].sd > 1.5 * a[Id::kEntryBoard].sd);
  CHECK(b[Id::kSpeedMeanMph].sd > a[Id::kSpeedMeanMph].sd);
  CHECK(unsure->width_variance > 0);
}

TEST_CASE("gross mistakes, one by one and in a row, do not pull the path") {
  std::mt19937 random(21);
  const TrueShot shot = Roll(Release{});
  const LaneSetup setup = Setup();
  Filming f = Clean();
  f.noise_px = 0.15;
  f.outliers = 0.08;
  f.burst = true;
  const Track track = Film(shot, setup.camera, f, random);
  const Result<Path> path = FitPath(track, setup);
  REQUIRE(path.ok());
  CHECK(path->inliers < path->sights);
  CHECK(path->chi2_per_dof < 2);
  const Measures m = measure::MeasurePath(*path, track, setup.lane, Hand::kRight);
  const Truth truth = TruthOf(shot);
  CheckNear(m, Id::kBoardAt15Ft, truth.board_15, 0.1);
  CheckNear(m, Id::kBoardAt40Ft, truth.board_40, 0.15);
  CheckNear(m, Id::kEntryBoard, truth.entry_board, 0.2);
}

TEST_CASE("where the sights disagree with any path, those around them are doubted too, those elsewhere are not") {
  std::mt19937 random(23);
  const TrueShot shot = Roll(Release{});
  const LaneSetup setup = Setup();
  Filming f;
  LastingAsMeasured(f);
  const Track good = Film(shot, setup.camera, f, random);
  Track bad = good;
  // Down the lane now the ball, now its image in the gloss draws the disc, four pictures in a row.
  for (std::size_t i = 0; i < bad.sights.size(); ++i) {
    const auto contact = camera::ContactFromImage(setup.camera, bad.sights[i].p_in_image, lane::kBallDiameter / 2);
    REQUIRE(contact);
    if (contact->y() > lane::MetresFromFeet(38))
      bad.sights[i].p_in_image.y() += (i / 4 % 2 ? 1 : -1) * 3.5 * f.noise_px;
  }
  const Result<Path> of_good = FitPath(good, setup), of_bad = FitPath(bad, setup);
  REQUIRE(of_good.ok());
  REQUIRE(of_bad.ok());
  const Measures with = measure::MeasurePath(*of_good, good, setup.lane, Hand::kRight),
                 without = measure::MeasurePath(*of_bad, bad, setup.lane, Hand::kRight);
  const auto wider = [&](Id id) { return without[id].sd / with[id].sd; };
  // One factor for all sights would widen both by some 1.2 and 1.06.
  CHECK(wider(Id::kEntryAngleDeg) > 1.3);
  CHECK(wider(Id::kBoardAt15Ft) < 1.06);
}

// Rolling without slip from the start at v, a ball spins at v / R (any textbook): the law of the roll's velocity gives
// that back whatever k is.
TEST_CASE("a roll that asks for more spin than hands give is less likely, others are not") {
  SkidGrid grid;
  grid.spacing_s = 0.12;
  grid.knots = 20;
  Eigen::VectorXd curve = Eigen::VectorXd::Zero(grid.size());
  // It rolls as soon as it lies, at the speed it was let go with.
  for (int k = 0; k < grid.knots; ++k) curve[kFriction + k] = -30;
  curve[kLaydown] = 0.1, curve[kRoll] = 0.101;
  const double radius = lane::kBallDiameter / 2;
  const auto at = [&](double rpm) {
    curve[kVy0] = rpm * 2 * lane::kPi / 60 * radius;
    return LogOfSpin(grid, curve, 0);
  };
  CHECK(at(300) == doctest::Approx(0));
  CHECK(at(499) == doctest::Approx(0));
  CHECK(at(650) == doctest::Approx(-2).epsilon(0.01));
  CHECK(at(800) == doctest::Approx(-8).epsilon(0.01));
}

// A ball slides for t = k / (1 + k) s0 / (mu g) on a lane of one friction (roll-out time; Hopkins & Patterson 1977, Am.
// J. Phys. 45, 263), s0 its slip at release: its speed less that of its surface where it spins along its way.
TEST_CASE("where the roll begins is told by the spin that hands give and by what friction does") {
  SkidGrid grid;
  grid.spacing_s = 0.12;
  grid.knots = 20;
  const PathFitOptions options;
  const auto by_spin = [&](double mu, double phi) {
    Eigen::VectorXd curve = Eigen::VectorXd::Zero(grid.size());
    for (int k = 0; k < grid.knots; ++k) curve[kFriction + k] = std::log(mu * lane::kStandardGravity - kLeastFriction);
    curve[kVy0] = 7.5, curve[kPhi] = phi;
    curve[kLaydown] = 0.1, curve[kRoll] = 0.5;  // the curve's own roll bears on nothing
    return RollBySpin(options, grid, curve, 0.3);
  };
  const double k = lane::kUsualBallK, share = k / (1 + k);
  for (const double mu : {0.07, 0.1, 0.16}) {
    for (const double phi : {0.0, 0.4, -0.4}) {
      CAPTURE(mu);
      CAPTURE(phi);
      const Eigen::Vector2d roll = by_spin(mu, phi);
      const double slip = (7.5 - options.spin_along) / std::cos(phi);
      CHECK(roll[0] == doctest::Approx(0.1 + share * slip / (mu * lane::kStandardGravity)).epsilon(1e-6));
      // As much of it as the spin is doubted, and a little for the ball.
      const double sd = share * options.spin_along_sd / std::cos(phi) / (mu * lane::kStandardGravity);
      CHECK(roll[1] > sd);
      CHECK(roll[1] < 1.2 * sd);
    }
  }
}

TEST_CASE("a ball that still slides at the pins is not taken for one that rolls" * doctest::test_suite("slow")) {
  std::mt19937 random(1);
  double sum = 0, squares = 0;
  constexpr int kShots = 24;
  for (int n = 0; n < kShots;) {
    const TrueShot shot = Roll(RandomRelease(random));
    if (shot.roll_y) continue;
    const LaneSetup setup = Setup();
    Filming f;
    f.noise_px = 0.12;
    LastingAsMeasured(f);
    f.first_y = MetresFromFeet(1);
    const Track track = Film(shot, setup.camera, f, random);
    const Result<Path> path = FitPath(track, setup);
    REQUIRE(path.ok());
    const Measures m = measure::MeasurePath(*path, track, setup.lane, Hand::kRight);
    if (!m[Id::kEntryAngleDeg].value) continue;  // in the gutter
    const double error = *m[Id::kEntryAngleDeg].value - TruthOf(shot).entry_angle;
    sum += error, squares += error * error, ++n;
  }
  // By where balls usually begin to roll, and nothing else: -0.19 and 0.32.
  CHECK(sum / kShots > -0.155);
  CHECK(std::sqrt(squares / kShots) < 0.27);
}

TEST_CASE("a lofted ball: laydown found where the sights show it") {
  std::mt19937 random(2);
  Release r;
  r.laydown_y = MetresFromFeet(3);
  r.impact = 1.3;
  r.bounce = 0.2;
  const TrueShot shot = Roll(r);
  const LaneSetup setup = Setup();
  Filming f = Clean();
  f.noise_px = 0.15;
  f.first_y = -0.3;
  const Track track = Film(shot, setup.camera, f, random);
  const Result<Path> path = FitPath(track, setup);
  REQUIRE(path.ok());
  REQUIRE(path->laydown_seen);
  // The centre's fall ends in one step, not over a stretch, and the path goes on from where it was.
  const double landing = path->laydown_time(path->parameters);
  const PathState fall = path->At(landing - 1e-6), after = path->At(landing + 1e-6);
  CHECK(fall.vz == doctest::Approx(-r.impact).epsilon(0.2));
  CHECK(after.vz > 0);
  CHECK(after.vz < 0.4 * r.impact);
  CHECK(after.vy < fall.vy);
  CHECK(after.x == doctest::Approx(fall.x).epsilon(1e-4).scale(1));
  CHECK(after.y == doctest::Approx(fall.y).epsilon(1e-4).scale(1));
  const Measures m = measure::MeasurePath(*path, track, setup.lane, Hand::kRight);
  CheckNear(m, Id::kLaydownFt, 3, 0.4);
  CheckNear(m, Id::kLaydownBoard, lane::BoardFromX(r.laydown_x, lane::kNominalWidth, Hand::kRight), 0.2);
  CheckNear(m, Id::kLaunchAngleDeg, TruthOf(shot).launch, 0.1);

  // Hidden until later: no laydown is made up.
  f.first_y = MetresFromFeet(6);
  const Track late = Film(shot, setup.camera, f, random);
  const Result<Path> hidden = FitPath(late, setup);
  REQUIRE(hidden.ok());
  CHECK_FALSE(hidden->laydown_seen);
  CHECK_FALSE(measure::MeasurePath(*hidden, late, setup.lane, Hand::kRight)[Id::kLaydownFt].value.has_value());
  CHECK(path->start_s < hidden->start_s);
}

TEST_CASE("the doubt of what lies before the first sight grows with the distance") {
  std::mt19937 random(4);
  const TrueShot shot = Roll(Release{});
  const LaneSetup setup = Setup();
  double last = 0;
  for (const double first_ft : {1.0, 8.0, 16.0}) {
    Filming f = Clean();
    f.noise_px = 0.15;
    f.first_y = MetresFromFeet(first_ft);
    const Track track = Film(shot, setup.camera, f, random);
    const Result<Path> path = FitPath(track, setup);
    REQUIRE(path.ok());
    const Measures m = measure::MeasurePath(*path, track, setup.lane, Hand::kRight);
    REQUIRE(m[Id::kSpeedReleaseMph].value.has_value());
    CHECK(m[Id::kSpeedReleaseMph].sd > last);
    last = m[Id::kSpeedReleaseMph].sd;
  }
}

TEST_CASE("lost on the oil, a ball's entry is doubted as much as what the boards behind may do") {
  const LaneSetup setup = Setup();
  double sum = 0;
  int n = 0;
  for (const unsigned seed : {1u, 2u, 3u, 4u, 5u, 6u}) {
    std::mt19937 random(seed);
    const TrueShot shot = Roll(RandomRelease(random));
    Filming f = Clean();
    f.noise_px = 0.15;
    Track track = Film(shot, setup.camera, f, random);
    std::erase_if(track.sights, [&](const BallSight& s) {
      const auto c = camera::ContactFromImage(setup.camera, s.p_in_image, lane::kBallDiameter / 2);
      return !c || c->y() > MetresFromFeet(34);
    });
    track.end = TrackEnd::kLost;
    track.pin_contact_s.reset();
    const Result<Path> path = FitPath(track, setup);
    REQUIRE(path.ok());
    measure::MeasureOptions all;
    all.wide = 1e6;
    const Measures m = measure::MeasurePath(*path, track, setup.lane, Hand::kRight, all);
    const Truth truth = TruthOf(shot);
    REQUIRE(m[Id::kEntryAngleDeg].value.has_value());
    REQUIRE(m[Id::kSpeedEntryMph].value.has_value());
    for (const double z : {(*m[Id::kEntryAngleDeg].value - truth.entry_angle) / m[Id::kEntryAngleDeg].sd,
                           (*m[Id::kSpeedEntryMph].value - truth.entry_mph) / m[Id::kSpeedEntryMph].sd})
      sum += z * z, ++n;
    if (!shot.roll_y || *shot.roll_y > MetresFromFeet(40)) CHECK(m[Id::kEntryAngleDeg].sd > 0.5);
    // What was seen is as sure as before.
    CHECK(m[Id::kBoardAt15Ft].sd < 0.1);
  }
  CHECK(std::sqrt(sum / n) < 1.5);
}

TEST_CASE("the first pin's touch ties the end of a path whose last sights lag or fail") {
  const LaneSetup setup = Setup();
  std::mt19937 random(12);
  const TrueShot shot = Roll(Release{});
  Filming f = Clean();
  f.noise_px = 0.15;
  LastingAsMeasured(f);
  f.last_y = MetresFromFeet(56);
  Track track = Film(shot, setup.camera, f, random);
  // Over the last two metres the ball is shown half a pixel behind, and is doubted as much.
  for (BallSight& s : track.sights) {
    const auto c = camera::ContactFromImage(setup.camera, s.p_in_image, lane::kBallDiameter / 2);
    if (!c || c->y() < f.last_y - 2) continue;
    s.p_in_image.y() += 0.5;
    s.lasting_sd.y() = 0.5;
  }
  // The first spot of the rack that the ball comes near enough to.
  constexpr double kTouch = (lane::kBallDiameter + lane::kPinMaxDiameter) / 2, kLaydownS = 1;
  std::optional<Eigen::Vector2d> touched;
  double touch_s = 0;
  for (const State& at : shot.states)
    for (const auto& pin : lane::PinSpots())
      if (!touched && std::hypot(at.x - pin.x, at.y - pin.y) <= kTouch)
        touched = Eigen::Vector2d(pin.x, pin.y), touch_s = kLaydownS + at.t;
  REQUIRE(touched);
  const Truth truth = TruthOf(shot);
  double off[2], sd[2];
  for (int told = 0; told < 2; ++told) {
    track.pin_contact_s = touch_s;
    if (told) track.pin_touched = touched, track.pin_contact_sd_s = 0.01;
    const Result<Path> path = FitPath(track, setup);
    REQUIRE(path.ok());
    const Measures m = measure::MeasurePath(*path, track, setup.lane, Hand::kRight);
    REQUIRE(m[Id::kSpeedEntryMph].value.has_value());
    off[told] = std::abs(*m[Id::kSpeedEntryMph].value - truth.entry_mph);
    sd[told] = m[Id::kSpeedEntryMph].sd;
    CHECK(off[told] < 3 * sd[told]);
  }
  CHECK(sd[1] < 0.9 * sd[0]);
  CHECK(off[1] < 0.3);
}

TEST_CASE("a gutter ball's path ends at the lane's edge") {
  std::mt19937 random(6);
  Release r;
  r.laydown_x = 0.25;
  r.launch_deg = 3.5;
  r.rotation_deg = 5;
  r.rpm = 120;
  const TrueShot shot = Roll(r);
  const double edge = lane::kNominalWidth / 2;
  double truth_y = 0;
  for (const State& s : shot.states)
    if (s.x < edge) truth_y = std::max(truth_y, s.y);
  REQUIRE(truth_y < MetresFromFeet(40));
  const LaneSetup setup = Setup();
  Filming f = Clean();
  f.noise_px = 0.15;
  Track track = Film(shot, setup.camera, f, random);
  track.end = TrackEnd::kGutterRight;
  const Result<Path> path = FitPath(track, setup);
  REQUIRE(path.ok());
  const auto crossing = measure::FindGutterCrossing(*path, setup.lane, Hand::kRight);
  REQUIRE(crossing.has_value());
  CHECK(crossing->own_side);
  CHECK(std::abs(crossing->y - truth_y) < MetresFromFeet(0.5));
  CHECK(std::abs(crossing->y - truth_y) < 3.5 * crossing->sd_y);
  CHECK(path->end_s == doctest::Approx(crossing->time_s));
}

TEST_CASE("sights after the pins were touched are not used") {
  std::mt19937 random(9);
  const TrueShot shot = Roll(Release{});
  const LaneSetup setup = Setup();
  Filming f = Clean();
  f.noise_px = 0.1;
  Track track = Film(shot, setup.camera, f, random);
  const double touched = track.sights.back().time_s;
  // Deflected: slower and to the side.
  for (int i = 1; i <= 15; ++i) {
    BallSight s = track.sights.back();
    s.time_s = touched + i / 60.0;
    s.p_in_image = *camera::ImageFromLane(setup.camera, {0.02 * i, lane::kEntryY + 0.05 * i, lane::kBallDiameter / 2});
    track.sights.push_back(s);
  }
  const Result<Path> blind = FitPath(track, setup);
  track.pin_contact_s = touched + 1e-3;
  const Result<Path> told = FitPath(track, setup);
  REQUIRE(blind.ok());
  REQUIRE(told.ok());
  const Truth truth = TruthOf(shot);
  for (const Result<Path>* path : {&blind, &told}) {
    const Measures m = measure::MeasurePath(**path, track, setup.lane, Hand::kRight);
    CheckNear(m, Id::kEntryBoard, truth.entry_board, 0.15);
    CheckNear(m, Id::kEntryAngleDeg, truth.entry_angle, 0.3);
  }
}

TEST_CASE("too little to fit is said, not guessed") {
  std::mt19937 random(1);
  const TrueShot shot = Roll(Release{});
  const LaneSetup setup = Setup();
  Track track = Film(shot, setup.camera, Clean(), random);
  CHECK(FitPath(Track{}, setup).status().code() == StatusCode::kNotDetermined);

  Track few = track;
  few.sights.resize(7);
  CHECK(FitPath(few, setup).status().code() == StatusCode::kNotDetermined);
  CHECK_FALSE(FitPath(few, setup).status().sentence().empty());

  Track still = track;
  for (BallSight& s : still.sights) s.p_in_image = track.sights[20].p_in_image;
  CHECK(FitPath(still, setup).status().code() == StatusCode::kNotDetermined);

  Track back = track;
  for (std::size_t i = 0; i < back.sights.size(); ++i)
    back.sights[i].p_in_image = track.sights[track.sights.size() - 1 - i].p_in_image;
  CHECK(FitPath(back, setup).status().code() == StatusCode::kNotDetermined);

  PathFitOptions options;
  options.friction_walk = 0;
  CHECK(FitPath(track, setup, options).status().code() == StatusCode::kBadUse);
  CHECK(options.Check().sentence().find("friction_walk") != std::string::npos);
}

TEST_CASE("points along the path for drawing") {
  std::mt19937 random(12);
  const TrueShot shot = Roll(Release{});
  const LaneSetup setup = Setup();
  Filming f = Clean();
  f.missing = 0.3;
  Track track = Film(shot, setup.camera, f, random);
  for (BallSight& s : track.sights) s.p_in_frame = s.p_in_image + Eigen::Vector2d(5, -3);  // a moved camera
  const Result<Path> path = FitPath(track, setup);
  REQUIRE(path.ok());
  std::vector<double> times;
  for (double t = track.sights.front().time_s - 1; t < track.sights.back().time_s + 1; t += 1 / 60.0)
    times.push_back(t);
  const std::vector<PathPoint> points = SamplePath(*path, track, setup, times);
  int seen = 0, between = 0;
  double last = -1e9;
  for (const PathPoint& p : points) {
    CHECK(p.time_s > last);
    last = p.time_s;
    CHECK(p.time_s >= path->start_s - 1e-6);
    CHECK(p.time_s <= path->end_s + 1e-6);
    CHECK(p.sd_x > 0);
    CHECK(p.sd_x < 0.02);
    // Speed and direction are the path's own, and no more doubted than a good track allows.
    const PathState state = path->At(p.time_s);
    REQUIRE((p.speed && p.angle));
    CHECK(*p.speed == doctest::Approx(std::hypot(state.vx, state.vy)));
    CHECK(std::tan(*p.angle) == doctest::Approx(state.vx / state.vy));
    CHECK(p.sd_speed > 0);
    CHECK(p.sd_speed < 0.5);
    CHECK(p.sd_angle > 0);
    CHECK(p.sd_angle < lane::RadiansFromDegrees(2));
    (p.seen ? seen : between) += 1;
    const auto uv = camera::ImageFromLane(setup.camera, {p.x, p.y, lane::kBallDiameter / 2});
    REQUIRE(uv.has_value());
    const Eigen::Vector2d moved = p.seen ? Eigen::Vector2d(5, -3) : Eigen::Vector2d(0, 0);
    CHECK((Eigen::Vector2d(p.u_px, p.v_px) - moved - *uv).norm() < 0.5);
  }
  CHECK(seen > 60);
  CHECK(between > 15);
}

}  // namespace hookline::motion
